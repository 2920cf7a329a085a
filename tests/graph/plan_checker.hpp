// SPDX-License-Identifier: MIT
//
// Makes a plan's moves with hands and looks what was together when. Takes nothing from graph/plan
// but the plan itself.
#pragma once

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "graph/plan.hpp"

namespace padwalk::tests {

struct PlanPlayed {
  std::string wrong;  ///< what a pair of hands cannot do; empty: all could be done
  std::map<graph::NetId, std::size_t> chains;  ///< of the goal's points: in how many each net is
  std::set<std::pair<graph::NetId, graph::NetId>> not_met;
};

inline PlanPlayed play_plan(const graph::Board& board, const graph::Fixtures& bench,
                            const graph::PlanGoal& goal, const graph::Plan& plan) {
  using namespace graph;
  PlanPlayed played;
  std::map<std::pair<std::size_t, std::size_t>, std::vector<Lead>> held;
  std::vector<std::set<PointId>> together;  // each moment
  for (const PlanStep& step : plan.steps) {
    for (const Mover& mover : step.off) {
      held.erase(mover);
    }
    for (const PlanMove& move : step.moves) {
      held.erase({move.fixture, move.grabber});
    }
    for (const PlanMove& move : step.moves) {
      const Fixture& fixture = bench.fixtures[move.fixture];
      std::set<std::uint16_t> own(fixture.channels.begin(), fixture.channels.end());
      for (const Lead& lead : move.leads) {
        if (own.erase(lead.channel) == 0) {
          played.wrong = fixture.name + " has no such channel, or has it twice";
        }
        if (board[lead.point].access != Access::clip) {
          played.wrong = board[lead.point].name + " takes no clip";
        }
      }
      if (fixture.kind == FixtureKind::tip) {
        played.wrong = "the tip holds on nothing";
      } else if (fixture.kind == FixtureKind::grabber) {
        if (move.leads.size() != 1 || move.leads[0].channel != fixture.channels[move.grabber]) {
          played.wrong = "a grabber holds one point";
        }
      } else {
        const std::string& package = board.description().parts[index(move.part)].package;
        const auto& pins = board[move.part].pins;
        const bool fits = fixture.kind == FixtureKind::plug
                              ? package == fixture.package
                              : package.rfind("DIP", 0) == 0 && pins.size() <= fixture.pins &&
                                    (package.find("0.6") != std::string::npos ||
                                     pins.size() > 30) == (fixture.row_mm > 10);
        if (!fits) {
          played.wrong = fixture.name + " does not fit on " + board[move.part].name;
        }
        for (const Lead& lead : move.leads) {
          if (board[lead.point].part != move.part) {
            played.wrong = "a clip reaches its own chip only";
          }
        }
      }
      held[{move.fixture, move.grabber}] = move.leads;
    }
    std::set<PointId> attached;
    std::set<std::uint16_t> channels;
    for (const auto& [mover, leads] : held) {
      for (const Lead& lead : leads) {
        if (!attached.insert(lead.point).second) {
          played.wrong = board[lead.point].name + " has two leads";
        }
        if (!channels.insert(lead.channel).second) {
          played.wrong = "a channel is used twice";
        }
      }
    }
    together.push_back(attached);
    for (const PointId touch : step.touches) {
      if (bench.tip() == nullptr || board[touch].access == Access::none) {
        played.wrong = board[touch].name + " cannot be touched";
      }
      std::set<PointId> with = attached;
      with.insert(touch);
      together.push_back(std::move(with));
    }
  }
  // Points that were together, of one net: chained. Nets that were: met.
  std::vector<PointId> chain;
  std::vector<bool> seen(board.points().size());
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    chain.push_back(PointId{i});
  }
  const auto root = [&](PointId point) {
    while (chain[index(point)] != point) {
      point = chain[index(point)];
    }
    return point;
  };
  std::set<std::pair<NetId, NetId>> met;
  for (const std::set<PointId>& moment : together) {
    std::map<NetId, PointId> first;
    for (const PointId point : moment) {
      seen[index(point)] = true;
      if (board[point].net != kNoNet) {
        const auto [at, fresh] = first.emplace(board[point].net, point);
        chain[index(root(point))] = root(at->second);
      }
    }
    for (auto a = first.begin(); a != first.end(); ++a) {
      for (auto b = std::next(a); b != first.end(); ++b) {
        met.emplace(a->first, b->first);
      }
    }
  }
  std::map<NetId, std::set<PointId>> roots;
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    if (goal.points[i]) {
      roots[board.points()[i].net].insert(seen[i] ? root(PointId{i}) : PointId{i});
    }
  }
  for (const auto& [net, of_net] : roots) {
    played.chains[net] = of_net.size();
  }
  for (const auto& pair : goal.pairs) {
    if (met.count(pair) == 0) {
      played.not_met.insert(pair);
    }
  }
  return played;
}

using namespace graph;

inline Fixtures bench_of(const std::string& fixtures) {
  Diagnostics diagnostics("bench.yaml");
  Fixtures bench = read_fixtures("padwalk: fixtures/1\nfixtures:\n" + fixtures, diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

inline Fixtures clips_and_tip() {
  return bench_of(
      "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
      "  clip-24: {kind: chip clip, pins: 24, row: 0.6 inch, channels: 17-40, move: 10 s}\n"
      "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 41-80, move: 12 s}\n"
      "  tip: {kind: tip, channels: [81, 82], move: 4 s}\n");
}
inline Fixtures grabbers_and_tip() {
  return bench_of(
      "  grabbers: {kind: grabber, channels: 1-16, move: 15 s}\n"
      "  tip: {kind: tip, channels: 17, move: 4 s}\n");
}
inline Fixtures clips_and_grabbers() {
  return bench_of(
      "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
      "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 17-56, move: 12 s}\n"
      "  grabbers: {kind: grabber, channels: 57-72, move: 15 s}\n");
}
inline Fixtures many_grabbers() {
  return bench_of("  grabbers: {kind: grabber, channels: 1-64, move: 15 s}\n");
}

/// Some fixture other than the tip can hold it.
inline std::vector<bool> holdable(const Board& board, const Fixtures& bench) {
  std::vector<bool> can(board.points().size());
  for (const Fixture& fixture : bench.fixtures) {
    for (std::uint32_t part = 0; part < board.parts().size(); ++part) {
      std::string why;
      if (const auto leads = leads_on(board, fixture, PartId{part}, why)) {
        for (const Lead& lead : *leads) {
          can[index(lead.point)] = true;
        }
      }
    }
    for (std::size_t i = 0; fixture.kind == FixtureKind::grabber && i < can.size(); ++i) {
      can[i] = can[i] || board.points()[i].access == Access::clip;
    }
  }
  return can;
}

/// What hands find is what the plan says, and nothing is left out that this bench can do.
inline void check_plan(const Board& board, const Fixtures& bench, const PlanGoal& goal,
                       const Plan& plan) {
  const PlanPlayed played = play_plan(board, bench, goal, plan);
  CHECK(played.wrong == "");
  CHECK(played.not_met == std::set(plan.pairs_not_covered.begin(), plan.pairs_not_covered.end()));
  const std::vector<bool> can = holdable(board, bench);
  struct Net {
    bool held = false;        // some point of it can be
    std::size_t reached = 0;  // of the goal's points
    std::size_t unreached = 0;
  };
  std::vector<Net> nets(board.nets().size());
  for (std::size_t i = 0; i < can.size(); ++i) {
    if (board.points()[i].net != kNoNet) {
      Net& net = nets[index(board.points()[i].net)];
      net.held = net.held || can[i];
      const bool reached = can[i] || bench.tip() != nullptr;
      net.reached += goal.points[i] && reached;
      net.unreached += goal.points[i] && !reached;
    }
  }
  const bool any_held =
      std::any_of(nets.begin(), nets.end(), [](const Net& net) { return net.held; });
  // A net is in as few chains as this bench can leave it.
  std::size_t points = 0;
  for (const auto& [id, chains] : played.chains) {
    const Net& net = nets[index(id)];
    const std::size_t least =
        (net.held ? std::min<std::size_t>(net.reached, 1) : net.reached) + net.unreached;
    CHECK(chains == least);
    const bool lone = net.reached + net.unreached == 1;
    points +=
        lone ? (any_held ? net.unreached : 1) : least - 1;  // beside nothing a touch says nothing
  }
  CHECK(plan.points_not_covered.size() == points);
  for (const auto& [a, b] : plan.pairs_not_covered) {
    const auto in_reach = [&](NetId net) {
      return nets[index(net)].held || nets[index(net)].reached > 0;
    };
    CHECK(!(in_reach(a) && in_reach(b) && (nets[index(a)].held || nets[index(b)].held)));
  }
  if (bench.tip() != nullptr || plan.points_not_covered.empty()) {
    CHECK(cost_of(board, bench, plan).seconds >= least_seconds(board, bench, goal));
  }
}

}  // namespace padwalk::tests
