// SPDX-License-Identifier: MIT
#include "graph/plan.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <random>
#include <string>

#include "graph/board_yaml.hpp"
#include "tests/graph/plan_checker.hpp"
#include "tests/support/effort.hpp"

namespace {

using namespace padwalk::graph;
using namespace padwalk::tests;

Board plan_board(const std::string& text) {
  Diagnostics diagnostics("board.yaml");
  return Board(read_board(text, diagnostics), diagnostics);
}

Board tide_gauge() {
  std::ifstream file(PADWALK_SOURCE_DIR "/boards/tide-gauge/board.yaml");
  return plan_board(std::string(std::istreambuf_iterator<char>(file), {}));
}

Board random_board(std::mt19937& random) {
  BoardDescription description;
  description.layers = 2;
  const std::size_t parts = 2 + random() % 8;
  std::vector<std::string> pins;
  for (std::size_t i = 0; i < parts; ++i) {
    struct DrawnPart {
      PartKind kind;
      const char* package;
      int pins;
    };
    constexpr DrawnPart kKinds[] = {{PartKind::ic, "DIP-8", 8},
                                    {PartKind::ic, "DIP-14", 14},
                                    {PartKind::ic, "DIP-16", 16},
                                    {PartKind::ic, "DIP-40", 40},
                                    {PartKind::ic, "SOIC-8", 8},
                                    {PartKind::connector, "header 2x3", 6},
                                    {PartKind::resistor, "axial 10 mm", 2}};
    const DrawnPart& kind = kKinds[random() % std::size(kKinds)];
    PartDescription part;
    part.name = "X" + std::to_string(i);
    part.kind = kind.kind;
    part.type = "T";
    part.package = kind.package;
    part.value = kind.kind == PartKind::resistor ? "1 kohm" : "";
    part.xy = Xy{30.0 * static_cast<double>(i), 100};
    part.side = random() % 8 == 0 ? Side::bottom : Side::top;
    if (random() % 10 == 0) {
      part.access = random() % 2 == 0 ? Access::tip : Access::none;
    }
    for (int pin = 1; pin <= kind.pins; ++pin) {
      pins.push_back(part.name + "." + std::to_string(pin));
    }
    description.parts.push_back(part);
  }
  std::shuffle(pins.begin(), pins.end(), random);
  for (std::size_t i = 0; i < pins.size();) {
    NetDescription net;
    net.name = "N" + std::to_string(description.nets.size());
    net.drive_never = random() % 30 == 0;
    for (std::size_t n = 1 + random() % 5; n > 0 && i < pins.size(); --n) {
      net.members.push_back({pins[i++], {}});
    }
    description.nets.push_back(net);
    i += random() % 3 == 0;
  }
  Diagnostics diagnostics("random");
  return Board(std::move(description), diagnostics);
}

}  // namespace

TEST_CASE("plans of random boards do what they say, on four benches", "[graph][plan][slow]") {
  std::mt19937 random(9);
  const std::vector<Fixtures> benches = {clips_and_tip(), grabbers_and_tip(), many_grabbers(),
                                         clips_and_grabbers()};
  for (unsigned i = 0; i < 500 / padwalk::test::kEvery; ++i) {
    const Board board = random_board(random);
    const Fixtures& bench = benches[i % benches.size()];
    CAPTURE(i);
    const auto rules = i % 8 < 4 ? std::optional(NeighbourRules()) : std::nullopt;
    const PlanGoal goal = plan_goal(board, rules);
    check_plan(board, bench, goal, make_plan(board, bench, goal));
    if (i % 5 == 0) {
      check_plan(board, bench, goal, plan_by_chip_pairs(board, bench, goal));
    }
  }
}

TEST_CASE("plans of the demo board do what they say", "[graph][plan][slow]") {
  const Board board = tide_gauge();
  for (const Fixtures& bench : {clips_and_tip(), grabbers_and_tip(), many_grabbers()}) {
    for (const auto& rules : {std::optional(NeighbourRules()), std::optional<NeighbourRules>()}) {
      const PlanGoal goal = plan_goal(board, rules);
      const Plan plan = make_plan(board, bench, goal);
      check_plan(board, bench, goal, plan);
      const Plan simple = plan_by_chip_pairs(board, bench, goal);
      check_plan(board, bench, goal, simple);
    }
  }
}

TEST_CASE("the big chip's clip stays while the small one goes round", "[graph][plan]") {
  std::string text =
      "padwalk: board/1\nname: pier\nparts:\n"
      "  U1: {kind: ic, type: A, package: DIP-40, xy: [0, 200]}\n";
  std::string nets = "nets:\n";
  for (int chip = 2; chip <= 7; ++chip) {
    const std::string name = "U" + std::to_string(chip);
    text += "  " + name + ": {kind: ic, type: A, package: DIP-16, xy: [" +
            std::to_string(40 * chip) + ", 200]}\n";
    for (int pin = 1; pin <= 6; ++pin) {
      nets += "  N" + std::to_string(chip) + "_" + std::to_string(pin) + ": [U1." +
              std::to_string(6 * (chip - 2) + pin) + ", " + name + "." + std::to_string(pin) +
              "]\n";
    }
  }
  const Board board = plan_board(text + nets);
  const Fixtures bench = clips_and_tip();
  const PlanGoal goal = plan_goal(board, NeighbourRules());
  const Plan plan = make_plan(board, bench, goal);
  check_plan(board, bench, goal, plan);
  const PlanCost cost = cost_of(board, bench, plan);
  CHECK(cost.moves == 7);
  CHECK(cost.hookups == 6);
  CHECK(cost.touches == 0);
  CHECK(cost.turns == 0);
  CHECK(cost.seconds == Approx(12 + 6 * 8 + 6 * 10));
  std::size_t of_big = 0;
  for (const PlanStep& step : plan.steps) {
    for (const PlanMove& move : step.moves) {
      of_big += board[move.part].name == "U1";
    }
  }
  CHECK(of_big == 1);
}

TEST_CASE("the board is turned once for its solder side", "[graph][plan]") {
  std::string text =
      "padwalk: board/1\nname: pier\nparts:\n"
      "  U1: {kind: ic, type: A, package: DIP-16, xy: [0, 200]}\npoints:\n";
  std::string nets = "nets:\n";
  for (int pin = 1; pin <= 16; ++pin) {
    text += "  TP" + std::to_string(pin) + ": {xy: [" + std::to_string(5 * pin) +
            ", 0], side: " + (pin % 2 == 0 ? "top" : "bottom") + "}\n";
    nets += "  N" + std::to_string(pin) + ": [U1." + std::to_string(pin) + ", TP" +
            std::to_string(pin) + "]\n";
  }
  const Board board = plan_board(text + nets);
  const Fixtures bench = clips_and_tip();
  const PlanGoal goal = plan_goal(board, NeighbourRules());
  const Plan plan = make_plan(board, bench, goal);
  check_plan(board, bench, goal, plan);
  const PlanCost cost = cost_of(board, bench, plan);
  CHECK(cost.turns == 1);
  CHECK(cost.touches == 16);
  CHECK(cost.seconds == Approx(8 + 10 + 16 * 4 + 15));
  CHECK(cost.seconds == Approx(least_seconds(board, bench, goal)));
}
