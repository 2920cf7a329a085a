// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// 64 samples; 256 where one conversion has more noise than this.
constexpr std::uint8_t kSamplesLog2 = 6;
constexpr std::uint8_t kNoisySamplesLog2 = 8;
constexpr double kNoisyVolt = 60e-6;
/// So much hum is averaged over whole periods of the mains in every reading.
constexpr double kHumAmpere = 1e-6;
constexpr std::uint8_t kSettleCodes = 8;
constexpr std::uint16_t kSettleLimitTicks = 200;  // 20 ms
/// A loaded point is driven above this: 47 kohm behind copper, hundreds of loads on a net counted.
constexpr double kFollowVolt = 0.020;
/// Of its k = 2 error: what noise alone does not turn round.
constexpr double kBackwards = 1.5;
/// The power check sees the noise of ten channels, 16 readings each: known to about 10 %.
constexpr double kNoiseMargin = 1.15;
/// With so much across a pair while the source is off no ohms are made of it.
constexpr double kEmfVolt = 0.050;

bool contains(const std::vector<Channel>& set, Channel channel) {
  return std::find(set.begin(), set.end(), channel) != set.end();
}

wire::Pair first_pair(const Request& request) {
  return {request.source.front(), request.sink.front()};
}

}  // namespace

Sensing sensing_of(const Request& request, const wire::StepHead& head, wire::Pair pair) {
  return {head, request.source, request.sink, {}, {pair}};
}

std::vector<OffOn> paired(std::span<const wire::Result> results) {
  std::vector<OffOn> pairs;
  pairs.reserve(results.size() / 2);
  for (std::size_t i = 0; i + 1 < results.size(); i += 2) {
    pairs.push_back({results[i], results[i + 1]});
  }
  return pairs;
}

wire::StepHead Session::State::head(std::uint8_t range) const {
  wire::StepHead head;
  head.level = Ranges::level(range);
  head.range = range;
  head.samples_log2 = noise_volt > kNoisyVolt ? kNoisySamplesLog2 : kSamplesLog2;
  head.settle_codes = kSettleCodes;
  head.settle_limit_ticks = kSettleLimitTicks;
  head.difference = 1;
  if (hums()) {
    head.spread_ticks = kMainsTicks;
  }
  return head;
}

/// Every lead picks up its share, and a sunk net collects that of all nets behind its parts.
bool Session::State::hums() const {
  return hum_volt / kHumLoadOhm * static_cast<double>(checked.size()) > kHumAmpere;
}

Conditions Session::State::conditions(bool averaged) const {
  Conditions now;
  now.noise_volt = kNoiseMargin * noise_volt;
  now.hum_volt = averaged || hums() ? 0 : hum_volt;
  now.contact_ohm = options.zero.contact_ohm;
  now.lead_ohm = options.zero.lead_ohm;
  now.leak_ampere = leak_of(ability.channels);
  if (!options.zero.date.empty()) {
    const std::chrono::duration<double, std::ratio<3600>> since = Clock::now() - began;
    const double measured_ampere =
        options.zero.leak_ampere > 0 ? options.zero.leak_ampere : now.leak_ampere;
    now.leak_ampere = measured_ampere * leak_growth(options.zero.age_hours + since.count());
  }
  return now;
}

void Session::State::refuse_impossible(std::span<const Request> requests) const {
  if (!passed || moved) {
    throw std::logic_error("nothing is driven without a power check that passed");
  }
  const auto covered = [&](std::span<const Channel> channels) {
    return std::all_of(channels.begin(), channels.end(), [&](Channel channel) {
      return channel < checked_channels.size() && checked_channels[channel];
    });
  };
  for (const Request& request : requests) {
    const bool follow = request.purpose == Purpose::follow;
    if (request.source.empty() || (!follow && request.sink.empty())) {
      throw std::logic_error("a measurement needs a source and a sink");
    }
    if (request.source.size() > ability.max_source || request.sink.size() > ability.max_sink) {
      throw std::logic_error("a set is larger than the tester's");
    }
    if (!covered(request.source) || !covered(request.sink) ||
        (follow && !covered({&request.sense, 1}))) {
      throw std::logic_error("a channel was not in the power check");
    }
  }
}

/// Runs all of it; the power is checked again where the tester opened its switches meanwhile.
void Session::State::execute(std::span<const Sensing> sensings,
                             std::vector<wire::Result>& results) {
  const std::vector<Program> programs = pack(sensings, ability, link.tester());
  const std::uint8_t permit = options.bare_board ? wire::kPermitHighLevel : 0;
  std::span<const Program> left = programs;
  for (int attempt = 0; attempt < kAttempts;) {
    const std::size_t done = runner.run(left, permit, checked_silences, results);
    left = left.subspan(done);
    if (left.empty()) {
      return;
    }
    attempt = done > 0 ? 0 : attempt + 1;
    check_again();
  }
  give_up_opening();
}

/// One pair a request. Neighbouring `follow` requests with the same source share a setting, until
/// one comes again: that is to be an independent reading. What was at 5 V is discharged at once.
std::vector<Sensing> Session::State::first_sensings(std::span<const Request> requests) const {
  std::vector<Sensing> sensings;
  sensings.reserve(requests.size());
  const Request* before = nullptr;
  for (const Request& request : requests) {
    const bool follow = request.purpose == Purpose::follow;
    const bool shared = follow && before != nullptr && before->purpose == Purpose::follow &&
                        before->source == request.source && before->sink == request.sink &&
                        !contains(sensings.back().loaded, request.sense);
    before = &request;
    const std::uint8_t range = ranges.first(request.purpose);
    if (!follow) {
      sensings.push_back(sensing_of(request, head(range), first_pair(request)));
      if (Ranges::level(range) == wire::Level::high) {
        sensings.push_back(discharging(request, first_pair(request)));
      }
      continue;
    }
    if (!shared) {
      sensings.push_back({head(range), request.source, request.sink, {}, {}});
      sensings.back().head.load = wire::Load::ohm_47k;
    }
    sensings.back().loaded.push_back(request.sense);
    sensings.back().pairs.push_back({request.sense, wire::kInstrumentZero});
  }
  return sensings;
}

/// The requests that `results` are enough for; fewer than all where the tester failed.
void Session::State::keep_first(std::span<const Request> requests,
                                std::span<const wire::Result> results) {
  for (const Request& request : requests) {
    const bool follow = request.purpose == Purpose::follow;
    const std::uint8_t range = ranges.first(request.purpose);
    const bool high_level = !follow && Ranges::level(range) == wire::Level::high;
    const std::size_t own = high_level ? 3 : 2;
    if (results.size() < own) {
      return;
    }
    const double sets = (request.source.size() > 1 ? 1 : 0) + (request.sink.size() > 1 ? 1 : 0);
    Book& book = books.emplace_back();
    book.range = range;
    book.pair = follow ? wire::Pair{request.sense, wire::kInstrumentZero} : first_pair(request);
    book.force_ohm = follow ? 0 : sets * kForcePathOhm;
    measured.emplace_back();
    judge(measured.size() - 1, {results[0], results[1]}, head(range));
    Measurement& first = measured.back();
    if (follow) {
      const bool driven = !first.clipped && !first.emf && book.electrical.volt > kFollowVolt;
      first.ohm = driven ? 0 : std::numeric_limits<double>::infinity();
      first.uncertainty_ohm = 0;
    } else if (high_level) {
      book.charged |= holds_charge(results[2]);
    }
    results = results.subspan(own);
  }
}

/// Makes a request's measurement of what was read.
void Session::State::judge(std::size_t index, const OffOn& results, const wire::StepHead& head) {
  Book& book = books[index];
  const Conditions now = conditions(book.averaged);
  book.range = head.range;
  book.electrical = ranges.electrical(results, head, now);
  Measurement& made = measured[index];
  made = to_measurement(book.electrical, head.range, book.force_ohm, now);
  made.averaged = book.averaged;
  if (std::abs(made.emf_volt) > kEmfVolt) {  // a capacitor's charge goes, see settle()
    book.charged = true;
    made.emf = true;
    made.ohm = std::numeric_limits<double>::infinity();
    made.uncertainty_ohm = 0;
  } else if (book.electrical.ampere < -kBackwards * book.electrical.ampere_error) {
    book.charged = true;  // a charge flows out against the source
  }
}

void Session::State::measure(std::span<const Request> requests) {
  measured.clear();
  books.clear();
  if (requests.empty()) {
    return;
  }
  refuse_impossible(requests);
  if (switches_opened()) {
    check_again();
  }
  ++link.counters().rounds;
  std::vector<wire::Result> results;
  try {
    execute(first_sensings(requests), results);
  } catch (const TesterError&) {
    keep_first(requests, results);
    throw;
  }
  keep_first(requests, results);
  refine(requests);
  settle(requests);
  average(requests);
}

}  // namespace padwalk::session
