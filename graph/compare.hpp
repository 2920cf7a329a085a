// SPDX-License-Identifier: MIT
//
// Two boards side by side: which nets are the same, whatever they are called, and which points are
// with others. Points are matched by their names. Not for what was measured: see findings.hpp.
#pragma once

#include <utility>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// One point that stands elsewhere than most of its net.
struct MovedPoint {
  PointId a = kNoPoint;  ///< the same point on both boards
  PointId b = kNoPoint;
};

/// Nets that hold each other's points, as few as can be looked at apart. One of each with points
/// moved in or out, one and several (a net apart or joined), or a tangle.
struct NetDifference {
  std::vector<NetId> a;
  std::vector<NetId> b;
  /// Points that are not in the net of `b` that has most of their net of `a`.
  std::vector<MovedPoint> moved;
};

struct BoardsCompared {
  std::vector<std::pair<NetId, NetId>> same;  ///< in the order of the first board
  std::vector<NetDifference> differences;
  std::vector<PointId> only_a;
  std::vector<PointId> only_b;
};

/// Of points that only one board has, nothing else is said. A point in no net is alone; nets of one
/// common point count as such.
/// Cost: near linear in points.
BoardsCompared compare_boards(const Board& a, const Board& b);

}  // namespace padwalk::graph
