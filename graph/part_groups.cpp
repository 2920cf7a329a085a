// SPDX-License-Identifier: MIT
#include "graph/part_groups.hpp"

#include <boost/pending/disjoint_sets.hpp>

namespace padwalk::graph {

PartGroups find_part_groups(const Board& board, double short_ohm) {
  const std::size_t nets = board.nets().size();
  boost::disjoint_sets_with_storage<> clusters(nets);
  boost::disjoint_sets_with_storage<> ties(nets);
  for (const PartLink& link : board.part_links()) {
    clusters.union_set(index(link.a), index(link.b));
    if (link.ohm && *link.ohm <= short_ohm) {
      ties.union_set(index(link.a), index(link.b));
    }
  }
  PartGroups groups;
  for (std::size_t net = 0; net < nets; ++net) {
    groups.cluster.push_back(static_cast<std::uint32_t>(clusters.find_set(net)));
    groups.tie.push_back(static_cast<std::uint32_t>(ties.find_set(net)));
  }
  return groups;
}

}  // namespace padwalk::graph
