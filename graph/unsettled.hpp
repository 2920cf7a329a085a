// SPDX-License-Identifier: MIT
//
// The books of a plan: which points are joined to their nets and which pairs have been together, by
// what is attached at one time and what the tip touches then. Only for plan.cpp.
#pragma once

#include <bit>
#include <cstdint>
#include <vector>

#include "graph/plan.hpp"

namespace padwalk::graph {

/// Nets, one bit each.
class NetSet {
 public:
  explicit NetSet(std::size_t nets = 0) : words_((nets + 63) / 64) {}
  void add(std::size_t net) { words_[net / 64] |= bit(net); }
  void remove(std::size_t net) { words_[net / 64] &= ~bit(net); }
  bool has(std::size_t net) const { return (words_[net / 64] & bit(net)) != 0; }
  std::size_t common(const NetSet& other) const {
    std::size_t count = 0;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      count += static_cast<std::size_t>(std::popcount(words_[i] & other.words_[i]));
    }
    return count;
  }

 private:
  static std::uint64_t bit(std::size_t net) { return std::uint64_t{1} << (net % 64); }
  std::vector<std::uint64_t> words_;
};

/// What is attached at one time.
struct Attached {
  explicit Attached(const Board& board)
      : wanted(board.nets().size()), points(board.nets().size()), nets(board.nets().size()) {}

  std::vector<std::vector<PointId>> wanted;  ///< by net: of those that the goal names
  std::vector<std::size_t> points;           ///< by net: how many
  NetSet nets;
};

/// What of the goal is not settled yet.
class Unsettled {
 public:
  Unsettled(const Board& board, const PlanGoal& goal);

  bool wanted(PointId point) const { return goal_.points[index(point)]; }

  void attach(PointId point, Attached& now) const;
  void detach(PointId point, Attached& now) const;

  /// Pairs of this net and points of it that are left.
  std::size_t of_net(NetId net) const {
    return left_[index(net)] + pairs_[index(net)].common(pairs_[index(net)]);
  }

  /// What one more point settles beside what is attached.
  std::size_t gain(PointId point, const Attached& now) const;
  /// What all that is attached settles.
  std::size_t gain(const Attached& now) const;

  void settle(const Attached& now);
  void settle(PointId touched, const Attached& now);

  /// What no move settles any more: points that are not joined to most of
  /// their net, and pairs.
  void list(Plan& plan) const;

 private:
  std::size_t root(std::size_t point) const;
  bool lone(PointId point) const { return members_[index(board_[point].net)] == 1; }
  std::size_t joins(PointId point, const std::vector<PointId>& beside) const;
  std::size_t joins(const std::vector<PointId>& points) const;
  void settle_pairs(std::size_t net, const NetSet& nets);
  void join(PointId a, PointId b);

  const Board& board_;
  const PlanGoal& goal_;
  std::vector<std::size_t> chain_;    ///< by point: a forest
  std::vector<std::size_t> members_;  ///< by net: points that the goal names
  std::vector<std::size_t> left_;     ///< by net: joins that are left
  std::vector<NetSet> pairs_;         ///< by net: those that are left
};

}  // namespace padwalk::graph
