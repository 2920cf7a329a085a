// SPDX-License-Identifier: MIT
//
// How a person puts a fixture on wrongly: backwards, a pin or two along, on another part. What was
// read tells, where the copper between its leads says so. Judges no board.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "graph/plan.hpp"
#include "graph/reading.hpp"
#include "graph/verdict.hpp"

namespace padwalk::graph {

/// One way in which one fixture may sit.
struct Slip {
  enum class Kind : std::uint8_t {
    backwards,  ///< turned by half a turn
    along,      ///< `pins` towards higher numbers on pin 1's side
    elsewhere   ///< on `part` instead
  };
  Kind kind = Kind::backwards;
  std::size_t move = 0;  ///< the how-manieth of those put on
  int pins = 0;
  PartId part = kNoPart;
  /// Where its leads are then, by channel; those on no metal are left out.
  std::vector<Lead> leads;
};

/// All ways in which this move goes wrong that are looked for.
std::vector<Slip> possible_slips(const Board& board, const Fixtures& bench, const PlanMove& move,
                                 std::size_t number);

/// What was attached, and what of it was put on last.
struct Placement {
  const Hookup& now;
  std::span<const PlanMove> moves;
};

/// The slip that explains what was read better than the plan's placement does, if one does; of
/// several the best. How well: nets that are in pieces, and pieces that hold several nets, each
/// counted once too many. What is silent alone is no slip: a re-seat shows it. `looked_at`: moves
/// that the person has looked at and found right. Shape: one entry a move.
std::optional<Slip> likeliest_slip(const Board& board, const Fixtures& bench, const Limits& limits,
                                   const Placement& placement, std::span<const Reading> readings,
                                   const std::vector<bool>& looked_at);

/// The net that the tip seems to touch instead of the last point of `now`: that conducts to it and
/// to nothing of its own net.
std::optional<NetId> touched_instead(const Board& board, const Limits& limits, const Hookup& now,
                                     std::span<const Reading> readings);

}  // namespace padwalk::graph
