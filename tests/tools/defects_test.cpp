// SPDX-License-Identifier: MIT
#include "tools/defects.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;
using padwalk::tools::Defects;
using padwalk::tools::Junction;
using padwalk::tools::read_defects;

namespace {

const Board& board() {
  static const Board kBoard = [] {
    Diagnostics diagnostics("board.yaml");
    BoardDescription description = read_board(R"(padwalk: board/1
parts:
  U1: {kind: ic, package: DIP-8, xy: [10, 20]}
  U2: {kind: ic, package: DIP-8, xy: [30, 20]}
  R1: {kind: resistor, value: 4k7, package: axial 10 mm, xy: [50, 20]}
  C1: {kind: capacitor, value: 10u, package: radial 5 mm, xy: [60, 20]}
  S1: {kind: switch, package: row 3, xy: [70, 20], positions: {out: [[1, 2]], in: [[2, 3]]}}
points:
  V1: {xy: [20, 20], via: [top, bottom]}
  TP1: {xy: [25, 20], side: bottom}
  TP2: {xy: [25, 25], side: bottom}
nets:
  CLK: {route: [[U1.1, V1, U2.1], {side: bottom, chain: [V1, TP1]}]}
  TWICE: {route: [{side: bottom, chain: [U1.2, U2.2]}, {side: bottom, chain: [U1.2, U2.2]}]}
  BOTH: {route: [{side: bottom, chain: [U1.3, U2.3]}, {side: top, chain: [U1.3, U2.3]}]}
  VBAT: [U1.8, U2.8, R1.1]
  HALF: {route: [{side: bottom, chain: [U1.7, U2.7]}], also: [R1.2]}
  GND: {role: ground, points: [U1.4, U2.4]}
copper:
  - {between: [U1.2, U2.2], count: 2}
)",
                                              diagnostics);
    return Board(std::move(description), diagnostics);
  }();
  return kBoard;
}

Defects read(const std::string& body) {
  Diagnostics diagnostics("d.yaml");
  Defects defects = read_defects("padwalk: defects/1\n" + body, board(), diagnostics);
  diagnostics.throw_if_errors();
  return defects;
}

std::string complaint(const std::string& body) {
  return padwalk::test::complaint_of([&] { read(body); });
}

std::string ends(SegmentId id) {
  return board().place_name(board()[id].a) + "-" + board().place_name(board()[id].b);
}

}  // namespace

TEST_CASE("a wire, and what is wrong later on", "[tools][defects]") {
  const std::string text =
      "padwalk: defects/1\ndefects:\n  - open: [U1.1, V1@top]\nthen:\n"
      "  mended:\n    - {wire: [U1.1, V1@bottom], gauge: 24, length: 100 mm, joint: 0.8 ohm}\n"
      "  flexed:\n    - {wire: [U1.1, TP1], open for: 1 ms, every: 10 ms}\n";
  const auto at = [&](padwalk::tools::BoardThen then) {
    Diagnostics diagnostics("d.yaml");
    Defects defects = read_defects(text, board(), diagnostics, then);
    diagnostics.throw_if_errors();
    return defects;
  };
  const Defects found = at(padwalk::tools::BoardThen::found);
  CHECK(found.cuts.size() == 1);
  CHECK(found.bridges.empty());
  const Defects mended = at(padwalk::tools::BoardThen::mended);
  CHECK(mended.cuts.empty());
  REQUIRE(mended.bridges.size() == 1);
  // 84.2 ohm/km, computed from 1.7241e-8 ohm m and the rule of ASTM B258 (from memory).
  CHECK(mended.bridges[0].ohm == Approx(0.8 + 8.42e-3).epsilon(1e-3));
  CHECK(mended.bridges[0].every_s == 0);
  const Defects flexed = at(padwalk::tools::BoardThen::flexed);
  REQUIRE(flexed.bridges.size() == 1);
  CHECK(flexed.bridges[0].open_s == 1e-3);
  CHECK(flexed.bridges[0].every_s == 10e-3);
  CHECK(complaint("then: {soldered: []}\n") ==
        "d.yaml:2:8: then: the key \"soldered\" is not known; expected one of mended, flexed");
  CHECK(complaint("then: {mended: [{open: [U1.1, TP2]}]}\n").starts_with("d.yaml:2:"));
}

TEST_CASE("no defects is a healthy board on the usual bench", "[tools][defects]") {
  for (const char* body : {"defects: []\n", "defects:\n", ""}) {
    const Defects defects = read(body);
    CHECK(defects.cuts.empty());
    CHECK(defects.bridges.empty());
    CHECK(defects.contact_ohm == 0.025);
    CHECK(defects.noise_volt == 0);
    CHECK(defects.leak_ampere == 0);
    CHECK(defects.hum_volt == 0);
    CHECK(defects.random == 1);
  }
}

TEST_CASE("defects come and go, sit in parts, or reach the instrument", "[tools][defects]") {
  const Defects defects = read(R"(defects:
  - {intermittent: [V1@top, V1@bottom], open for: 8 us, every: 250 ms}
  - {intermittent: [V1@bottom, TP1], open for: 0.5 s, every: 2 s}
  - {voltage: [U1.8, GND], value: 9 V, hertz: 50, behind: 100 ohm}
  - {voltage: [U1.8, GND], value: 3 V, through: Schottky}
  - {voltage: [U1.8, GND], value: 3 V, through: silicon}
  - {voltage: [U1.8, GND], value: 3 V, through: germanium}
  - {earthed: GND}
  - {earthed: TP1, value: 2 ohm}
  - {part: R1, value: open}
  - {part: C1, value: 3 ohm}
  - {switch: S1, stuck: in}
  - {switch: S1, contact: [3, 2], value: 40 ohm, note: tarnish}
)");
  REQUIRE(defects.intermittents.size() == 2);
  CHECK(ends(defects.intermittents[0].segment) == "V1@top-V1@bottom");
  CHECK(defects.intermittents[0].open_s == 8e-6);
  CHECK(defects.intermittents[0].every_s == 0.25);
  CHECK(defects.intermittents[1].open_s == 0.5);
  CHECK(defects.cuts.empty());
  REQUIRE(defects.sources.size() == 4);
  CHECK(defects.sources[0].volt == 9);
  CHECK(defects.sources[0].hertz == 50);
  CHECK(defects.sources[0].ohm == 100);
  CHECK(defects.sources[0].through == Junction::none);
  CHECK(defects.sources[1].hertz == 0);
  CHECK(defects.sources[1].through == Junction::schottky);
  CHECK(defects.sources[2].through == Junction::silicon);
  CHECK(defects.sources[3].through == Junction::germanium);
  REQUIRE(defects.earths.size() == 2);
  CHECK(board()[defects.earths[0].place].net == board().find_net("GND"));
  CHECK(defects.earths[0].ohm == 0.1);
  CHECK(board().place_name(defects.earths[1].place) == "TP1");
  CHECK(defects.earths[1].ohm == 2);
  REQUIRE(defects.part_values.size() == 2);
  CHECK(std::isinf(defects.part_values[0].ohm));
  CHECK(defects.part_values[1].part == board().find_part("C1"));
  CHECK(defects.part_values[1].ohm == 3);
  REQUIRE(defects.stuck_switches.size() == 1);
  CHECK(defects.stuck_switches[0].part == board().find_part("S1"));
  CHECK(defects.stuck_switches[0].position == 1);
  REQUIRE(defects.worn_contacts.size() == 1);
  CHECK(defects.worn_contacts[0].a == 2);
  CHECK(defects.worn_contacts[0].b == 1);
  CHECK(defects.worn_contacts[0].ohm == 40);
}

TEST_CASE("a bench says how good its tester is", "[tools][defects]") {
  const Defects defects = read(
      "bench: {contact: 40 mohm, contact spread: 5 mohm, noise: 200 uV, offset: -1 mV, gain error: "
      "0.2%, reference error: 1%, switch spread: 2 ohm, leakage: 3 nA, hum: 0.2 V, hum hertz: 60, "
      "lead capacitance: 150 pF, random: 7}\n");
  CHECK(defects.contact_ohm == 0.04);
  CHECK(defects.contact_spread_ohm == 0.005);
  CHECK(defects.noise_volt == 200e-6);
  CHECK(defects.offset_volt == -1e-3);
  CHECK(defects.gain_error == 0.002);
  CHECK(defects.reference_error == 0.01);
  CHECK(defects.switch_spread_ohm == 2);
  CHECK(defects.leak_ampere == 3e-9);
  CHECK(defects.hum_volt == 0.2);
  CHECK(defects.hum_hertz == 60);
  CHECK(defects.lead_farad == 150e-12);
  CHECK(defects.random == 7);
}

TEST_CASE("the reference bench is one word, and other keys change it", "[tools][defects]") {
  const Defects reference = read("bench: reference\n");
  CHECK(reference.contact_spread_ohm == 0.025);
  CHECK(reference.noise_volt == 200e-6);
  CHECK(reference.gain_error == 0.001);
  CHECK(reference.reference_error == 0.001);
  CHECK(reference.leak_ampere == 1e-9);
  CHECK(reference.hum_volt == 0.1);
  CHECK(reference.random == 1);
  for (const char* changed : {"{like: reference, hum: 0.2 V}", "{hum: 0.2 V, like: reference}"}) {
    const Defects bench = read(std::string("bench: ") + changed + "\n");
    CHECK(bench.hum_volt == 0.2);
    CHECK(bench.noise_volt == 200e-6);
  }
}

TEST_CASE("defects are found on their board", "[tools][defects]") {
  const Defects defects = read(R"(defects:
  - open: [V1@bottom, TP1]
  - open: [V1@top, V1@bottom]
  - {high resistance: [U1.1, V1@top], value: 35 ohm}
  - {split: VBAT, off: [R1.1, U2.8]}
  - {short: [U1.1, U1.2], value: 0.4 ohm}
  - {short: [U1.5, TP1]}
  - {leakage: [U1.3, U1.4], value: 120k, note: dirt}
  - {voltage: [U1.8, GND], value: -2.1 V, behind: 1k}
  - {part: R1, value: 47k}
  - {no contact: U1.5}
  - {no contact: V1@top, stays: true}
bench: {contact: 40 mohm, noise: 200 uV, random: 7}
)");
  REQUIRE(defects.cuts.size() == 3);
  CHECK(ends(defects.cuts[0].segment) == "V1@bottom-TP1");
  CHECK(std::isinf(defects.cuts[0].ohm));
  CHECK(ends(defects.cuts[1].segment) == "V1@top-V1@bottom");
  CHECK(ends(defects.cuts[2].segment) == "U1.1@top-V1@top");
  CHECK(defects.cuts[2].ohm == 35);
  REQUIRE(defects.splits.size() == 1);
  CHECK(defects.splits[0].net == board().find_net("VBAT"));
  CHECK(defects.splits[0].off.size() == 2);
  REQUIRE(defects.bridges.size() == 3);
  CHECK(board().place_name(defects.bridges[0].a) == "U1.1@bottom");
  CHECK(board().place_name(defects.bridges[0].b) == "U1.2@bottom");
  CHECK(defects.bridges[0].ohm == 0.4);
  CHECK(defects.bridges[1].ohm == 0.1);
  CHECK(defects.bridges[2].ohm == 120e3);
  REQUIRE(defects.sources.size() == 1);
  CHECK(board()[defects.sources[0].b].net == board().find_net("GND"));
  CHECK(defects.sources[0].volt == -2.1);
  CHECK(defects.sources[0].ohm == 1000);
  REQUIRE(defects.part_values.size() == 1);
  CHECK(defects.part_values[0].ohm == 47e3);
  REQUIRE(defects.no_contacts.size() == 2);
  CHECK_FALSE(defects.no_contacts[0].stays);
  CHECK(defects.no_contacts[1].point == board().find_point("V1@top"));
  CHECK(defects.no_contacts[1].stays);
  CHECK(defects.contact_ohm == 0.04);
  CHECK(defects.noise_volt == 200e-6);
  CHECK(defects.random == 7);
}

TEST_CASE("of two tracks side by side each defect takes one", "[tools][defects]") {
  const Defects defects = read("defects:\n  - open: [U1.2, U2.2]\n  - open: [U2.2, U1.2]\n");
  REQUIRE(defects.cuts.size() == 2);
  CHECK(defects.cuts[0].segment != defects.cuts[1].segment);
  CHECK(complaint("defects:\n  - open: [U1.2, U2.2]\n  - open: [U1.2, U2.2]\n"
                  "  - open: [U1.2, U2.2]\n") ==
        "d.yaml:5:11: open: U1.2 to U2.2 has a defect already; expected one for each segment");
}

TEST_CASE("a member of unknown way beside a route can be split off", "[tools][defects]") {
  const Defects defects = read("defects:\n  - {split: HALF, off: [R1.2]}\n");
  REQUIRE(defects.splits.size() == 1);
  CHECK(defects.splits[0].off == std::vector<PointId>{*board().find_point("R1.2")});
}

TEST_CASE("each mistake of a defects file has its place and its sentence", "[tools][defects]") {
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"open: [V1@top, TP1]",
       "d.yaml:3:11: open: no segment joins V1@top and TP1; V1@top is joined with V1@bottom, "
       "U1.1@top"},
      {"open: [U1.8, U2.8]",
       "d.yaml:3:11: open: no segment joins U1.8 and U2.8; U1.8 is joined with U1.8@leg, VBAT (way "
       "unknown)"},
      {"open: [U1.3, U2.3]",
       "d.yaml:3:11: open: U1.3 and U2.3 are joined by more than one segment; say which: "
       "U1.3@bottom to U2.3@bottom, U1.3@top to U2.3@top"},
      {"open: [V9, TP1]",
       "d.yaml:3:12: there is no point V9 on this board; expected one such as U2.7, V12@bottom or "
       "TP3"},
      {"open: [V1]", "d.yaml:3:11: open: it lists 1 points; expected 2"},
      {"open: V1", "d.yaml:3:11: open: it is \"V1\"; expected a list, [U2.7, TP3]"},
      {"{open: [V1@bottom, TP1], value: 1 ohm}",
       "d.yaml:3:30: open: the key \"value\" is not known; expected one of open, note"},
      {"{split: VBAT}", "d.yaml:3:5: split: off is missing; expected off: [TP9]"},
      {"{split: VBUS, off: [TP2]}", "d.yaml:3:13: split: there is no net VBUS on this board"},
      {"{split: VBAT, off: [TP2]}", "d.yaml:3:25: split: TP2 is not in net VBAT"},
      {"{split: VBAT, off: [U1.8, U2.8, R1.1]}",
       "d.yaml:3:24: split: off must hold some points of net VBAT, not none and not all"},
      {"{split: HALF, off: [U1.7]}",
       "d.yaml:3:25: split: the copper of U1.7 in net HALF is known; expected open: [U1.7, …], "
       "with the segment that is cut"},
      {"{split: VBAT, off: []}",
       "d.yaml:3:24: split: off must hold some points of net VBAT, not none and not all"},
      {"{short: [U1.1, U1.2], value: 0 ohm}",
       "d.yaml:3:34: short: value is 0; expected more, such as 0.1 ohm"},
      {"{short: [U1.1, U1.2], value: 4}",
       "d.yaml:3:34: short: value is \"4\"; expected a value such as 120k or 35 ohm"},
      {"{short: [TP1, TP1]}", "d.yaml:3:13: short: TP1 and TP1 are the same place; expected two"},
      {"{leakage: [U1.1, U1.2]}",
       "d.yaml:3:5: leakage: value is missing; expected value: 120k or 35 ohm"},
      {"{voltage: [U1.1, GND]}", "d.yaml:3:5: voltage: value is missing; expected value: 2.1 V"},
      {"{voltage: [U1.1, GND], value: 500 V}",
       "d.yaml:3:35: voltage: value is 500 V; expected -100 to 100 V"},
      {"{part: R9, value: 1k}", "d.yaml:3:12: part: there is no part R9 on this board"},
      {"{part: U1, value: 1k}",
       "d.yaml:3:12: part: U1 is of kind ic; another value of it is not simulated by this version; "
       "leave "
       "it out"},
      {"{no contact: V1}",
       "d.yaml:3:18: no contact: there is no point V1 on this board; expected one such as U2.7, "
       "V12@bottom or TP3"},
      {"{part: R1, value: shut}",
       "d.yaml:3:23: part: value is \"shut\"; expected a value such as 120k or 35 ohm"},
      {"{part: R1}", "d.yaml:3:5: part: value is missing; expected value: 120k or 35 ohm"},
      {"{short: [U1.1, U1.2], value: open}",
       "d.yaml:3:34: short: value is \"open\"; expected a value such as 120k or 35 ohm"},
      {"{intermittent: [V1@top, V1@bottom], every: 250 ms}",
       "d.yaml:3:5: intermittent: open for is missing; expected open for: 8 us"},
      {"{intermittent: [V1@top, V1@bottom], open for: 8 us}",
       "d.yaml:3:5: intermittent: every is missing; expected every: 250 ms"},
      {"{intermittent: [V1@top, V1@bottom], open for: 8, every: 250 ms}",
       "d.yaml:3:51: intermittent: open for is \"8\"; expected a value such as 8 us"},
      {"{intermittent: [V1@top, V1@bottom], open for: 0 us, every: 250 ms}",
       "d.yaml:3:51: intermittent: open for is 0; expected more, such as 8 us"},
      {"{intermittent: [V1@top, V1@bottom], open for: 1 s, every: 250 ms}",
       "d.yaml:3:51: intermittent: open for is 1 s and every is 0.25 s; expected it shorter"},
      {"{intermittent: [V1@top, TP1], open for: 8 us, every: 250 ms}",
       "d.yaml:3:20: intermittent: no segment joins V1@top and TP1; V1@top is joined with "
       "V1@bottom, U1.1@top"},
      {"{voltage: [U1.1, GND], value: 9 V, hertz: 0}",
       "d.yaml:3:47: voltage: hertz is \"0\"; expected a number from 1 to 1000"},
      {"{voltage: [U1.1, GND], value: 9 V, through: copper}",
       "d.yaml:3:49: voltage: through is \"copper\"; expected one of silicon, germanium, Schottky"},
      {"{earthed: [GND]}",
       "d.yaml:3:15: earthed: it holds a list; expected the name of a point, such as U2.7 or TP3"},
      {"{earthed: TP9}",
       "d.yaml:3:15: there is no point TP9 on this board; expected one such as U2.7, V12@bottom or "
       "TP3"},
      {"{earthed: GND, value: 0 ohm}",
       "d.yaml:3:27: earthed: value is 0; expected more, such as 0.1 ohm"},
      {"{switch: S2, stuck: out}", "d.yaml:3:14: switch: there is no part S2 on this board"},
      {"{switch: R1, stuck: out}",
       "d.yaml:3:14: switch: R1 is no switch with positions on this board"},
      {"{switch: S1}",
       "d.yaml:3:5: switch: nothing is wrong with it; expected stuck: POSITION or contact: [1, 2], "
       "value: 40 ohm"},
      {"{switch: S1, stuck: half}",
       "d.yaml:3:25: switch: stuck is \"half\"; expected one of out, in"},
      {"{switch: S1, contact: [1, 2]}",
       "d.yaml:3:5: switch: value is missing; expected value: 120k or 35 ohm"},
      {"{switch: S1, value: 40 ohm}",
       "d.yaml:3:5: switch: contact is missing; expected contact: [1, 2]"},
      {"{switch: S1, contact: [1, 3], value: 40 ohm}",
       "d.yaml:3:27: switch: S1 joins pins 1 and 3 in no position; expected neighbours in one of "
       "its groups"},
      {"{switch: S1, contact: [1, 9], value: 40 ohm}", "d.yaml:3:31: switch: S1 has no pin 9"},
      {"{switch: S1, contact: [1], value: 40 ohm}",
       "d.yaml:3:27: switch: contact lists 1 pins; expected 2"},
      {"{brocken: [V1@top, V1@bottom]}",
       "d.yaml:3:5: this defect is not known; expected one of open, split, short, leakage, wire, "
       "high resistance, intermittent, voltage, earthed, part, switch, no contact"},
      {"open",
       "d.yaml:3:5: this defect is not known; expected one of open, split, short, leakage, wire, "
       "high resistance, intermittent, voltage, earthed, part, switch, no contact"}};
  for (const auto& [defect, expected] : rows) {
    INFO(defect);
    CHECK(complaint("defects:\n  - " + defect + "\n") == expected);
  }
}

TEST_CASE("each mistake of a bench has its place and its sentence", "[tools][defects]") {
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"{bounce: 6 ms}",
       "d.yaml:2:9: bench: bounce is not simulated by this version; leave it out"},
      {"{hmu: 0.1 V}",
       "d.yaml:2:9: bench: the key \"hmu\" is not known; expected one of like, contact, contact "
       "spread, noise, offset, gain error, reference error, switch spread, leakage, hum, hum "
       "hertz, lead capacitance, random, note"},
      {"perfect", "d.yaml:2:8: bench is \"perfect\"; expected one of reference"},
      {"{like: new}", "d.yaml:2:15: bench: like is \"new\"; expected one of reference"},
      {"{contact: 25, noise: -1 V, random: -1}",
       "d.yaml:2:18: bench: contact is \"25\"; expected a value such as 25 mohm\n"
       "d.yaml:2:29: bench: noise is -1 V; expected 0 to 100 V\n"
       "d.yaml:2:43: bench: random is \"-1\"; expected a whole number from 0 to 2147483647"},
      {"{gain error: 60%}", "d.yaml:2:21: bench: gain error is 60 %; expected 0 to 50 %"},
      {"{leakage: 1 V}", "d.yaml:2:18: bench: leakage is \"1 V\"; expected a value such as 1 nA"},
      {"{leakage: 2 mA}", "d.yaml:2:18: bench: leakage is 2000 uA; expected 0 to 1000 uA"},
      {"{lead capacitance: 2 uF}",
       "d.yaml:2:27: bench: lead capacitance is 2 uF; expected 0 to 1 uF"},
      {"{hum hertz: 0}",
       "d.yaml:2:20: bench: hum hertz is \"0\"; expected a number from 1 to 1000"}};
  for (const auto& [bench, expected] : rows) {
    INFO(bench);
    CHECK(complaint("bench: " + bench + "\n") == expected);
  }
}

TEST_CASE("another kind of file is no defects file", "[tools][defects]") {
  Diagnostics diagnostics("d.yaml");
  CHECK_THROWS_WITH(read_defects("padwalk: board/1\n", board(), diagnostics),
                    "d.yaml:1:10: this file is board/1; expected defects/1");
}

TEST_CASE("every defects file of the demo fits its boards and says what to expect",
          "[tools][defects]") {
  const std::filesystem::path folder = PADWALK_SOURCE_DIR "/boards/tide-gauge";
  int files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const std::string name = entry.path().filename();
    if (name.rfind("board", 0) == 0 || name == "fixtures.yaml") {
      continue;
    }
    INFO(name);
    ++files;
    const std::string text = read_file(entry.path());
    CHECK(text.rfind("# ", 0) == 0);
    CHECK(text.find("sweep") < text.find("\npadwalk:"));
    for (const char* board_file : {"board.yaml", "board-bare.yaml"}) {
      Diagnostics diagnostics(name);
      const Board demo(read_board(read_file(folder / board_file), diagnostics), diagnostics);
      read_defects(text, demo, diagnostics);
      CHECK_NOTHROW(diagnostics.throw_if_errors());
    }
  }
  CHECK(files > 20);
}

TEST_CASE("the examples in FORMAT.md are a good board and its defects", "[tools][defects]") {
  const std::string text = read_file(PADWALK_SOURCE_DIR "/boards/FORMAT.md");
  const std::string fence = "```yaml\n";
  std::vector<std::string> examples;
  for (std::size_t at = text.find(fence); at != std::string::npos; at = text.find(fence, at)) {
    at += fence.size();
    examples.push_back(text.substr(at, text.find("```", at) - at));
  }
  REQUIRE(examples.size() == 6);  // the last is a fixtures file: tests/graph/fixtures_test.cpp
  Diagnostics diagnostics("FORMAT.md");
  BoardDescription description = read_board(examples[0] + examples[1] + examples[2], diagnostics);
  diagnostics.throw_if_errors();
  const Board example_board(std::move(description), diagnostics);
  const Defects defects = read_defects(examples[3], example_board, diagnostics);
  read_defects(examples[4], example_board, diagnostics);
  diagnostics.throw_if_errors();
  CHECK(diagnostics.warnings().empty());
  CHECK(defects.cuts.size() == 2);
  CHECK(defects.bridges.size() == 2);
  CHECK(defects.intermittents.size() == 1);
  CHECK(defects.sources.size() == 2);
  CHECK(defects.earths.size() == 1);
  CHECK(defects.stuck_switches.size() == 1);
  CHECK(defects.worn_contacts.size() == 1);
  CHECK(defects.hum_volt == 0.2);
  CHECK(defects.noise_volt == 200e-6);
}

TEST_CASE("a lead's contact may come and go", "[tools][defects]") {
  Diagnostics diagnostics("d.yaml");
  const Defects defects = read_defects(
      "padwalk: defects/1\ndefects: [{no contact: U1.1, open for: 2 ms, every: 0.1 s}]\n", board(),
      diagnostics);
  REQUIRE(defects.no_contacts.size() == 1);
  CHECK(defects.no_contacts[0].open_s == 2e-3);
  CHECK(defects.no_contacts[0].every_s == 0.1);
}
