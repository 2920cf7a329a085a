// SPDX-License-Identifier: MIT
//
// What the Schottky clamps of chips carry past the parts: a little backwards, from any input into
// ground, and more forwards once a fault has brought current to where ground should be. A healthy
// board's forward ways are told by readings the other way round and with ground sunk:
// part_pairs.hpp.
#pragma once

#include <boost/pending/disjoint_sets.hpp>
#include <cstddef>
#include <set>
#include <vector>

#include "graph/board.hpp"
#include "graph/part_groups.hpp"

namespace padwalk::graph {

class Clamps {
 public:
  Clamps(const Board& board, const PartGroups& groups);
  Clamps(const Clamps&) = delete;  // the disjoint sets point into themselves
  Clamps& operator=(const Clamps&) = delete;

  /// These two nets are shorted: the clamps of one are the other's too.
  void add_short(NetId a, NetId b);
  /// These two nets leak to each other: what is read of one flows through the other's clamps too.
  void add_leak(NetId a, NetId b);
  /// The same where one is a ground. Only what is more than backward_siemens() may be one.
  void add_leak_into_ground(NetId a, NetId b);

  /// Some chip has any, on what parts join to this net.
  bool any(NetId net) const { return count(net) > 0; }
  /// What leaks backwards between two nets with that much across them, at most.
  double backward_siemens(NetId a, NetId b, double across_volt) const;
  /// The same between a net and a chip's pin that is in none.
  double backward_siemens(NetId net, double across_volt) const;
  /// A short or a leak may have made a forward way out of this net, which is driven, by ground.
  bool forward_way(NetId net) const;
  /// The same beside the parts between two nets.
  bool forward_way(NetId a, NetId b) const;
  /// The nets of the shorts and leaks that did.
  const std::set<NetId>& at_fault() const { return at_fault_; }

 private:
  /// Clusters of nets that something joins, with the clamps on them.
  class Joined {
   public:
    explicit Joined(std::size_t clusters) : sets_(clusters), count_(clusters) {}
    void add_clamps(std::uint32_t cluster, std::size_t clamps) { count_[cluster] += clamps; }
    void join(std::uint32_t a, std::uint32_t b);
    std::size_t count(std::uint32_t cluster) const { return count_[root(cluster)]; }
    bool together(std::uint32_t a, std::uint32_t b) const { return root(a) == root(b); }

   private:
    std::size_t root(std::uint32_t cluster) const { return sets_.find_set(std::size_t{cluster}); }
    mutable boost::disjoint_sets_with_storage<> sets_;  ///< finding compresses paths
    std::vector<std::size_t> count_;                    ///< by root
  };
  std::size_t count(NetId net) const { return by_shorts_.count(cluster_[index(net)]); }
  void add_fault(NetId a, NetId b, std::set<std::uint32_t>& clusters);

  const Board& board_;
  std::vector<std::uint32_t> cluster_;
  bool on_board_ = false;  ///< some chip has any
  Joined by_shorts_;
  Joined by_leaks_;                    ///< and by shorts
  std::set<std::uint32_t> at_shorts_;  ///< clusters
  std::set<std::uint32_t> at_leaks_;
  std::set<NetId> at_fault_;
};

}  // namespace padwalk::graph
