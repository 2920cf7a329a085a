// SPDX-License-Identifier: MIT
//
// The one value that the graph side sees of a measurement: between which points, how many ohms.
#pragma once

#include <limits>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// What a reading is for; the session chooses level, range and settling by it.
enum class Purpose : std::uint8_t {
  isolation,   ///< nothing should conduct: two sets of points
  continuity,  ///< it should conduct: one point against one other, current flowing
  follow       ///< does `sense` follow the driven points? (`--quick`; voltage only, no current)
};

/// A reading that somebody wants. `sense` is used by `follow` alone, whose sink set is empty.
struct WantedReading {
  std::vector<PointId> source;
  std::vector<PointId> sink;
  Purpose purpose = Purpose::continuity;
  PointId sense = kNoPoint;
};

inline constexpr double kOpenOhm = std::numeric_limits<double>::infinity();

/// What was read. Units: ohm, volt. `ohm` is kOpenOhm where nothing flowed; a `follow` reading is 0
/// or kOpenOhm.
struct Reading {
  WantedReading wanted;
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;
  double volt = 0;  ///< the open-circuit test voltage
};

}  // namespace padwalk::graph
