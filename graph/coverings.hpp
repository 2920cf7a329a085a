// SPDX-License-Identifier: MIT
//
// Sets of at most k things so that each two of v things meet in one: hookups of k leads that bring
// every pair of nets together. Small coverings and finite planes, blown up to groups. Knows no
// board. Source: coverings from halves, affine and projective planes are elementary; the other
// bases were found by annealing for this project and are verified by
// tests/graph/coverings_test.cpp.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace padwalk::graph {

using Block = std::vector<std::uint32_t>;  ///< ascending
using Blocks = std::vector<Block>;

/// Blocks of points 0 … points - 1, each pair of which is in a block.
struct CoveringBase {
  std::string name;
  std::size_t points = 0;
  Blocks blocks;
};

/// All that are known here, fewest blocks first; without the pairs of m groups.
const std::vector<CoveringBase>& covering_bases();

/// Any m groups in pairs. Shape: m >= 2.
CoveringBase pairs_of_groups(std::size_t groups);

/// No covering of the pairs of v things by sets of k has fewer. Shape: 2 <= k, k <= v.
/// Source: Schonheim, On coverings, Pacific J. Math. 14, 1964 (from memory).
std::size_t fewest_blocks_bound(std::size_t v, std::size_t k);

/// How large to make each point of a base so that no block is above k and the sum is as large as
/// was found. Cost: a search of fixed length, the same each time.
std::vector<std::size_t> group_sizes(const CoveringBase& base, std::size_t k);

/// The covering of v things by blow-up of `base` with these sizes; the last groups are cut short.
/// Shape: the sizes' sum is at least v. Blocks that hold nothing alone are left out.
Blocks blow_up(const CoveringBase& base, const std::vector<std::size_t>& sizes, std::size_t v);

/// All pairs of v things in sets of at most k, in the fewest that are known here.
/// Shape: 2 <= k.
Blocks cover_pairs(std::size_t v, std::size_t k);

}  // namespace padwalk::graph
