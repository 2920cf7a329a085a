// SPDX-License-Identifier: MIT
#include "graph/compare.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>
#include <string>

namespace {

using namespace padwalk::graph;

/// A net a letter, its points as they follow: "abc de" is nets N0 {a, b, c} and N1 {d, e}; what
/// comes behind " -" is in no net.
Board board_of(const std::string& text) {
  BoardDescription description;
  bool in_net = false;
  bool unlisted = false;
  for (const char c : text) {
    if (c == ' ') {
      in_net = false;
      continue;
    }
    if (c == '-') {
      unlisted = true;
      continue;
    }
    PointDescription point;
    point.name = std::string(1, c);
    description.points.push_back(point);
    if (unlisted) {
      continue;
    }
    if (!in_net) {
      description.nets.emplace_back();
      description.nets.back().name = "N" + std::to_string(description.nets.size() - 1);
      in_net = true;
    }
    description.nets.back().members.push_back({point.name, {}});
  }
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

std::string moved(const Board& a, const NetDifference& difference) {
  std::string text;
  for (const MovedPoint& point : difference.moved) {
    text += a[point.a].name;
  }
  return text;
}

}  // namespace

TEST_CASE("the same nets in any order and under any name agree", "[graph][compare]") {
  const Board a = board_of("abc de f -g");
  const Board b = board_of("de f cba -g");
  const BoardsCompared compared = compare_boards(a, b);
  CHECK(compared.differences.empty());
  REQUIRE(compared.same.size() == 3);
  CHECK(a[compared.same[0].first].name == "N0");
  CHECK(b[compared.same[0].second].name == "N2");
  CHECK(compared.only_a.empty());
  CHECK(compared.only_b.empty());
}

TEST_CASE("nets apart, nets joined, and exchanged pins are one difference each",
          "[graph][compare]") {
  const Board a = board_of("abcd ef gh ijk lmn");
  const Board b = board_of("abc d efgh ijn lmk");
  const BoardsCompared compared = compare_boards(a, b);
  REQUIRE(compared.differences.size() == 3);
  CHECK(compared.differences[0].a.size() == 1);
  CHECK(compared.differences[0].b.size() == 2);
  CHECK(moved(a, compared.differences[0]) == "d");
  CHECK(compared.differences[1].a.size() == 2);
  CHECK(compared.differences[1].b.size() == 1);
  CHECK(moved(a, compared.differences[1]) == "");
  CHECK(compared.differences[2].a.size() == 2);
  CHECK(compared.differences[2].b.size() == 2);
  CHECK(moved(a, compared.differences[2]) == "kn");
  CHECK(compared.same.empty());
}

TEST_CASE("a point in no net is alone", "[graph][compare]") {
  CHECK(compare_boards(board_of("ab c"), board_of("ab -c")).differences.empty());
  const Board a = board_of("ab -c");
  const BoardsCompared compared = compare_boards(a, board_of("abc"));
  REQUIRE(compared.differences.size() == 1);
  CHECK(compared.differences[0].a.size() == 1);
  CHECK(compared.differences[0].b.size() == 1);
}

TEST_CASE("points of one board alone are named and change nothing", "[graph][compare]") {
  const Board a = board_of("abx cd");
  const Board b = board_of("ab cdy z");
  const BoardsCompared compared = compare_boards(a, b);
  CHECK(compared.differences.empty());
  CHECK(compared.same.size() == 2);
  REQUIRE(compared.only_a.size() == 1);
  CHECK(a[compared.only_a[0]].name == "x");
  CHECK(compared.only_b.size() == 2);
}

TEST_CASE("random boards differ exactly where their partitions do", "[graph][compare]") {
  std::mt19937 random(12);
  const std::string points = "abcdefghijklmnop";
  const auto draw = [&] {
    std::map<std::size_t, std::string> nets;
    for (const char point : points) {
      nets[random() % 8] += point;
    }
    std::string text;
    for (const auto& [net, members] : nets) {
      text += members + " ";
    }
    return text;
  };
  const auto partners = [](const Board& board, char point) {
    std::set<std::string> names;
    for (const PointId other : board[board[*board.find_point(std::string(1, point))].net].points) {
      names.insert(board[other].name);
    }
    return names;
  };
  for (int i = 0; i < 300; ++i) {
    const Board a = board_of(draw());
    const Board b = i % 10 == 0 ? board_of(draw()) : a;
    const BoardsCompared compared = compare_boards(a, b);
    std::set<NetId> differs;
    for (const NetDifference& difference : compared.differences) {
      differs.insert(difference.a.begin(), difference.a.end());
    }
    for (const char point : points) {
      const NetId net = a[*a.find_point(std::string(1, point))].net;
      if (partners(a, point) != partners(b, point)) {
        REQUIRE(differs.count(net) == 1);
      }
    }
    for (const auto& [one, other] : compared.same) {
      REQUIRE(differs.count(one) == 0);
      const char first = a[a[one].points.front()].name[0];
      REQUIRE(partners(a, first) == partners(b, first));
    }
    REQUIRE(compared.same.size() + differs.size() == a.nets().size());
  }
}
