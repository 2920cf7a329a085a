// SPDX-License-Identifier: MIT
//
// padwalk_plan_table: a person's minutes for boards and netlists, by plan, chip by chip, and at
// least; then the touches more that one pass along a board takes with fewer leads. Prints, judges
// nothing.
#include <fmt/format.h>

#include <algorithm>
#include <iostream>
#include <optional>
#include <string>
#include <vector>

#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/loose_plan.hpp"
#include "graph/plan.hpp"
#include "graph/yaml_reader.hpp"

namespace {

using namespace padwalk::graph;

constexpr const char* kClips =
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-24: {kind: chip clip, pins: 24, row: 0.6 inch, channels: 17-40, move: 10 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 41-80, move: 12 s}\n"
    "  tip: {kind: tip, channels: [81, 82], move: 4 s}\n";
constexpr const char* kGrabbersAndTip =
    "  grabbers: {kind: grabber, channels: 1-16, move: 15 s}\n"
    "  tip: {kind: tip, channels: 17, move: 4 s}\n";
constexpr const char* kManyGrabbers = "  grabbers: {kind: grabber, channels: 1-64, move: 15 s}\n";

Board load(const std::string& path) {
  Diagnostics diagnostics(path);
  const std::string text = read_file(path);
  if (path.size() > 5 && path.substr(path.size() - 5) == ".yaml") {
    return Board(read_board(text, diagnostics), diagnostics);
  }
  IpcSummary summary;
  BoardDescription description = read_ipc356(text, std::nullopt, diagnostics, summary);
  description.state = BoardState::assembled;  // else a chip has no legs for a clip
  return Board(std::move(description), diagnostics);
}

void print_plans(const std::string& name, const Board& board) {
  const PlanGoal goal = plan_goal(board, NeighbourRules());
  for (const auto& [bench_name, fixtures] : {std::pair("clips, tip", kClips),
                                             {"16 grabbers, tip", kGrabbersAndTip},
                                             {"64 grabbers", kManyGrabbers}}) {
    Diagnostics diagnostics("bench");
    const Fixtures bench =
        read_fixtures(fmt::format("padwalk: fixtures/1\nfixtures:\n{}", fixtures), diagnostics);
    const Plan plan = make_plan(board, bench, goal);
    const PlanCost cost = cost_of(board, bench, plan);
    const double simple = cost_of(board, bench, plan_by_chip_pairs(board, bench, goal)).seconds;
    std::cout << fmt::format(
        "{:<16} {:<17} {:>5} {:>6} {:>8} {:>5} {:>8.1f} {:>8.1f} {:>6.2f} {:>8.1f} {:>6}\n", name,
        bench_name, cost.hookups, cost.moves, cost.touches, cost.turns, cost.seconds / 60,
        simple / 60, simple > 0 ? cost.seconds / simple : 0, least_seconds(board, bench, goal) / 60,
        plan.points_not_covered.size());
  }
}

void print_pass(const std::string& name, const Board& board) {
  NeighbourRules rules;
  rules.pins_only = true;
  rules.at_parts = false;
  const NumberedNets nets = number_along(board, rules);
  const Pass whole = pass_neighbours(nets.points, nets.neighbours, SIZE_MAX);
  std::string line = fmt::format("{:<16} {:>6} {:>6}", name, whole.moves.size(), whole.leads);
  for (const std::size_t leads : {4, 8, 12, 16, 24, 32}) {
    line +=
        leads < whole.leads
            ? fmt::format(" {:>6}", pass_neighbours(nets.points, nets.neighbours, leads).again())
            : "      .";
  }
  std::cout << line << '\n';
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::cerr << "Usage: padwalk_plan_table BOARD_OR_NETLIST...\n";
    return 2;
  }
  try {
    std::cout << fmt::format(
        "{:<16} {:<17} {:>5} {:>6} {:>8} {:>5} {:>8} {:>8} {:>6} {:>8} {:>6}\n", "board", "bench",
        "looks", "moves", "touches", "turns", "minutes", "simple", "ratio", "at least", "left");
    std::vector<std::pair<std::string, Board>> boards;
    for (int i = 1; i < argc; ++i) {
      const std::string path = argv[i];
      boards.emplace_back(path.substr(path.find_last_of('/') + 1), load(path));
      print_plans(boards.back().first, boards.back().second);
    }
    std::cout << "\none pass, pins within 2.6 mm: pins, leads held at most, and touches more with\n"
              << fmt::format("{:<16} {:>6} {:>6}", "board", "pins", "leads");
    for (const int leads : {4, 8, 12, 16, 24, 32}) {
      std::cout << fmt::format(" {:>6}", leads);
    }
    std::cout << '\n';
    for (const auto& [name, board] : boards) {
      print_pass(name, board);
    }
  } catch (const std::exception& error) {
    std::cerr << "padwalk_plan_table: " << error.what() << '\n';
    return 2;
  }
  return 0;
}
