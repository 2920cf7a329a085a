// SPDX-License-Identifier: MIT
//
// What the Schottky clamps of chips may carry backwards, out of their inputs into ground. Not for
// what they conduct forwards: readings the other way round and with ground sunk tell that.
#pragma once

#include <cstddef>
#include <vector>

#include <boost/pending/disjoint_sets.hpp>

#include "graph/board.hpp"
#include "graph/part_groups.hpp"

namespace padwalk::graph {

class Clamps {
 public:
  Clamps(const Board& board, const PartGroups& groups);

  /// Two nets are shorted: the clamps of one are the other's too.
  void join(NetId a, NetId b);
  /// Some chip has any, on a net that parts join to this one.
  bool any(NetId net) const { return of(net) > 0; }
  /// All that hang on what parts join to either net; `across_volt` lay across the two.
  double siemens(NetId a, NetId b, double across_volt) const;

 private:
  std::size_t root(NetId net) const;
  std::size_t of(NetId net) const { return count_[root(net)]; }

  std::vector<std::uint32_t> cluster_;
  mutable boost::disjoint_sets_with_storage<> joined_;  ///< clusters; finding compresses paths
  std::vector<std::size_t> count_;                      ///< by root
};

}  // namespace padwalk::graph
