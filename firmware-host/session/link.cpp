// SPDX-License-Identifier: MIT
#include "firmware-host/session/link.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <random>

namespace padwalk::session {

namespace {

/// Repetitions come after such parts of the silence limit, or after what measured round trips want
/// if that is longer: on a bad line many tries must fit into it.
constexpr int kLeastPatience = 1000;
constexpr int kMostPatience = 60;
/// A tester that answers and gets nowhere is given up after so many silence limits.
constexpr int kProgressLimits = 10;

double seconds(Clock::duration time) {
  return std::chrono::duration<double>(time).count();
}

}  // namespace

const char* words(wire::Status status) {
  static constexpr const char* kWords[] = {
      "all is well",
      "no session",
      "unknown request",
      "malformed request",
      "an old program",
      "busy",
      "the program is too long",
      "the program is incomplete",
      "the program has a wrong checksum",
      "a step that it does not know",
      "a channel that it does not have",
      "a level that it does not have",
      "a range that it does not have",
      "a load that it does not have",
      "a gain that it does not have",
      "a set that is too large",
      "too many results",
      "5 V without permission",
      "the power check is too old",
      "the host was silent",
      "ended by the host",
      "an error of its firmware",
  };
  static_assert(std::size(kWords) == static_cast<std::size_t>(wire::kLastStatus) + 1);
  return kWords[static_cast<std::size_t>(status)];
}

Link::Link(transport::ByteStream& stream, std::chrono::milliseconds silence_limit)
    : stream_(stream),
      silence_limit_(silence_limit),
      patience_(silence_limit_ / kMostPatience),
      most_patience_(patience_) {
  choose_session();
  begin_task();
}

void Link::choose_session() {
  std::random_device random;
  for (const std::uint16_t before = session_; session_ == 0 || session_ == before;) {
    session_ = static_cast<std::uint16_t>(random());
  }
}

void Link::meet_again() {
  choose_session();
  parser_ = {};
  buffered_ = taken_ = 0;
  overdue_ = false;
  meet();
}

void Link::meet() {
  wire::Hello hello;
  hello.signature = wire::kSignature;
  const auto answer = exchange<wire::HelloReply>(hello);
  if (answer.version != wire::kVersion) {
    throw TesterError(fmt::format("{} speaks version {}, this padwalk version {}: update the {}",
                                  tester(), answer.version, wire::kVersion,
                                  answer.version < wire::kVersion ? "tester" : "program"));
  }
  if (answer.signature != wire::kSignature) {
    throw TesterError(
        fmt::format("{} says that it speaks version {} like this padwalk, but its messages differ: "
                    "install firmware and program of the same release",
                    tester(), answer.version));
  }
  met_ = true;
}

std::string Link::tester() const {
  return "the tester on " + stream_.name();
}

void Link::send_frame(const std::uint8_t* message, std::size_t size) {
  std::array<std::uint8_t, wire::kFrameBytes> frame{};
  const std::size_t count = wire::encode_frame(session_, sequence_, message, size, frame.data());
  if (!stream_.write({frame.data(), count})) {
    throw LinkLost(
        fmt::format("{} is gone: the port takes no more bytes; check cable and supply", tester()));
  }
  counters_.bytes_sent += count;
  ++counters_.frames_sent;
  sent_ = Clock::now();
}

std::optional<Incoming> Link::take_frame() {
  while (taken_ < buffered_) {
    const wire::FrameParser::Answer answer = parser_.push(buffer_[taken_++]);
    if (answer == wire::FrameParser::Answer::need_more) {
      continue;
    }
    const wire::Frame& frame = parser_.frame();
    // An echo of what was sent, or of an earlier connection, is no answer.
    if (answer == wire::FrameParser::Answer::bad || frame.session != session_ ||
        frame.message[0] < static_cast<std::uint8_t>(wire::MessageId::hello_reply)) {
      ++counters_.bad_frames;
      continue;
    }
    ++counters_.frames_received;
    heard_ = Clock::now();
    return Incoming{frame.sequence, {frame.message, frame.message + frame.message_size}};
  }
  return std::nullopt;
}

std::optional<Incoming> Link::receive(Clock::time_point until) {
  // What waits to be read is read once even when it is late: this program may have been stopped.
  for (bool late = false;;) {
    if (std::optional<Incoming> incoming = take_frame()) {
      refuse_error(*incoming);
      return incoming;
    }
    const Clock::time_point now = Clock::now();
    const Clock::time_point last =
        std::min(heard_ + silence_limit_, progress_ + kProgressLimits * silence_limit_);
    if (overdue_ && now >= last) {
      give_up();
    }
    overdue_ = now >= last;
    if (late) {
      return std::nullopt;
    }
    late = now >= until;
    const transport::ReadResult result = stream_.read(buffer_, std::min(until, last));
    if (result.outcome == transport::ReadOutcome::closed) {
      throw LinkLost(
          fmt::format("{} is gone: the port was closed; check cable and supply", tester()));
    }
    buffered_ = result.count;
    taken_ = 0;
    counters_.bytes_received += result.count;
  }
}

void Link::refuse_error(const Incoming& incoming) const {
  const auto error = incoming.as<wire::Error>();
  if (!error) {
    return;
  }
  if (error->status == wire::Status::no_session) {
    throw LinkLost(fmt::format(
        "{} has forgotten this session: was it switched off, or does another program use it?",
        tester()));
  }
  throw TesterError(
      fmt::format("{} refuses request {}: {}", tester(), error->request, words(error->status)));
}

void Link::learn_patience(Clock::duration round_trip) {
  round_trip_ = round_trip_ == Clock::duration{} ? round_trip : (7 * round_trip_ + round_trip) / 8;
  patience_ = 3 * round_trip_ + silence_limit_ / kLeastPatience;
  most_patience_ = std::max(patience_, silence_limit_ / kMostPatience);
}

void Link::give_up() const {
  if (!met_ && counters_.bytes_received == 0) {
    throw TesterError(fmt::format("nothing answers on {}; is the tester connected and switched on?",
                                  stream_.name()));
  }
  if (!met_) {
    throw TesterError(fmt::format("{} answers, but not as a padwalk tester; is it the right port?",
                                  stream_.name()));
  }
  if (Clock::now() < heard_ + silence_limit_) {
    throw TesterError(fmt::format("{} answers, but gets nowhere; switch it off and on", tester()));
  }
  throw LinkLost(fmt::format("{} is gone: no valid answer for {:g} s; check cable and supply",
                             tester(), seconds(silence_limit_)));
}

}  // namespace padwalk::session
