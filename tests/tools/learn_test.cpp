// SPDX-License-Identifier: MIT
//
// Boards without a drawing: the program learns the demo boards over a pseudo-terminal, and what it
// writes is held against the files that the simulated bench was made of.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "graph/board_yaml.hpp"
#include "tests/support/program.hpp"
#include "tools/board_file.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;
using Groups = std::set<std::set<std::string>>;

using test::kDemo;

struct Learned {
  test::Outcome outcome;
  json result;
  std::string board;  // its text
};

/// `truth` is what the bench has. The words tell what the person knows.
Learned learn(const std::string& truth, std::vector<std::string> words,
              const std::string& defects = "") {
  const test::TemporaryFolder folder;
  words.insert(words.begin(), {"learn", "-o", folder.path("learned.yaml"), "--json",
                               folder.path("l.json"), "--simulate-board", truth, "--simulate"});
  if (!defects.empty()) {
    words.insert(words.begin() + 8,
                 folder.write("d.yaml", "padwalk: defects/1\ndefects:\n" + defects));
  }
  Learned learned;
  learned.outcome = test::padwalk(words);
  CAPTURE(learned.outcome.err);
  REQUIRE(std::filesystem::exists(folder.path("l.json")));
  learned.result = json::parse(test::read_text(folder.path("l.json")));
  learned.board = test::read_text(folder.path("learned.yaml"));
  return learned;
}

/// Nets of two points and more, by points that a clip can hold.
Groups groups_of(const graph::Board& board) {
  Groups groups;
  for (const graph::Net& net : board.nets()) {
    std::set<std::string> group;
    for (const graph::PointId point : net.points) {
      if (board[point].access == graph::Access::clip) {
        group.insert(board[point].name);
      }
    }
    if (group.size() > 1) {
      groups.insert(group);
    }
  }
  return groups;
}
Groups groups_of_text(const std::string& text) {
  graph::Diagnostics diagnostics("learned.yaml");
  return groups_of(graph::Board(graph::read_board(text, diagnostics), diagnostics));
}
Groups groups_of_file(const std::string& path) {
  return groups_of(tools::load_board(path).board);
}
Groups groups_of_json(const json& result) {
  Groups groups;
  for (const json& group : result["groups"]) {
    groups.insert(group["points"].get<std::set<std::string>>());
  }
  return groups;
}

/// Two groups made one, by a point of each.
Groups joined(Groups groups, const std::string& a, const std::string& b) {
  const auto holding = [&](const std::string& point) {
    return std::find_if(groups.begin(), groups.end(),
                        [&](const auto& group) { return group.count(point) != 0; });
  };
  std::set<std::string> whole = *holding(a);
  groups.erase(holding(a));
  whole.insert(holding(b)->begin(), holding(b)->end());
  groups.erase(holding(b));
  groups.insert(whole);
  return groups;
}

/// One group in two.
Groups split(Groups groups, const std::set<std::string>& off) {
  const auto at = std::find_if(groups.begin(), groups.end(),
                               [&](const auto& group) { return group.count(*off.begin()) != 0; });
  std::set<std::string> rest = *at;
  groups.erase(at);
  for (const std::string& point : off) {
    REQUIRE(rest.erase(point) == 1);
  }
  for (const auto& part : {rest, off}) {
    if (part.size() > 1) {
      groups.insert(part);
    }
  }
  return groups;
}

const std::string kShortAndBreaks =
    "  - {short: [U1.30, U1.31], value: 0.3 ohm}\n"  // A0 and A1
    "  - {split: A9, off: [U3.22]}\n"
    "  - {split: A13, off: [U4.3]}\n";
Groups with_short_and_breaks(const Groups& groups) {
  return split(split(joined(groups, "U1.30", "U1.31"), {"U3.22"}), {"U4.3"});
}

/// The fuse of the assembled board looks like copper.
Groups assembled_groups() {
  return joined(groups_of_file(kDemo + "board.yaml"), "F1.1", "F1.2");
}

}  // namespace

TEST_CASE("the bare demo board is learned without its nets", "[tools][learn]") {
  const std::string truth = kDemo + "board-bare.yaml";
  const Learned learned = learn(truth, {"--parts-from", truth});
  CHECK(learned.outcome.status == 0);
  CHECK(learned.outcome.err == "");
  CHECK(learned.result["padwalk"] == "learn/1");
  CHECK(learned.result["verdict"] == "learned");
  CHECK(learned.result["hookups"] == 1);
  CHECK(groups_of_json(learned.result) == groups_of_file(truth));
  CHECK(groups_of_text(learned.board) == groups_of_file(truth));
  // Copper alone: a group that follows is a group; each further point takes one reading. 66 groups
  // take 7 more, and the 20 that are alone, once re-seated, 5 among them and 1 against the rest.
  std::size_t joins = 0;
  for (const auto& group : groups_of_file(truth)) {
    joins += group.size() - 1;
  }
  CHECK(learned.result["readings"]["current"] == joins + 7 + 5 + 1);
  CHECK(learned.result["between"].empty());
}

TEST_CASE("the assembled demo board is learned as it is: what parts join is told, not joined",
          "[tools][learn][slow][.long]") {
  const std::string truth = kDemo + "board.yaml";
  const Learned learned = learn(truth, {"--parts-from", truth}, kShortAndBreaks);
  CHECK(learned.outcome.status == 0);
  CHECK(groups_of_json(learned.result) == with_short_and_breaks(assembled_groups()));
  CHECK(groups_of_text(learned.board) == with_short_and_breaks(assembled_groups()));
  CHECK(learned.result["looks_like_copper"] == json::array({"F1"}));
  std::set<std::string> roles;
  std::string d0;
  for (const json& group : learned.result["groups"]) {
    const auto points = group["points"].get<std::set<std::string>>();
    roles.insert(group["role"].get<std::string>());
    CHECK((group["role"] == "ground") == (points.count("U1.29") != 0));
    CHECK((group["role"] == "supply") == (points.count("U1.11") != 0));
    d0 = points.count("U1.14") != 0 ? group["net"].get<std::string>() : d0;
  }
  CHECK(roles == std::set<std::string>{"signal", "ground", "supply"});
  // D0's pull-up of RN2, 10k.
  const auto pull_up = std::find_if(
      learned.result["between"].begin(), learned.result["between"].end(), [&](const json& link) {
        const auto pair = link["between"].get<std::set<std::string>>();
        return pair == std::set<std::string>{d0, "VCC"};
      });
  REQUIRE(pull_up != learned.result["between"].end());
  CHECK((*pull_up)["ohm"].get<double>() == Approx(10e3).epsilon(0.05));
}

TEST_CASE("a bare board is learned as it is, with its short and its break", "[tools][learn]") {
  const std::string truth = kDemo + "board-bare.yaml";
  const Learned learned = learn(truth, {"--parts-from", truth}, kShortAndBreaks);
  CHECK(learned.outcome.status == 0);
  CHECK(groups_of_text(learned.board) == with_short_and_breaks(groups_of_file(truth)));
}

TEST_CASE("a board is learned on an ordinary bench, with noise, hum and spread",
          "[tools][learn][slow]") {
  const auto on_bench = [](int seed) {
    const std::string truth = kDemo + "board-bare.yaml";
    const Learned learned =
        learn(truth, {"--parts-from", truth},
              "  []\nbench: {like: reference, hum: 0.2 V, random: " + std::to_string(seed) + "}\n");
    CHECK(learned.outcome.status == 0);
    return groups_of_json(learned.result);
  };
  for (const int seed : {1, 2, 3, 4}) {
    CAPTURE(seed);
    CHECK(on_bench(seed) == groups_of_file(kDemo + "board-bare.yaml"));
  }
}

// Minutes with sanitizers: tools_tests "[learn]".
TEST_CASE("the assembled board is learned on an ordinary bench", "[.][learn][slow]") {
  const std::string truth = kDemo + "board.yaml";
  const Learned learned = learn(truth, {"--parts-from", truth},
                                "  []\nbench: {like: reference, hum: 0.2 V, random: 1}\n");
  CHECK(learned.outcome.status == 0);
  CHECK(groups_of_json(learned.result) == assembled_groups());
}

TEST_CASE("a lead that touches nothing is cured by a re-seat, or said to be unproven",
          "[tools][learn]") {
  const std::string truth = kDemo + "board-bare.yaml";
  const Learned asked = learn(truth, {"--parts-from", truth}, "  - {no contact: U2.3}\n");
  CHECK(groups_of_json(asked.result) == groups_of_file(truth));
  const Learned unasked =
      learn(truth, {"--parts-from", truth, "--ask", "no"}, "  - {no contact: U2.3}\n");
  CHECK(groups_of_json(unasked.result) == split(groups_of_file(truth), {"U2.3"}));
  const auto unproven = unasked.result["no_contact_proven"].get<std::set<std::string>>();
  CHECK(unproven.count("U2.3") == 1);
  CHECK(unproven.count("U2.4") == 0);
}

TEST_CASE("what was learned is swept as good, and compares as the same", "[tools][learn]") {
  const test::TemporaryFolder folder;
  const std::string truth = kDemo + "board-bare.yaml";
  const std::string board =
      folder.write("learned.yaml", learn(truth, {"--parts-from", truth}).board);
  const test::Outcome compared = test::padwalk({"compare", truth, board});
  CHECK(compared.status == 0);
  CHECK(compared.out.find("46 nets the same, 0 differences.") != std::string::npos);
  CHECK(test::padwalk({"sweep", board, "--simulate"}).status == 0);
  CHECK(test::padwalk({"check", board}).status == 0);
}

TEST_CASE("parts are typed on the command line", "[tools][learn]") {
  const test::TemporaryFolder folder;
  const std::string truth =
      folder.write("truth.yaml",
                   "padwalk: board/1\n"
                   "parts:\n"
                   "  U1: {kind: ic, type: 74HC00, package: DIP-14}\n"
                   "  R1: {kind: resistor, value: 4k7, package: axial 10 mm}\n"
                   "  J1: {kind: connector, package: header 2x5}\n"
                   "points:\n"
                   "  TP1: {}\n"
                   "nets:\n"
                   "  GND: {role: ground, points: [U1.7, J1.1]}\n"
                   "  VCC: {role: supply, points: [U1.14, J1.2, R1.1]}\n"
                   "  A: [U1.1, R1.2, TP1]\n");
  const Learned learned = learn(
      truth, {"--assembled", "--parts", "U1 DIP-14 (74HC00), R1 axial 10 mm (4k7), J1 header 2x5",
              "--points", "TP1", "--name", "Lock horn"});
  CHECK(learned.outcome.status == 0);
  CHECK(groups_of_text(learned.board) == groups_of_file(truth));
  CHECK(learned.board.find("name: Lock horn") != std::string::npos);
  CHECK(learned.board.find("state: assembled") != std::string::npos);
  CHECK(learned.board.find("value: 4k7") != std::string::npos);
  REQUIRE(learned.result["between"].size() == 1);
  CHECK(learned.result["between"][0]["ohm"].get<double>() == Approx(4700).epsilon(0.01));
  CHECK(learned.board.find("note: \"N1 and VCC: about 4.") != std::string::npos);
  CHECK(learned.board.find("GND: {role: ground") != std::string::npos);
  CHECK(learned.outcome.out.find("Next: padwalk check --lint ") != std::string::npos);
}

TEST_CASE("a board is learned with few leads, hookup after hookup", "[tools][learn][slow]") {
  const test::TemporaryFolder folder;
  const std::string truth = kDemo + "board-bare.yaml";
  const std::string few = folder.write("few.yaml",
                                       "padwalk: fixtures/1\n"
                                       "fixtures:\n"
                                       "  grabbers: {kind: grabber, channels: 1-20, move: 6 s}\n"
                                       "  tip: {kind: tip, channels: 21, move: 2 s}\n");
  const Learned learned =
      learn(truth, {"--parts-from", truth, "--fixtures", few}, "  - {split: A9, off: [U3.22]}\n");
  CHECK(learned.outcome.status == 0);
  CHECK(learned.result["tester"]["channels"] == 21);
  CHECK(groups_of_json(learned.result) == split(groups_of_file(truth), {"U3.22"}));
  CHECK(learned.result["never_together"].empty());
  // 67 groups, 20 held at a time: four rounds, and all points in the first of them.
  CHECK(learned.result["touches"] >= 193 - 1);
  CHECK(learned.result["touches"] < 4 * 193);
}

TEST_CASE("clips and plugs learn the assembled board", "[.][learn][slow]") {
  const std::string truth = kDemo + "board.yaml";
  const Learned learned =
      learn(truth, {"--parts-from", truth, "--fixtures", kDemo + "fixtures.yaml"},
            "  - {short: [U1.30, U1.31], value: 0.3 ohm}\n");
  CHECK(learned.outcome.status == 0);
  CHECK(groups_of_json(learned.result) == joined(assembled_groups(), "U1.30", "U1.31"));
  CHECK(learned.result["moves"] < 30);
  CHECK(learned.result["touches"] < 193);
}

TEST_CASE("a person is asked for each move and touch", "[tools][learn]") {
  const test::TemporaryFolder folder;
  const std::string truth = folder.write("truth.yaml",
                                         "padwalk: board/1\n"
                                         "state: bare\n"
                                         "points:\n  TP1: {}\n  TP2: {}\n  TP3: {}\n"
                                         "nets:\n  A: [TP1, TP3]\n");
  // Channel n is on TPn all the time: grabbers 1 and 2 go there, and the tip to what is left.
  const std::string bench = folder.write("bench.yaml",
                                         "padwalk: fixtures/1\n"
                                         "fixtures:\n"
                                         "  grabbers: {kind: grabber, channels: 1-2, move: 1 s}\n"
                                         "  tip: {kind: tip, channels: 3, move: 60 s}\n"
                                         "times: {confirm: 0 s}\n");
  const auto learn_at = [&](const std::string& answers) {
    test::Running tester({PADWALK_PROGRAM, "simulate", truth});
    const std::string port = tester.read_line();
    test::Running person({PADWALK_PROGRAM, "learn", "--points", "TP1, TP2, TP3", "--fixtures",
                          bench, "--port", port, "-o", folder.path("b.yaml"), "--json",
                          folder.path("l.json")});
    person.send(answers);
    const test::Outcome outcome = person.finish();
    tester.signal(SIGTERM);
    return outcome;
  };
  const test::Outcome done = learn_at("\n\n\n\n\n\n");
  CHECK(done.status == 0);
  CHECK(done.out.find(
            "put grabber 1 on TP1\n      press Enter when all sit right (x: one does not fit): ") !=
        std::string::npos);
  CHECK(done.out.find("touch TP3, hold it, press Enter (l: later, n: cannot reach it): ") !=
        std::string::npos);
  CHECK(groups_of_text(test::read_text(folder.path("b.yaml"))) == Groups{{"TP1", "TP3"}});
  std::filesystem::remove(folder.path("b.yaml"));
  const test::Outcome left = learn_at("\n");
  CHECK(left.status == 5);
  CHECK(left.out.find("INTERRUPTED") != std::string::npos);
  CHECK(!std::filesystem::exists(folder.path("b.yaml")));
}

TEST_CASE("a live board is refused, nothing is written", "[tools][learn]") {
  const test::TemporaryFolder folder;
  const std::string truth = kDemo + "board.yaml";
  const test::Outcome outcome = test::padwalk(
      {"learn", "--parts-from", truth, "-o", folder.path("b.yaml"), "--json", folder.path("l.json"),
       "--simulate", kDemo + "cell-left-in.yaml", "--simulate-board", truth});
  CHECK(outcome.status == 4);
  CHECK(outcome.out.find("REFUSED: there is voltage on the board. Nothing was driven.") !=
        std::string::npos);
  CHECK(!std::filesystem::exists(folder.path("b.yaml")));
  const json result = json::parse(test::read_text(folder.path("l.json")));
  CHECK(result["verdict"] == "refused");
  CHECK(!result["live"].empty());
  CHECK(result["readings"]["follow"] == 0);

  const test::Outcome earthed =
      test::padwalk({"learn", "--parts-from", truth, "-o", folder.path("b.yaml"), "--simulate",
                     kDemo + "earthed.yaml", "--simulate-board", truth});
  CHECK(earthed.status == 4);
  CHECK(earthed.out.find("the board is connected to the computer or to earth") !=
        std::string::npos);
}

TEST_CASE("a board that comes alive only under the second fixture is refused there",
          "[tools][learn]") {
  const test::TemporaryFolder folder;
  const std::string truth = kDemo + "board.yaml";
  const test::Outcome outcome =
      test::padwalk({"learn", "--parts-from", truth, "-o", folder.path("b.yaml"), "--fixtures",
                     kDemo + "fixtures.yaml", "--simulate", kDemo + "cell-left-in.yaml",
                     "--simulate-board", truth});
  CHECK(outcome.status == 4);
  CHECK(outcome.out.find("REFUSED: there is voltage on the board.") != std::string::npos);
  CHECK(!std::filesystem::exists(folder.path("b.yaml")));
}

TEST_CASE("bad options of learn give one sentence", "[tools][learn][bad-input]") {
  const test::TemporaryFolder folder;
  const std::string truth = kDemo + "board.yaml";
  const auto expect = [&](std::vector<std::string> words, const std::string& sentence) {
    words.insert(words.begin(), {"learn", "-o", folder.path("b.yaml")});
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.err == "padwalk: " + sentence + "\n");
    CHECK(outcome.out == "");
    CHECK(outcome.status == 2);
    CHECK(!std::filesystem::exists(folder.path("b.yaml")));
  };
  expect({"--simulate"},
         "learn needs to know what is there: --parts 'U1 DIP-40, J1 header 2x5', --points or "
         "--parts-from");
  expect({"--parts", "U1 DIP-8"},
         "learn needs a tester: --port NAME, or --simulate to try without one");
  expect({"--parts", "U1 DIP-8", "--simulate"},
         "--simulate needs --simulate-board FILE here: which board is really there");
  const std::vector<std::string> bench = {"--simulate", "--simulate-board", truth};
  const auto on_bench = [&](std::vector<std::string> words) {
    words.insert(words.end(), bench.begin(), bench.end());
    return words;
  };
  expect(on_bench({"--parts", "DIP-40"}),
         "--parts: \"DIP-40\" has no package behind its name; write a part as U4 DIP-16 (74LS138) "
         "or R7 axial 10 mm");
  expect(on_bench({"--parts", "U1 DIP-41"}),
         "--parts: part U1: package DIP-41 does not exist; a DIP has an even number of pins, 4 to "
         "64");
  expect(on_bench({"--parts", "U1 DIP-40"}),
         "the simulated board " + truth + " is assembled; say --assembled");
  expect(on_bench({"--parts", "U1 DIP-40, U77 DIP-8", "--assembled"}),
         "the simulated board " + truth + " has no U77.1; --parts must say what is really there");
  const std::string no_bench = folder.write("f.yaml", "padwalk: fixtures/1\n");
  expect(on_bench({"--parts", "U1 DIP-40", "--assembled", "--fixtures", no_bench}),
         no_bench +
             ":1:1: there are no fixtures; expected fixtures: with names and what they are, such "
             "as tip: {kind: tip, channels: 63, move: 4 s}");
  expect(on_bench({"--points", "TP1", "--assembled"}),
         "there are fewer than two points to attach a lead to");
  expect(on_bench({"--parts", "U1 DIP-40", "--assembled", "--channels", "16"}),
         "the board has 40 points to attach and the tester on the simulated bench has 16 channels; "
         "a tester with 40 channels is needed, or fewer points with access: clip");
}
