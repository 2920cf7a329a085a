// SPDX-License-Identifier: MIT
#include "graph/neighbours.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <set>
#include <string>

#include "graph/board_yaml.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;

Board drawn_board(const std::string& text) {
  Diagnostics diagnostics("board.yaml");
  return Board(read_board("padwalk: board/1\nname: pier\n" + text, diagnostics), diagnostics);
}

std::set<std::string> names(const Board& board, const NeighbourRules& rules) {
  std::set<std::string> names;
  for (const auto& [a, b] : neighbour_nets(board, rules)) {
    names.insert(board[a].name + board[b].name);
  }
  return names;
}

}  // namespace

TEST_CASE("nets are neighbours where their metal is close on one side", "[graph][neighbours]") {
  const Board board = drawn_board(
      "points:\n"
      "  TP1: {xy: [0, 0], side: top}\n"
      "  TP2: {xy: [2, 1], side: top}\n"
      "  TP3: {xy: [2, 1], side: bottom}\n"
      "  TP4: {xy: [5, 1], side: top}\n"
      "  V1: {xy: [0, 2], via: [top, bottom]}\n"
      "nets:\n"
      "  A: [TP1]\n  B: [TP2]\n  C: [TP3]\n  D: [TP4]\n  E: [V1@top, V1@bottom]\n");
  NeighbourRules rules;
  CHECK(names(board, rules) == std::set<std::string>{"AB", "AE", "BE", "CE"});
  rules.within_mm = 2.2;
  CHECK(names(board, rules) == std::set<std::string>{"AE"});
  rules.within_mm = 3;
  CHECK(names(board, rules) == std::set<std::string>{"AB", "AE", "BD", "BE", "CE"});
  rules.pins_only = true;
  CHECK(names(board, rules).empty());
}

TEST_CASE("nets are neighbours where they meet at a small part", "[graph][neighbours]") {
  const Board board = drawn_board(
      "parts:\n"
      "  R1: {kind: resistor, value: 1k, package: axial 10 mm, xy: [0, 0]}\n"
      "nets:\n"
      "  A: [R1.1]\n  B: [R1.2]\n");
  NeighbourRules rules;
  CHECK(names(board, rules) == std::set<std::string>{"AB"});
  rules.at_parts = false;
  CHECK(names(board, rules).empty());
}

TEST_CASE("nets are neighbours where the file says so", "[graph][neighbours]") {
  const std::string nets =
      "points: {TP1: {}, TP2: {}, TP3: {}}\n"
      "nets:\n"
      "  A: [TP1]\n  B: [TP2]\n  C: [TP3]\n"
      "neighbours:\n";
  const Board board = drawn_board(nets + "  B: [A, C]\n  C: [B]\n");
  NeighbourRules rules;
  CHECK(names(board, rules) == std::set<std::string>{"AB", "BC"});
  CHECK(board.neighbours().size() == 2);
  rules.as_file_says = false;
  CHECK(names(board, rules).empty());
  const auto complaint = [&](const std::string& lines) {
    return test::complaint_of([&] { drawn_board(nets + lines); });
  };
  CHECK(complaint("  B: [D]\n") == "board.yaml:9:7: neighbours: there is no net \"D\"");
  CHECK(complaint("  D: [A]\n") == "board.yaml:9:3: neighbours: there is no net \"D\"");
  CHECK(complaint("  B: [A, B]\n") ==
        "board.yaml:9:10: neighbours: net \"B\" is its own neighbour");
  CHECK(complaint("  B: A\n").find("board.yaml:9:6: neighbours of net \"B\"") == 0);
}

TEST_CASE("nets are ordered along the longer side", "[graph][neighbours]") {
  const Board board = drawn_board(
      "points:\n"
      "  TP1: {xy: [1, 40], side: top}\n  TP2: {xy: [2, 5], side: top}\n"
      "  TP3: {xy: [0, 20], side: top}\n  TP4: {xy: [3, 30], side: top}\n"
      "nets:\n"
      "  A: [TP1]\n  B: [TP4, TP3]\n  C: [TP2]\n");
  std::string order;
  for (const NetId net : nets_along(board, {})) {
    order += board[net].name;
  }
  CHECK(order == "CBA");
}

TEST_CASE("neighbours of random pads are those of trying all pairs", "[graph][neighbours]") {
  std::mt19937 random(8);
  std::uniform_real_distribution<double> place(0, 60);
  for (int i = 0; i < 30; ++i) {
    BoardDescription description;
    for (std::size_t n = 0; n < 120; ++n) {
      PointDescription point;
      point.name = "TP" + std::to_string(n);
      point.xy = Xy{place(random), place(random)};
      point.side = random() % 2 == 0 ? Side::top : Side::bottom;
      description.points.push_back(point);
      if (n % 3 == 0) {
        description.nets.emplace_back();
        description.nets.back().name = "N" + std::to_string(n / 3);
      }
      description.nets.back().members.push_back({point.name, {}});
    }
    Diagnostics diagnostics("random");
    const Board board(description, diagnostics);
    std::set<std::pair<NetId, NetId>> expected;
    for (const Point& a : board.points()) {
      for (const Point& b : board.points()) {
        const bool close = std::hypot(a.xy->x - b.xy->x, a.xy->y - b.xy->y) <= 2.6;
        if (a.net < b.net && close && board[a.first].side == board[b.first].side) {
          expected.emplace(a.net, b.net);
        }
      }
    }
    const auto found = neighbour_nets(board, {});
    CHECK(std::vector(expected.begin(), expected.end()) == found);
    CHECK(!found.empty());
  }
}
