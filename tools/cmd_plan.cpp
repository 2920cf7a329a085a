// SPDX-License-Identifier: MIT
//
// `padwalk plan`: which fixture goes where and what the tip touches, in which order, with what it
// costs a person.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <nlohmann/json.hpp>

#include "graph/plan.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/board_file.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::Fixture;
using graph::FixtureKind;
using graph::Fixtures;
using graph::Plan;
using graph::PlanCost;
using graph::PlanGoal;
using graph::PlanMove;
using graph::PlanStep;
using graph::PointId;
using graph::Side;

/// Where no file says what the bench owns.
constexpr const char* kUsualBench =
    "padwalk: fixtures/1\n"
    "fixtures:\n"
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 17-56, move: 12 s}\n"
    "  grabbers: {kind: grabber, channels: 57-62, move: 15 s}\n"
    "  tip: {kind: tip, channels: [63, 64], move: 4 s}\n"
    "times: {turn: 15 s, confirm: 10 s}\n";
constexpr std::size_t kNamed = 8;  // of what is not covered

Fixtures load_fixtures(const std::string& path) {
  graph::Diagnostics diagnostics(path.empty() ? "the usual bench" : path);
  Fixtures bench =
      graph::read_fixtures(path.empty() ? kUsualBench : graph::read_file(path), diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

PlanGoal goal_for(const Board& board, const PlanOptions& options) {
  graph::NeighbourRules rules;
  rules.within_mm = options.neighbours_mm;
  PlanGoal goal = graph::plan_goal(
      board, options.all_pairs ? std::nullopt : std::optional<graph::NeighbourRules>(rules));
  if (!options.near.empty()) {
    const auto near = board.nets_in(options.near);
    if (!near) {
      throw UsageError(fmt::format("--near: {} has no region {}", options.board, options.near));
    }
    return graph::only_nets(std::move(goal), board, *near);
  }
  if (options.nets.empty()) {
    return goal;
  }
  std::vector<graph::NetId> nets;
  for (const std::string& name : options.nets) {
    const auto net = board.find_net(name);
    if (!net) {
      throw UsageError(fmt::format("--nets: {} has no net {}", options.board, name));
    }
    nets.push_back(*net);
  }
  return graph::only_nets(std::move(goal), board, nets);
}

std::string minutes_text(double seconds) {
  const auto whole = static_cast<long>(std::lround(seconds));
  return whole < 60 ? fmt::format("{} s", whole)
                    : fmt::format("{} min {} s", whole / 60, whole % 60);
}

std::string count_text(std::size_t count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : what == "touch" ? "es" : "s");
}

/// Where a chip's pin 1 end points, seen from the part's own side, as a rotation is.
std::string_view notch_text(const graph::PartDescription& part) {
  constexpr std::string_view kNotches[] = {"away from you", "to the left", "towards you",
                                           "to the right"};
  const auto quarter = static_cast<int>(std::lround(part.rotation / 90)) % 4;
  return kNotches[(quarter + 4) % 4];
}

std::string move_text(const Board& board, const Fixtures& bench, const PlanMove& move) {
  const Fixture& fixture = bench.fixtures[move.fixture];
  if (move.part == graph::kNoPart) {
    return fmt::format("grabber {} on {}", move.leads.front().channel,
                       board[move.leads.front().point].name);
  }
  const std::string on = fmt::format("{} on {}", fixture.name, board[move.part].name);
  return fixture.kind == FixtureKind::chip_clip
             ? fmt::format("{}, notch {}", on,
                           notch_text(board.description().parts[graph::index(move.part)]))
             : on;
}

/// Follows the board as it is turned.
class Writer {
 public:
  Writer(std::ostream& out, const Board& board, const Fixtures& bench)
      : out_(out), board_(board), bench_(bench) {}

  void write(const Plan& plan) {
    for (std::size_t i = 0; i < plan.steps.size(); ++i) {
      write_step(i + 1, plan.steps[i]);
    }
  }

 private:
  void turn_to(Side side) {
    if (up_.turn_to(side)) {
      flush_touches();
      fmt::print(out_, "      turn the board: {} up\n",
                 side == Side::top ? "component side" : "solder side");
    }
  }

  void write_step(std::size_t number, const PlanStep& step) {
    fmt::print(out_, "{}.\n", number);
    if (!step.off.empty()) {
      fmt::print(out_, "      take off: {}\n",
                 step.off.size() == 1 ? "one grabber" : "all grabbers");
    }
    for (const PlanMove& move : step.moves) {
      turn_to(graph::side_to_reach(board_, move));
      fmt::print(out_, "      put {}\n", move_text(board_, bench_, move));
    }
    fmt::print(out_, "      look whether all sit right, then sweep\n");
    for (const PointId touch : step.touches) {
      turn_to(graph::side_to_reach(board_, touch));
      touches_ += (touches_.empty() ? "" : ", ") + board_[touch].name;
    }
    flush_touches();
  }

  void flush_touches() {
    constexpr std::size_t kWidth = 90;
    while (!touches_.empty()) {
      std::size_t end = touches_.size();
      if (end > kWidth) {
        end = touches_.rfind(' ', kWidth);
      }
      fmt::print(out_, "      touch {}\n", touches_.substr(0, end));
      touches_.erase(0, end == touches_.size() ? end : end + 1);
    }
  }

  std::ostream& out_;
  const Board& board_;
  const Fixtures& bench_;
  graph::SideUp up_;
  std::string touches_;
};

void write_text(std::ostream& out, const Board& board, const Fixtures& bench, const Plan& plan,
                const PlanOptions& options, double least_s) {
  const PlanCost cost = graph::cost_of(board, bench, plan);
  fmt::print(out, "{}: {}, {}, {}, {}: about {}\n", board.name(),
             count_text(cost.hookups, "hookup"), count_text(cost.moves, "move"),
             count_text(cost.touches, "touch"), count_text(cost.turns, "turn"),
             minutes_text(cost.seconds));
  fmt::print(out, "No plan for these fixtures takes less than {}.\n", minutes_text(least_s));
  if (options.fixtures.empty()) {
    fmt::print(
        out,
        "Planned for a 16-pin and a 40-pin clip, six grabbers and a tip; --fixtures FILE says "
        "what you own.\n");
  }
  Writer(out, board, bench).write(plan);
  if (!plan.points_not_covered.empty()) {
    fmt::print(out, "Not covered, for want of a fixture that holds on their nets: {}\n",
               listed(names_of(board, plan.points_not_covered), kNamed));
  }
  if (!plan.pairs_not_covered.empty()) {
    std::vector<std::string> pairs;
    for (const auto& [one, other] : plan.pairs_not_covered) {
      pairs.push_back(fmt::format("{} and {}", board[one].name, board[other].name));
    }
    fmt::print(out, "Never together, so no short between them would show: {}\n",
               listed(pairs, kNamed));
  }
  fmt::print(out, "Next: {}\n",
             plan.steps.empty() ? "name a fixture that fits this board with --fixtures."
                                : "step 1; before any lead goes on, power out and cell out.");
}

nlohmann::ordered_json to_json(const Board& board, const Fixtures& bench, const Plan& plan,
                               const PlanOptions& options, double least_s) {
  const PlanCost cost = graph::cost_of(board, bench, plan);
  nlohmann::ordered_json json;
  json["padwalk"] = "plan/1";
  json["board"] = {{"name", board.name()}, {"file", options.board}};
  json["fixtures"] = options.fixtures.empty() ? nlohmann::ordered_json()
                                              : nlohmann::ordered_json(options.fixtures);
  json["hookups"] = cost.hookups;
  json["moves"] = cost.moves;
  json["touches"] = cost.touches;
  json["turns"] = cost.turns;
  json["minutes"] = cost.seconds / 60;
  json["bound_minutes"] = least_s / 60;
  json["not_covered"] = nlohmann::ordered_json::array();
  for (const PointId point : plan.points_not_covered) {
    json["not_covered"].push_back(board[point].name);
  }
  json["pairs_not_covered"] = nlohmann::ordered_json::array();
  for (const auto& [a, b] : plan.pairs_not_covered) {
    json["pairs_not_covered"].push_back({board[a].name, board[b].name});
  }
  json["steps"] = nlohmann::ordered_json::array();
  for (const PlanStep& step : plan.steps) {
    nlohmann::ordered_json one;
    one["off"] = nlohmann::ordered_json::array();
    for (const auto& [fixture, grabber] : step.off) {
      one["off"].push_back(bench.fixtures[fixture].channels[grabber]);
    }
    one["put"] = nlohmann::ordered_json::array();
    for (const PlanMove& move : step.moves) {
      nlohmann::ordered_json put;
      put["fixture"] = bench.fixtures[move.fixture].name;
      if (move.part == graph::kNoPart) {
        put["channel"] = move.leads.front().channel;
        put["point"] = board[move.leads.front().point].name;
      } else {
        put["part"] = board[move.part].name;
      }
      one["put"].push_back(std::move(put));
    }
    one["touch"] = nlohmann::ordered_json::array();
    for (const PointId point : step.touches) {
      one["touch"].push_back(board[point].name);
    }
    json["steps"].push_back(std::move(one));
  }
  return json;
}

}  // namespace

ExitStatus plan_board(const PlanOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  const Fixtures bench = load_fixtures(options.fixtures);
  const PlanGoal goal = goal_for(board, options);
  JsonOutput json_output(options.json);
  const Plan plan = graph::make_plan(board, bench, goal);
  const double least_s = graph::least_seconds(board, bench, goal);
  write_text(json_output.text(), board, bench, plan, options, least_s);
  if (json_output.wanted()) {
    json_output.write(to_json(board, bench, plan, options, least_s).dump(1) + "\n");
  }
  return plan.points_not_covered.empty() && plan.pairs_not_covered.empty() ? ExitStatus::good
                                                                           : ExitStatus::incomplete;
}

}  // namespace padwalk::tools
