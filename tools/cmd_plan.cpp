// SPDX-License-Identifier: MIT
//
// `padwalk plan`: which fixture goes where and what the tip touches, in which order, with what it
// costs a person.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <cmath>
#include <iostream>
#include <nlohmann/json.hpp>

#include "graph/plan.hpp"
#include "tools/bench_plan.hpp"
#include "tools/board_file.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::Fixtures;
using graph::Plan;
using graph::PlanCost;
using graph::PlanGoal;
using graph::PlanMove;
using graph::PlanStep;
using graph::PointId;

constexpr std::size_t kNotCovered = 8;  // of what is not covered

void write_text(std::ostream& out, const Board& board, const Fixtures& bench, const Plan& plan,
                const PlanOptions& options, double least_s) {
  write_cost(out, board, bench, plan);
  fmt::print(out, "No plan for these fixtures takes less than {}.\n", minutes_text(least_s));
  if (options.choice.fixtures.empty()) {
    fmt::print(
        out,
        "Planned for a 16-pin and a 40-pin clip, six grabbers and a tip; --fixtures FILE says "
        "what you own.\n");
  }
  StepWriter writer(out, board, bench);
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    fmt::print(out, "{}.\n", i + 1);
    writer.write_moves(plan.steps[i]);
    fmt::print(out, "      look whether all sit right, then sweep\n");
    writer.write_touches(plan.steps[i].touches);
  }
  if (!plan.points_not_covered.empty()) {
    fmt::print(out, "Not covered, for want of a fixture that holds on their nets: {}\n",
               listed(names_of(board, plan.points_not_covered), kNotCovered));
  }
  if (!plan.pairs_not_covered.empty()) {
    std::vector<std::string> pairs;
    for (const auto& [one, other] : plan.pairs_not_covered) {
      pairs.push_back(fmt::format("{} and {}", board[one].name, board[other].name));
    }
    fmt::print(out, "Never together, so no short between them would show: {}\n",
               listed(pairs, kNotCovered));
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
  json["fixtures"] = options.choice.fixtures.empty()
                         ? nlohmann::ordered_json()
                         : nlohmann::ordered_json(options.choice.fixtures);
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
  const Fixtures bench = load_fixtures(options.choice.fixtures);
  const PlanGoal goal = goal_for(board, options.board, options.choice);
  JsonOutput json_output(options.json);
  std::optional<OutputFile> paper;
  if (!options.output.empty()) {
    paper.emplace(options.output);
  }
  const Plan plan = graph::make_plan(board, bench, goal);
  const double least_s = graph::least_seconds(board, bench, goal);
  std::ostringstream text;
  write_text(text, board, bench, plan, options, least_s);
  json_output.text() << text.str();
  if (paper) {
    paper->commit(text.str());
  }
  if (json_output.wanted()) {
    json_output.write(to_json(board, bench, plan, options, least_s).dump(1) + "\n");
  }
  return plan.points_not_covered.empty() && plan.pairs_not_covered.empty() ? ExitStatus::good
                                                                           : ExitStatus::incomplete;
}

}  // namespace padwalk::tools
