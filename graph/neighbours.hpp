// SPDX-License-Identifier: MIT
//
// Which nets may touch each other: their metal is close, they meet at a part, or the file says so.
// For plans that need not bring all pairs together.
#pragma once

#include <utility>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

struct NeighbourRules {
  double within_mm = 2.6;  ///< between centres, on a side that both reach: a pin pitch and some
  bool pins_only = false;  ///< leave out vias and named points
  bool at_parts = true;    ///< nets that meet at a part of up to `small_part` pins
  std::size_t small_part = 3;
  bool as_file_says = true;  ///< and those that the board file calls neighbours
};

/// Shape: pairs of different nets, the lower one first, ascending, each once. Points in no net and
/// without a position count for nothing.
/// Cost: near linear in points and pairs.
std::vector<std::pair<NetId, NetId>> neighbour_nets(const Board& board,
                                                    const NeighbourRules& rules);

/// Nets with a point, by their first point along the longer side of what the points cover. Nets
/// without a position come last.
std::vector<NetId> nets_along(const Board& board, const NeighbourRules& rules);

/// One pass along the board, for pass_neighbours(): nets are numbered as nets_along() has them.
struct NumberedNets {
  std::vector<std::size_t> points;  ///< by net: how many of them count; none has none
  std::vector<std::pair<std::uint32_t, std::uint32_t>> neighbours;
};
NumberedNets number_along(const Board& board, const NeighbourRules& rules);

}  // namespace padwalk::graph
