// SPDX-License-Identifier: MIT
#include "graph/board_yaml.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "graph/yaml_text.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;

namespace {

const std::string kHead = "padwalk: board/1\n";

/// The example of the format's description, whole.
const std::string kExample = kHead + R"(name: Tide gauge logger, main board
state: assembled
layers: 2
limits: {isolation: 10 kohm}
note: from the harbour office
parts:
  U2: {kind: ic, type: "74138", package: DIP-16, xy: [30.0, 22.5], rotation: 90, chip: socketed}
  R7: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm, xy: [52, 20]}
  S1: {kind: switch, package: row 3, xy: [80, 5], positions: {out: [[1, 2]], in: [[2, 3]]}, momentary: true}
  S2: {kind: switch, package: row 2, positions: {off: [], on: [[1, 2]]}}
  X1: {side: bottom, access: tip, pins: {1: [1, 2], A2: {xy: [3, 4], side: top, access: none, pad: [1.5, 0.6]}}}
points:
  TP3: {xy: [12.0, 40.6], side: bottom}
  TP4: {}
  TP5:
  V12: {xy: [41.2, 18.0], via: [top, bottom], access: [tip, none], drive: never}
  V13: {via: [top, inner2], access: clip, pad: [1, 2], note: "filled # with: solder"}
nets:
  TIDE_CLK:
    route:
      - [U2.7, V12, R7.1]
      - {side: bottom, chain: [V12@bottom, TP3]}
    also: [U9.3]
  VBAT: [R8.1, TP9]
  GND: {role: ground, points: [U2.8, R9.2]}
  VCC: {role: supply, points: [U2.16, R8.2], drive: never, note: 5 V}
wires:
  W1: {between: [U2.7, TP3], gauge: 30, length: 45 mm, note: second try}
  W2: {between: [R8.1, TP9]}
copper:
  - {between: [V12@bottom, TP3], width: 0.4 mm, length: 31 mm}
  - {between: [U2.7, V12], count: 2, name: pair, note: both sides}
regions:
  under the cell: {side: bottom, polygon: [[0, 0], [25, 0], [25, 30], [0, 30]], suspicion: 5}
)";

BoardDescription read_text(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  BoardDescription board = read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  return board;
}

std::string complaint_about(const std::string& text) {
  return padwalk::test::complaint_of([&] { read_text(text); });
}

std::vector<std::string> names(const std::vector<Reference>& references) {
  std::vector<std::string> all;
  for (const Reference& reference : references) {
    all.push_back(reference.name);
  }
  return all;
}

using NameList = std::vector<std::string>;

void check_round_trip(const BoardDescription& board) {
  const std::string text = write_board(board);
  INFO(text);
  BoardDescription again;
  REQUIRE_NOTHROW(again = read_text(text));
  CHECK(without_marks(again) == without_marks(board));
  CHECK(write_board(again) == text);
}

}  // namespace

TEST_CASE("a board file is read field by field", "[graph][board_yaml]") {
  const BoardDescription board = read_text(kExample);
  CHECK(board.name == "Tide gauge logger, main board");
  CHECK(board.state == BoardState::assembled);
  CHECK(board.isolation_ohm == 10e3);
  CHECK(board.note == "from the harbour office");

  REQUIRE(board.parts.size() == 5);
  const PartDescription& chip = board.parts[0];
  CHECK(chip.name == "U2");
  CHECK(chip.mark == Mark{8, 3});
  CHECK(chip.kind == PartKind::ic);
  CHECK(chip.type == "74138");
  CHECK(chip.package == "DIP-16");
  CHECK(chip.xy == Xy{30, 22.5});
  CHECK(chip.rotation == 90);
  CHECK(chip.chip == ChipState::socketed);
  CHECK(board.parts[1].value == "4k7");
  CHECK(board.parts[1].tolerance == "5%");
  const PartDescription& button = board.parts[2];
  CHECK(button.momentary);
  REQUIRE(button.positions.size() == 2);
  CHECK(button.positions[0].name == "out");
  CHECK(button.positions[1].joined == std::vector<NameList>{{"2", "3"}});
  CHECK(board.parts[3].positions[0].joined.empty());
  const PartDescription& crystal = board.parts[4];
  CHECK(crystal.side == Side::bottom);
  CHECK(crystal.access == Access::tip);
  REQUIRE(crystal.pins.size() == 2);
  CHECK(crystal.pins[0].name == "1");
  CHECK(crystal.pins[0].xy == Xy{1, 2});
  CHECK(crystal.pins[1].name == "A2");
  CHECK(crystal.pins[1].side == Side::top);
  CHECK(crystal.pins[1].access == Access::none);
  CHECK(crystal.pins[1].pad == Xy{1.5, 0.6});

  REQUIRE(board.points.size() == 5);
  CHECK(board.points[0].side == Side::bottom);
  CHECK(board.points[2].name == "TP5");
  CHECK(board.points[3].via == std::vector<Side>{Side::top, Side::bottom});
  CHECK(board.points[3].access == std::vector<Access>{Access::tip, Access::none});
  CHECK(board.points[3].drive_never);
  CHECK(board.points[4].via == std::vector<Side>{Side::top, inner_side(2)});
  CHECK(board.points[4].note == "filled # with: solder");

  REQUIRE(board.nets.size() == 4);
  const NetDescription& clock = board.nets[0];
  REQUIRE(clock.route.size() == 2);
  CHECK(names(clock.route[0].points) == NameList{"U2.7", "V12", "R7.1"});
  CHECK(clock.route[0].points[1].mark == Mark{22, 16});
  CHECK(clock.route[1].side == Side::bottom);
  CHECK(names(clock.members) == NameList{"U9.3"});
  CHECK(names(board.nets[1].members) == NameList{"R8.1", "TP9"});
  CHECK(board.nets[2].role == NetRole::ground);
  CHECK(board.nets[3].role == NetRole::supply);
  CHECK(board.nets[3].drive_never);

  REQUIRE(board.wires.size() == 2);
  CHECK(board.wires[0].name == "W1");
  CHECK(board.wires[0].between[1].name == "TP3");
  CHECK(board.wires[0].gauge == 30);
  CHECK(board.wires[0].length_mm == 45);
  CHECK(board.wires[0].note == "second try");
  CHECK_FALSE(board.wires[1].gauge);

  REQUIRE(board.copper.size() == 2);
  CHECK(board.copper[0].width_mm == 0.4);
  CHECK(board.copper[0].length_mm == 31);
  CHECK(board.copper[1].count == 2);
  REQUIRE(board.regions.size() == 1);
  CHECK(board.regions[0].name == "under the cell");
  CHECK(board.regions[0].polygon.size() == 4);
  CHECK(board.regions[0].suspicion == 5);
}

TEST_CASE("the smallest board file has its first line only", "[graph][board_yaml]") {
  CHECK(without_marks(read_text(kHead)) == BoardDescription{});
  CHECK(read_text(kHead + "parts:\nnets:\npoints: {}\ncopper: []\n") == BoardDescription{});
}

TEST_CASE("each mistake has its place and its sentence", "[graph][board_yaml]") {
  // Text behind the first line, and what is said about it.
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"layer: 2\n",
       "b.yaml:2:1: the key \"layer\" is not known; expected one of padwalk, name, state, layers, "
       "limits, note, parts, points, nets, wires, copper, regions, neighbours"},
      {"layers: 17\n", "b.yaml:2:9: layers is \"17\"; expected a whole number from 1 to 16"},
      {"layers: 1.5\n", "b.yaml:2:9: layers is \"1.5\"; expected a whole number from 1 to 16"},
      {"state: used\n", "b.yaml:2:8: state is \"used\"; expected one of assembled, bare"},
      {"name: [a]\n", "b.yaml:2:7: name is a list; expected a word or a text"},
      {"name: \"\"\n", "b.yaml:2:7: name is empty; expected a word or a text"},
      {"limits: {isolation: 10}\n",
       "b.yaml:2:21: limits: isolation is \"10\"; expected a value such as 10 kohm"},
      {"limits: {isolation: 0 ohm}\n", "b.yaml:2:21: limits: isolation is 0; expected more"},
      {"limits: {class: best}\n",
       "b.yaml:2:17: limits: class is \"best\"; expected one of IPC-9252A level A, IPC-9252A level "
       "B, IPC-9252A level C, MIL-PRF-55110G, MIL-PRF-50884F"},
      {"limits: {isolation: 1 kohm, class: MIL-PRF-55110G}\n",
       "b.yaml:2:36: limits: isolation and class are both given; expected one of them"},
      {"parts: [U1]\n",
       "b.yaml:2:8: parts is a list; expected names with what they are, one a line"},
      {"parts:\n  U1: DIP-16\n",
       "b.yaml:3:7: part U1: found \"DIP-16\"; expected a map with some of the keys kind, type, "
       "value, tolerance, package, xy, rotation, side, chip, pins, positions, momentary, access, "
       "note"},
      {"parts:\n  ~: {}\n",
       "b.yaml:3:3: a name in parts is empty; write one, in quotes if it is ~ or null"},
      {"parts:\n  U1: {kind: chip}\n",
       "b.yaml:3:14: part U1: kind is \"chip\"; expected one of resistor, network, capacitor, "
       "inductor, diode, transistor, switch, fuse, ic, connector, relay, transformer, crystal, "
       "pot, lamp, link, meter, other"},
      {"parts:\n  R1: {kind: resistor, value: 4700}\n",
       "b.yaml:3:31: part R1: value is \"4700\"; expected a value such as 4k7 or 4700 ohm"},
      {"parts:\n  C1: {kind: capacitor, value: 4k7}\n",
       "b.yaml:3:32: part C1: value is \"4k7\"; expected a value such as 100n or 4.7 uF"},
      {"parts:\n  L1: {value: 4k7, kind: inductor}\n",
       "b.yaml:3:15: part L1: value is \"4k7\"; expected a value such as 10u or 2.2 mH"},
      {"parts:\n  R1: {value: [4k7], kind: resistor}\n",
       "b.yaml:3:15: part R1: value is a list; expected a word or a text"},
      {"parts:\n  R1: {tolerance: 5}\n",
       "b.yaml:3:19: part R1: tolerance is \"5\"; expected a value such as 5%"},
      {"parts:\n  U1: {package: DIP-24}\n",
       "b.yaml:3:17: part U1: DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch"},
      {"parts:\n  U1: {xy: [1]}\n",
       "b.yaml:3:12: part U1: xy is a list of 1; expected two numbers in mm, [x, y]"},
      {"parts:\n  U1: {xy: 1}\n",
       "b.yaml:3:12: part U1: xy is \"1\"; expected two numbers in mm, [x, y]"},
      {"parts:\n  U1: {xy: [1, inf]}\n",
       "b.yaml:3:16: part U1: xy is \"inf\"; expected a number from -100000 to 100000"},
      {"parts:\n  U1: {xy: [1, .nan]}\n",
       "b.yaml:3:16: part U1: xy is \".nan\"; expected a number from -100000 to 100000"},
      {"parts:\n  U1: {xy: [1, 1e9]}\n",
       "b.yaml:3:16: part U1: xy is \"1e9\"; expected a number from -100000 to 100000"},
      {"parts:\n  U1: {xy: [1, 2 mm]}\n",
       "b.yaml:3:16: part U1: xy is \"2 mm\"; expected a number from -100000 to 100000"},
      {"parts:\n  U1: {rotation: 400}\n",
       "b.yaml:3:18: part U1: rotation is 400; expected -360 to 360 degrees"},
      {"parts:\n  U1: {rotation: left}\n",
       "b.yaml:3:18: part U1: rotation is \"left\"; expected a value such as 90 (degrees)"},
      {"parts:\n  U1: {side: inner1}\n", "b.yaml:3:14: part U1: a part sits on top or bottom"},
      {"parts:\n  U1: {side: left}\n",
       "b.yaml:3:14: part U1: side is \"left\"; expected one of top, bottom, inner1 … inner14"},
      {"parts:\n  U1: {chip: gone}\n",
       "b.yaml:3:14: part U1: chip is \"gone\"; expected one of soldered, socketed, pulled"},
      {"parts:\n  U1: {pins: [1, 2]}\n",
       "b.yaml:3:14: part U1: pins is not a map; expected pins: {1: [x, y], 2: {xy: [x, y], side: "
       "top}}"},
      {"parts:\n  U1: {pins: {1: here}}\n",
       "b.yaml:3:18: part U1, pin 1: found \"here\"; expected a map with some of the keys xy, "
       "side, access, pad, note"},
      {"parts:\n  S1: {positions: [[1, 2]]}\n",
       "b.yaml:3:19: part S1: positions is not a map; expected positions: {out: [[1, 2]], in: "
       "[[2, 3]]}"},
      {"parts:\n  S1: {positions: {out: [1, 2]}}\n",
       "b.yaml:3:26: part S1: a position is \"1\"; expected a list, [[1, 2]], or [] where no pins "
       "are joined\n"
       "b.yaml:3:29: part S1: a position is \"2\"; expected a list, [[1, 2]], or [] where no pins "
       "are joined"},
      {"parts:\n  S1: {positions: {out: [[1]]}}\n",
       "b.yaml:3:26: part S1: a position joins one pin with nothing; expected two pins or more"},
      {"parts:\n  S1: {momentary: perhaps}\n",
       "b.yaml:3:19: part S1: momentary is \"perhaps\"; expected one of false, true, no, yes"},
      {"parts:\n  J1: {access: never}\n",
       "b.yaml:3:16: part J1: access is \"never\"; expected one of clip, tip, none"},
      {"points:\n  TP1: {via: [top]}\n",
       "b.yaml:3:14: point TP1: via lists 1 sides; expected two different ones or more, [top, "
       "bottom]"},
      {"points:\n  V1: {via: [top, top]}\n",
       "b.yaml:3:13: point V1: via lists 2 sides; expected two different ones or more, [top, "
       "bottom]"},
      {"points:\n  V1: {via: [top, inner15]}\n",
       "b.yaml:3:19: point V1: via is \"inner15\"; expected one of top, bottom, inner1 … inner14"},
      {"points:\n  V1: {via: top}\n",
       "b.yaml:3:13: point V1: via is \"top\"; expected a list, [top, bottom]"},
      {"points:\n  V1: {via: [top, bottom], side: top}\n",
       "b.yaml:3:34: point V1: a via has both sides of via; leave side out"},
      {"points:\n  V1: {via: [top, bottom], access: [tip, tip, tip]}\n",
       "b.yaml:3:36: point V1: access lists 3 words; expected one for each side of the via"},
      {"points:\n  TP1: {access: [tip, none]}\n",
       "b.yaml:3:17: point TP1: access lists 2 words; expected one"},
      {"points:\n  TP1: {drive: always}\n",
       "b.yaml:3:16: point TP1: drive is \"always\"; expected one of never"},
      {"nets:\n  A:\n",
       "b.yaml:3:3: net \"A\": found no list of points; expected [U2.7, TP3], or {route: [[U2.7, "
       "TP3]]}"},
      {"nets:\n  A: [U1.1, [U1.2]]\n",
       "b.yaml:3:13: net \"A\": the net holds a list; expected the name of a point, such as U2.7 "
       "or TP3"},
      {"nets:\n  A: [U1.1, ~]\n",
       "b.yaml:3:13: net \"A\": the net holds nothing; expected the name of a point, such as U2.7 "
       "or TP3"},
      {"nets:\n  A: {route: [U1.1, U1.2]}\n",
       "b.yaml:3:15: net \"A\": route holds a name; expected chains, [[U2.7, TP3], [TP3, U4.1]]\n"
       "b.yaml:3:21: net \"A\": route holds a name; expected chains, [[U2.7, TP3], [TP3, U4.1]]"},
      {"nets:\n  A: {route: [{side: top}]}\n",
       "b.yaml:3:15: net \"A\", chain: the points are missing; expected {side: bottom, chain: "
       "[U2.7, TP3]}"},
      {"nets:\n  A: {role: power}\n",
       "b.yaml:3:13: net \"A\": role is \"power\"; expected one of signal, ground, supply"},
      {"nets:\n  A: {members: [U1.1]}\n",
       "b.yaml:3:7: net \"A\": the key \"members\" is not known; expected one of route, also, "
       "points, role, drive, note"},
      {"wires:\n  W1: {gauge: 30}\n",
       "b.yaml:3:7: wire W1: between is missing; expected between: [U2.7, TP3]"},
      {"wires:\n  W1: {between: [A, B], gauge: 41}\n",
       "b.yaml:3:32: wire W1: gauge is \"41\"; expected a whole number from 0 to 40"},
      {"wires:\n  W1: {between: [A, B], length: 0 mm}\n",
       "b.yaml:3:33: wire W1: length is 0 mm; expected more than 0, up to 100000 mm"},
      {"copper:\n  - {width: 1 mm}\n",
       "b.yaml:3:5: copper: between is missing; expected between: [U2.7, TP3]"},
      {"copper:\n  - {between: [A]}\n", "b.yaml:3:15: copper: between lists 1 points; expected 2"},
      {"copper:\n  - {between: [A, B], width: 0.4}\n",
       "b.yaml:3:30: copper: width is \"0.4\"; expected a value such as 0.4 mm"},
      {"copper:\n  - {between: [A, B], length: 0 mm}\n",
       "b.yaml:3:31: copper: length is 0 mm; expected more than 0, up to 100000 mm"},
      {"copper:\n  - {between: [A, B], count: 0}\n",
       "b.yaml:3:30: copper: count is \"0\"; expected a whole number from 1 to 100"},
      {"regions:\n  cell: {side: top}\n",
       "b.yaml:3:9: region cell: polygon is missing; expected corners, [[0, 0], [25, 0], [25, "
       "30]]"},
      {"regions:\n  cell: {polygon: [[0, 0], [1, 1]]}\n",
       "b.yaml:3:19: region cell: polygon has 2 corners; expected 3 or more"},
      {"regions:\n  cell: {polygon: [[0, 0], [1, 1], [1, 0]], suspicion: 0}\n",
       "b.yaml:3:56: region cell: suspicion is 0; expected a factor above 0, such as 5"},
      {"regions:\n  cell: {polygon: [[0, 0], [1, 1], [1, 0]], suspicion: -1}\n",
       "b.yaml:3:56: region cell: suspicion is \"-1\"; expected a number from 0 to 1000000"},
      {"nets:\n  A: [U1.1]\n  B: [U1.2]\n  A: [U1.3]\n",
       "b.yaml:5:3: \"A\" stands here and in line 3; expected once"},
  };
  for (const auto& [text, expected] : rows) {
    INFO(text);
    CHECK(complaint_about(kHead + text) == expected);
  }
}

TEST_CASE("rule 5: an assembled board takes no isolation limit above 100 kohm",
          "[graph][board_yaml]") {
  const std::string sentence =
      "expected at most 100 kohm on an assembled board, whose chips let a little through at 0.2 V; "
      "state: bare takes more";
  CHECK(complaint_about(kHead + "limits: {isolation: 2 Mohm}\n") ==
        "b.yaml:2:21: limits: isolation is \"2 Mohm\"; " + sentence);
  // Wherever state stands in the file.
  CHECK(complaint_about(kHead + "limits: {isolation: 101k}\nstate: assembled\n") ==
        "b.yaml:2:21: limits: isolation is \"101k\"; " + sentence);
  CHECK(read_text(kHead + "limits: {isolation: 100k}\n").isolation_ohm == 100e3);
  CHECK(read_text(kHead + "limits: {isolation: 100 kohm}\n").isolation_ohm == 100e3);
  CHECK(read_text(kHead + "limits: {isolation: 2 Mohm}\nstate: bare\n").isolation_ohm == 2e6);
}

TEST_CASE("all mistakes are said in one run, in file order", "[graph][board_yaml]") {
  CHECK(complaint_about(kHead + "layers: 99\n"
                                "parts:\n"
                                "  U1: {kind: chip, package: DIP-17}\n"
                                "nets:\n"
                                "  A: {role: power, points: [[x]]}\n"
                                "  A: {role: king}\n") ==
        "b.yaml:2:9: layers is \"99\"; expected a whole number from 1 to 16\n"
        "b.yaml:4:14: part U1: kind is \"chip\"; expected one of resistor, network, capacitor, "
        "inductor, diode, transistor, switch, fuse, ic, connector, relay, transformer, crystal, "
        "pot, lamp, link, meter, other\n"
        "b.yaml:4:29: part U1: package DIP-17 does not exist; a DIP has an even number of pins, 4 "
        "to 64\n"
        "b.yaml:6:13: net \"A\": role is \"power\"; expected one of signal, ground, supply\n"
        "b.yaml:6:29: net \"A\": points holds a list; expected the name of a point, such as U2.7 "
        "or TP3\n"
        "b.yaml:7:3: \"A\" stands here and in line 6; expected once\n"
        "b.yaml:7:13: net \"A\": role is \"king\"; expected one of signal, ground, supply");
}

TEST_CASE("of a million mistakes the first thousand are said", "[graph][board_yaml]") {
  std::string text = kHead;
  for (int i = 0; i < 2500; ++i) {
    text += 'k' + std::to_string(i) + ": 1\n";
  }
  const std::string said = complaint_about(text);
  CHECK(std::count(said.begin(), said.end(), '\n') == 1000);
  CHECK_THAT(said, Catch::EndsWith("\nb.yaml: and 1500 more mistakes"));
}

TEST_CASE("a file of another kind is refused", "[graph][board_yaml]") {
  CHECK(complaint_about("padwalk: board/2\n") ==
        "b.yaml:1:10: this file is board/2, which this program does not know; expected board/1");
  CHECK(complaint_about("") ==
        "b.yaml:1:1: this is not a padwalk file; expected \"padwalk: board/1\" as its first line");
}

TEST_CASE("what is written is read back the same", "[graph][board_yaml]") {
  check_round_trip(read_text(kExample));
  check_round_trip({});
  BoardDescription board = read_text(kExample);
  board.isolation_ohm.reset();
  board.limit_class = "IPC-9252A level B";
  board.state = BoardState::bare;
  board.layers = 4;
  check_round_trip(board);
}

TEST_CASE("a net is one line, a known way a route, an unknown way a list", "[graph][board_yaml]") {
  const std::string text = write_board(read_text(kExample));
  CHECK_THAT(text, Catch::Contains("\n  TIDE_CLK: {route: [[U2.7, V12, R7.1], {side: bottom, "
                                   "chain: [V12@bottom, TP3]}], also: [U9.3]}\n"));
  CHECK_THAT(text, Catch::Contains("\n  VBAT: [R8.1, TP9]\n"));
  CHECK_THAT(text, Catch::Contains("\n  GND: {role: ground, points: [U2.8, R9.2]}\n"));
  CHECK_THAT(text, Catch::Contains("\n  U2: {kind: ic, type: \"74138\", package: DIP-16, xy: [30, "
                                   "22.5], rotation: 90, chip: socketed}\n"));
  CHECK_THAT(text, Catch::Contains("\n  TP4: {}\n"));
}

TEST_CASE("names that YAML would take for something else are quoted", "[graph][board_yaml]") {
  const std::vector<std::string> awkward = {
      "N/C",   "+5V",    "/RESET",  "{",      "#",      "yes",         "1e3",    "~",
      "-",     "-12V",   "- a",     "a: b",   "a #b",   "a:",          ":a",     "#RESET",
      "[x]",   "a,b",    "&x",      "*x",     "!x",     "|",           ">",      "'",
      "\"",    "%x",     "@x",      "`x`",    "\\",     " x",          "x ",     "a  b",
      "null",  "True",   "OFF",     "N",      "=",      "<<",          "?",      "? a",
      "0x1F",  "1_000",  "007",     "1.5",    ".5",     "+5",          ".inf",   "2026-11-25",
      "12:30", "GND{2}", "DF_ RTS", "a\tb",   "a\nb",   "M\u00fcller", "\u03a9", "x'y",
      "a\"b",  "U1.2~3", "net(3)",  "---",    "...",    "REF**",       "a{b",    "a]",
      "$x",    "a\x01z", "a\x7fz",  "\u0085", "\u2028", "a\\nb",       "%YAML",  "a>b|c"};
  BoardDescription board;
  board.name = "a: b # c";
  for (const std::string& name : awkward) {
    NetDescription net;
    net.name = name;
    for (const std::string& member : awkward) {
      net.members.push_back({member, {}});
    }
    board.nets.push_back(net);
    PartDescription part;
    part.name = name;
    part.type = name;
    part.note = name;
    part.pins.push_back({name, Xy{1, 2}, Side::unknown, {}, {}, {}, {}});
    part.positions.push_back({name, {{name, "2"}}});
    board.parts.push_back(part);
    PointDescription point;
    point.name = name;
    board.points.push_back(point);
  }
  check_round_trip(board);
  for (const std::string plain : {"N/C", "+5V", "/RESET", "DF_ RTS", "U2.7", "V12@top", "4k7"}) {
    CHECK(yaml_text(plain) == plain);
  }
  for (const std::string quoted : {"{", "#", "yes", "1e3", "~", "-12V", "x ", "N", "12:30"}) {
    CHECK(yaml_text(quoted) == "\"" + quoted + "\"");
  }
  CHECK(yaml_pin("12") == "12");
  CHECK(yaml_pin("012") == "\"012\"");
  CHECK(yaml_text("M\xfcller") == "\"M\\xfcller\"");
}

TEST_CASE("numbers come back as they were", "[graph][board_yaml]") {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> position(-300, 300);
  BoardDescription board;
  board.state = BoardState::bare;  // rule 5 of an assembled board: no such isolation limits
  for (int i = 0; i < 500; ++i) {
    PointDescription point;
    point.name = "TP" + std::to_string(i);
    point.xy = Xy{position(random), position(random) * 1e-7};
    board.points.push_back(point);
    CopperDescription copper;
    copper.between = {Reference{"A", {}}, Reference{"B", {}}};
    copper.width_mm = std::abs(position(random)) * 1e-3;
    copper.length_mm = std::abs(position(random));
    board.copper.push_back(copper);
    board.isolation_ohm = std::abs(position(random)) * 1e5;
  }
  check_round_trip(board);
}

TEST_CASE("a mutated board file is read or refused, never worse", "[graph][board_yaml]") {
  constexpr unsigned kSeed = 20261125;
  std::mt19937 random(kSeed);
  const std::string pieces[] = {"[",  "]",  "{",  "}",  ": ", ", ",   "- ",   "#",
                                "\"", "'",  "\n", "  ", "&",  "*",    "!",    "|",
                                ">",  "? ", "~",  "%",  "\t", "\xff", "1e999"};
  int read_well = 0;
  for (int round = 0; round < 2000; ++round) {
    INFO("seed " << kSeed << ", round " << round);
    std::string text = kExample;
    for (unsigned changes = 1 + random() % 4; changes > 0; --changes) {
      const std::size_t at = random() % text.size();
      const std::size_t length = std::min<std::size_t>(random() % 12, text.size() - at);
      switch (random() % 4) {
        case 0:
          text.erase(at, length);
          break;
        case 1:
          text.insert(at, pieces[random() % std::size(pieces)]);
          break;
        case 2:
          text.insert(at, text.substr(random() % text.size(), length));
          break;
        default:
          text[at] = static_cast<char>(random());
      }
      text += '\n';  // never empty
    }
    Diagnostics diagnostics("b.yaml");
    try {
      const BoardDescription board = read_board(text, diagnostics);
      if (diagnostics.errors().empty()) {
        ++read_well;
        check_round_trip(board);
      }
    } catch (const BadFile& bad) {
      CHECK(std::string(bad.what()).substr(0, 6) == "b.yaml");
    }
  }
  CHECK(read_well > 100);
}
