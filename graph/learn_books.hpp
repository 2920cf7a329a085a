// SPDX-License-Identifier: MIT
//
// What several hookups taught: which points copper joins, and which groups had a lead at one time,
// so that they are known to be apart. Plans nothing.
#pragma once

#include <set>
#include <utility>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

class LearnBooks {
 public:
  using Groups = std::set<std::size_t>;  ///< their numbers

  /// Every point of the board is a group of its own; only pairs of `counted` ones have to meet.
  explicit LearnBooks(std::vector<bool> counted);

  /// A number for the point's group; another one after it was joined.
  std::size_t group_of(PointId point) const { return group_of_[index(point)]; }

  /// These pieces had leads together: each is one group, all are apart from each other.
  void add(const std::vector<std::vector<PointId>>& pieces);

  bool is_open(std::size_t a, std::size_t b) const { return a != b && !met_[a][b]; }
  /// How many groups that count this one has not met.
  std::size_t open_with(std::size_t group) const { return open_[group]; }
  /// Pairs that are open: of a fresh group with a held one, or of two fresh ones.
  std::size_t would_meet(const Groups& fresh, const Groups& held) const;
  /// Groups with a point that counts, each by its first point, ascending.
  std::vector<std::vector<PointId>> groups() const;
  /// Pairs of groups, a point each, that never had leads together; no more than `most`.
  std::vector<std::pair<PointId, PointId>> never_together(std::size_t most) const;

 private:
  void join(std::size_t a, std::size_t b);
  void meet(std::size_t a, std::size_t b);
  bool exists(std::size_t group) const { return !points_[group].empty(); }

  std::vector<bool> counted_;
  std::vector<std::size_t> group_of_;         ///< by point
  std::vector<std::vector<PointId>> points_;  ///< by group; empty: joined to another
  std::vector<std::vector<bool>> met_;        ///< by group and group
  std::vector<std::size_t> open_;             ///< by group
};

}  // namespace padwalk::graph
