// SPDX-License-Identifier: MIT
//
// What parts should show between nets, on small boards. Values are worked out by hand or, for the
// ring, exact rationals from outside this code.
#include "graph/part_ohms.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;
using padwalk::test::small_board;

ExpectedOhm between_sets(const Board& board, const std::vector<std::string>& a,
                         const std::vector<std::string>& b) {
  std::vector<NetId> source;
  std::vector<NetId> sink;
  for (const std::string& name : a) {
    source.push_back(board.find_net(name).value());
  }
  for (const std::string& name : b) {
    sink.push_back(board.find_net(name).value());
  }
  return PartOhms(board).between(source, sink);
}

ExpectedOhm ohms_between(const Board& board, const std::string& a, const std::string& b) {
  return between_sets(board, std::vector<std::string>(1, a), std::vector<std::string>(1, b));
}

/// One part with pins 1 and 2 between nets A and B, and a resistor of 1 kohm from B to C.
Board one_part(const std::string& part, const std::string& state = "assembled") {
  return small_board("state: " + state + "\nparts:\n  P1: " + part +
                     "\n  R9: {kind: resistor, value: 1k, tolerance: 5%, package: axial 10 mm}\n"
                     "nets:\n  A: [P1.1]\n  B: [P1.2, R9.1]\n  C: [R9.2]\n");
}

}  // namespace

TEST_CASE("a resistor has its tolerance, at least 5 %, and 1 % of drift") {
  struct Row {
    std::string keys;
    double tolerance;
  };
  for (const Row& row : {Row{"tolerance: 10%", 0.11}, Row{"tolerance: 5%", 0.06},
                         Row{"tolerance: 1%", 0.06}, Row{"note: none given", 0.06}}) {
    const Board board =
        one_part("{kind: resistor, value: 4k7, package: axial 10 mm, " + row.keys + "}");
    const ExpectedOhm alone = ohms_between(board, "A", "B");
    CHECK(alone.ohm == Approx(4700));
    CHECK(alone.low_ohm == Approx(4700 * (1 - row.tolerance)));
    CHECK(alone.high_ohm == Approx(4700 * (1 + row.tolerance)));
    CHECK(alone.sure);
    CHECK(ohms_between(board, "A", "C").low_ohm == Approx(4700 * (1 - row.tolerance) + 940));
  }
  const Board bare = one_part("{kind: resistor, value: 4k7, package: axial 10 mm}", "bare");
  CHECK(ohms_between(bare, "A", "B").ohm == kOpenOhm);
  CHECK(ohms_between(bare, "A", "B").low_ohm == kOpenOhm);
}

TEST_CASE("a ring of resistors: no pair shows a single resistor's value") {
  const Board board = small_board(
      "parts:\n"
      "  R1: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm}\n"
      "  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm}\n"
      "  R3: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}\n"
      "  R4: {kind: resistor, value: 22k, tolerance: 5%, package: axial 10 mm}\n"
      "nets:\n  A: [R1.1, R4.1]\n  B: [R1.2, R2.1]\n  C: [R2.2, R3.1]\n  D: [R3.2, R4.2]\n"
      "  OTHER: []\n");
  CHECK(ohms_between(board, "A", "B").ohm == Approx(3670000.0 / 467));
  CHECK(ohms_between(board, "B", "D").ohm == Approx(4704000.0 / 467));
  CHECK(ohms_between(board, "C", "D").high_ohm ==
        Approx(1974000.0 / 467 * 1.06));  // all grow alike
  CHECK(between_sets(board, {"A", "C"}, {"B"}).ohm ==
        Approx(5000));  // D hangs between A and C only
  CHECK(between_sets(board, {"A", "C"}, {"B", "D"}).ohm ==
        Approx(1 / (1 / 10e3 + 1 / 10e3 + 1 / 4.7e3 + 1 / 22e3)));
  CHECK(between_sets(board, {"A", "B"}, {"B", "D"}).ohm == 0);
  CHECK(ohms_between(board, "A", "OTHER").ohm == kOpenOhm);

  const PartOhms parts(board);
  const std::vector<PartWay> way = parts.consists_of(*board.find_net("C"), *board.find_net("D"));
  REQUIRE(way.size() == 4);
  CHECK(board[way[0].part].name == "R3");
  double sum = 0;
  for (const PartWay& one : way) {
    CHECK(one.part_ohm <= way[0].part_ohm);
    sum += one.part_ohm;
  }
  CHECK(sum == Approx(1974000.0 / 467));
  CHECK(parts.unsure(*board.find_net("C"), *board.find_net("D")).empty());
}

TEST_CASE("a network pulls all its lines to pin 1, or stands apart") {
  const std::string nets = "nets:\n  VCC: [RN1.1]\n  L1: [RN1.2]\n  L2: [RN1.3]\n  L3: [RN1.4]\n";
  const Board common = small_board(
      "parts:\n  RN1: {kind: network, value: 22k, tolerance: 2%, package: SIP-4}\n" + nets);
  CHECK(ohms_between(common, "L1", "L3").ohm == Approx(44e3));
  CHECK(between_sets(common, {"L1", "L2"}, {"L3"}).ohm == Approx(33e3));
  CHECK(between_sets(common, {"L1", "L2", "L3"}, {"VCC"}).high_ohm == Approx(22e3 / 3 * 1.06));
  const Board apart = small_board(
      "parts:\n  RN1: {kind: network, value: 22k, type: isolated, package: SIP-4}\n" + nets);
  CHECK(ohms_between(apart, "VCC", "L1").ohm == Approx(22e3));
  CHECK(ohms_between(apart, "L1", "L2").ohm == kOpenOhm);
}

TEST_CASE("parts of unknown ohms: a short at the low edge, absent at the high edge") {
  for (const std::string part :
       {"{kind: inductor, package: axial 10 mm}", "{kind: fuse, package: axial 10 mm}",
        "{kind: lamp, package: axial 10 mm}", "{kind: relay, package: row 2}",
        "{kind: pot, value: 10k, package: row 3}",
        "{kind: diode, type: 1N34A, package: axial 10 mm}",
        "{kind: diode, type: BAT85, package: axial 10 mm}", "{kind: diode, package: axial 10 mm}",
        "{kind: resistor, package: axial 10 mm}"}) {
    INFO(part);
    const Board board = one_part(part);
    const ExpectedOhm across = ohms_between(board, "A", "B");
    CHECK(!across.sure);
    CHECK(across.low_ohm == 0);
    CHECK(across.high_ohm == kOpenOhm);
    const ExpectedOhm through = ohms_between(board, "A", "C");
    CHECK(!through.sure);
    CHECK(through.low_ohm == Approx(940));
    CHECK(through.high_ohm == kOpenOhm);
    const ExpectedOhm beside = ohms_between(board, "B", "C");  // what hangs off does not matter
    CHECK(beside.sure);
    CHECK(beside.low_ohm == Approx(940));
    CHECK(beside.high_ohm == Approx(1060));
    const PartOhms parts(board);
    const NetId a = *board.find_net("A");
    const NetId b = *board.find_net("B");
    const NetId c = *board.find_net("C");
    REQUIRE(parts.unsure(a, c).size() == 1);
    CHECK(board[parts.unsure(a, c)[0].part].name == "P1");
    CHECK(parts.unsure(b, c).empty());
  }
  CHECK(ohms_between(one_part("{kind: fuse, package: axial 10 mm}"), "A", "C").ohm == Approx(1000));
  CHECK(ohms_between(one_part("{kind: pot, value: 10k, package: row 3}"), "A", "B").ohm ==
        Approx(5000));
}

TEST_CASE("what is sure: links, switches at rest, silicon; what is not there") {
  const ExpectedOhm link = ohms_between(one_part("{kind: link, package: axial 10 mm}"), "A", "B");
  CHECK(link.ohm == 0);
  CHECK(link.sure);
  CHECK(link.high_ohm <= 0.1);
  const std::string key = "{kind: switch, package: row 2, positions: {";
  const ExpectedOhm closed = ohms_between(one_part(key + "in: [[1, 2]], out: []}}"), "A", "B");
  CHECK(closed.ohm > 0.015);  // new contacts: 15 to 100 mohm
  CHECK(closed.ohm < 0.1);
  CHECK(closed.high_ohm == 1);  // MIL-PRF-22710H, life limit at low level
  CHECK(closed.sure);
  CHECK(ohms_between(one_part(key + "out: [], in: [[1, 2]]}}"), "A", "B").low_ohm == kOpenOhm);
  const ExpectedOhm silicon =
      ohms_between(one_part("{kind: diode, type: 1N4148, package: axial 10 mm}"), "A", "B");
  CHECK(silicon.sure);
  CHECK(silicon.ohm == kOpenOhm);
  CHECK(silicon.high_ohm == kOpenOhm);
  CHECK(silicon.low_ohm == Approx(0.6e6));
  CHECK(ohms_between(one_part("{kind: ic, package: DIP-8}"), "A", "B").low_ohm == kOpenOhm);
  CHECK(ohms_between(one_part("{kind: network, value: 1k, package: SIP-2, chip: pulled}"), "A", "B")
            .low_ohm == kOpenOhm);
}

TEST_CASE("a hundred silicon diodes in one set look like 6 kohm") {
  std::string parts = "parts:\n";
  std::string lines = "nets:\n  COMMON: [";
  std::string all;
  for (int i = 1; i <= 100; ++i) {
    const std::string name = "D" + std::to_string(i);
    parts += "  " + name + ": {kind: diode, type: 1N4148, package: axial 10 mm}\n";
    lines += (i == 1 ? "" : ", ") + name + ".1";
    all += "  L" + std::to_string(i) + ": [" + name + ".2]\n";
  }
  const Board board = small_board(parts + lines + "]\n" + all);
  std::vector<std::string> set;
  for (int i = 1; i <= 100; ++i) {
    set.push_back("L" + std::to_string(i));
  }
  CHECK(between_sets(board, {"COMMON"}, set).low_ohm == Approx(6000));
  CHECK(between_sets(board, {"COMMON"}, set).ohm == kOpenOhm);
}

TEST_CASE("diodes are known by their type") {
  for (const char* type : {"1N34", "1N34A", "1n60", "OA91", "AA119", "germanium", "AAZ15"}) {
    INFO(type);
    CHECK(junction_of(type) == Junction::germanium);
  }
  for (const char* type :
       {"BAT41", "1N5817", "1N5819", "1N5711", "MBR1045", "5082-2811", "Schottky 1 A"}) {
    INFO(type);
    CHECK(junction_of(type) == Junction::schottky);
  }
  for (const char* type :
       {"1N4148", "1N914", "1N4001", "BAV21", "BAW62", "OA202", "1N3491", "1N5811", "1N6001"}) {
    INFO(type);
    CHECK(junction_of(type) == Junction::silicon);
  }
  CHECK(junction_of("") == Junction::unknown);
}
