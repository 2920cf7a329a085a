// SPDX-License-Identifier: MIT
#include "graph/plan.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <random>
#include <string>

#include "graph/board_yaml.hpp"
#include "tests/graph/plan_checker.hpp"

namespace {

using namespace padwalk::graph;

Fixtures bench_of(const std::string& fixtures) {
  Diagnostics diagnostics("bench.yaml");
  Fixtures bench = read_fixtures("padwalk: fixtures/1\nfixtures:\n" + fixtures, diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

Fixtures clips_and_tip() {
  return bench_of(
      "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
      "  clip-24: {kind: chip clip, pins: 24, row: 0.6 inch, channels: 17-40, move: 10 s}\n"
      "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 41-80, move: 12 s}\n"
      "  tip: {kind: tip, channels: [81, 82], move: 4 s}\n");
}
Fixtures grabbers_and_tip() {
  return bench_of(
      "  grabbers: {kind: grabber, channels: 1-16, move: 15 s}\n"
      "  tip: {kind: tip, channels: 17, move: 4 s}\n");
}
Fixtures many_grabbers() {
  return bench_of("  grabbers: {kind: grabber, channels: 1-64, move: 15 s}\n");
}

Board board_of(const std::string& text) {
  Diagnostics diagnostics("board.yaml");
  return Board(read_board(text, diagnostics), diagnostics);
}

Board demo() {
  std::ifstream file(PADWALK_SOURCE_DIR "/boards/tide-gauge/board.yaml");
  return board_of(std::string(std::istreambuf_iterator<char>(file), {}));
}

/// Some fixture other than the tip can hold it.
std::vector<bool> holdable(const Board& board, const Fixtures& bench) {
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
void check(const Board& board, const Fixtures& bench, const PlanGoal& goal, const Plan& plan) {
  const padwalk::tests::PlanPlayed played = padwalk::tests::play_plan(board, bench, goal, plan);
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
  CHECK(cost_of(board, bench, plan).seconds >= 0);
  if (plan.points_not_covered.empty()) {
    CHECK(cost_of(board, bench, plan).seconds >= least_seconds(board, bench, goal));
  }
}

Board random_board(std::mt19937& random) {
  BoardDescription description;
  description.layers = 2;
  const std::size_t parts = 2 + random() % 12;
  std::vector<std::string> pins;
  for (std::size_t i = 0; i < parts; ++i) {
    struct Kind {
      PartKind kind;
      const char* package;
      int pins;
    };
    constexpr Kind kKinds[] = {{PartKind::ic, "DIP-8", 8},
                               {PartKind::ic, "DIP-14", 14},
                               {PartKind::ic, "DIP-16", 16},
                               {PartKind::ic, "DIP-40", 40},
                               {PartKind::ic, "SOIC-8", 8},
                               {PartKind::connector, "header 2x3", 6},
                               {PartKind::resistor, "axial 10 mm", 2}};
    const Kind& kind = kKinds[random() % std::size(kKinds)];
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

TEST_CASE("plans of random boards do what they say, on three benches", "[graph][plan]") {
  std::mt19937 random(9);
  const std::vector<Fixtures> benches = {clips_and_tip(), grabbers_and_tip(), many_grabbers()};
  for (int i = 0; i < 500; ++i) {
    const Board board = random_board(random);
    const Fixtures& bench = benches[static_cast<std::size_t>(i) % 3];
    CAPTURE(i);
    const auto rules = i % 2 == 0 ? std::optional(NeighbourRules()) : std::nullopt;
    const PlanGoal goal = plan_goal(board, rules);
    check(board, bench, goal, make_plan(board, bench, goal));
    if (i % 5 == 0) {
      check(board, bench, goal, plan_by_chip_pairs(board, bench, goal));
    }
  }
}

TEST_CASE("plans of the demo board do what they say", "[graph][plan]") {
  const Board board = demo();
  for (const Fixtures& bench : {clips_and_tip(), grabbers_and_tip(), many_grabbers()}) {
    for (const auto& rules : {std::optional(NeighbourRules()), std::optional<NeighbourRules>()}) {
      const PlanGoal goal = plan_goal(board, rules);
      const Plan plan = make_plan(board, bench, goal);
      check(board, bench, goal, plan);
      const Plan simple = plan_by_chip_pairs(board, bench, goal);
      check(board, bench, goal, simple);
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
  const Board board = board_of(text + nets);
  const Fixtures bench = clips_and_tip();
  const PlanGoal goal = plan_goal(board, NeighbourRules());
  const Plan plan = make_plan(board, bench, goal);
  check(board, bench, goal, plan);
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
  const Board board = board_of(text + nets);
  const Fixtures bench = clips_and_tip();
  const PlanGoal goal = plan_goal(board, NeighbourRules());
  const Plan plan = make_plan(board, bench, goal);
  check(board, bench, goal, plan);
  const PlanCost cost = cost_of(board, bench, plan);
  CHECK(cost.turns == 1);
  CHECK(cost.touches == 16);
  CHECK(cost.seconds == Approx(8 + 10 + 16 * 4 + 15));
  CHECK(cost.seconds == Approx(least_seconds(board, bench, goal)));
}
