// SPDX-License-Identifier: MIT
//
// Continuity: sorts the points of a net, or of nets that are shorted, into fragments that conduct.
// Drive the first point and read each other; drive the first of those that stayed silent and read
// the rest; and so on. Where all is well that is one reading a point but the first. All groups are
// sorted side by side, so a round holds one such step of each.
#pragma once

#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/pieces.hpp"

namespace padwalk::graph {

class Sorting {
 public:
  struct Options {
    double same_net_ohm = 10e3;  ///< two points of one net conduct at or below
    OhmLimit good_ohm;           ///< the same pair by pair, where it is set
    double two_nets_ohm = 10;    ///< two points of different nets
    std::size_t max_set = SIZE_MAX;
    bool quick = false;  ///< by `follow` readings; one setting for the first step of all lone nets
  };

  Sorting(const Board& board, Options options) : board_(board), options_(options) {}

  /// Points to sort. `unit` is a label of the caller's. `shorted`: they are of more than one net.
  void add(std::uint32_t unit, std::vector<PointId> points, bool shorted);

  /// Forgets all groups whose label `doomed` says yes to.
  template <typename Predicate>
  void forget(Predicate doomed) {
    std::erase_if(groups_, [&](const Group& group) { return doomed(group.unit); });
  }

  /// The next step of every group; empty: all are sorted.
  std::vector<WantedReading> next();
  /// One reading a net fragment that is apart from the largest one of its net, against that, the
  /// current the other way.
  std::vector<WantedReading> next_confirmation();
  /// The results of the round that was given last. Returns them as readings of one point against
  /// one other.
  std::vector<Reading> record(std::span<const Reading> readings);

  /// Points alone in their fragment whose net has others here, in ascending order.
  std::vector<PointId> silent() const;
  /// Makes the silent points be read once more, against each fragment and among themselves.
  void sort_silent_again();
  /// After that: one point of each fragment that only points which were silent make up.
  std::vector<PointId> first_heard() const;

  /// Whether the group of that label is in more than one fragment.
  bool in_fragments(std::uint32_t unit) const;

 private:
  struct Group {
    std::uint32_t unit = 0;
    bool shorted = false;
    bool confirmed = false;
    bool again = false;            ///< sorted after a re-seat: no shared setting
    std::size_t heard_before = 0;  ///< then: how many fragments had points that were not silent
    std::vector<std::vector<PointId>> fragments;
    std::size_t tried = 0;  ///< fragments that were read against all of `rest`
    std::vector<PointId> rest;
  };
  /// One reading of the round: what it says something about.
  struct Asked {
    std::size_t group = 0;
    PointId from = kNoPoint;
    PointId to = kNoPoint;
  };

  bool begin_step(Group& group);
  void ask_following(const std::vector<std::size_t>& groups, std::vector<WantedReading>& round);
  bool same_net(PointId a, PointId b) const {
    return board_[a].net == board_[b].net && board_[a].net != kNoNet;
  }
  double conducts_up_to(PointId a, PointId b) const;
  Band expected(PointId a, PointId b) const;
  bool conducts(const Asked& asked, const Reading& reading) const;
  std::vector<std::vector<std::vector<PointId>>> parts_by_net(const Group& group) const;
  std::vector<PointId> silent_in(const Group& group) const;
  static void join(Group& group, PointId a, PointId b);

  const Board& board_;
  Options options_;
  std::vector<Group> groups_;
  std::vector<Asked> round_;
  bool confirming_ = false;
};

}  // namespace padwalk::graph
