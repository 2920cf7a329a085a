// SPDX-License-Identifier: MIT
//
// What findings are made from: the measured pieces beside the expected nets, and which reading
// speaks of what. Worked out once, used by findings.cpp and by what it says beside the findings.
#pragma once

#include <set>
#include <utility>
#include <vector>

#include "graph/clamps.hpp"
#include "graph/findings.hpp"
#include "graph/part_groups.hpp"

namespace padwalk::graph {

struct Comparison {
  Comparison(const Board& board, const Limits& limits, const Measured& measured);

  bool same_net(PointId a, PointId b) const;
  /// Their nets are joined by parts, directly or through other nets.
  bool parts_join(PointId a, PointId b) const;
  bool one_piece(PointId a, PointId b) const { return pieces[a] == pieces[b]; }
  /// The point is a whole piece by itself.
  static bool alone(const Pieces& pieces, PointId point) {
    return pieces.members[pieces[point]].size() == 1;
  }
  /// Readings of one point of the net against one other.
  const std::vector<const Reading*>& readings_of(NetId net) const { return in_net[index(net)]; }
  /// The points of one net, in groups that readings hold against each other, joined or apart; the
  /// largest first. Between two groups nothing is known: they were never attached at one time.
  std::vector<std::vector<PointId>> read_together(const std::vector<PointId>& points) const;
  /// Whether some reading holds a point of one list against one of the other, both of one net.
  bool read_against(const std::vector<PointId>& a, const std::vector<PointId>& b) const;
  /// Some point of `source` is in the piece of some point of `sink`.
  bool share_a_piece(const WantedReading& wanted) const;
  /// Its net's name, or its own where it is in none.
  const std::string& conductor_name(PointId point) const;

  void judge_net_pairs();
  std::set<NetId> shorted_to_ground() const;
  double tied_ohm(NetId net) const;

  const Board& board;
  const Limits& limits;
  const Measured& measured;
  const BreakHistory* history = nullptr;     ///< of earlier boards of this type
  std::vector<PointId> attached;             ///< without those that are never driven; ascending
  std::vector<std::vector<PointId>> by_net;  ///< attached points of each net; ascending
  OhmLimit good;                             ///< what two points may read
  Pieces strong;                             ///< what conducts as well as it should
  std::vector<Reading> readings;             ///< those that speak of copper, or of two nets
  Pieces pieces;                             ///< what conducts at all
  std::vector<std::vector<const Reading*>> in_net;
  PartGroups parts;
  std::vector<bool> unproven;  ///< by point: silent, and nobody asked
  /// By way of a capacitor that a reading does not fill.
  std::vector<std::pair<NetId, NetId>> filling_pairs;
  /// That read as a leak does, and what clamps pass backwards may be all of it.
  std::vector<PairReading> clamped_pairs;
  std::set<NetId> drive_ground;  ///< supplies that parts join to ground
  std::set<NetId> broken_nets;   ///< in pieces
  Clamps clamps;                 ///< and the shorts and leaks that make them conduct
  PairVerdicts verdicts;         ///< of nets that parts join or that leak
};

/// Ohms and volts of a finding from the reading that speaks of it.
void set_numbers(Finding& finding, const Reading& reading);

/// Shorts in net order, then parts that read wrong and nets that leak.
void add_between_nets(const Comparison& compared, Findings& findings);

/// What was neither good nor a finding, and what this sweep cannot see.
void add_notes(const Comparison& comparison, Findings& findings);

}  // namespace padwalk::graph
