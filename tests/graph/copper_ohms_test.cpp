// SPDX-License-Identifier: MIT
//
// The ohms of a net's copper on small boards, each worked out beside it from the formulas that
// copper_test holds to published figures.
#include "graph/copper_ohms.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "graph/copper.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;
using padwalk::test::small_board;

PointId point(const Board& board, const char* name) {
  return board.find_point(name).value();
}

double between(const Board& board, const char* a, const char* b) {
  return CopperOhms(board).between(point(board, a), point(board, b));
}

CopperOhm estimate(const Board& board, const char* a, const char* b) {
  return CopperOhms(board).estimate(point(board, a), point(board, b));
}

/// Test pads on the bottom, in mm.
const std::string kPads =
    "points:\n"
    "  TP1: {xy: [0, 0], side: bottom}\n"
    "  TP2: {xy: [100, 0], side: bottom}\n"
    "  TP3: {xy: [100, 50], side: bottom}\n"
    "  TP4: {xy: [0, 50], side: bottom}\n"
    "  TP5: {xy: [50, 25], side: bottom}\n"
    "  V1: {xy: [0, 0], via: [top, bottom]}\n"
    "  V2: {xy: [0, 0], via: [top, bottom]}\n";

}  // namespace

TEST_CASE("width and length from the file: 100 mm by 0.5 mm is 98.3 mohm at 35 um") {
  // Public page: hypercode.alexisbouchez.com, at 1.72e-8 ohm m; ours is 1.7241e-8.
  const Board board = small_board(kPads +
                                  "nets:\n  N: {route: [[TP1, TP2]]}\ncopper:\n"
                                  "  - {between: [TP1, TP2], width: 0.5 mm, length: 100 mm}\n");
  CHECK(between(board, "TP1", "TP2") == Approx(98.3e-3 * 1.7241 / 1.72).epsilon(1e-3));
  CHECK(between(board, "TP1", "TP1") == 0);
  const CopperOhm range = estimate(board, "TP2", "TP1");
  CHECK(range.ohm == between(board, "TP1", "TP2"));
  // Computed: 20 % wider, 70 um, 10 C; 20 % narrower, 18 um, 35 C.
  CHECK(range.low_ohm == Approx(range.ohm / 1.2 / 2 * (1 - 0.0393)));
  CHECK(range.high_ohm == Approx(range.ohm / 0.8 * 35 / 18 * (1 + 0.05895)));
  const CopperOhms copper(board);
  CHECK(copper[SegmentId{0}].width_known);
  CHECK(copper[SegmentId{0}].length_from == LengthFrom::file);
}

TEST_CASE("a jumper wire has the ohms of its gauge and length") {
  // 30 AWG: 338.6 ohm/km at 20 C, computed from 1.7241e-8 ohm m and the rule of ASTM B258 (from
  // memory); printed tables (NBS Handbook 100) differ by up to 0.7 %.
  const std::string ends = "nets:\n  N: [TP1, TP2]\nwires:\n  W1: {between: [TP1, TP2]";
  const auto wire = [&](const std::string& more) {
    const Board board = small_board(kPads + ends + more + "}\n");
    return CopperOhms(board)[board[board.find_net("N").value()].segments.back()];
  };
  const SegmentOhm said = wire(", gauge: 30, length: 45 mm");
  CHECK(said.ohm.ohm == Approx(45e-6 * 338.6).epsilon(1e-3));
  CHECK(said.ohm.high_ohm == Approx(said.ohm.ohm * (1 + 0.00393 * 15)));
  CHECK(said.length_from == LengthFrom::file);
  CHECK(wire(", gauge: 24, length: 45 mm").ohm.ohm == Approx(45e-6 * 84.2).epsilon(1e-3));
  // 22 to 32 where the file does not say; 53.0 and 538.3 ohm/km.
  const SegmentOhm guessed = wire(", length: 1000 mm");
  CHECK(guessed.ohm.low_ohm == Approx(53.0e-3 * (1 - 0.0393)).epsilon(1e-3));
  CHECK(guessed.ohm.high_ohm == Approx(538.3e-3 * (1 + 0.05895)).epsilon(1e-3));
  CHECK(wire("").length_from == LengthFrom::straight);
}

TEST_CASE("what the file leaves out is assumed, and said to be") {
  const Board board = small_board(kPads + "nets:\n  N: {route: [[TP1, TP2]]}\n");
  const SegmentOhm one = CopperOhms(board)[SegmentId{0}];
  CHECK(!one.width_known);
  CHECK(one.width_mm == 0.5);
  CHECK(one.length_from == LengthFrom::straight);
  CHECK(one.length_mm == Approx(127));  // 4/pi times the straight line
  CHECK(between(board, "TP1", "TP2") == Approx(trace_ohm(127, 0.5, 0.035)));
  CHECK(estimate(board, "TP1", "TP2").low_ohm < trace_ohm(100, 1, 0.035));
  CHECK(estimate(board, "TP1", "TP2").high_ohm > trace_ohm(150, 0.3, 0.035));
  const Board nowhere = small_board("points: {A1: {}, A2: {}}\nnets:\n  N: {route: [[A1, A2]]}\n");
  CHECK(CopperOhms(nowhere)[SegmentId{0}].length_from == LengthFrom::guess);
  CHECK(between(nowhere, "A1", "A2") > 0);
  // A rail is taken to be wider than a signal.
  const Board rail = small_board(kPads + "nets:\n  N: {role: supply, route: [[TP1, TP2]]}\n");
  CHECK(between(rail, "TP1", "TP2") == Approx(between(board, "TP1", "TP2") / 3));
}

TEST_CASE("tracks side by side share the current; each copper entry has its own") {
  const std::string net = "nets:\n  N: {route: [[TP1, TP2]]}\ncopper:\n";
  const Board two = small_board(
      kPads + net + "  - {between: [TP1, TP2], width: 1 mm, length: 100 mm, count: 2}\n");
  CHECK(between(two, "TP1", "TP2") == Approx(trace_ohm(100, 1, 0.035) / 2));
  const Board unlike = small_board(
      kPads + net + "  - {between: [TP1, TP2], name: wide, width: 2 mm, length: 100 mm}\n" +
      "  - {between: [TP2, TP1], name: thin, width: 1 mm, length: 100 mm}\n");
  CHECK(between(unlike, "TP1", "TP2") == Approx(trace_ohm(100, 3, 0.035)));
  const CopperOhms copper(unlike);
  const std::vector<CopperShare> shares =
      copper.consists_of(point(unlike, "TP1"), point(unlike, "TP2"));
  REQUIRE(shares.size() == 2);
  CHECK(copper[shares[0].segment].width_mm == 2);  // carries two thirds
  CHECK(shares[0].part_ohm + shares[1].part_ohm == Approx(between(unlike, "TP1", "TP2")));
}

TEST_CASE("a ring of copper: the short way and the long way in parallel") {
  const Board board = small_board(kPads + "nets:\n  N: {route: [[TP1, TP2, TP3, TP4, TP1]]}\n");
  // 100, 50, 100, 50 mm straight, all with the same bends and width.
  const double mm = trace_ohm(1.27, 0.5, 0.035);
  CHECK(between(board, "TP1", "TP2") == Approx(mm * 100 * 200 / 300));
  CHECK(between(board, "TP1", "TP3") == Approx(mm * 75));
}

TEST_CASE("barrels, joints and contacts on the way to a leg in a socket") {
  const Board board = small_board(
      "parts:\n  U1: {kind: ic, package: DIP-8, xy: [0, 0], chip: socketed}\n"
      "  U2: {kind: ic, package: DIP-8, xy: [0, 0]}\n" +
      kPads + "nets:\n  N: {route: [{side: bottom, chain: [U1.1, TP1]}]}\n" +
      "  M: {route: [{side: bottom, chain: [U2.1, V2@bottom]}]}\n" +
      "  K: {route: [{side: bottom, chain: [TP2, V1@bottom]}]}\n");
  const CopperOhms copper(board);
  // At the same place, so no length of trace: contact and joint to the socketed leg, joint alone.
  CHECK(copper.between(point(board, "U1.1"), point(board, "TP1")) == Approx(31e-3));
  CHECK(copper.between(point(board, "U2.1"), point(board, "V2@bottom")) == Approx(1e-3));
  // New contacts have 15 to 100 mohm (a slide switch maker's page).
  CHECK(copper.estimate(point(board, "U1.1"), point(board, "TP1")).high_ohm >= 0.1);
  const double barrel = copper.between(point(board, "V1@top"), point(board, "V1@bottom"));
  CHECK(barrel == Approx(barrel_ohm(1.6, 0.8, Hole::bore, 0.025)));
  // A small via is 1.08 to 1.28 mohm (computed in copper_test): within the range.
  const CopperOhm range = copper.estimate(point(board, "V1@top"), point(board, "V1@bottom"));
  CHECK(range.low_ohm < barrel);
  CHECK(range.high_ohm > 1.28e-3);
  // TP2 lies 100 mm off; the largest part comes first, and all sum to the whole.
  const std::vector<CopperShare> shares =
      copper.consists_of(point(board, "TP2"), point(board, "V1@top"));
  REQUIRE(shares.size() == 2);
  CHECK(board[shares[0].segment].kind == SegmentKind::trace);
  CHECK(board[shares[1].segment].kind == SegmentKind::barrel);
  CHECK(shares[0].part_ohm + shares[1].part_ohm ==
        Approx(copper.between(point(board, "TP2"), point(board, "V1@top"))));
}

TEST_CASE("a way that is not known is guessed by distance, from next to nothing to a long detour") {
  const Board board = small_board(kPads + "nets:\n  N: [TP1, TP2, TP3, TP4, TP5]\n");
  // By way of the middle of all members, (50, 25): half a diagonal each, bends counted.
  const double half = std::hypot(50, 25) * 1.27;
  CHECK(between(board, "TP1", "TP3") == Approx(trace_ohm(2 * half, 0.5, 0.035)));
  const CopperOhm range = estimate(board, "TP1", "TP3");
  CHECK(range.low_ohm == 0);
  // At worst it visits every other member: four half diagonals or sides, twice as long.
  CHECK(range.high_ohm > trace_ohm(2 * (3 * 50 + std::hypot(50, 25)), 0.5, 0.035));
  const Board nowhere = small_board("points: {A1: {}, A2: {}}\nnets:\n  N: [A1, A2]\n");
  CHECK(between(nowhere, "A1", "A2") == Approx(trace_ohm(50, 0.5, 0.035)));
  // Beside a route.
  const Board also = small_board(kPads + "nets:\n  N: {route: [[TP1, TP2]], also: [TP3]}\n");
  CHECK(estimate(also, "TP3", "TP2").low_ohm == 0);
  CHECK(estimate(also, "TP1", "TP2").low_ohm > 0);
  CHECK(between(also, "TP3", "TP1") > 0);
}

TEST_CASE("two nets, and points in no net, have no copper between them") {
  const Board board =
      small_board("parts:\n  U1: {kind: ic, package: DIP-8, xy: [0, 0]}\n" + kPads +
                  "nets:\n  N: {route: [[TP1, TP2]]}\n  M: {route: [[TP3, TP4]]}\n");
  CHECK(between(board, "TP1", "TP3") == kOpenOhm);
  CHECK(between(board, "U1.1", "U1.2") == kOpenOhm);
  CHECK(between(board, "U1.1", "TP1") == kOpenOhm);
  CHECK(between(board, "U1.1", "U1.1") == 0);
  CHECK(estimate(board, "TP1", "TP3").low_ohm == kOpenOhm);
  CHECK(CopperOhms(board).consists_of(point(board, "TP1"), point(board, "TP3")).empty());
}
