// SPDX-License-Identifier: MIT
//
// Makes a plan's moves with hands and looks what was together when. Takes nothing from graph/plan
// but the plan itself.
#pragma once

#include <algorithm>
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

}  // namespace padwalk::tests
