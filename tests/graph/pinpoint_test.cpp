// SPDX-License-Identifier: MIT
//
// How many touches, and how much time, a break takes: as advised, beside the best that any order of
// touches can do, bisection that knows no weights, and walking along the net.
#include "graph/pinpoint.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <functional>
#include <map>
#include <set>

#include "graph/hookup.hpp"
#include "graph/ipc356.hpp"
#include "tests/support/broken_net.hpp"
#include "tests/support/drawn_nets.hpp"
#include "tests/support/program.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;
using test::Copper;
using test::open_case;
using test::way_known;

constexpr TouchTimes kTouchTimes{4, 15};

bool reached(const Board& board, PlaceId place, Side up) {
  const Side at = board[place].side;
  return board[place].access != Access::none &&
         (at == up || (at != Side::top && at != Side::bottom));
}

Side side_for(const Board& board, PlaceId place, Side up) {
  return reached(board, place, up) ? up : up == Side::top ? Side::bottom : Side::top;
}

struct Time {
  double seconds = 0;
  double touches = 0;
};

/// One board's net with a break somewhere in it: single breaks alone can explain the pieces.
class Case {
 public:
  Case(const Board& board, NetId net, const OpenCase& open)
      : board_(board), open_(open), copper_(board, net) {
    for (const OpenSuspect& suspect : find_open_suspects(board, open).suspects) {
      if (suspect.segment) {
        suspects_.push_back(*suspect.segment);
        weights_.push_back(break_weight(board, *suspect.segment));
        labels_.push_back(copper_.pieces(*suspect.segment));
      }
    }
    for (const auto& [place, label] : labels_.front()) {
      const bool known =
          std::any_of(open.pieces.begin(), open.pieces.end(), [&](const auto& piece) {
            return std::find(piece.begin(), piece.end(), place) != piece.end();
          });
      if (!known && board[place].access != Access::none) {
        touchable_.push_back(place);
      }
    }
  }

  const std::vector<double>& weights() const { return weights_; }
  std::size_t size() const { return suspects_.size(); }

  /// As advised, by suspect.
  Time advised(std::size_t broken) const {
    Pinpoint pinpoint(board_, open_, kTouchTimes);
    Time time;
    Side up = Side::top;
    while (const auto place = pinpoint.next(up)) {
      add(time, *place, up);
      std::vector<std::size_t> conducted_to;
      for (std::size_t p = 0; p < pinpoint.pieces().size(); ++p) {
        if (labels_[broken].at(*place) == labels_[broken].at(pinpoint.pieces()[p].front())) {
          conducted_to.push_back(p);
        }
      }
      pinpoint.heard(*place, conducted_to, true);
      REQUIRE(time.touches < 100);
    }
    const auto holds = [&](const OpenSuspect& one) { return one.segment == suspects_[broken]; };
    REQUIRE(std::any_of(pinpoint.suspects().suspects.begin(), pinpoint.suspects().suspects.end(),
                        holds));
    // No touch tells those apart that are left.
    for (const OpenSuspect& left : pinpoint.suspects().suspects) {
      if (left.segment) {
        const auto at = std::find(suspects_.begin(), suspects_.end(), *left.segment);
        REQUIRE(at != suspects_.end());
        for (const PlaceId place : touchable_) {
          REQUIRE(answer(static_cast<std::size_t>(at - suspects_.begin()), place) ==
                  answer(broken, place));
        }
      }
    }
    return time;
  }

  /// Weighted sum of the best times: all orders of touches are tried, over sets of suspects.
  double best() const {
    std::map<std::pair<std::uint64_t, Side>, double> known;
    std::function<double(std::uint64_t, Side)> solve = [&](std::uint64_t set, Side up) {
      const auto found = known.find({set, up});
      if (found != known.end()) {
        return found->second;
      }
      double weight = 0;
      for (std::size_t i = 0; i < size(); ++i) {
        weight += (set >> i & 1U) != 0 ? weights_[i] : 0;
      }
      double least = -1;
      for (const PlaceId place : touchable_) {
        std::map<std::size_t, std::uint64_t> parts;
        for (std::size_t i = 0; i < size(); ++i) {
          if ((set >> i & 1U) != 0) {
            parts[answer(i, place)] |= std::uint64_t{1} << i;
          }
        }
        if (parts.size() < 2) {
          continue;
        }
        for (const Side side : {Side::top, Side::bottom}) {
          if (!reached(board_, place, side)) {
            continue;
          }
          double time = weight * (kTouchTimes.touch + (side == up ? 0 : kTouchTimes.turn));
          for (const auto& [said, part] : parts) {
            time += solve(part, side);
          }
          least = least < 0 ? time : std::min(least, time);
        }
      }
      return known[{set, up}] = std::max(least, 0.0);
    };
    return solve((std::uint64_t{1} << size()) - 1, Side::top);
  }

  /// From one piece on, place by place, until the tip hears the other: no plan, no weights.
  Time walked(std::size_t broken) const { return in_order(broken, false); }
  /// Always in the middle of what is left, whatever it weighs and on whatever side it is.
  Time bisected(std::size_t broken) const { return in_order(broken, true); }

 private:
  /// Which piece a place is with: the first, or another.
  std::size_t answer(std::size_t broken, PlaceId place) const {
    const auto& labels = labels_[broken];
    for (std::size_t p = 0; p < open_.pieces.size(); ++p) {
      if (labels.at(place) == labels.at(open_.pieces[p].front())) {
        return p;
      }
    }
    return open_.pieces.size();
  }

  void add(Time& time, PlaceId place, Side& up) const {
    const Side side = side_for(board_, place, up);
    time.seconds += kTouchTimes.touch + (side == up ? 0 : kTouchTimes.turn);
    time.touches += 1;
    up = side;
  }

  Time in_order(std::size_t broken, bool middle) const {
    // By how many suspects lie between the first piece and the place.
    std::map<std::size_t, PlaceId> behind;
    for (const PlaceId place : touchable_) {
      std::size_t count = 0;
      for (std::size_t i = 0; i < size(); ++i) {
        count += answer(i, place) != 0 ? 1 : 0;
      }
      if (count > 0 && count < size()) {
        behind.emplace(count, place);
      }
    }
    std::vector<PlaceId> row;
    for (const auto& [count, place] : behind) {
      row.push_back(place);
    }
    Time time;
    Side up = Side::top;
    std::size_t from = 0;
    std::size_t to = row.size();  // the break lies in front of row[to]
    while (from < to) {
      const std::size_t at = middle ? (from + to) / 2 : from;
      add(time, row[at], up);
      (answer(broken, row[at]) == 0 ? from : to) = answer(broken, row[at]) == 0 ? at + 1 : at;
    }
    return time;
  }

  const Board& board_;
  OpenCase open_;
  Copper copper_;
  std::vector<SegmentId> suspects_;
  std::vector<double> weights_;
  std::vector<std::map<PlaceId, std::size_t>> labels_;  ///< by suspect
  std::vector<PlaceId> touchable_;
};

/// Weighted sums over all observable breaks of boards.
struct OrderFigures {
  std::size_t breaks = 0;
  double weight = 0;
  double touches = 0;
  double advised = 0;
  double best = 0;
  double bisected = 0;
  double walked = 0;

  std::string text(const char* of) const {
    return fmt::format(
        "{}: {} breaks: {:.2f} touches, {:.2f} s; best {:.2f} s, bisected {:.2f} s, walked {:.2f} "
        "s",
        of, breaks, touches / weight, advised / weight, best / weight, bisected / weight,
        walked / weight);
  }
};

/// Breaks of nets of known way that leave two pieces, each set of suspects once.
void add_breaks(const Board& board, OrderFigures& sum) {
  std::set<std::vector<std::vector<PlaceId>>> seen;
  for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
    const NetId net = board.segments()[i].net;
    if (net == kNoNet || !way_known(board, net)) {
      continue;
    }
    const OpenCase open = open_case(board, net, SegmentId{i});
    if (open.pieces.size() != 2 || find_open_suspects(board, open).breaks != 1 ||
        !seen.insert(open.pieces).second) {
      continue;
    }
    const Case one(board, net, open);
    sum.best += one.best();
    for (std::size_t broken = 0; broken < one.size(); ++broken) {
      const double w = one.weights()[broken];
      const Time time = one.advised(broken);
      sum.advised += w * time.seconds;
      sum.touches += w * time.touches;
      sum.walked += w * one.walked(broken).seconds;
      sum.bisected += w * one.bisected(broken).seconds;
      sum.weight += w;
      ++sum.breaks;
    }
  }
}

void check_figures(const OrderFigures& sum) {
  CHECK(sum.advised <= 1.05 * sum.best);
  CHECK(sum.advised >= sum.best * (1 - 1e-9));
  CHECK(sum.advised < sum.bisected);
  CHECK(sum.bisected < sum.walked);
}

}  // namespace

TEST_CASE("what is put off is asked for once more, behind all else", "[graph][pinpoint]") {
  const Board board = test::small_board(
      "points:\n  V1: {xy: [10, 0], via: [top, bottom]}\n  V2: {xy: [20, 0], via: [bottom, top]}\n"
      "  A: {xy: [0, 0], side: top}\n  B: {xy: [30, 0], side: top}\n"
      "nets:\n  N: {route: [[A, V1, V2, B]]}\n");
  OpenCase open;
  open.net = NetId{0};
  for (const char* end : {"A", "B"}) {
    open.pieces.push_back({board[*board.find_point(end)].held});
  }
  Pinpoint pinpoint(board, open, kTouchTimes);
  const auto first = pinpoint.next(Side::top);
  REQUIRE(first);
  pinpoint.later(*first);
  const auto second = pinpoint.next(Side::top);
  REQUIRE(second);
  CHECK(*second != *first);
  std::vector<PlaceId> asked;
  for (auto next = second; next && asked.size() < 10; next = pinpoint.next(Side::top)) {
    asked.push_back(*next);
    *next == *first ? pinpoint.later(*next) : pinpoint.cannot_reach(*next);
  }
  CHECK(asked.back() == *first);  // and not a third time
  CHECK(std::set(asked.begin(), asked.end()).size() == asked.size());
  CHECK(asked.size() == 4);  // both sides of both vias
}

TEST_CASE("touches of the demo take no more time than any order can", "[graph][pinpoint]") {
  Diagnostics diagnostics("board.yaml");
  const Board board(
      read_board(test::read_text(test::source("boards/tide-gauge/board.yaml")), diagnostics),
      diagnostics);
  OrderFigures sum;
  add_breaks(board, sum);
  WARN(sum.text("demo board"));
  CHECK(sum.breaks > 100);
  check_figures(sum);
}

TEST_CASE("touches of imported routes take no more time than any order can",
          "[graph][pinpoint][ipc356]") {
  test::DrawingHabits habits;
  habits.nets = 12;
  habits.most_pins = 6;
  habits.most_vias = 5;
  habits.loops_percent = 20;
  OrderFigures sum;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    CAPTURE(seed);
    Diagnostics diagnostics("n.ipc");
    IpcSummary summary;
    BoardDescription description =
        read_ipc356(test::draw_board(seed, habits).text, std::nullopt, diagnostics, summary);
    diagnostics.throw_if_errors();
    CHECK(summary.routed == summary.nets);
    add_breaks(Board(std::move(description), diagnostics), sum);
  }
  WARN(sum.text("20 boards of drawn conductors"));
  CHECK(sum.breaks > 1000);
  check_figures(sum);
}
