// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <set>
#include <tuple>

#include "graph/suspects.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;

using padwalk::test::small_board;

std::vector<NetId> nets_of(const Board& board, const std::vector<std::string>& names) {
  std::vector<NetId> nets;
  for (const std::string& name : names) {
    nets.push_back(board.find_net(name).value());
  }
  return nets;
}

std::vector<std::string> gaps(const Board& board, const std::vector<std::string>& nets) {
  std::vector<std::string> all;
  for (const GapSuspect& gap : ShortSuspects(board).find(nets_of(board, nets))) {
    all.push_back(board.place_name(gap.a) + "-" + board.place_name(gap.b));
  }
  return all;
}

/// A random board of pads on a grid, so that there are ties: pins through holes, surface pads, test
/// pads, vias, some without a position, some with a size.
BoardDescription random_copper(std::mt19937& random) {
  const auto below = [&](unsigned n) { return static_cast<int>(random() % n); };
  const auto xy = [&]() -> std::optional<Xy> {
    if (below(8) == 0) {
      return std::nullopt;
    }
    return Xy{below(12) * 0.5, below(12) * 0.5};
  };
  const auto pad = [&]() -> std::optional<Xy> {
    if (below(3) == 0) {
      return std::nullopt;
    }
    return Xy{0.1 + below(5) * 0.1, 0.1 + below(5) * 0.1};
  };
  BoardDescription board;
  board.name = "random";
  board.state = below(2) == 0 ? BoardState::bare : BoardState::assembled;
  board.nets.resize(3);
  PartDescription part;
  part.name = "U1";
  for (int i = 0; i < 40; ++i) {
    const Side side = below(2) == 0 ? Side::top : Side::bottom;
    const std::string number = std::to_string(i);
    std::string name = "P" + number;
    const int kind = below(4);
    if (kind == 0) {
      PinDescription pin;
      pin.name = number;
      pin.xy = xy();
      pin.pad = pad();
      pin.side = below(2) == 0 ? side : Side::unknown;
      part.pins.push_back(pin);
      name = "U1." + number;
    } else {
      PointDescription point;
      point.name = name;
      point.xy = xy();
      point.pad = pad();
      if (kind == 1) {
        point.via = {Side::top, below(3) == 0 ? inner_side(1) : Side::bottom};
      } else {
        point.side = side;
      }
      board.points.push_back(point);
    }
    NetDescription& net = board.nets[random() % board.nets.size()];
    net.name = "N" + std::to_string(&net - board.nets.data());
    net.members.push_back({name, {}});
  }
  for (NetDescription& net : board.nets) {
    net.name = "N" + std::to_string(&net - board.nets.data());
  }
  if (part.pins.empty()) {
    part.pins.push_back({"1", {}, Side::unknown, {}, {}, {}, {}});
  }
  board.parts.push_back(part);
  return board;
}

using Pair = std::pair<PlaceId, PlaceId>;

/// All pairs that can be bridged, with the distance of their edges or centres.
std::vector<std::pair<double, Pair>> all_pairs(const Board& board, const std::vector<NetId>& nets) {
  std::vector<std::pair<double, Pair>> all;
  const auto net_rank = [&](NetId net) {
    return std::find(nets.begin(), nets.end(), net) - nets.begin();
  };
  for (std::uint32_t i = 0; i < board.places().size(); ++i) {
    for (std::uint32_t j = 0; j < board.places().size(); ++j) {
      const Place& a = board[PlaceId{i}];
      const Place& b = board[PlaceId{j}];
      if (net_rank(a.net) >= net_rank(b.net) ||
          net_rank(b.net) == static_cast<std::ptrdiff_t>(nets.size()) || a.point == kNoPoint ||
          b.point == kNoPoint) {
        continue;
      }
      bool usable = true;
      std::set<Side> sides[2];
      for (int k = 0; k < 2; ++k) {
        const Place& place = k == 0 ? a : b;
        usable = usable && place.kind != PlaceKind::leg && place.kind != PlaceKind::socket &&
                 board[place.point].xy;
        sides[k] = place.side == Side::unknown ? std::set<Side>{Side::top, Side::bottom}
                                               : std::set<Side>{place.side};
      }
      usable = usable && ((sides[0].count(Side::top) != 0 && sides[1].count(Side::top) != 0) ||
                          (sides[0].count(Side::bottom) != 0 && sides[1].count(Side::bottom) != 0));
      if (!usable) {
        continue;
      }
      const Point& p = board[a.point];
      const Point& q = board[b.point];
      double dx = std::fabs(p.xy->x - q.xy->x);
      double dy = std::fabs(p.xy->y - q.xy->y);
      if (p.pad && q.pad) {
        dx = std::max(dx - p.pad->x / 2 - q.pad->x / 2, 0.0);
        dy = std::max(dy - p.pad->y / 2 - q.pad->y / 2, 0.0);
      }
      all.push_back({std::sqrt(dx * dx + dy * dy), {PlaceId{i}, PlaceId{j}}});
    }
  }
  std::sort(all.begin(), all.end());
  return all;
}

}  // namespace

TEST_CASE("the closest pads of two nets are suspects of a short", "[graph][suspects]") {
  const Board board = small_board(
      "state: bare\n"
      "points:\n"
      "  A1: {xy: [0, 0], side: top}\n"
      "  A2: {xy: [10, 0], side: bottom}\n"
      "  B1: {xy: [1, 0], side: bottom}\n"
      "  B2: {xy: [0, 3], side: top}\n"
      "  B3: {xy: [12, 0], side: bottom}\n"
      "  B4: {side: bottom}\n"
      "nets:\n  A: [A1, A2]\n  B: [B1, B2, B3, B4]\n");
  CHECK(gaps(board, {"A", "B"}) == std::vector<std::string>{"A2-B3", "A1-B2", "A2-B1"});
  CHECK(gaps(board, {"B", "A"}) == std::vector<std::string>{"B3-A2", "B2-A1", "B1-A2"});
}

TEST_CASE("a gap lies between the edges of pads whose sizes are known", "[graph][suspects]") {
  const Board board = small_board(
      "points:\n"
      "  A1: {xy: [0, 0], side: top, pad: [1, 3]}\n"
      "  B1: {xy: [2, 0], side: top, pad: [0.5, 0.5]}\n"
      "  B2: {xy: [0, 1.4], side: top}\n"
      "nets:\n  A: [A1]\n  B: [B1, B2]\n");
  const std::vector<GapSuspect> found = ShortSuspects(board).find(nets_of(board, {"A", "B"}));
  REQUIRE(found.size() == 2);
  CHECK(board.place_name(found[0].b) == "B1");
  CHECK(found[0].gap_mm == Approx(1.25));
  CHECK(found[1].gap_mm == Approx(1.4));
  CHECK(found[0].likelihood > found[1].likelihood);
}

TEST_CASE("a region raises the likelihood of a gap in it", "[graph][suspects]") {
  const std::string body =
      "points:\n"
      "  A1: {xy: [0, 0], side: top}\n  B1: {xy: [1, 0], side: top}\n"
      "  A2: {xy: [50, 0], side: top}\n  B2: {xy: [51, 0], side: top}\n"
      "nets:\n  A: [A1, A2]\n  B: [B1, B2]\n";
  const Board plain = small_board(body);
  CHECK(ShortSuspects(plain).find(nets_of(plain, {"A", "B"}))[0].likelihood ==
        Approx(ShortSuspects(plain).find(nets_of(plain, {"A", "B"}))[1].likelihood));
  const Board leaked = small_board(
      body + "regions:\n  cell: {polygon: [[45, -5], [60, -5], [60, 5], [45, 5]], suspicion: 5}\n");
  const std::vector<GapSuspect> found = ShortSuspects(leaked).find(nets_of(leaked, {"A", "B"}));
  CHECK(leaked.place_name(found[1].a) == "A2");
  CHECK(found[1].likelihood == Approx(5 * found[0].likelihood));
}

TEST_CASE("nets without positions have no gaps", "[graph][suspects]") {
  const Board board = small_board(
      "points:\n  A1: {side: top}\n  B1: {xy: [1, 0], side: top}\n"
      "nets:\n  A: [A1]\n  B: [B1]\n");
  CHECK(ShortSuspects(board).find(nets_of(board, {"A", "B"})).empty());
}

TEST_CASE("closest places are those of trying all pairs, on both sides",
          "[graph][suspects][slow]") {
  std::size_t ties = 0;
  for (unsigned seed = 0; seed < 400; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    Diagnostics diagnostics("random");
    const Board board(random_copper(random), diagnostics);
    const ShortSuspects suspects(board);
    for (const std::vector<std::string>& names :
         {std::vector<std::string>{"N0", "N1"}, {"N2", "N0"}, {"N1", "N2", "N0"}}) {
      const std::vector<NetId> nets = nets_of(board, names);
      const auto pairs = all_pairs(board, nets);
      std::set<Pair> expected;
      const double limit = pairs.size() < 3 ? 1e9 : pairs[2].first + 1e-6;
      for (const auto& [mm, pair] : pairs) {
        if (mm <= limit) {
          expected.insert(pair);
        }
      }
      std::set<Pair> found;
      double sum = 0;
      double last = 0;
      const std::vector<GapSuspect> all = suspects.find(nets);
      for (const GapSuspect& gap : all) {
        found.insert({gap.a, gap.b});
        sum += gap.likelihood;
        CHECK(gap.gap_mm >= last);
        last = gap.gap_mm;
      }
      CHECK(found == expected);
      CHECK(found.size() == all.size());
      CHECK((all.empty() || std::abs(sum - 1) < 1e-9));
      ties += found.size() > 3 ? 1 : 0;
    }
  }
  CHECK(ties > 50);
}

TEST_CASE("two nets of thousands of places are compared quickly", "[graph][suspects]") {
  BoardDescription description;
  description.name = "large";
  description.nets.resize(2);
  description.nets[0].name = "A";
  description.nets[1].name = "B";
  for (int i = 0; i < 6000; ++i) {
    PointDescription point;
    point.name = "P" + std::to_string(i);
    point.xy = Xy{(i % 200) * 1.0 + (i % 2) * 0.001 * (i / 200), (i / 200) * 2.0};
    point.side = Side::bottom;
    description.nets[static_cast<std::size_t>(i % 2)].members.push_back({point.name, {}});
    description.points.push_back(point);
  }
  Diagnostics diagnostics("large");
  const Board board(std::move(description), diagnostics);
  const std::vector<GapSuspect> found = ShortSuspects(board).find(nets_of(board, {"A", "B"}));
  REQUIRE(found.size() >= 3);
  CHECK(found.front().gap_mm == Approx(0.971));
}
