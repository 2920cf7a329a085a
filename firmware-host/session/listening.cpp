// SPDX-License-Identifier: MIT
//
// A tip that touches anything while the rest stays clipped: whether it has contact, whether what it
// is on is at rest, and the net it is on, by sets of nets. Fast rather than exact: what comes of it
// is shown to a person, and read again before it counts.
#include <algorithm>
#include <bit>
#include <cmath>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

constexpr std::uint8_t kFewSamplesLog2 = 2;
constexpr std::uint8_t kPairSamplesLog2 = 3;
/// What is to be named waits for no capacitor.
constexpr std::uint16_t kPatienceTicks = 20;  // 2 ms
/// The tip is looked at so many times, 10 ms in all.
constexpr std::size_t kTipLooks = 4;
constexpr std::uint16_t kTipLookTicks = 25;
/// Conducting as copper may, seen by the current alone: up to so much on top of both force paths.
constexpr double kNearOhm = 100;
/// A tip that conducts at all: half the current that a short would let through.
constexpr double kHalf = 0.5;

double shorted_volt(std::uint8_t range, double ohm) {
  const double reference = wire::kRanges[range - 1].reference_ohm;
  return Ranges::level_volt(range) * reference / (reference + 2 * kForcePathOhm + ohm);
}

std::vector<Channel> all_of(const Held& held) {
  std::vector<Channel> all;
  for (const std::vector<Channel>& group : held.groups) {
    all.insert(all.end(), group.begin(), group.end());
  }
  return all;
}

/// The leads of all groups but these. What has capacitors is not held against ground, which they
/// let current into while they fill.
std::vector<Channel> rest_of(const Held& held, std::span<const std::size_t> groups) {
  const bool filling = std::any_of(groups.begin(), groups.end(),
                                   [&](std::size_t group) { return group < held.apart; });
  std::vector<Channel> rest;
  for (std::size_t group = filling && held.ground ? 1 : 0; group < held.groups.size(); ++group) {
    if (std::find(groups.begin(), groups.end(), group) == groups.end()) {
      rest.insert(rest.end(), held.groups[group].begin(), held.groups[group].end());
    }
  }
  return rest;
}

/// `channels` in their order, as many as a set may hold.
std::vector<std::vector<Channel>> sets_of(const std::vector<Channel>& channels, std::size_t most) {
  std::vector<std::vector<Channel>> sets;
  for (std::size_t at = 0; at < channels.size(); at += most) {
    const auto begin = channels.begin() + static_cast<std::ptrdiff_t>(at);
    const std::size_t count = std::min(most, channels.size() - at);
    sets.emplace_back(begin, begin + static_cast<std::ptrdiff_t>(count));
  }
  return sets;
}

}  // namespace

bool Session::State::touches(Channel tip, const Held& held) {
  if (!passed || moved) {
    throw std::logic_error("nothing is driven without a power check that passed");
  }
  if (switches_opened()) {
    check_again();
  }
  const wire::StepHead listen = quick_head(listening_range());
  std::vector<Sensing> sensings;
  for (std::vector<Channel>& set : sets_of(all_of(held), ability.max_sink)) {
    const wire::Pair pair{tip, set.front()};
    sensings.push_back({listen, {tip}, std::move(set), {}, {pair}});
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  return std::any_of(results.begin(), results.end(), [&](const wire::Result& result) {
    // Backwards too: what drives the tip pushes its own current.
    return std::abs(ranges.current(result, listen, noise_volt).volt) >
           kHalf * shorted_volt(listen.range, 0);
  });
}

wire::StepHead Session::State::quick_head(std::uint8_t range) const {
  wire::StepHead quick = head(range);
  quick.samples_log2 = kFewSamplesLog2;
  quick.settle_limit_ticks = kPatienceTicks;
  quick.difference = 0;
  quick.spread_ticks = 0;
  return quick;
}

bool Session::State::conducts_well(const wire::Result& result, const wire::StepHead& head) const {
  return ranges.current(result, head, noise_volt).volt >= shorted_volt(head.range, kNearOhm);
}

Heard Session::State::name(Channel tip, const Held& held) {
  Heard heard;
  if (!rests(tip, all_of(held)) && !power_check_more({&tip, 1}).passed) {
    heard.at_rest = false;
    return heard;
  }
  const std::vector<std::size_t> likely = candidates(tip, held);
  if (likely.empty()) {
    return heard;
  }
  bool others = false;
  heard = best(tip, held, likely, others);
  if (!heard.group || others) {  // parts of few ohms: each by itself
    std::vector<std::size_t> every(held.groups.size());
    for (std::size_t group = 0; group < every.size(); ++group) {
      every[group] = group;
    }
    heard = best(tip, held, every, others);
  }
  return heard;
}

/// 10 ms with 1 Mohm on everything and nothing driven. False: more has to be known.
bool Session::State::rests(Channel tip, std::span<const Channel> all) {
  Sensing look;
  look.head.level = wire::Level::off;
  look.head.range = listening_range();
  look.head.load = wire::Load::ohm_1m;
  look.head.samples_log2 = kFewSamplesLog2;
  look.head.settle_limit_ticks = 0;
  look.head.spread_ticks = kTipLookTicks;
  look.loaded.assign(all.begin(), all.end());
  look.loaded.push_back(tip);
  look.pairs.assign(kTipLooks, {tip, wire::kInstrumentZero});
  std::vector<wire::Result> results;
  execute({&look, 1}, results);
  return std::all_of(results.begin(), results.end(), [&](const wire::Result& result) {
    return (result.flags & (wire::kSenseOver | wire::kSenseUnder)) == 0 &&
           std::abs(ranges.sense_volt(result, look.head)) <= options.power_limit_volt;
  });
}

/// Groups that the tip may be on by the current alone. Those with capacitors one by one; of the
/// others by the bits of their number, counted from 1, since a group is in every set of its bits.
std::vector<std::size_t> Session::State::candidates(Channel tip, const Held& held) {
  const wire::StepHead near = quick_head(ranges.low(0));
  std::vector<Sensing> sensings;
  std::vector<std::size_t> set_of;  // by sensing: a group, or behind those a bit
  const auto add = [&](const std::vector<Channel>& channels, std::size_t number, bool ground) {
    for (std::vector<Channel>& set :
         sets_of(channels, ability.max_sink > 1 ? ability.max_sink - 1u : 1u)) {
      const wire::Pair pair{tip, set.front()};
      if (ground && ability.max_sink > 1) {
        set.push_back(held.groups.front().front());
      }
      sensings.push_back({near, {tip}, std::move(set), {}, {pair}});
      set_of.push_back(number);
    }
  };
  for (std::size_t group = 0; group < held.apart; ++group) {
    add(held.groups[group], group, false);
  }
  const std::size_t coded = held.groups.size() - held.apart;
  const auto bits = static_cast<std::size_t>(std::bit_width(coded));
  for (std::size_t bit = 0; bit < bits; ++bit) {
    std::vector<Channel> channels;
    for (std::size_t number = 1; number <= coded; ++number) {
      if ((number >> bit & 1) != 0) {
        const std::vector<Channel>& group = held.groups[held.apart + number - 1];
        channels.insert(channels.end(), group.begin(), group.end());
      }
    }
    add(channels, held.groups.size() + bit, held.ground);
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  std::vector<std::size_t> found;
  std::size_t number = 0;
  for (std::size_t i = 0; i < results.size(); ++i) {
    if (!conducts_well(results[i], near)) {
      continue;
    }
    if (set_of[i] < held.groups.size()) {
      found.push_back(set_of[i]);
    } else {
      number |= std::size_t{1} << (set_of[i] - held.groups.size());
    }
  }
  // With ground sunk beside every set, a tip on ground conducts to all of them.
  if (found.empty() && number > 0) {
    found.push_back(held.apart + std::min(number, coded) - 1);
  }
  return found;
}

/// Of these groups the one that fewest ohms join to the tip, if copper may have so many. `others`:
/// whether the tip conducts well to any other group too.
Heard Session::State::best(Channel tip, const Held& held, std::span<const std::size_t> groups,
                           bool& others) {
  wire::StepHead pair_head = quick_head(ranges.low(0));
  pair_head.samples_log2 = kPairSamplesLog2;
  pair_head.difference = 1;
  std::vector<Sensing> sensings;
  std::vector<std::size_t> group_of;
  for (const std::size_t group : groups) {
    for (const Channel lead : held.groups[group]) {
      sensings.push_back({pair_head, {tip}, {lead}, {}, {{tip, lead}}});
      group_of.push_back(group);
    }
  }
  const std::size_t pairs_read = sensings.size();
  const wire::StepHead near = quick_head(ranges.low(0));
  for (std::vector<Channel>& set : sets_of(rest_of(held, groups), ability.max_sink)) {
    const wire::Pair pair{tip, set.front()};
    sensings.push_back({near, {tip}, std::move(set), {}, {pair}});
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  const std::span<const wire::Result> read(results);
  others = std::any_of(read.begin() + static_cast<std::ptrdiff_t>(2 * pairs_read), read.end(),
                       [&](const wire::Result& result) { return conducts_well(result, near); });
  Heard heard;
  const std::vector<OffOn> pairs = paired(read.first(2 * pairs_read));
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const Conditions now = conditions(false);
    const Measurement made =
        to_measurement(ranges.electrical(pairs[i], pair_head, now), pair_head.range, 0, now);
    const bool copper = !made.clipped && made.ohm <= held.copper_ohm;
    if (copper && (!heard.group || made.ohm < heard.ohm)) {
      heard.group = group_of[i];
      heard.lead = sensings[i].sink.front();
      heard.ohm = made.ohm;
      heard.uncertainty_ohm = made.uncertainty_ohm;
    }
  }
  return heard;
}

}  // namespace padwalk::session
