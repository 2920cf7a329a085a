// SPDX-License-Identifier: MIT
//
// Which fixture goes on which part, which grabber on which point, what the tip touches, in which
// order, so that every net is proven and each required pair of nets is together once, in little of
// a person's time. A heuristic: the move that settles most per second, then what turned out to be
// superfluous is left out. Knows no tester; channels are names of leads.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/fixtures.hpp"
#include "graph/neighbours.hpp"

namespace padwalk::graph {

/// What a plan has to settle.
struct PlanGoal {
  std::vector<bool> points;                    ///< by point: its net is to be proven up to it
  std::vector<std::pair<NetId, NetId>> pairs;  ///< that are to be together once; ascending
};

/// All pins and named points that metal can reach, but for those that must never be driven; vias
/// are proven by what they join. Pairs: `rules`, or all pairs where there are none.
PlanGoal plan_goal(const Board& board, const std::optional<NeighbourRules>& rules);
/// The same of a few nets: their points, and their pairs with any other.
PlanGoal only_nets(PlanGoal goal, const Board& board, const std::vector<NetId>& nets);

/// One fixture is put somewhere; where it was before it comes off.
struct PlanMove {
  std::size_t fixture = 0;
  std::size_t grabber = 0;  ///< the how-manieth of its channels
  PartId part = kNoPart;    ///< a clip's or a plug's
  std::vector<Lead> leads;
};

/// What moves by itself: a fixture, of a grabber each of its channels.
using Mover = std::pair<std::size_t, std::size_t>;

/// Moves, then a look and a sweep, then touches of the tip while all that stays on.
struct PlanStep {
  std::vector<Mover> off;  ///< taken off first, which costs no time
  std::vector<PlanMove> moves;
  std::vector<PointId> touches;
};

struct Plan {
  std::vector<PlanStep> steps;
  /// Points that nothing of this bench brings together with most of their net.
  std::vector<PointId> points_not_covered;
  std::vector<std::pair<NetId, NetId>> pairs_not_covered;
};

/// What a plan costs a person.
struct PlanCost {
  std::size_t moves = 0;
  std::size_t touches = 0;
  std::size_t turns = 0;
  std::size_t hookups = 0;
  double seconds = 0;
};

/// The time model: moves and touches by their fixture, turns and looks by the bench. The board lies
/// with its top up at first.
PlanCost cost_of(const Board& board, const Fixtures& bench, const Plan& plan);

/// Cost: grows with points, times moves and touches.
Plan make_plan(const Board& board, const Fixtures& bench, const PlanGoal& goal);

/// What one would do without books: chips in file order, each pair of chips that share a net
/// clipped together and all other points of their nets touched; then the rest. For comparison.
Plan plan_by_chip_pairs(const Board& board, const Fixtures& bench, const PlanGoal& goal);

/// No plan takes less: each point is reached once, the cheapest way that this bench has; but for
/// the points of nets that nothing holds on. Units: s.
double least_seconds(const Board& board, const Fixtures& bench, const PlanGoal& goal);

/// The side that must be up to touch a point, or to put a fixture where it goes; unknown: either.
Side side_to_reach(const Board& board, PointId point);
Side side_to_reach(const Board& board, const PlanMove& move);

/// Which side of the board lies up; at first its top.
class SideUp {
 public:
  Side side() const { return up_; }
  bool must_turn(Side to) const { return (to == Side::top || to == Side::bottom) && to != up_; }
  /// Returns whether it was turned.
  bool turn_to(Side to) {
    const bool turns = must_turn(to);
    up_ = turns ? to : up_;
    return turns;
  }

 private:
  Side up_ = Side::top;
};

}  // namespace padwalk::graph
