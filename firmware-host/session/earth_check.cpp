// SPDX-License-Identifier: MIT
//
// Whether something else joins the board to the instrument's ground, a computer or earth: with
// every lead on the source and none sunk, nothing may flow. Only after the power check.
#include <algorithm>
#include <cmath>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// A lead may sit so much below the open voltage: its force path against 18.5 kohm.
constexpr double kMostDrop = 1.0 / 40;
constexpr std::uint8_t kListeningRange = 4;
constexpr std::uint8_t kTieSamplesLog2 = 4;
constexpr std::uint16_t kFirstTicks = 100;   // 10 ms
constexpr std::uint16_t kAgainTicks = 3000;  // 300 ms
/// A capacitor closes more than this of what is missing from look to look, up to 10 mF on a lead; a
/// tie comes to rest.
constexpr double kRises = 0.05;
/// What two looks may differ by without meaning anything.
constexpr double kStepVolt = 0.3e-3;
constexpr int kLooks = 40;

/// What the leads on the source miss of the open voltage.
struct Drop {
  double most_volt = 0;
  double ampere = 0;  ///< out of all of them
};

}  // namespace

bool Session::State::find_tie(std::span<const Channel> channels, std::uint8_t silences,
                              std::optional<double>& tied_ohm) {
  tied_ohm.reset();
  const double open = wire::kLevelMillivolt[static_cast<std::size_t>(wire::Level::low)] * 1e-3;
  for (std::size_t at = 0; at < channels.size();) {
    const std::span<const Channel> chunk =
        channels.subspan(at, std::min<std::size_t>(ability.max_source, channels.size() - at));
    at += chunk.size();
    Sensing all;
    all.head.range = listening_range();
    all.head.level = wire::Level::low;
    all.head.samples_log2 = kTieSamplesLog2;
    all.head.settle_codes = 8;
    all.head.settle_limit_ticks = 20;
    all.source.assign(chunk.begin(), chunk.end());
    for (const Channel channel : chunk) {
      all.pairs.push_back({channel, wire::kInstrumentZero});
    }
    Sensing wait = all;
    wait.head.period_ticks = kFirstTicks;
    wait.head.samples_log2 = 0;
    wait.pairs.resize(1);
    double before_volt = 2 * open;
    for (int look = 0; look < kLooks; ++look) {
      const std::array<Sensing, 2> sensings = {wait, all};
      const std::vector<Program> programs = pack(sensings, ability, link.tester());
      std::vector<wire::Result> results;
      if (runner.run(programs, 0, silences, results) != programs.size()) {
        return false;
      }
      Drop drop;
      for (std::size_t i = 1; i < results.size(); ++i) {
        const double missing = open - ranges.sense_volt(results[i], all.head);
        drop.most_volt = std::max(drop.most_volt, missing);
        drop.ampere += missing / kForcePathOhm;
      }
      // A weak source between two leads lowers one and lifts the other: nothing flows away.
      if (drop.most_volt < kMostDrop * open || drop.ampere < kMostDrop * open / kForcePathOhm / 2) {
        break;
      }
      if (before_volt - drop.most_volt < kRises * drop.most_volt + kStepVolt) {
        const double ohm = std::max(open - drop.most_volt, 0.0) / drop.ampere;
        tied_ohm = std::min(ohm, tied_ohm.value_or(ohm));
        break;
      }
      before_volt = drop.most_volt;
      wait.head.period_ticks = kAgainTicks;
    }
  }
  return true;
}

std::uint8_t Session::State::listening_range() const {
  std::uint8_t best = 1;
  for (std::uint8_t range = 1; range <= kListeningRange; ++range) {
    if ((ability.ranges & (1u << (range - 1))) != 0) {
      best = range;
    }
  }
  return best;
}

}  // namespace padwalk::session
