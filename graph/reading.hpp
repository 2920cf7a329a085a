// SPDX-License-Identifier: MIT
//
// The one value that the graph side sees of a measurement: between which points, how many ohms.
#pragma once

#include <limits>
#include <utility>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// What a reading is for; the session chooses level, range and settling by it.
enum class Purpose : std::uint8_t {
  isolation,   ///< nothing should conduct: two sets of points
  continuity,  ///< it should conduct: one point against one other, current flowing
  follow       ///< does `sense` follow the driven points? (`--quick`; voltage only, no current)
};

inline constexpr double kOpenOhm = std::numeric_limits<double>::infinity();

/// What a reading should say where all is well. Units: ohm.
struct Band {
  double at_least_ohm = 0;
  double at_most_ohm = kOpenOhm;
  bool holds(double ohm) const { return ohm >= at_least_ohm && ohm <= at_most_ohm; }
};

/// A reading that somebody wants. `sense` is used by `follow` alone, whose sink set is empty.
struct WantedReading {
  std::vector<PointId> source;
  std::vector<PointId> sink;
  Purpose purpose = Purpose::continuity;
  PointId sense = kNoPoint;
  Band expected;
  bool provisional = false;  ///< leads to other readings, not to a verdict: one of it is enough
};

/// What was read. Units: ohm, volt. `ohm` is kOpenOhm where nothing flowed; a `follow` reading is 0
/// or kOpenOhm.
struct Reading {
  WantedReading wanted;
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;  ///< k = 2
  double volt = 0;             ///< the open-circuit test voltage
  double across_volt = 0;      ///< what of it lay across the pair; 0: not known
  bool settled = true;        ///< false: a capacitor still fills, and there are more ohms than this
  bool number = true;         ///< false: over range, or a voltage of the board's own: no ohms
  bool intermittent = false;  ///< repetitions went to and fro
  bool close = false;         ///< repetitions did not take it clear of its limit
};

/// What still empties gives no bound of its ohms, not even a lower one.
inline bool says_nothing(const Reading& reading) {
  return !reading.settled && reading.ohm == 0 && reading.uncertainty_ohm == 0;
}

/// One reading of one net against one other, all attached points of each tied. Units: ohm, volt.
/// `ohm` is kOpenOhm where nothing flowed; not settled: it is a lower bound.
struct PairReading {
  NetId a = kNoNet;
  NetId b = kNoNet;
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;  ///< k = 2
  double volt = 0;
  bool settled = true;
  double stray_siemens = 0;  ///< of it: what may flow through clamps or fill capacitors
  bool broken = false;       ///< a break near by may make it read higher than its parts
  double across_volt = 0;    ///< what of `volt` lay across the pair
  double tied_ohm = 0;       ///< how much it may be off where a short joins nets that parts tie
  double uneven_ohm = 0;     ///< how much too low it may be where a net of its own is in pieces
};

/// Two nets between which current flows one way only. Units: ohm.
struct OneWay {
  NetId from = kNoNet;
  NetId to = kNoNet;
  double ohm = kOpenOhm;
};

/// What was read of whole nets that parts join or that leak to each other.
struct NetReadings {
  std::vector<PairReading> pairs;
  std::vector<OneWay> one_way;
  /// Pairs with a part of unknown ohms between them: judged for shorts only.
  std::vector<std::pair<NetId, NetId>> unsure;
};

}  // namespace padwalk::graph
