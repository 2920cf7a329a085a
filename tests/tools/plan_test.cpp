// SPDX-License-Identifier: MIT
//
// `padwalk plan` as a person runs it: what it says, its exit statuses, its JSON.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;

const std::string kPlanBoard =
    "padwalk: board/1\n"
    "name: float sensor\n"
    "parts:\n"
    "  U1: {kind: ic, type: 4060, package: DIP-16, xy: [0, 60], rotation: 90}\n"
    "  U2: {kind: ic, type: LM358, package: DIP-8, xy: [0, 90], side: bottom, rotation: 90}\n"
    "  R1: {kind: resistor, value: 10k, package: axial 10 mm, xy: [40, 20]}\n"
    "points:\n"
    "  TP1: {xy: [60, 0], side: bottom}\n"
    "nets:\n"
    "  A: [U1.1, R1.1]\n"
    "  B: [U1.2, R1.2, TP1]\n"
    "  C: [U2.1]\n";
const std::string kPlanFixtures =
    "padwalk: fixtures/1\n"
    "fixtures:\n"
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  tip: {kind: tip, channels: 17, move: 4 s}\n";

struct PlanBench {
  test::TemporaryFolder folder;
  std::string board = folder.write("float.yaml", kPlanBoard);
  std::string fixtures = folder.write("bench.yaml", kPlanFixtures);
  test::Outcome plan(std::vector<std::string> words) const {
    words.insert(words.begin(), {"plan", board});
    return test::padwalk(words);
  }
};

}  // namespace

TEST_CASE("a plan says what goes where, which way round, and what it costs", "[tools][plan]") {
  const PlanBench bench;
  const test::Outcome outcome =
      bench.plan({"--fixtures", bench.fixtures, "--json", bench.folder.path("plan.json")});
  CHECK(outcome.status == 0);
  CHECK(outcome.err == "");
  // 8 s, 10 s to look, four touches of 4 s, 15 s to turn: U2 sits on the solder side.
  CHECK(outcome.out ==
        "float sensor: 1 hookup, 1 move, 4 touches, 1 turn: about 49 s\n"
        "No plan for these fixtures takes less than 49 s.\n"
        "1.\n"
        "      put clip-16 on U1, notch to the left\n"
        "      look whether all sit right, then sweep\n"
        "      touch R1.1, R1.2\n"
        "      turn the board: solder side up\n"
        "      touch U2.1, TP1\n"
        "Next: step 1; before any lead goes on, power out and cell out.\n");
  const json plan = json::parse(test::read_text(bench.folder.path("plan.json")));
  CHECK(plan["padwalk"] == "plan/1");
  CHECK(plan["hookups"] == 1);
  CHECK(plan["moves"] == 1);
  CHECK(plan["touches"] == 4);
  CHECK(plan["turns"] == 1);
  CHECK(plan["minutes"].get<double>() == Approx(49.0 / 60));
  CHECK(plan["bound_minutes"].get<double>() == Approx(49.0 / 60));
  CHECK(plan["not_covered"].empty());
  CHECK(plan["steps"][0]["put"][0]["fixture"] == "clip-16");
  CHECK(plan["steps"][0]["put"][0]["part"] == "U1");
  CHECK(plan["steps"][0]["touch"].size() == 4);
}

TEST_CASE("a chip's notch is told as seen from the chip's own side", "[tools][plan]") {
  PlanBench bench;
  bench.board = bench.folder.write(
      "under.yaml",
      "padwalk: board/1\nname: under\nparts:\n"
      "  U1: {kind: ic, type: 4060, package: DIP-16, xy: [0, 60], rotation: 90, side: bottom}\n"
      "nets: {A: [U1.1, U1.2, U1.3, U1.4]}\n");
  const test::Outcome outcome = bench.plan({"--fixtures", bench.fixtures});
  CHECK(outcome.out.find("turn the board: solder side up\n"
                         "      put clip-16 on U1, notch to the left\n") != std::string::npos);
}

TEST_CASE("what no fixture of the bench can do is named, with status 5", "[tools][plan]") {
  const PlanBench bench;
  const std::string tip = bench.folder.write(
      "tip.yaml", "padwalk: fixtures/1\nfixtures: {tip: {kind: tip, channels: 1, move: 4 s}}\n");
  const test::Outcome outcome = bench.plan({"--fixtures", tip});
  CHECK(outcome.status == 5);
  CHECK(outcome.out.find("0 hookups, 0 moves, 0 touches, 0 turns") != std::string::npos);
  CHECK(outcome.out.find("Not covered, for want of a fixture that holds on their nets: ") !=
        std::string::npos);
  CHECK(outcome.out.find("\nNext: name a fixture that fits this board with --fixtures.\n") !=
        std::string::npos);
}

TEST_CASE("the demo board's plan settles all with its own bench", "[tools][plan]") {
  const test::TemporaryFolder folder;
  for (const bool all : {false, true}) {
    std::vector<std::string> words = {"plan",       kDemo + "board.yaml",
                                      "--fixtures", kDemo + "fixtures.yaml",
                                      "--json",     folder.path("plan.json")};
    if (all) {
      words.push_back("--all-pairs");
    }
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.status == 0);
    const json plan = json::parse(test::read_text(folder.path("plan.json")));
    CHECK(plan["not_covered"].empty());
    CHECK(plan["pairs_not_covered"].empty());
    CHECK(plan["minutes"] >= plan["bound_minutes"]);
    std::size_t moves = 0;
    std::size_t touches = 0;
    for (const json& step : plan["steps"]) {
      moves += step["put"].size();
      touches += step["touch"].size();
    }
    CHECK(plan["moves"] == moves);
    CHECK(plan["touches"] == touches);
    CHECK(plan["hookups"] == plan["steps"].size());
  }
  const test::Outcome usual = test::padwalk({"plan", kDemo + "board.yaml"});
  CHECK(usual.out.find("Planned for a 16-pin and a 40-pin clip, six grabbers and a tip; "
                       "--fixtures FILE says what you own.\n") != std::string::npos);
}

TEST_CASE("a plan is written to be printed as it is said", "[tools][plan]") {
  const PlanBench bench;
  const std::string paper = bench.folder.path("plan.txt");
  const test::Outcome outcome = bench.plan({"--fixtures", bench.fixtures, "-o", paper});
  CHECK(outcome.out.find("touch") != std::string::npos);
  CHECK(test::read_text(paper) == outcome.out);
}

TEST_CASE("a plan of a few nets is shorter", "[tools][plan]") {
  const PlanBench bench;
  const test::Outcome outcome = bench.plan({"--fixtures", bench.fixtures, "--nets", "A"});
  CHECK(outcome.status == 0);
  CHECK(outcome.out.find("\n      touch R1.1\n") != std::string::npos);
  CHECK(outcome.out.find("turn the board") == std::string::npos);
}

TEST_CASE("a plan of a region is of the nets that pass through it", "[tools][plan]") {
  PlanBench bench;
  bench.board = bench.folder.write(
      "region.yaml",
      kPlanBoard + "regions:\n  by the cell: {polygon: [[35, 5], [45, 5], [45, 15], [35, 15]]}\n");
  const test::Outcome outcome = bench.plan({"--fixtures", bench.fixtures, "--near", "by the cell"});
  CHECK(outcome.status == 0);
  CHECK(outcome.out.find("touch R1.2\n") != std::string::npos);  // R1.1 lies outside
  CHECK(outcome.out.find("touch TP1\n") != std::string::npos);   // of the same net as R1.2
  CHECK(outcome.out.find("R1.1") == std::string::npos);
}

TEST_CASE("what plan cannot use is said in one sentence", "[tools][plan]") {
  const PlanBench bench;
  const auto says = [&](std::vector<std::string> words, const std::string& sentence) {
    const test::Outcome outcome = bench.plan(std::move(words));
    CHECK(outcome.status == 2);
    CHECK(outcome.out == "");
    CHECK(outcome.err == "padwalk: " + sentence + "\n");
  };
  says({"--nets", "A,TIDE"}, "--nets: " + bench.board + " has no net TIDE");
  const std::string bad = bench.folder.write(
      "bad.yaml", "padwalk: fixtures/1\nfixtures: {tip: {kind: tip, channels: 0, move: 4 s}}\n");
  says({"--fixtures", bad},
       bad + ":2:39: fixture tip: channels are numbers from 1, such as 1-16, 63 or [63, 64]");
  CHECK(bench.plan({"--fixtures", bench.folder.path("none.yaml")}).status == 2);
  says({"--near", "the pier"}, "--near: " + bench.board + " has no region the pier");
  CHECK(bench.plan({"--near", "x", "--nets", "A"}).status == 2);
  CHECK(bench.plan({"--all-pairs", "--neighbours", "3"}).status == 2);
  CHECK(bench.plan({"--neighbours", "-1"}).status == 2);
}
