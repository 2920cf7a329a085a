// SPDX-License-Identifier: MIT
//
// What earlier boards of a type tell: how many touches a hunt takes with it and without.
#include "graph/break_history.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>

#include "graph/pinpoint.hpp"
#include "tests/support/broken_net.hpp"
#include "tests/support/program.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;

constexpr TouchTimes kTimes{4, 15};
constexpr std::size_t kMostLeft = 3;

struct Hunted {
  std::size_t touches = 0;
  std::vector<SegmentId> left;
};

/// One break, from the sweep on to the last touch.
Hunted hunt(const Board& board, NetId net, SegmentId broken, const BreakHistory* history) {
  OpenCase open = test::open_case(board, net, broken);
  if (history != nullptr) {
    sharpen(board, *history, open, kTimes);
  }
  const auto labels = test::Copper(board, net).pieces(broken);
  Pinpoint pinpoint(board, open, kTimes);
  Hunted hunted;
  Side up = Side::top;
  while (const auto place = pinpoint.next(up)) {
    const Side side = board[*place].side;
    up = side == Side::top || side == Side::bottom ? side : up;
    std::vector<std::size_t> conducted_to;
    for (std::size_t p = 0; p < pinpoint.pieces().size(); ++p) {
      if (labels.at(*place) == labels.at(pinpoint.pieces()[p].front())) {
        conducted_to.push_back(p);
      }
    }
    pinpoint.heard(*place, conducted_to, true);
    ++hunted.touches;
    REQUIRE(hunted.touches < 100);
  }
  for (const OpenSuspect& suspect : pinpoint.suspects().suspects) {
    if (suspect.segment) {
      hunted.left.push_back(*suspect.segment);
    }
  }
  REQUIRE(std::find(hunted.left.begin(), hunted.left.end(), broken) != hunted.left.end());
  return hunted;
}

/// A break that a sweep sees, and how likely it is.
struct Break {
  SegmentId segment{};
  NetId net = kNoNet;
  double weight = 0;
};

std::vector<Break> breaks_of(const Board& board) {
  std::vector<Break> all;
  for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
    const SegmentId id{i};
    const NetId net = board[id].net;
    if (net == kNoNet || !test::way_known(board, net)) {
      continue;
    }
    const OpenCase open = test::open_case(board, net, id);
    if (open.pieces.size() == 2 && find_open_suspects(board, open).breaks == 1) {
      all.push_back({id, net, break_weight(board, id)});
    }
  }
  return all;
}

void count(BreakHistory& history, const Hunted& hunted) {
  if (hunted.left.size() <= kMostLeft) {
    ++history.jobs;
    for (const SegmentId segment : hunted.left) {
      history.breaks[segment] += 1 / static_cast<double>(hunted.left.size());
    }
  }
}

struct Figures {
  double without = 0;
  double with = 0;
  int most_later = 0;     ///< touches, of any break that the history has not seen
  double mean_later = 0;  ///< of these
  std::size_t unseen = 0;
};

/// `jobs` boards one after the other: half of them have the weak segment broken, the others
/// anything else.
Figures study(const Board& board, const std::vector<Break>& breaks, const Break& weak, int jobs,
              unsigned seed) {
  std::mt19937 random(seed);
  std::vector<double> weights;
  for (const Break& one : breaks) {
    weights.push_back(one.weight);
  }
  std::discrete_distribution<std::size_t> usual(weights.begin(), weights.end());
  BreakHistory history;
  Figures sum;
  for (int job = 0; job < jobs; ++job) {
    const Break& broken = random() % 2 == 0 ? weak : breaks[usual(random)];
    const Hunted with = hunt(board, broken.net, broken.segment, &history);
    sum.with += static_cast<double>(with.touches) / jobs;
    sum.without +=
        static_cast<double>(hunt(board, broken.net, broken.segment, nullptr).touches) / jobs;
    count(history, with);
  }
  for (const Break& one : breaks) {
    if (history.breaks.count(one.segment) == 0) {
      const int later = static_cast<int>(hunt(board, one.net, one.segment, &history).touches) -
                        static_cast<int>(hunt(board, one.net, one.segment, nullptr).touches);
      sum.most_later = std::max(sum.most_later, later);
      sum.mean_later += later;
      ++sum.unseen;
    }
  }
  sum.mean_later /= static_cast<double>(std::max<std::size_t>(sum.unseen, 1));
  return sum;
}

/// The backplane of the tide-gauge rack: lines that change sides from slot to slot.
Board backplane(int lines, int vias) {
  std::string points;
  std::string nets;
  for (int line = 0; line < lines; ++line) {
    const auto name = [&](const char* what, int i) {
      return what + std::to_string(line) + "_" + std::to_string(i);
    };
    const auto place = [&](const std::string& point, int i, const std::string& more) {
      points += "  " + point + ": {xy: [" + std::to_string(12 * i) + ", " +
                std::to_string(5 * line) + "], " + more + "}\n";
    };
    place(name("A", 0), 0, "side: top");
    nets += "  LINE" + std::to_string(line) + ": {route: [[" + name("A", 0);
    for (int i = 1; i <= vias; ++i) {
      place(name("V", i), i, i % 2 == 1 ? "via: [top, bottom]" : "via: [bottom, top]");
      nets += ", " + name("V", i);
    }
    place(name("B", 0), vias + 1, vias % 2 == 0 ? "side: top" : "side: bottom");
    nets += ", " + name("B", 0) + "]]}\n";
  }
  return test::small_board("state: bare\npoints:\n" + points + "nets:\n" + nets);
}

Board demo_board() {
  Diagnostics diagnostics("board.yaml");
  return Board(
      read_board(test::read_text(test::source("boards/tide-gauge/board.yaml")), diagnostics),
      diagnostics);
}

const std::string kRow =
    "state: bare\npoints:\n  A: {xy: [0, 0], side: top}\n  V1: {xy: [10, 0], via: [top, bottom]}\n"
    "  V2: {xy: [20, 0], via: [bottom, top]}\n  B: {xy: [30, 0], side: top}\n"
    "nets:\n  N: {route: [[A, V1, V2, B]]}\n";

}  // namespace

TEST_CASE("history: no earlier job changes nothing, and one is not believed alone",
          "[graph][history]") {
  const Board board = test::small_board(kRow);
  const SegmentId weak = board.find_segments("V1@top", "V1@bottom").front();
  CHECK(history_factor(board, {}, weak) == 1);
  OpenCase open = test::open_case(board, NetId{0}, weak);
  const OpenSuspects before = find_open_suspects(board, open);
  sharpen(board, {}, open);
  CHECK(open.factors.empty());
  CHECK_FALSE(find_open_suspects(board, open).sharpened);

  BreakHistory one{1, {{weak, 1.0}}};
  CHECK(history_factor(board, one, weak) > 1.1);
  CHECK(history_factor(board, one, weak) < 4.0 / 3);
  sharpen(board, one, open);
  const OpenSuspects after = find_open_suspects(board, open);
  CHECK(after.sharpened);
  REQUIRE(after.suspects.size() == before.suspects.size());
  double sum = 0;
  for (const OpenSuspect& suspect : after.suspects) {
    const auto was =
        std::find_if(before.suspects.begin(), before.suspects.end(),
                     [&](const auto& each) { return each.segment == suspect.segment; });
    CHECK((suspect.likelihood > was->likelihood) == (suspect.segment == weak));
    sum += suspect.likelihood;
  }
  CHECK(sum == Approx(1));

  // Whatever the history says, half of what it does not speak for is left.
  const BreakHistory many{1000, {{weak, 1000.0}}};
  sharpen(board, many, open);
  for (const OpenSuspect& suspect : find_open_suspects(board, open).suspects) {
    const auto was =
        std::find_if(before.suspects.begin(), before.suspects.end(),
                     [&](const auto& each) { return each.segment == suspect.segment; });
    CHECK(suspect.likelihood >= 0.4999 * was->likelihood);
    if (suspect.segment == weak) {
      CHECK(suspect.likelihood > 0.5);
    }
  }
  sharpen(board, {5, {{weak, 0.0}}}, open);
  CHECK(open.factors.empty());
}

TEST_CASE("history: of a weak via 200 jobs save touches, and what is new costs one more at most",
          "[graph][history]") {
  const Board board = backplane(4, 6);
  const std::vector<Break> breaks = breaks_of(board);
  REQUIRE(breaks.size() == 4 * 13);
  const SegmentId via = board.find_segments("V2_5@top", "V2_5@bottom").front();
  const auto weak = std::find_if(breaks.begin(), breaks.end(),
                                 [&](const Break& one) { return one.segment == via; });
  REQUIRE(weak != breaks.end());
  const Figures figures = study(board, breaks, *weak, 200, 1);
  WARN("weak via, 200 jobs: mean touches "
       << figures.without << " without history, " << figures.with << " with; of " << figures.unseen
       << " breaks never seen: mean " << figures.mean_later << ", most " << figures.most_later
       << " later");
  CHECK(figures.with < figures.without);
  CHECK(figures.most_later <= 1);
}

TEST_CASE("history: any weak via of several boards", "[graph][history][.long][slow]") {
  struct Kind {
    const char* name;
    Board board;
  };
  const Kind kinds[] = {{"demo board", demo_board()},
                        {"backplane of 4 lines, 6 vias each", backplane(4, 6)}};
  for (const Kind& kind : kinds) {
    const std::vector<Break> breaks = breaks_of(kind.board);
    Figures sum;
    int most_later = 0;
    double least_gain = 100;
    unsigned weak_vias = 0;
    for (const Break& weak : breaks) {
      if (kind.board[weak.segment].kind != SegmentKind::barrel) {
        continue;
      }
      const Figures figures = study(kind.board, breaks, weak, 200, ++weak_vias);
      sum.with += figures.with;
      sum.without += figures.without;
      least_gain = std::min(least_gain, figures.without - figures.with);
      most_later = std::max(most_later, figures.most_later);
    }
    WARN(kind.name << ", " << weak_vias << " weak vias: mean touches " << sum.without / weak_vias
                   << " without history, " << sum.with / weak_vias << " with; least gain "
                   << least_gain << "; what is new at most " << most_later << " later");
    CHECK(most_later <= 1);
  }
}
