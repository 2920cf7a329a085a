// SPDX-License-Identifier: MIT
#include "firmware-host/session/runner.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "firmware-host/wire/frame.hpp"

namespace padwalk::session {

namespace {

/// A sign of life, well within the tester's second.
constexpr Clock::duration kSignOfLife = std::chrono::milliseconds(300);

}  // namespace

Runner::Runner(Link& link, const wire::Ability& ability)
    : link_(link), ability_(ability), silences_(ability.silences) {}

std::size_t Runner::run(std::span<const Program> programs, std::uint8_t permit,
                        std::uint8_t checked_silences, std::vector<wire::Result>& results) {
  link_.begin_task();
  flights_.clear();
  permit_ = permit;
  checked_silences_ = checked_silences;
  note_progress();
  try {
    return fly(programs, results);
  } catch (const TesterError&) {
    if (!flights_.empty()) {
      const std::vector<wire::Result>& begun = flights_.front().results;
      results.insert(results.end(), begun.begin(), begun.end());
    }
    throw;
  }
}

std::optional<std::uint16_t> Runner::hold(const Program& program, const wire::Monitor& how,
                                          std::uint8_t checked_silences,
                                          std::vector<wire::Result>& results) {
  how_ = how;
  const std::uint16_t number = next_id_;
  std::size_t done = 0;
  try {
    done = run({&program, 1}, 0, checked_silences, results);
  } catch (const TesterError&) {
    how_.reset();
    throw;
  }
  how_.reset();
  return done == 1 ? std::optional(number) : std::nullopt;
}

std::size_t Runner::fly(std::span<const Program> programs, std::vector<wire::Result>& results) {
  std::size_t begun = 0;
  std::size_t done = 0;
  while (done < programs.size()) {
    if (begun < programs.size() && wants_another()) {
      flights_.emplace_back();
      flights_.back().id = next_id_++;
      flights_.back().program = &programs[begun++];
    }
    listen();
    const Flight& front = flights_.front();
    if (front.complete()) {
      link_.counters().settings += front.program->settings;
      results.insert(results.end(), front.results.begin(), front.results.end());
      flights_.pop_front();
      ++done;
    } else if (front.failed == wire::Status::silence ||
               front.failed == wire::Status::power_check_stale) {
      break;
    } else if (front.failed) {
      throw TesterError(
          fmt::format("{} refuses to measure: {}", link_.tester(), words(*front.failed)));
    }
  }
  flights_.clear();
  return done;
}

/// The tester has two buffers, and takes the bytes of one program at a time.
bool Runner::wants_another() const {
  return flights_.empty() || (flights_.size() < 2 && flights_.back().accepted);
}

void Runner::listen() {
  for (Flight& flight : flights_) {
    pump(flight);
  }
  if (Clock::now() >= link_.sent() + kSignOfLife) {
    ask(flights_.front(), wire::kNoResults);
  }
  const Clock::time_point until = std::min(quiet_since_ + patience_, link_.sent() + kSignOfLife);
  if (const std::optional<Incoming> incoming = link_.receive(until)) {
    handle(*incoming);
  }
  if (Clock::now() >= quiet_since_ + patience_) {
    nudge();
  }
}

/// Sends what the window has room for.
void Runner::pump(Flight& flight) {
  if (flight.accepted || flight.failed) {
    return;
  }
  const std::vector<std::uint8_t>& bytes = flight.program->bytes;
  const std::size_t window = std::max<std::size_t>(ability_.window_bytes / wire::kFrameBytes, 1) *
                             decltype(wire::Part::bytes)::capacity();
  while (flight.sent < bytes.size() && flight.sent < flight.kept + window) {
    wire::Part part;
    part.program = flight.id;
    part.offset = static_cast<std::uint16_t>(flight.sent);
    part.bytes.size = static_cast<std::uint8_t>(
        std::min(bytes.size() - flight.sent, decltype(part.bytes)::capacity()));
    std::copy_n(bytes.begin() + static_cast<std::ptrdiff_t>(flight.sent), part.bytes.size,
                part.bytes.data);
    flight.sent += part.bytes.size;
    sent_parts_[link_.send(part)] = {flight.id, flight.tries, flight.sent};
  }
  if (flight.kept == bytes.size() && !flight.run_sent) {
    send_run(flight);
  }
}

void Runner::send_run(Flight& flight) {
  const std::vector<std::uint8_t>& bytes = flight.program->bytes;
  wire::Run run;
  run.program = flight.id;
  run.length = static_cast<std::uint16_t>(bytes.size());
  run.checksum = wire::crc32c(bytes.data(), bytes.size());
  run.silences = checked_silences_;
  run.permit = permit_;
  if (how_) {
    wire::Monitor monitor = *how_;
    monitor.run = run;
    link_.send(monitor);
  } else {
    link_.send(run);
  }
  flight.run_sent = true;
}

/// Nothing came for a while.
void Runner::nudge() {
  quiet_since_ = Clock::now();
  patience_ = std::min(2 * patience_, link_.most_patience());
  for (Flight& flight : flights_) {
    if (flight.accepted) {
      ask_missing(flight);
    } else if (flight.run_sent) {
      ++link_.counters().retries;
      send_run(flight);
    } else {
      go_back(flight);
    }
  }
}

void Runner::go_back(Flight& flight) {
  ++link_.counters().retries;
  ++flight.tries;
  flight.sent = flight.kept;
  flight.run_sent = false;
}

void Runner::ask(const Flight& flight, std::uint16_t first) {
  wire::Ask request;
  request.program = flight.id;
  request.first = first;
  link_.send(request);
}

void Runner::ask_missing(const Flight& flight) {
  ask(flight, static_cast<std::uint16_t>(flight.results.size()));
}

void Runner::handle(const Incoming& incoming) {
  if (const auto state = incoming.as<wire::ProgramState>()) {
    handle(*state, incoming.sequence);
  } else if (const auto results = incoming.as<wire::Results>()) {
    handle(*results);
  }
}

void Runner::handle(const wire::ProgramState& state, std::uint8_t sequence) {
  silences_ = state.silences;
  Flight* flight = find(state.program);
  if (flight == nullptr) {
    return;
  }
  if (state.phase == wire::Phase::failed) {
    flight->failed = state.status;
    return;
  }
  // Whatever comes for a program that the tester has is an old answer.
  if (flight->accepted) {
    return;
  }
  if (state.status == wire::Status::stale_program ||
      state.status == wire::Status::program_too_long) {
    flight->failed = state.status;
    return;
  }
  if (state.phase != wire::Phase::none && state.phase != wire::Phase::receiving) {
    flight->accepted = true;
    note_progress();
    return;
  }
  const std::size_t received = std::min<std::size_t>(state.received, flight->sent);
  if (received > flight->kept) {
    flight->kept = received;
    note_progress();
  }
  // An answer to a part without that part: it, or one before it, was lost.
  const SentPart& part = sent_parts_[sequence];
  const bool lost = part.program == flight->id && part.tries == flight->tries &&
                    flight->kept < part.end && state.status != wire::Status::busy;
  const bool incomplete = state.status == wire::Status::program_incomplete;
  if (lost || incomplete) {
    go_back(*flight);
  }
}

void Runner::handle(const wire::Results& message) {
  silences_ = message.silences;
  Flight* flight = find(message.program);
  if (flight == nullptr || message.packed.size % wire::kResultBytes != 0) {
    return;
  }
  flight->accepted = true;
  std::vector<wire::Result>& have = flight->results;
  const std::size_t count = message.packed.size / wire::kResultBytes;
  if (message.first > have.size()) {
    if (!flight->asked) {
      ++link_.counters().retries;
      flight->asked = true;
      ask_missing(*flight);
    }
    return;
  }
  if (message.first + count > flight->program->results) {
    throw TesterError(
        fmt::format("{} gives more results than were asked for; install firmware and "
                    "program of the same release",
                    link_.tester()));
  }
  for (std::size_t i = have.size() - message.first; i < count; ++i) {
    have.push_back(wire::unpack_result(message.packed.data + i * wire::kResultBytes));
    flight->asked = false;
    note_progress();
  }
  if (message.last != 0 && !flight->complete() && message.first + count == have.size()) {
    ask(*flight, wire::kNoResults);  // it broke off: its state says why
  }
}

void Runner::note_progress() {
  quiet_since_ = Clock::now();
  patience_ = link_.patience();
  link_.progress();
}

Runner::Flight* Runner::find(std::uint16_t id) {
  const auto found = std::find_if(flights_.begin(), flights_.end(),
                                  [&](const Flight& flight) { return flight.id == id; });
  return found == flights_.end() ? nullptr : &*found;
}

}  // namespace padwalk::session
