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
constexpr std::uint8_t kSettleCodes = 8;
constexpr std::uint16_t kSettleLimitTicks = 200;  // 20 ms
/// A loaded point is driven above this: 47 kohm behind copper, hundreds of loads on a net counted.
constexpr double kFollowVolt = 0.020;
/// Below this the force path of a set matters, and where the current flows is looked for.
constexpr double kLocateUpToOhm = 50e3;
constexpr std::size_t kLocateChannels = 256;

bool is_pair(const Request& request) {
  return request.source.size() == 1 && request.sink.size() == 1;
}

bool contains(const std::vector<Channel>& set, Channel channel) {
  return std::find(set.begin(), set.end(), channel) != set.end();
}

wire::Pair first_pair(const Request& request) {
  return {request.source.front(), request.sink.front()};
}

}  // namespace

wire::StepHead Session::State::head(std::uint8_t range) const {
  wire::StepHead head;
  head.level = Ranges::level(range);
  head.range = range;
  head.samples_log2 = noise_volt > kNoisyVolt ? kNoisySamplesLog2 : kSamplesLog2;
  head.settle_codes = kSettleCodes;
  head.settle_limit_ticks = kSettleLimitTicks;
  return head;
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
/// one comes again: that is to be an independent reading.
std::vector<Sensing> Session::State::first_sensings(std::span<const Request> requests) const {
  std::vector<Sensing> sensings;
  sensings.reserve(requests.size());
  const Request* before = nullptr;
  for (const Request& request : requests) {
    const bool follow = request.purpose == Purpose::follow;
    const bool shared = follow && before != nullptr && before->purpose == Purpose::follow &&
                        before->source == request.source && before->sink == request.sink &&
                        !contains(sensings.back().loaded, request.sense);
    if (!shared) {
      sensings.push_back(
          {head(ranges.first(request.purpose)), request.source, request.sink, {}, {}});
      sensings.back().head.load = follow ? wire::Load::ohm_47k : wire::Load::none;
    }
    Sensing& sensing = sensings.back();
    if (follow) {
      sensing.loaded.push_back(request.sense);
      sensing.pairs.push_back({request.sense, wire::kInstrumentZero});
    } else {
      sensing.pairs.push_back(first_pair(request));
    }
    before = &request;
  }
  return sensings;
}

Measurement Session::State::first_measurement(const Request& request,
                                              const wire::Result& result) const {
  const std::uint8_t range = ranges.first(request.purpose);
  const Electrical read = ranges.electrical(result, head(range), noise_volt);
  if (request.purpose == Purpose::follow) {
    Measurement follow = to_ohms(read, range, 0);
    follow.ohm =
        !follow.clipped && read.volt > kFollowVolt ? 0 : std::numeric_limits<double>::infinity();
    follow.uncertainty_ohm = 0;
    return follow;
  }
  const double sets = (request.source.size() > 1 ? 1 : 0) + (request.sink.size() > 1 ? 1 : 0);
  return to_ohms(read, range, sets * kForcePathOhm);
}

void Session::State::measure(std::span<const Request> requests) {
  measured.clear();
  if (requests.empty()) {
    return;
  }
  refuse_impossible(requests);
  if (switches_opened()) {
    check_again();
  }
  ++link.counters().rounds;
  std::vector<wire::Result> results;
  const auto keep = [&] {
    for (std::size_t i = 0; i < results.size(); ++i) {
      measured.push_back(first_measurement(requests[i], results[i]));
    }
  };
  try {
    execute(first_sensings(requests), results);
  } catch (const TesterError&) {
    keep();
    throw;
  }
  keep();
  refine(requests);
}

/// Reads again in a better range what the first one did not resolve well. Between sets that
/// conduct, it is looked for where the current leaves and enters them, and sensed there.
void Session::State::refine(std::span<const Request> requests) {
  std::vector<Sensing> sensings;
  std::vector<std::size_t> which;
  for (std::size_t i = 0; i < requests.size(); ++i) {
    if (std::optional<Sensing> sensing = refined(requests[i], measured[i])) {
      sensings.push_back(*std::move(sensing));
      which.push_back(i);
    }
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  std::vector<Sensing> located_sensings;
  std::vector<std::size_t> located_which;
  std::span<const wire::Result> left = results;
  for (std::size_t k = 0; k < sensings.size(); ++k) {
    Sensing& sensing = sensings[k];
    const std::span<const wire::Result> own = left.first(sensing.pairs.size());
    left = left.subspan(own.size());
    if (own.size() == 1) {
      replace(measured[which[k]], sensing, own[0]);
    } else {
      sensing.pairs = {located(sensing, own)};
      located_sensings.push_back(std::move(sensing));
      located_which.push_back(which[k]);
    }
  }
  results.clear();
  execute(located_sensings, results);
  for (std::size_t k = 0; k < located_sensings.size(); ++k) {
    replace(measured[located_which[k]], located_sensings[k], results[k]);
  }
}

/// What to sense in place of a first reading, if that helps: a pair in a better range, or every
/// channel of two sets.
std::optional<Sensing> Session::State::refined(const Request& request,
                                               const Measurement& first) const {
  if (request.purpose == Purpose::follow || first.clipped) {
    return std::nullopt;
  }
  if (is_pair(request)) {
    const auto range = ranges.better(ranges.first(request.purpose), first.ohm);
    if (!range) {
      return std::nullopt;
    }
    return Sensing{head(*range), request.source, request.sink, {}, {first_pair(request)}};
  }
  if (first.ohm > kLocateUpToOhm || request.source.size() + request.sink.size() > kLocateChannels) {
    return std::nullopt;
  }
  Sensing sensing{head(ranges.low(first.ohm)), request.source, request.sink, {}, {}};
  for (const std::vector<Channel>* set : {&request.source, &request.sink}) {
    for (const Channel channel : *set) {
      sensing.pairs.push_back({channel, wire::kInstrumentZero});
    }
  }
  return sensing;
}

/// Current lowers the source channel that it leaves by, and lifts the sink channel that it comes
/// to.
wire::Pair Session::State::located(const Sensing& sensing,
                                   std::span<const wire::Result> results) const {
  const auto volt = [&](const wire::Result& result) {
    return ranges.sense_volt(result, sensing.head);
  };
  const auto by_volt = [&](const wire::Result& a, const wire::Result& b) {
    return volt(a) < volt(b);
  };
  const std::span<const wire::Result> sources = results.first(sensing.source.size());
  const std::span<const wire::Result> sinks = results.subspan(sensing.source.size());
  const auto lowest = std::min_element(sources.begin(), sources.end(), by_volt);
  const auto highest = std::max_element(sinks.begin(), sinks.end(), by_volt);
  return {sensing.source[static_cast<std::size_t>(lowest - sources.begin())],
          sensing.sink[static_cast<std::size_t>(highest - sinks.begin())]};
}

/// A better reading takes the place of the first, unless it has no number; nor may 0.2 V hide what
/// 5 V found.
void Session::State::replace(Measurement& first, const Sensing& sensing,
                             const wire::Result& result) const {
  const Measurement better =
      to_ohms(ranges.electrical(result, sensing.head, noise_volt), sensing.head.range, 0);
  const bool hides = std::isinf(better.ohm) && first.volt > better.volt;
  if (!better.clipped && !hides) {
    first = better;
  }
}

}  // namespace padwalk::session
