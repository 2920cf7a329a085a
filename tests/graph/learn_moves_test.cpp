// SPDX-License-Identifier: MIT
//
// Learning past what is held: moves are counted against the rule itself, played here by a few lines
// of its own.
#include "graph/learn_moves.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>

#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;
using Labels = std::vector<std::size_t>;  // by point: its conductor

Board pads(std::size_t count) {
  std::string text = "points:\n";
  for (std::size_t i = 1; i <= count; ++i) {
    text += "  TP" + std::to_string(i) + ": {}\n";
  }
  return padwalk::test::small_board(text);
}

Fixtures bench_of(const std::string& text) {
  Diagnostics diagnostics("bench");
  Fixtures bench = read_fixtures("padwalk: fixtures/1\nfixtures:\n" + text, diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

Fixtures grabbers(std::size_t leads) {
  return bench_of("  grabbers: {kind: grabber, channels: 1-" + std::to_string(leads) +
                  ", move: 6 s}\n");
}

struct Played {
  std::size_t moves = 0;
  std::size_t touches = 0;
  std::vector<std::vector<PointId>> groups;
  std::size_t never_together = 0;
};

std::vector<std::vector<PointId>> groups_by(const Labels& labels,
                                            const std::vector<PointId>& points) {
  std::map<std::size_t, std::vector<PointId>> by_label;
  for (const PointId point : points) {
    by_label[labels[index(point)]].push_back(point);
  }
  std::vector<std::vector<PointId>> groups;
  for (auto& [label, group] : by_label) {
    std::sort(group.begin(), group.end());
    groups.push_back(group);
  }
  std::sort(groups.begin(), groups.end());
  return groups;
}

/// Follows it to its end; every hookup has each channel and each point once.
Played play(const Board& board, const Fixtures& bench, const Labels& labels,
            const std::set<std::string>& out_of_reach = {}) {
  LearnMoves moves(board, bench);
  Played played;
  while (const auto step = moves.next()) {
    REQUIRE(step->moves.size() + step->touches.size() == 1);
    if (!step->touches.empty() && out_of_reach.count(board[step->touches[0]].name) != 0) {
      moves.not_reached(false);
      continue;
    }
    played.moves += step->moves.size();
    played.touches += step->touches.size();
    std::set<std::uint16_t> channels;
    std::set<PointId> points;
    for (const Lead& lead : moves.hookup().leads) {
      REQUIRE(channels.insert(lead.channel).second);
      REQUIRE(points.insert(lead.point).second);
    }
    std::vector<PointId> attached = moves.fresh();
    if (attached.empty()) {
      continue;
    }
    for (const auto& piece : moves.known()) {
      for (const PointId point : piece) {
        REQUIRE(labels[index(point)] == labels[index(piece.front())]);
        attached.push_back(point);
      }
    }
    for (const PointId point : attached) {
      REQUIRE(points.count(point) == 1);
    }
    moves.record(groups_by(labels, attached));
  }
  played.groups = moves.books().groups();
  played.never_together = moves.books().never_together(SIZE_MAX).size();
  return played;
}

std::vector<PointId> all_of(const Board& board) {
  std::vector<PointId> points;
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    points.push_back(PointId{i});
  }
  return points;
}

/// The rule: one lead on each group found so far, k - 1 at most; all others past them; what matches
/// none of them waits for the next round.
std::size_t clips_by_the_rule(const Labels& labels, std::size_t leads) {
  std::vector<std::size_t> waiting = labels;
  std::size_t clips = 0;
  while (!waiting.empty()) {
    std::set<std::size_t> held;
    std::vector<std::size_t> left;
    for (const std::size_t label : waiting) {
      ++clips;
      if (held.count(label) == 0) {
        if (held.size() + 1 < leads) {
          held.insert(label);
        } else {
          left.push_back(label);
        }
      }
    }
    waiting = left;
  }
  return clips;
}

Labels random_labels(std::size_t points, std::size_t conductors, unsigned seed) {
  std::mt19937 random(seed);
  Labels labels;
  for (std::size_t i = 0; i < points; ++i) {
    labels.push_back(i < conductors ? i : random() % conductors);
  }
  for (std::size_t i = points; i-- > 1;) {
    std::swap(labels[i], labels[random() % (i + 1)]);
  }
  return labels;
}

}  // namespace

TEST_CASE("loose leads: a point each where there are fewer groups than leads", "[graph][learn]") {
  const Board board = pads(60);
  for (unsigned seed = 0; seed < 20; ++seed) {
    const Labels labels = random_labels(60, 1 + seed % 11, seed);
    const Played played = play(board, grabbers(12), labels);
    CHECK(played.groups == groups_by(labels, all_of(board)));
    CHECK(played.never_together == 0);
    CHECK(played.moves == 60);
  }
}

TEST_CASE("loose leads: random boards are learned with few leads", "[graph][learn]") {
  std::mt19937 random(3);
  std::size_t moves = 0;
  std::size_t by_the_rule = 0;
  for (int i = 0; i < 300; ++i) {
    const std::size_t points = 2 + random() % 40;
    const Board board = pads(points);
    const Labels labels = random_labels(points, 1 + random() % points, random());
    const std::size_t leads = 2 + random() % 8;
    CAPTURE(i, points, leads);
    const Played played = play(board, grabbers(leads), labels);
    REQUIRE(played.groups == groups_by(labels, all_of(board)));
    REQUIRE(played.never_together == 0);
    moves += played.moves;
    by_the_rule += clips_by_the_rule(labels, leads);
  }
  CHECK(moves <= by_the_rule);  // what waited last stays on for the next round
}

TEST_CASE("tip and grabbers, and one lead alone", "[graph][learn]") {
  const Board board = pads(30);
  const Labels labels = random_labels(30, 9, 7);
  const Fixtures with_tip = bench_of(
      "  grabbers: {kind: grabber, channels: 1-3, move: 6 s}\n"
      "  tip: {kind: tip, channels: 4, move: 2 s}\n");
  const Played played = play(board, with_tip, labels);
  CHECK(played.groups == groups_by(labels, all_of(board)));
  CHECK(played.never_together == 0);
  CHECK(played.moves < played.touches);
  CHECK(play(board, with_tip, labels, {"TP3", "TP9"}).never_together == 0);  // a grabber can

  const Played alone = play(board, grabbers(1), labels);
  CHECK(alone.moves == 0);
  CHECK(alone.never_together == 30 * 29 / 2);
}

TEST_CASE("clips and plugs take part; what only the tip reaches meets what is held",
          "[graph][learn]") {
  const Board board = padwalk::test::small_board(
      "parts:\n"
      "  U1: {kind: ic, package: DIP-16}\n"
      "  U2: {kind: ic, package: DIP-16}\n"
      "  U3: {kind: ic, package: DIP-14}\n"
      "  J1: {kind: connector, package: header 2x5}\n"
      "points:\n"
      "  TP1: {access: tip}\n");
  const Fixtures bench = bench_of(
      "  clip: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
      "  plug: {kind: plug, package: header 2x5, channels: 17-26, move: 6 s}\n"
      "  grabbers: {kind: grabber, channels: 27-28, move: 15 s}\n"
      "  tip: {kind: tip, channels: 30, move: 4 s}\n");
  for (unsigned seed = 0; seed < 30; ++seed) {
    CAPTURE(seed);
    const Labels labels = random_labels(board.points().size(), 2 + seed, seed);
    const Played played = play(board, bench, labels);
    CHECK(played.groups == groups_by(labels, all_of(board)));
    CHECK(played.never_together == 0);
  }
}

TEST_CASE("500 points: clips by the rule", "[graph][learn][slow]") {
  const Board board = pads(500);
  CHECK(play(board, grabbers(64), random_labels(500, 50, 1)).moves == 500);
  // One of many boards of 120 groups on which the rule itself takes these figures, which were
  // computed for such boards apart from this program.
  const Labels labels = random_labels(500, 120, 5940);
  const std::map<std::size_t, std::size_t> clips = {{64, 706}, {32, 1148}, {16, 2072}};
  // What waited last stays on, one clip less a round; which groups are held next differs by that.
  const std::map<std::size_t, std::size_t> planned = {{64, 705}, {32, 1143}, {16, 2082}};
  for (const auto& [leads, by_the_rule] : clips) {
    CAPTURE(leads);
    CHECK(clips_by_the_rule(labels, leads) == by_the_rule);
    const Played played = play(board, grabbers(leads), labels);
    CHECK(played.groups == groups_by(labels, all_of(board)));
    CHECK(played.never_together == 0);
    CHECK(played.moves == planned.at(leads));
  }
}

TEST_CASE("two pads that only the tip reaches never meet, and that is told", "[graph][learn]") {
  const Board board = padwalk::test::small_board(
      "points:\n  A: {}\n  B: {access: tip}\n  C: {access: tip}\n  D: {access: none}\n");
  const Fixtures bench = bench_of(
      "  grabbers: {kind: grabber, channels: 1-2, move: 6 s}\n"
      "  tip: {kind: tip, channels: 3, move: 2 s}\n");
  CHECK(play(board, bench, {0, 1, 2, 3}).never_together == 1);
  CHECK(play(board, bench, {0, 0, 2, 3}).never_together == 0);  // A stands for B
  LearnMoves moves(board, bench);
  REQUIRE(moves.not_covered().size() == 1);
  CHECK(board[moves.not_covered()[0]].name == "D");
}
