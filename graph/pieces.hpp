// SPDX-License-Identifier: MIT
//
// Which attached points measured as one conductor. Readings in, a partition out; what should have
// been is findings.hpp's matter.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

/// The two points of a reading of one point against one other; kNoPoint where it is about sets.
std::pair<PointId, PointId> two_points(const WantedReading& wanted);

/// The measured partition of the attached points.
struct Pieces {
  static constexpr std::uint32_t kNotAttached = UINT32_MAX;
  /// Shape: one entry a point of the board: the number of its piece, or kNotAttached.
  std::vector<std::uint32_t> piece_of;
  /// Shape: one list a piece, points ascending; pieces in order of their first point.
  std::vector<std::vector<PointId>> members;

  std::uint32_t operator[](PointId point) const { return piece_of[index(point)]; }
};

/// Up to how many ohms two points count as one conductor. Units: ohm.
using OhmLimit = std::function<double(PointId a, PointId b)>;

/// Joins points on readings of one point against one other up to `joined_ohm`; isolation readings
/// are of whole nets and join nothing. A reading inside a net that gave no number joins too, since
/// it is no evidence of a break. A later reading of the same pair does not undo an earlier one.
/// Cost: near linear in points and readings.
Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, const OhmLimit& joined_ohm);
/// The same with one limit inside a net and one between nets.
Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, double same_net_ohm, double two_nets_ohm);

/// The readings, without those inside a net that went through a junction: copper conducts both ways
/// alike, so where two pieces of `strong` were read both ways, the higher way speaks of it.
std::vector<Reading> readings_of_copper(const Board& board, std::span<const Reading> readings,
                                        const Pieces& strong);

}  // namespace padwalk::graph
