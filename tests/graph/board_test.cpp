// SPDX-License-Identifier: MIT
#include "graph/board.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "graph/hookup.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;

using padwalk::test::small_board;

std::string complaint(const std::string& body) {
  return padwalk::test::complaint_of([&] { small_board(body); });
}

std::vector<std::string> segments(const Board& board, const std::string& net) {
  std::vector<std::string> all;
  for (const SegmentId id : board[board.find_net(net).value()].segments) {
    all.push_back(board.place_name(board[id].a) + "-" + board.place_name(board[id].b) + " " +
                  std::string(segment_kind_name(board[id].kind)));
  }
  return all;
}

constexpr const char* kTwoSided =
    "parts:\n"
    "  U1: {kind: ic, package: DIP-8, xy: [10, 20]}\n"
    "  U2: {kind: ic, package: DIP-8, xy: [30, 20], chip: socketed}\n"
    "  U3: {kind: ic, package: SOIC-8, xy: [50, 20]}\n"
    "points:\n"
    "  V1: {via: [top, bottom]}\n"
    "  TP1: {side: bottom}\n"
    "  TP2: {side: top}\n";

}  // namespace

TEST_CASE("a pin has a leg, a joint and two pads where its copper's side is known",
          "[graph][board]") {
  const Board board =
      small_board(std::string(kTwoSided) + "nets:\n  A: {route: [[U1.1, V1, U2.1]]}\n");
  CHECK(segments(board, "A") ==
        std::vector<std::string>{"U1.1@bottom-U1.1@top barrel", "U1.1@bottom-U1.1@leg joint",
                                 "U2.1@bottom-U2.1@top barrel", "U2.1@bottom-U2.1@socket joint",
                                 "U2.1@socket-U2.1@leg contact", "V1@top-V1@bottom barrel",
                                 "U1.1@top-V1@top trace", "V1@bottom-U2.1@bottom trace"});
  CHECK(board.place_name(board[*board.find_point("U1.1")].held) == "U1.1@leg");
  CHECK(board[*board.find_point("V1@top")].access == Access::tip);
}

TEST_CASE("a pin has one pad where the side of its copper is not known", "[graph][board]") {
  const Board board = small_board(std::string(kTwoSided) + "nets:\n  A: {route: [[U1.1, U1.2]]}\n");
  CHECK(segments(board, "A") == std::vector<std::string>{"U1.1@pad-U1.1@leg joint",
                                                         "U1.2@pad-U1.2@leg joint",
                                                         "U1.1@pad-U1.2@pad trace"});
}

TEST_CASE("a via may meet copper on more than two sides", "[graph][board]") {
  const Board board = small_board(
      "layers: 4\n"
      "points:\n"
      "  V1: {via: [top, inner1, bottom], access: [none, none, tip]}\n"
      "  TP1: {side: top}\n  TP2: {side: inner1}\n  TP3: {side: bottom}\n"
      "nets:\n"
      "  A: {route: [[TP1, V1, TP3], {side: inner1, chain: [V1, TP2]}]}\n");
  CHECK(segments(board, "A") ==
        std::vector<std::string>{"V1@top-V1@inner1 barrel", "V1@inner1-V1@bottom barrel",
                                 "TP1-V1@top trace", "V1@bottom-TP3 trace", "V1@inner1-TP2 trace"});
  CHECK(board[*board.find_point("V1@top")].access == Access::none);
  CHECK(board[*board.find_point("V1@bottom")].access == Access::tip);
  CHECK(board.find_places("V1").size() == 3);
  CHECK(complaint("points:\n  V1: {via: [top, inner1, top]}\n") ==
        "b.yaml:4:3: via V1 needs two different sides or more, as in via: [top, bottom]\n"
        "b.yaml:4:13: point V1: via lists 3 sides; expected two different ones or more, "
        "[top, bottom]");
}

TEST_CASE("copper keeps its side across a bare pin", "[graph][board]") {
  const Board board = small_board(std::string("state: bare\n") + kTwoSided +
                                  "nets:\n  A: {route: [[TP1, U1.1, U1.2]], also: [U1.5]}\n"
                                  "  B: {route: [[TP2, U1.3, U1.4]]}\n");
  const auto a = segments(board, "A");
  CHECK(std::count(a.begin(), a.end(), "U1.1@bottom-U1.2@bottom trace") == 1);
  const auto b = segments(board, "B");
  CHECK(std::count(b.begin(), b.end(), "U1.3@top-U1.4@top trace") == 1);
}

TEST_CASE("members of unknown way hang from one untouchable hub", "[graph][board]") {
  const Board board =
      small_board(std::string("state: bare\n") + kTwoSided + "nets:\n  A: [U1.1, V1, TP1]\n");
  CHECK(segments(board, "A") == std::vector<std::string>{"V1@top-V1@bottom barrel",
                                                         "U1.1-A (way unknown) unknown way",
                                                         "V1@top-A (way unknown) unknown way",
                                                         "TP1-A (way unknown) unknown way"});
}

TEST_CASE("what hangs on a route hangs from where the route begins", "[graph][board]") {
  const Board board =
      small_board(std::string("state: bare\n") + kTwoSided +
                  "nets:\n  A: {route: [{side: bottom, chain: [U1.1, TP1]}], also: [U1.2]}\n");
  CHECK(segments(board, "A") == std::vector<std::string>{"U1.1@bottom-U1.1@top barrel",
                                                         "U1.1@bottom-TP1 trace",
                                                         "U1.2-U1.1@bottom unknown way"});
}

TEST_CASE("a route that begins with a barrel alone is the stretch that the rest hangs from",
          "[graph][board]") {
  const Board board = small_board(std::string("state: bare\n") + kTwoSided +
                                  "nets:\n  A: {route: [[V1@top, V1@bottom], [U1.1, U1.2]]}\n");
  CHECK(segments(board, "A") == std::vector<std::string>{"V1@top-V1@bottom barrel",
                                                         "U1.1-U1.2 trace",
                                                         "V1@top-U1.1 unknown way"});
}

TEST_CASE("two tracks between the same pads are two segments", "[graph][board]") {
  const Board board =
      small_board(std::string(kTwoSided) +
                  "nets:\n  A: {route: [[U1.1, U1.2]]}\n"
                  "copper:\n  - {between: [U1.1, U1.2], count: 2, length: 12 mm}\n");
  CHECK(board.find_segments("U1.1", "U1.2").size() == 2);
  CHECK(board[board.find_segments("U1.1", "U1.2")[1]].length_mm == Approx(12));
}

TEST_CASE("a wire is a segment beside the copper, from pad to pad", "[graph][board]") {
  const std::string nets = "nets:\n  A: {route: [[U1.1, V1, U2.1]]}\n  B: [TP1, TP2]\n";
  const Board board =
      small_board(kTwoSided + nets +
                  "wires:\n  W1: {between: [U1.1, V1@bottom], gauge: 28, length: 40 mm}\n"
                  "  W2: {between: [TP1, TP2]}\n");
  CHECK(segments(board, "A").back() == "U1.1@bottom-V1@bottom wire");
  const Segment& wire = board[board[*board.find_net("A")].segments.back()];
  CHECK(wire.length_mm == 40);
  CHECK(board.description().wires[wire.wire.value()].gauge == 28);
  // The copper of unknown way stays beside it.
  CHECK(segments(board, "B") == std::vector<std::string>{"TP1-B (way unknown) unknown way",
                                                         "TP2-B (way unknown) unknown way",
                                                         "TP1-TP2 wire"});
  const auto expect = [&](const std::string& wires, const std::string& sentence) {
    CHECK(complaint(kTwoSided + nets + "wires:\n  W1: {between: " + wires + "}\n") == sentence);
  };
  expect("[U1.1, TP1]",
         "b.yaml:15:3: wire W1 runs from U1.1@bottom to TP1, which are not in one net; put what it "
         "joins into one net");
  expect("[U1.1, TP9]", "b.yaml:15:24: wire W1: there is no point TP9");
  expect("[U1.1, V1]", "b.yaml:15:24: wire W1: V1 has several sides; expected one, such as V1@top");
  expect("[TP1, TP1]", "b.yaml:15:3: wire W1 ends where it begins, at TP1");
}

TEST_CASE("a part that joins two nets is a link of the assembled board only", "[graph][board]") {
  const std::string body =
      "parts:\n"
      "  R1: {kind: resistor, value: 4k7, package: axial 10 mm, xy: [0, 0]}\n"
      "  S1: {kind: switch, package: row 2, xy: [0, 9], positions: {out: [], in: [[1, 2]]}}\n"
      "  S2: {kind: switch, package: row 2, xy: [0, 19], positions: {in: [[1, 2]]}}\n"
      "nets:\n  A: [R1.1, S1.1, S2.1]\n  B: [R1.2, S1.2]\n  C: [S2.2]\n";
  const Board assembled = small_board(body);
  REQUIRE(assembled.part_links().size() == 2);
  CHECK(assembled.part_links()[0].ohm == Approx(4700));
  CHECK(assembled.part_links()[1].ohm == Approx(0));
  CHECK(small_board("state: bare\n" + body).part_links().empty());
}

TEST_CASE("a mistake that needs the whole board is said with its place", "[graph][board]") {
  const auto expect = [](const std::string& nets, const std::string& sentence) {
    CHECK(complaint(std::string(kTwoSided) + nets) == sentence);
  };
  expect("nets:\n  A: [U1.1, U1.9]\n",
         "b.yaml:12:13: net \"A\" lists U1.9; package DIP-8 has 8 pins");
  expect("nets:\n  A: [U1.1, U9.1]\n",
         "b.yaml:12:13: net \"A\" lists U9.1; there is no such part or point in this file");
  expect("nets:\n  A: [U1.1]\n  B: [U1.1]\n",
         "b.yaml:13:7: net \"B\" lists U1.1, which net \"A\" has already in line 12; a point "
         "belongs to one net");
  expect("nets:\n  A: {route: [[U1.1, V1]]}\n",
         "b.yaml:12:22: net \"A\": the chain ends on via V1; say on which of its sides, as in "
         "V1@top or V1@bottom");
  expect("nets:\n  A: {route: [[TP1, TP2]]}\n",
         "b.yaml:12:21: net \"A\": copper from TP1 to TP2 would change from bottom to top; put a "
         "via between them");
  expect("nets:\n  A: {route: [[TP1, U1.1, TP2]]}\n",
         "b.yaml:12:21: net \"A\": the chain reaches U1.1 on bottom and leaves it on top; if its "
         "hole joins the sides, write U1.1@bottom, U1.1@top");
  expect("nets:\n  A: {route: [[U1.1]]}\n",
         "b.yaml:12:15: net \"A\": a chain needs two points or more");
  expect("nets:\n  A: {route: [[U1.1@leg, U1.2]]}\n",
         "b.yaml:12:16: net \"A\" lists U1.1@leg; copper runs to pads: write U1.1");
  expect("nets:\n  A: [U1.1]\n  B: [U1.2]\ncopper:\n  - {between: [U1.1, U1.2], count: 2}\n",
         "b.yaml:15:16: no net's route has copper from U1.1 to U1.2");
}

TEST_CASE("a region makes what lies in it more suspicious, on its side only", "[graph][board]") {
  const Board board = small_board(
      "points:\n  TP1: {xy: [1, 1], side: bottom}\n  TP2: {xy: [9, 1], side: bottom}\n"
      "  TP3: {xy: [1, 1], side: top}\n  TP4: {xy: [9, 9], side: top}\n"
      "nets:\n  A: {route: [[TP1, TP2]]}\n  B: {route: [[TP3, TP4]]}\n"
      "regions:\n  cell: {side: bottom, polygon: [[0, 0], [2, 0], [2, 2], [0, 2]], "
      "suspicion: 5}\n");
  CHECK(board.suspicion(board.find_segments("TP1", "TP2").at(0)) == Approx(5));
  CHECK(board.suspicion(board.find_segments("TP3", "TP4").at(0)) == Approx(1));
}
