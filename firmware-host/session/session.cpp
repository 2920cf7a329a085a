// SPDX-License-Identifier: MIT
#include "firmware-host/session/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// A source, behind 10 Mohm over n too, is seen above this with the 1 Mohm loads.
constexpr double kPowerLimitVolt = 0.015;
constexpr std::uint8_t kPowerSamplesLog2 = 4;
/// The switches are taken for open a little before the tester opens them.
constexpr std::chrono::milliseconds kSilence{wire::kSilenceMs - 100};

}  // namespace

Session::State::State(transport::ByteStream& stream, const Options& with)
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

wire::Ability Session::State::meet() {
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
  run_power_check(programs, results);
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
    remember_pass(channels);
    // Half of the squared difference of two averages is the variance of one.
    const double averages = static_cast<double>(std::max<std::size_t>(channels.size(), 1));
    noise_volt = std::sqrt(std::ldexp(squares / (2 * averages), kPowerSamplesLog2));
  }
  return check;
}

void Session::State::run_power_check(std::span<const Program> programs,
                                     std::vector<wire::Result>& results) {
  for (int attempt = 0; attempt < kAttempts; ++attempt) {
    results.clear();
    if (runner.run(programs, 0, runner.silences(), results) == programs.size()) {
      return;
    }
  }
  give_up_opening();
}

void Session::State::remember_pass(std::span<const Channel> channels) {
  passed = true;
  moved = false;
  checked.assign(channels.begin(), channels.end());
  checked_channels.assign(ability.channels + std::size_t{1}, false);
  for (const Channel channel : channels) {
    checked_channels[channel] = true;
  }
  checked_silences = runner.silences();
}

void Session::State::check_again() {
  const std::vector<Channel> channels = checked;
  const double noise = noise_volt;
  const PowerCheck check = power_check(channels);
  noise_volt = noise;  // as many samples as before, in what is measured just now
  if (!check.passed) {
    throw NotAtRest(
        fmt::format(
            "the board is not at rest any more: channel {} has {:.2f} V; switch it off, let "
            "it discharge, and begin again",
            check.live.front().channel, check.live.front().volt),
        check);
  }
}

bool Session::State::switches_opened() const {
  return runner.silences() != checked_silences || Clock::now() - link.heard() >= kSilence;
}

void Session::State::give_up_opening() const {
  throw TesterError(fmt::format(
      "{} opens its switches again and again, since too little of what is said arrives; "
      "check the cable",
      link.tester()));
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
