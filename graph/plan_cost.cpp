// SPDX-License-Identifier: MIT
//
// What a plan has to settle, what it costs, and what none can be below.
#include <algorithm>
#include <limits>
#include <set>

#include "graph/plan.hpp"

namespace padwalk::graph {

PlanGoal plan_goal(const Board& board, const std::optional<NeighbourRules>& rules) {
  PlanGoal goal;
  const std::vector<bool> never = never_driven(board);
  std::vector<bool> reached(board.nets().size());
  for (std::size_t i = 0; i < board.points().size(); ++i) {
    const Point& point = board.points()[i];
    const bool via = point.part == kNoPart && point.name.find('@') != std::string::npos;
    const bool wanted = point.net != kNoNet && !never[i] && !via && point.access != Access::none;
    goal.points.push_back(wanted);
    if (wanted) {
      reached[index(point.net)] = true;
    }
  }
  if (rules) {
    goal.pairs = neighbour_nets(board, *rules);
    std::erase_if(goal.pairs, [&](const auto& pair) {
      return !reached[index(pair.first)] || !reached[index(pair.second)];
    });
    return goal;
  }
  for (std::uint32_t a = 0; a < reached.size(); ++a) {
    for (std::uint32_t b = a + 1; reached[a] && b < reached.size(); ++b) {
      if (reached[b]) {
        goal.pairs.emplace_back(NetId{a}, NetId{b});
      }
    }
  }
  return goal;
}

PlanGoal only_nets(PlanGoal goal, const Board& board, const std::vector<NetId>& nets) {
  const std::set<NetId> wanted(nets.begin(), nets.end());
  for (std::size_t i = 0; i < goal.points.size(); ++i) {
    goal.points[i] = goal.points[i] && wanted.count(board.points()[i].net) != 0;
  }
  std::erase_if(goal.pairs, [&](const auto& pair) {
    return wanted.count(pair.first) + wanted.count(pair.second) == 0;
  });
  return goal;
}

Side side_to_reach(const Board& board, PointId point) {
  return board[board[point].held].side;
}

Side side_to_reach(const Board& board, const PlanMove& move) {
  return move.part != kNoPart ? board[move.part].side
                              : side_to_reach(board, move.leads.front().point);
}

PlanCost cost_of(const Board& board, const Fixtures& bench, const Plan& plan) {
  PlanCost cost;
  SideUp up;
  for (const PlanStep& step : plan.steps) {
    for (const PlanMove& move : step.moves) {
      cost.turns += up.turn_to(side_to_reach(board, move));
      cost.seconds += bench.fixtures[move.fixture].move_s;
      ++cost.moves;
    }
    for (const PointId touch : step.touches) {
      cost.turns += up.turn_to(side_to_reach(board, touch));
      cost.seconds += bench.tip()->move_s;
      ++cost.touches;
    }
    ++cost.hookups;
  }
  cost.seconds += static_cast<double>(cost.turns) * bench.turn_s +
                  static_cast<double>(cost.hookups) * bench.confirm_s;
  return cost;
}

namespace {

/// By net: some fixture holds on a point of it, without which nothing of it is proven.
std::vector<bool> nets_that_hold(const Board& board, const Fixtures& bench, bool by_grabber) {
  std::vector<bool> held(board.nets().size());
  const auto hold = [&](PointId point) {
    if (board[point].net != kNoNet) {
      held[index(board[point].net)] = true;
    }
  };
  for (const Fixture& fixture : bench.fixtures) {
    for (std::uint32_t part = 0; part < board.parts().size(); ++part) {
      std::string why;
      if (const auto leads = leads_on(board, fixture, PartId{part}, why)) {
        for (const Lead& lead : *leads) {
          hold(lead.point);
        }
      }
    }
    const bool grabs = by_grabber && fixture.kind == FixtureKind::grabber;
    for (std::uint32_t i = 0; grabs && i < board.points().size(); ++i) {
      if (board.points()[i].access == Access::clip) {
        hold(PointId{i});
      }
    }
  }
  return held;
}

}  // namespace

double least_seconds(const Board& board, const Fixtures& bench, const PlanGoal& goal) {
  constexpr double kNever = std::numeric_limits<double>::infinity();
  double one_point = kNever;  // the cheapest way to a single point
  double grabbed = kNever;
  for (const Fixture& fixture : bench.fixtures) {
    if (fixture.kind == FixtureKind::grabber) {
      grabbed = std::min(grabbed, fixture.move_s);
    }
    if (fixture.kind == FixtureKind::tip || fixture.kind == FixtureKind::grabber) {
      one_point = std::min(one_point, fixture.move_s);
    }
  }
  const std::vector<bool> held = nets_that_hold(board, bench, true);
  const std::vector<bool> clipped = nets_that_hold(board, bench, false);
  const auto counts = [&](PointId point) {
    return goal.points[index(point)] && held[index(board[point].net)];
  };
  double seconds = 0;
  bool any = false;
  bool bottom = false;
  std::vector<bool> done(goal.points.size());
  std::vector<std::size_t> counted(board.nets().size());
  for (std::uint32_t i = 0; i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    const auto wanted = static_cast<double>(std::count_if(
        part.pins.begin(), part.pins.end(), [&](PointId pin) { return goal.points[index(pin)]; }));
    double cheapest = kNever;
    for (const Fixture& fixture : bench.fixtures) {
      std::string why;
      if (leads_on(board, fixture, PartId{i}, why)) {
        cheapest = std::min(cheapest, fixture.move_s);
      }
    }
    if (wanted > 0 && cheapest < wanted * one_point) {
      seconds += cheapest;
      any = true;
      for (const PointId pin : part.pins) {
        done[index(pin)] = true;
      }
    }
  }
  for (std::uint32_t i = 0; i < goal.points.size(); ++i) {
    if (counts(PointId{i}) && !done[i] && one_point < kNever) {
      seconds += one_point;
      any = true;
      // Of a net that no clip reaches, a grabber holds one point.
      const std::size_t net = index(board.points()[i].net);
      if (++counted[net] == 2 && !clipped[net]) {
        seconds += grabbed - one_point;
      }
      bottom = bottom || side_to_reach(board, PointId{i}) == Side::bottom;
    }
  }
  return seconds + (any ? bench.confirm_s : 0) + (bottom ? bench.turn_s : 0);
}

}  // namespace padwalk::graph
