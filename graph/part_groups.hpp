// SPDX-License-Identifier: MIT
//
// Which nets the parts of an assembled board join: nets that some current can reach through parts,
// and nets that closed parts (links, fuses, switches at rest) make one conductor. Shared by the
// scan, which must not read such nets against each other in sets, and by the findings.
#pragma once

#include <cstdint>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// Shape: one number a net in each list; nets with the same number belong together.
struct PartGroups {
  std::vector<std::uint32_t> cluster;  ///< joined by parts, directly or through other nets
  std::vector<std::uint32_t> tie;      ///< joined by parts of `short_ohm` or less
};

/// Cost: near linear in nets and parts.
PartGroups find_part_groups(const Board& board, double short_ohm);

}  // namespace padwalk::graph
