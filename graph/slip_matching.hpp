// SPDX-License-Identifier: MIT
//
// Nets of a file against what measured as one conductor: which net stands for which conductor, so
// that as few points as possible stand elsewhere. For file_slips.hpp alone.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

class SlipMatching {
 public:
  static constexpr std::size_t kNone = SIZE_MAX;

  /// Points of one net that measured as one. `net` kNone: in no net.
  struct Cell {
    std::size_t net = kNone;
    std::size_t conductor = 0;
    std::vector<PointId> points{};
  };

  /// Among the conductors (points by name) that nets of `now` chain to `from`: a matching of
  /// largest weight, one augmenting path after another. Of equally many points: nets of known way,
  /// larger conductors, nets further up in the file keep theirs. Cost: O(nets * (nets + conductors)
  /// * cells) of the chain.
  SlipMatching(const Board& now, const std::vector<std::vector<std::string>>& conductors,
               const std::vector<std::size_t>& from);

  const std::vector<Cell>& cells() const { return cells_; }
  /// kNone: there is none.
  std::size_t home_of_net(std::size_t net) const { return find(conductor_of_, net); }
  std::size_t home_of_conductor(std::size_t c) const { return find(net_of_, c); }

 private:
  using Matched = std::map<std::size_t, std::size_t>;

  static std::size_t find(const Matched& all, std::size_t one) {
    const auto found = all.find(one);
    return found == all.end() ? kNone : found->second;
  }
  bool augment();
  std::int64_t weight_between(std::size_t net, std::size_t conductor) const;

  std::vector<Cell> cells_;
  std::vector<std::int64_t> weights_;  ///< by cell
  Matched net_of_;
  Matched conductor_of_;
};

}  // namespace padwalk::graph
