// SPDX-License-Identifier: MIT
#include "firmware-host/session/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "firmware-host/session/link.hpp"
#include "firmware-host/session/programs.hpp"
#include "firmware-host/session/ranges.hpp"
#include "firmware-host/session/runner.hpp"

namespace padwalk::session {

namespace {

/// A source, behind 10 Mohm over n too, is seen above this with the 1 Mohm loads.
constexpr double kPowerLimitVolt = 0.015;
constexpr std::uint8_t kPowerSamplesLog2 = 4;
/// A silence that breaks a power check off is answered by another one, not for ever.
constexpr int kPowerAttempts = 5;
/// The switches are taken for open a little before the tester opens them.
constexpr std::chrono::milliseconds kSilence{wire::kSilenceMs - 100};
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

}  // namespace

struct Session::State {
  State(transport::ByteStream& stream, const Options& with)
      : options(with),
        link(stream, with.silence_limit),
        ability(meet()),
        runner(link, ability),
        ranges(ability, with.bare_board && high()) {
    const auto identity = link.exchange<wire::Identity>(wire::AskIdentity());
    capabilities.unit.assign(identity.unit.data, identity.unit.size);
    capabilities.firmware.assign(identity.firmware.data, identity.firmware.size);
    capabilities.channels = ability.channels;
    capabilities.max_source = ability.max_source;
    capabilities.max_sink = ability.max_sink;
    capabilities.program_bytes = ability.program_bytes;
    capabilities.five_volt = high();
  }

  wire::Ability meet() {
    link.meet();
    const auto answer = link.exchange<wire::Ability>(wire::AskAbility());
    const bool low_range = (answer.ranges & 0xF) != 0 && (answer.levels & 3) == 3;
    const bool loads = (answer.loads & 6) == 6;
    if ((answer.features & wire::kDifferential) == 0 || !low_range || !loads) {
      throw TesterError(fmt::format(
          "{} lacks what padwalk measures with: differential sense, a 0.2 V range, loads of 1 Mohm "
          "and 47 kohm",
          link.tester()));
    }
    return answer;
  }

  bool high() const { return (ability.levels & 4) != 0 && (ability.ranges & 0x10) != 0; }

  bool switches_opened() const {
    return runner.silences() != checked_silences || Clock::now() - link.heard() >= kSilence;
  }

  PowerCheck power_check(std::span<const Channel> channels);
  void check_again();
  void refuse_impossible(std::span<const Request> requests) const;
  void execute(std::span<const Sensing> sensings, std::vector<wire::Result>& results);
  wire::StepHead head(std::uint8_t range) const;
  std::vector<Sensing> first_sensings(std::span<const Request> requests) const;
  std::uint8_t first_range(const Request& request) const;
  Measurement first_measurement(const Request& request, const wire::Result& result) const;
  void measure(std::span<const Request> requests);
  void refine(std::span<const Request> requests);
  Sensing locating(const Request& request, std::uint8_t range) const;
  wire::Pair located(const Sensing& sensing, std::span<const wire::Result> results) const;

  const Options options;
  Link link;
  const wire::Ability ability;
  Runner runner;
  Ranges ranges;
  Capabilities capabilities;
  bool passed = false;
  bool moved = false;
  std::vector<Channel> checked;        // of the last power check that passed
  std::vector<bool> checked_channels;  // the same, by channel
  std::uint8_t checked_silences = 0;
  double noise_volt = 0;  // of one conversion, as the power check saw it
  std::vector<Measurement> measured;
};

wire::StepHead Session::State::head(std::uint8_t range) const {
  wire::StepHead head;
  head.level = Ranges::level(range);
  head.range = range;
  head.samples_log2 = noise_volt > kNoisyVolt ? kNoisySamplesLog2 : kSamplesLog2;
  head.settle_codes = kSettleCodes;
  head.settle_limit_ticks = kSettleLimitTicks;
  return head;
}

/// Two averages of every channel, all of them loaded, one round after the other.
PowerCheck Session::State::power_check(std::span<const Channel> channels) {
  for (const Channel channel : channels) {
    if (channel < 1 || channel > ability.channels) {
      throw std::logic_error(fmt::format("the tester has no channel {}", channel));
    }
  }
  passed = false;
  PowerCheck check;
  check.limit_volt = kPowerLimitVolt;
  check.readings = channels.size();
  Sensing round;
  round.head = head(ranges.first(Purpose::continuity));
  round.head.level = wire::Level::off;
  round.head.load = wire::Load::ohm_1m;
  round.head.samples_log2 = kPowerSamplesLog2;
  round.loaded.assign(channels.begin(), channels.end());
  for (const Channel channel : channels) {
    round.pairs.push_back({channel, wire::kInstrumentZero});
  }
  const std::array<Sensing, 2> rounds = {round, round};
  const std::vector<Program> programs = pack(rounds, ability, link.tester());
  std::vector<wire::Result> results;
  for (int attempt = 0;; ++attempt) {
    results.clear();
    if (runner.run(programs, 0, runner.silences(), results) == programs.size()) {
      break;
    }
    if (attempt == kPowerAttempts) {
      throw TesterError(fmt::format(
          "{} opens its switches again and again, since too little of what is said arrives; check "
          "the cable",
          link.tester()));
    }
  }
  double squares = 0;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    const std::array<const wire::Result*, 2> both = {&results[i], &results[channels.size() + i]};
    const double a = ranges.sense_volt(*both[0], round.head);
    const double b = ranges.sense_volt(*both[1], round.head);
    const double volt = std::abs(a) > std::abs(b) ? a : b;
    const bool clipped =
        ((both[0]->flags | both[1]->flags) & (wire::kSenseOver | wire::kSenseUnder)) != 0;
    if (clipped || std::abs(volt) > kPowerLimitVolt) {
      check.live.push_back({channels[i], volt});
    }
    squares += (a - b) * (a - b);
  }
  std::stable_sort(check.live.begin(), check.live.end(),
                   [](const LiveChannel& a, const LiveChannel& b) {
                     return std::abs(a.volt) > std::abs(b.volt);
                   });
  check.passed = check.live.empty();
  if (check.passed) {
    passed = true;
    moved = false;
    checked.assign(channels.begin(), channels.end());
    checked_channels.assign(ability.channels + std::size_t{1}, false);
    for (const Channel channel : channels) {
      checked_channels[channel] = true;
    }
    checked_silences = runner.silences();
    // Half of the squared difference of two averages is the variance of one.
    const double averages = static_cast<double>(std::max<std::size_t>(channels.size(), 1));
    noise_volt = std::sqrt(std::ldexp(squares / (2 * averages), kPowerSamplesLog2));
  }
  return check;
}

void Session::State::check_again() {
  const std::vector<Channel> channels = checked;
  const double noise = noise_volt;
  const PowerCheck check = power_check(channels);
  noise_volt = noise;  // as many samples as before, in what is measured just now
  if (!check.passed) {
    throw TesterError(fmt::format(
        "the board is not at rest any more: channel {} has {:.2f} V; switch it off, let it "
        "discharge, and begin again",
        check.live.front().channel, check.live.front().volt));
  }
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
  for (;;) {
    left = left.subspan(runner.run(left, permit, checked_silences, results));
    if (left.empty()) {
      return;
    }
    check_again();
  }
}

std::uint8_t Session::State::first_range(const Request& request) const {
  return ranges.first(request.purpose);
}

/// One pair a request; neighbouring `follow` requests with the same source share a setting.
std::vector<Sensing> Session::State::first_sensings(std::span<const Request> requests) const {
  std::vector<Sensing> sensings;
  sensings.reserve(requests.size());
  const Request* before = nullptr;
  for (const Request& request : requests) {
    const bool follow = request.purpose == Purpose::follow;
    const bool shared = follow && before != nullptr && before->purpose == Purpose::follow &&
                        before->source == request.source && before->sink == request.sink;
    if (!shared) {
      sensings.push_back({head(first_range(request)), request.source, request.sink, {}, {}});
      sensings.back().head.load = follow ? wire::Load::ohm_47k : wire::Load::none;
    }
    Sensing& sensing = sensings.back();
    if (follow) {
      sensing.loaded.push_back(request.sense);
      sensing.pairs.push_back({request.sense, wire::kInstrumentZero});
    } else {
      sensing.pairs.push_back({request.source.front(), request.sink.front()});
    }
    before = &request;
  }
  return sensings;
}

Measurement Session::State::first_measurement(const Request& request,
                                              const wire::Result& result) const {
  const std::uint8_t range = first_range(request);
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
/// conduct, it is looked for where the current enters and leaves the board, and sensed there.
void Session::State::refine(std::span<const Request> requests) {
  std::vector<Sensing> sensings;
  std::vector<std::size_t> which;
  for (std::size_t i = 0; i < requests.size(); ++i) {
    const Request& request = requests[i];
    const double ohm = measured[i].ohm;
    if (request.purpose == Purpose::follow || measured[i].clipped) {
      continue;
    }
    if (is_pair(request)) {
      const auto range = ranges.better(first_range(request), ohm);
      if (range) {
        sensings.push_back({head(*range), request.source, request.sink, {}, {}});
        sensings.back().pairs = {{request.source.front(), request.sink.front()}};
        which.push_back(i);
      }
    } else if (ohm < kLocateUpToOhm &&
               request.source.size() + request.sink.size() <= kLocateChannels) {
      sensings.push_back(locating(request, ranges.low(ohm)));
      which.push_back(i);
    }
  }
  if (sensings.empty()) {
    return;
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  std::vector<Sensing> second;
  std::vector<std::size_t> second_which;
  std::size_t at = 0;
  for (std::size_t k = 0; k < sensings.size(); ++k) {
    Sensing& sensing = sensings[k];
    const std::span<const wire::Result> own = std::span(results).subspan(at, sensing.pairs.size());
    at += sensing.pairs.size();
    if (is_pair(requests[which[k]])) {
      measured[which[k]] =
          to_ohms(ranges.electrical(own[0], sensing.head, noise_volt), sensing.head.range, 0);
      continue;
    }
    sensing.pairs = {located(sensing, own)};
    second.push_back(std::move(sensing));
    second_which.push_back(which[k]);
  }
  results.clear();
  execute(second, results);
  for (std::size_t k = 0; k < second.size(); ++k) {
    measured[second_which[k]] =
        to_ohms(ranges.electrical(results[k], second[k].head, noise_volt), second[k].head.range, 0);
  }
}

/// Senses every channel of both sets.
Sensing Session::State::locating(const Request& request, std::uint8_t range) const {
  Sensing sensing{head(range), request.source, request.sink, {}, {}};
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

Session::Session(transport::ByteStream& stream, Options options)
    : state_(std::make_unique<State>(stream, options)) {}

Session::~Session() = default;

const Capabilities& Session::capabilities() const {
  return state_->capabilities;
}

PowerCheck Session::power_check(std::span<const Channel> channels) {
  return state_->power_check(channels);
}

std::vector<Measurement> Session::measure(std::span<const Request> requests) {
  state_->measure(requests);
  return std::move(state_->measured);
}

const std::vector<Measurement>& Session::partial_results() const {
  return state_->measured;
}

bool Session::needs_power_check() const {
  return !state_->passed || state_->moved || state_->switches_opened();
}

void Session::leads_moved() {
  state_->moved = true;
}

Counters Session::counters() const {
  return state_->link.counters();
}

}  // namespace padwalk::session
