// SPDX-License-Identifier: MIT
//
// Which channel of the tester sits on which point, for one spell of measuring.
#pragma once

#include <cstdint>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// One lead on one point.
struct Lead {
  std::uint16_t channel = 0;  ///< counts from 1
  PointId point = kNoPoint;
  PlaceId place = kNoPlace;  ///< of the tip: elsewhere on the point than where a fixture holds
};

struct Hookup {
  std::vector<Lead> leads;

  /// The attached points, in lead order.
  std::vector<PointId> points() const;
};

/// Which points must be left alone: those marked `drive: never` and the others of their nets, since
/// a net is one conductor. Shape: one entry a point of the board.
std::vector<bool> never_driven(const Board& board);

/// The hookup where no fixtures are named: channels 1, 2, … on the points of access `clip` in file
/// order (parts as listed with all their pins ascending, then named points), but for those that
/// must not be driven. Channels count on from 1 after 65535; no tester has as many.
Hookup default_hookup(const Board& board);

/// "grouped as nets": number of nets with an attached point, plus attached points in no net.
std::size_t count_groups(const Board& board, const std::vector<PointId>& attached);

}  // namespace padwalk::graph
