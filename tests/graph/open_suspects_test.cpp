// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <numeric>
#include <random>
#include <set>

#include "graph/suspects.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;

using padwalk::test::small_board;

PlaceId place(const Board& board, const std::string& name) {
  const std::vector<PlaceId> found = board.find_places(name);
  REQUIRE(found.size() == 1);
  return found.front();
}

/// The first place that a lead on the point has, or the place of that name.
PlaceId lead(const Board& board, const std::string& name) {
  const auto point = board.find_point(name);
  return point ? board[*point].held : place(board, name);
}

OpenCase open_case(const Board& board, const std::string& net,
                   const std::vector<std::vector<std::string>>& pieces,
                   const std::vector<std::string>& doubtful = {}) {
  OpenCase open;
  open.net = board.find_net(net).value();
  for (const std::vector<std::string>& piece : pieces) {
    open.pieces.emplace_back();
    for (const std::string& name : piece) {
      open.pieces.back().push_back(lead(board, name));
    }
  }
  for (const std::string& name : doubtful) {
    open.contact_doubtful.push_back(board.find_point(name).value());
  }
  return open;
}

std::string suspect_name(const Board& board, const OpenSuspect& suspect) {
  if (!suspect.segment) {
    return "lead on " + board[suspect.contact].name;
  }
  const Segment& segment = board[*suspect.segment];
  if (segment.kind == SegmentKind::unknown_way) {
    return "way to " + board[segment.member].name;
  }
  return board.place_name(segment.a) + "-" + board.place_name(segment.b);
}

std::set<std::string> suspects(const Board& board, const OpenSuspects& result) {
  std::set<std::string> all;
  for (const OpenSuspect& suspect : result.suspects) {
    all.insert(suspect_name(board, suspect));
  }
  CHECK(all.size() == result.suspects.size());
  return all;
}

using NameSet = std::set<std::string>;

constexpr const char* kTwoChips =
    "parts:\n"
    "  U1: {kind: ic, package: DIP-8, xy: [10, 20]}\n"
    "  U2: {kind: ic, package: DIP-8, xy: [30, 20], chip: socketed}\n"
    "points:\n"
    "  V1: {xy: [20, 20], via: [top, bottom]}\n"
    "  TP1: {xy: [20, 10], side: bottom}\n";

}  // namespace

TEST_CASE("an open between two chips has its whole way as suspects", "[graph][suspects]") {
  const Board board =
      small_board(std::string(kTwoChips) + "nets:\n  A: {route: [[U1.1, V1, U2.1]]}\n");
  const OpenSuspects result =
      find_open_suspects(board, open_case(board, "A", {{"U1.1"}, {"U2.1"}}));
  CHECK(result.breaks == 1);
  CHECK_FALSE(result.contradiction);
  CHECK_FALSE(result.way_unknown);
  CHECK(result.together.empty());
  CHECK(suspects(board, result) == NameSet{"U1.1@bottom-U1.1@leg", "U1.1@bottom-U1.1@top",
                                           "U1.1@top-V1@top", "V1@top-V1@bottom",
                                           "V1@bottom-U2.1@bottom", "U2.1@bottom-U2.1@socket",
                                           "U2.1@socket-U2.1@leg"});
  CHECK(suspect_name(board, result.suspects.front()) == "U2.1@socket-U2.1@leg");
  // In a row 4, 8 + 1, 8, 1 and 4 + 10: the top pad and the socket cannot be touched. Cut behind
  // the 1 it takes 80/36 touches on average, behind 8 + 1 it would be 81/36.
  CHECK(result.suspects.front().likelihood == Approx(10.0 / 36));
  REQUIRE(result.next_touch);
  CHECK(board.place_name(*result.next_touch) == "U2.1@bottom");
}

TEST_CASE("a touch halves the suspects until a segment is left", "[graph][suspects]") {
  const Board board =
      small_board(std::string(kTwoChips) + "nets:\n  A: {route: [[U1.1, V1, U2.1]]}\n");
  OpenCase open = open_case(board, "A", {{"U1.1", "V1@top"}, {"U2.1"}});
  CHECK(suspects(board, find_open_suspects(board, open)).size() == 4);
  open.pieces[1].push_back(place(board, "V1@bottom"));
  const OpenSuspects last = find_open_suspects(board, open);
  CHECK(suspects(board, last) == NameSet{"V1@top-V1@bottom"});
  CHECK(last.suspects.front().likelihood == Approx(1));
  CHECK_FALSE(last.next_touch);
}

TEST_CASE("a silent lead's own contact is a suspect until its point is touched",
          "[graph][suspects]") {
  const Board board = small_board("state: bare\n" + std::string(kTwoChips) +
                                  "nets:\n  A: {route: [[V1@bottom, TP1], [U1.1@bottom, TP1]]}\n");
  OpenCase open = open_case(board, "A", {{"U1.1"}, {"TP1"}}, {"TP1"});
  const OpenSuspects first = find_open_suspects(board, open);
  CHECK(suspects(board, first) == NameSet{"U1.1@bottom-TP1", "lead on TP1"});
  REQUIRE(first.next_touch);
  CHECK(board.place_name(*first.next_touch) == "TP1");
  SECTION("the tip conducts to the lead: the contact is good") {
    open.pieces[1].push_back(*first.next_touch);
    CHECK(suspects(board, find_open_suspects(board, open)) == NameSet{"U1.1@bottom-TP1"});
  }
  SECTION("the tip conducts to the rest: the contact is bad") {
    open.pieces[0].push_back(*first.next_touch);
    const OpenSuspects last = find_open_suspects(board, open);
    CHECK(suspects(board, last) == NameSet{"lead on TP1"});
    CHECK(last.suspects.front().contact == board.find_point("TP1"));
    CHECK_FALSE(last.next_touch);
  }
  SECTION("the tip conducts to nothing: both are bad") {
    open.pieces.push_back({*first.next_touch});
    const OpenSuspects last = find_open_suspects(board, open);
    CHECK(last.breaks == 2);
    CHECK(last.together == std::vector<std::vector<std::size_t>>{{0, 1}});
  }
}

TEST_CASE("two breaks in a ring come in sets", "[graph][suspects]") {
  const Board board = small_board(
      "points:\n"
      "  A: {xy: [0, 0], side: top}\n  B: {xy: [10, 0], side: top, access: tip}\n"
      "  C: {xy: [10, 20], side: top}\n  D: {xy: [0, 20], side: top, access: tip}\n"
      "nets:\n  N: {route: [{side: top, chain: [A, B, C, D, A]}]}\n");
  const OpenSuspects result = find_open_suspects(board, open_case(board, "N", {{"A"}, {"C"}}));
  CHECK(result.breaks == 2);
  REQUIRE(result.suspects.size() == 4);
  // A-B 1, B-C 2, C-D 1, D-A 2: each arm holds one of the two breaks
  CHECK(suspect_name(board, result.suspects[0]) == "B-C");
  CHECK(result.suspects[0].likelihood == Approx(1.0 / 3));
  CHECK(result.suspects[2].likelihood == Approx(1.0 / 6));
  std::set<NameSet> together;
  for (const std::vector<std::size_t>& set : result.together) {
    together.insert({suspect_name(board, result.suspects[set[0]]),
                     suspect_name(board, result.suspects[set[1]])});
  }
  CHECK(together ==
        std::set<NameSet>{{"A-B", "C-D"}, {"A-B", "D-A"}, {"B-C", "C-D"}, {"B-C", "D-A"}});
  CHECK(result.next_touch);
}

TEST_CASE("pieces that cross on a route are a contradiction", "[graph][suspects]") {
  const Board board = small_board(
      "points:\n  A: {side: top}\n  B: {side: top}\n  C: {side: top}\n  D: {side: top}\n"
      "nets:\n  N: {route: [{side: top, chain: [A, B, C, D]}]}\n");
  const OpenSuspects result =
      find_open_suspects(board, open_case(board, "N", {{"A", "C"}, {"B", "D"}}));
  CHECK(result.contradiction);
  CHECK(result.suspects.empty());
  CHECK_FALSE(result.next_touch);
  CHECK(find_open_suspects(board, open_case(board, "N", {{"A", "B"}, {"B", "D"}})).contradiction);
}

TEST_CASE("one piece needs no suspects", "[graph][suspects]") {
  const Board board = small_board(std::string(kTwoChips) + "nets:\n  A: [U1.1, U2.1]\n");
  const OpenSuspects none = find_open_suspects(board, open_case(board, "A", {{"U1.1", "U2.1"}}));
  CHECK(none.breaks == 0);
  CHECK(none.suspects.empty());
}

TEST_CASE("where the way is not known, the smaller piece's points are suspects",
          "[graph][suspects]") {
  const Board board =
      small_board(std::string(kTwoChips) + "nets:\n  A: [U1.1, U1.2, U1.3, U2.1, U2.2, V1]\n");
  const auto find = [&](const std::vector<std::vector<std::string>>& pieces) {
    return find_open_suspects(board, open_case(board, "A", pieces));
  };
  SECTION("two points cut off together") {
    const OpenSuspects result = find({{"U1.1", "U2.2", "U1.3"}, {"U1.2", "U2.1"}});
    CHECK(result.way_unknown);
    CHECK(result.breaks == 1);
    CHECK(suspects(board, result) == NameSet{"way to U1.2", "way to U2.1"});
    CHECK_FALSE(result.next_touch);
  }
  SECTION("one point: what lies between its lead and its copper as well") {
    const OpenSuspects result = find({{"U1.1", "U1.2", "U1.3"}, {"U2.1"}});
    CHECK(result.breaks == 1);
    CHECK(suspects(board, result) ==
          NameSet{"way to U2.1", "U2.1@pad-U2.1@socket", "U2.1@socket-U2.1@leg"});
    REQUIRE(result.next_touch);
    CHECK(board.place_name(*result.next_touch) == "U2.1@pad");
  }
  SECTION("a tie: both pieces") {
    CHECK(suspects(board, find({{"U1.1", "U1.2"}, {"U2.1", "U2.2"}})) ==
          NameSet{"way to U1.1", "way to U1.2", "way to U2.1", "way to U2.2"});
  }
  SECTION("three pieces need two breaks") {
    const OpenSuspects result =
        find({{"U1.1", "U1.2"}, {"U2.1", "U2.1@pad"}, {"U1.3", "U1.3@pad"}});
    CHECK(result.breaks == 2);
    CHECK(suspects(board, result) == NameSet{"way to U2.1", "way to U1.3"});
  }
  SECTION("the two sides of a via in two pieces: its barrel") {
    const OpenSuspects result = find({{"U1.1", "V1@top"}, {"V1@bottom", "U1.2"}});
    CHECK(result.breaks == 1);
    CHECK_FALSE(result.way_unknown);
    CHECK(suspects(board, result) == NameSet{"V1@top-V1@bottom"});
  }
  SECTION("leg and pad of a pin in two pieces: what lies between them") {
    CHECK(suspects(board, find({{"U1.1", "U2.1@pad"}, {"U2.1"}})) ==
          NameSet{"U2.1@pad-U2.1@socket", "U2.1@socket-U2.1@leg"});
  }
}

TEST_CASE("a unit that may hang anywhere says nothing about the route that it is with",
          "[graph][suspects]") {
  const Board board = small_board(
      "points:\n"
      "  A: {xy: [0, 0], side: top}\n  B: {xy: [10, 0], side: top}\n  C: {xy: [20, 0], side: top}\n"
      "  D: {xy: [30, 0], side: top, access: tip}\n  X: {side: top}\n"
      "nets:\n  N:\n    route:\n      - {side: top, chain: [A, B, C, D]}\n    also: [X]\n");
  const auto find = [&](const std::vector<std::vector<std::string>>& pieces) {
    return find_open_suspects(board, open_case(board, "N", pieces));
  };
  CHECK(suspects(board, find({{"A", "X"}, {"C"}})) == NameSet{"A-B", "B-C"});
  CHECK(suspects(board, find({{"A"}, {"C", "X"}})) == NameSet{"A-B", "B-C"});
  CHECK(board.place_name(find({{"A"}, {"C", "X"}}).next_touch.value()) == "B");
  const OpenSuspects alone = find({{"A", "B", "C"}, {"X"}});
  CHECK(alone.way_unknown);
  CHECK(suspects(board, alone) == NameSet{"way to X", "C-D"});  // it may hang from D
  CHECK(board.place_name(alone.next_touch.value()) == "D");
}

TEST_CASE("how likely a segment breaks follows kind, length and region", "[graph][suspects]") {
  const Board board = small_board(
      std::string(kTwoChips) +
      "nets:\n  A: {route: [[U1.1, V1, U2.1]]}\n  B: [U1.2, U2.2]\n"
      "regions:\n  cell: {polygon: [[25, 15], [40, 15], [40, 25], [25, 25]], suspicion: 3}\n");
  std::map<std::string, double> weight;
  for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
    const SegmentId id{i};
    weight[suspect_name(board, {id, kNoPoint, 0})] = break_weight(board, id);
  }
  CHECK(weight["U1.1@top-V1@top"] == Approx(1));
  CHECK(weight["V1@bottom-U2.1@bottom"] == Approx(3));
  CHECK(weight["U1.1@bottom-U1.1@leg"] == Approx(4));
  CHECK(weight["V1@top-V1@bottom"] == Approx(8));
  CHECK(weight["U2.1@socket-U2.1@leg"] == Approx(30));
  CHECK(weight["way to U1.2"] == Approx(4));
}

// ---- touches as advised, on random boards ------------------------------------------------------

namespace {

/// A net of pins, vias and test pads on a board of its own. `way`: 0 a route, 1 a route and other
/// members, 2 members only.
BoardDescription random_net(std::mt19937& random, int way) {
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
  BoardDescription board;
  board.name = "random";
  board.state = below(2) == 0 ? BoardState::bare : BoardState::assembled;
  NetDescription net;
  net.name = "N";
  PartDescription part;
  part.name = "U1";
  part.chip = below(2) == 0 ? ChipState::soldered : ChipState::socketed;
  std::vector<std::string> top, bottom, all;
  const std::size_t count = 3 + below(9);
  for (std::size_t i = 0; i < count; ++i) {
    const Xy xy{static_cast<double>(below(100)), static_cast<double>(below(100))};
    std::string name;
    if (below(2) == 0) {
      PinDescription pin;
      pin.name = std::to_string(i);
      pin.xy = xy;
      part.pins.push_back(pin);
      name = "U1." + pin.name;
      top.push_back(name);
      bottom.push_back(name);
    } else {
      PointDescription point;
      point.name = name = "P" + std::to_string(i);
      point.xy = xy;
      const std::array<Access, 4> choice = {Access::clip, Access::clip, Access::tip, Access::none};
      point.access = {choice[below(4)]};
      if (below(2) == 0) {
        point.via = {Side::top, Side::bottom};
        top.push_back(name);
        bottom.push_back(name);
      } else {
        point.side = below(2) == 0 ? Side::top : Side::bottom;
        (point.side == Side::top ? top : bottom).push_back(name);
      }
      board.points.push_back(point);
    }
    all.push_back(name);
  }
  if (part.pins.empty()) {
    PinDescription pin;
    pin.name = "1";
    part.pins.push_back(pin);
  }
  board.parts.push_back(part);
  std::set<std::string> used;
  const std::size_t chains = way == 0 ? 1 + below(8) : way == 1 ? 2 : 0;
  for (std::size_t i = 0; i < chains; ++i) {
    ChainDescription chain;
    chain.side = below(2) == 0 ? Side::top : Side::bottom;
    const std::vector<std::string>& there = chain.side == Side::top ? top : bottom;
    const std::size_t length = 2 + below(4);
    for (std::size_t k = 0; k < length && !there.empty(); ++k) {
      const std::string& name = there[below(there.size())];
      if (chain.points.empty() || chain.points.back().name != name) {
        chain.points.push_back({name, {}});
      }
    }
    if (chain.points.size() < 2) {
      continue;
    }
    for (const Reference& point : chain.points) {
      used.insert(point.name);
    }
    if (below(6) == 0) {
      const Side side = chain.side;
      const auto on_side = [&](const std::string& name) {
        const bool via = std::any_of(board.points.begin(), board.points.end(), [&](const auto& p) {
          return p.name == name && !p.via.empty();
        });
        return via ? name + "@" + side_name(side) : name;
      };
      CopperDescription copper;
      copper.between = {Reference{on_side(chain.points[0].name), {}},
                        Reference{on_side(chain.points[1].name), {}}};
      copper.count = 2;
      board.copper.push_back(copper);
    }
    net.route.push_back(chain);
  }
  for (const std::string& name : all) {
    if (way != 0 && used.count(name) == 0) {
      net.members.push_back({name, {}});
    }
  }
  board.nets.push_back(net);
  return board;
}

/// What is really there. Vertices are places, then one lead a place. Edges are the net's segments,
/// then the leads' contacts. Units of unknown way hang from a random pad of the route.
class BreakTruth {
 public:
  BreakTruth(const Board& board, std::mt19937& random) : board_(board) {
    const std::size_t places = board.places().size();
    std::vector<std::size_t> known(places);
    std::iota(known.begin(), known.end(), 0);
    for (const Segment& segment : board.segments()) {
      if (segment.kind != SegmentKind::unknown_way) {
        std::replace(known.begin(), known.end(), known[index(segment.a)], known[index(segment.b)]);
      }
    }
    for (const Segment& segment : board.segments()) {
      std::size_t end = index(segment.b);
      if (segment.kind == SegmentKind::unknown_way && board[segment.b].kind != PlaceKind::hub) {
        std::vector<std::size_t> pads;
        for (std::size_t p = 0; p < places; ++p) {
          const PlaceKind kind = board.places()[p].kind;
          if (known[p] == known[end] && kind != PlaceKind::leg && kind != PlaceKind::socket) {
            pads.push_back(p);
          }
        }
        end = pads[random() % pads.size()];
      }
      edges_.emplace_back(index(segment.a), end);
    }
    for (std::size_t p = 0; p < places; ++p) {
      edges_.emplace_back(p, places + p);
    }
  }

  std::size_t contact(PlaceId id) const { return board_.segments().size() + index(id); }
  std::size_t lead(PlaceId id) const { return board_.places().size() + index(id); }

  /// The component of every vertex without the broken edges.
  std::vector<std::size_t> broken(const std::set<std::size_t>& out) const {
    std::vector<std::size_t> label(board_.places().size() * 2);
    std::iota(label.begin(), label.end(), 0);
    for (std::size_t e = 0; e < edges_.size(); ++e) {
      if (out.count(e) == 0) {
        const std::size_t from = label[edges_[e].first];
        std::replace(label.begin(), label.end(), from, label[edges_[e].second]);
      }
    }
    return label;
  }

 private:
  const Board& board_;
  std::vector<std::pair<std::size_t, std::size_t>> edges_;
};

/// Which of the vertices are joined, as numbers in order of appearance.
std::vector<std::size_t> partition(const std::vector<std::size_t>& label,
                                   const std::vector<std::size_t>& vertices) {
  std::map<std::size_t, std::size_t> number;
  std::vector<std::size_t> result;
  for (const std::size_t v : vertices) {
    result.push_back(number.emplace(label[v], number.size()).first->second);
  }
  return result;
}

struct Pinpointed {
  OpenSuspects first;
  OpenSuspects last;
  int touches = 0;
};

/// A board with one net, its leads, and what is broken on it.
struct Bench {
  Bench(const Board& on, std::mt19937& random) : board(on), truth(on, random) {
    for (const PointId point : board[NetId{0}].points) {
      if (board[point].access == Access::clip) {
        attached.push_back(point);
        leads.push_back(truth.lead(board[point].held));
      }
    }
    for (std::uint32_t p = 0; p < board.places().size(); ++p) {
      if (board[PlaceId{p}].net == NetId{0} && board[PlaceId{p}].access != Access::none) {
        touchable.push_back(p);
      }
    }
  }

  OpenCase measure(const std::set<std::size_t>& broken) const {
    const std::vector<std::size_t> label = truth.broken(broken);
    std::map<std::size_t, std::vector<PointId>> pieces;
    for (const PointId point : attached) {
      pieces[label[truth.lead(board[point].held)]].push_back(point);
    }
    OpenCase open;
    open.net = NetId{0};
    for (const auto& [component, points] : pieces) {
      open.pieces.emplace_back();
      for (const PointId point : points) {
        open.pieces.back().push_back(board[point].held);
      }
      if (points.size() == 1) {
        open.contact_doubtful.push_back(points.front());
      }
    }
    return open;
  }

  /// Touches as advised. `always_holds`: a cause that must be a suspect all the time.
  Pinpointed pinpoint(OpenCase open, const std::set<std::size_t>& broken,
                      std::optional<std::size_t> always_holds) const {
    const std::vector<std::size_t> label = truth.broken(broken);
    std::vector<std::size_t> component;
    for (const std::vector<PlaceId>& piece : open.pieces) {
      component.push_back(label[truth.lead(piece.front())]);
    }
    Pinpointed result;
    result.first = result.last = find_open_suspects(board, open);
    while (true) {
      const OpenSuspects& now = result.last;
      double sum = 0;
      for (const OpenSuspect& suspect : now.suspects) {
        sum += suspect.likelihood;
      }
      REQUIRE((now.suspects.empty() || std::abs(sum - 1) < 1e-9));
      if (always_holds) {
        REQUIRE(causes(now).count(*always_holds) == 1);
      }
      if (!now.next_touch) {
        return result;
      }
      const PlaceId touch = *now.next_touch;
      REQUIRE(board[touch].access != Access::none);
      REQUIRE(++result.touches <= static_cast<int>(touchable.size()));
      const auto joined = std::find(component.begin(), component.end(), label[index(touch)]);
      if (joined == component.end()) {
        component.push_back(label[index(touch)]);
        open.pieces.push_back({touch});
      } else {
        open.pieces[static_cast<std::size_t>(joined - component.begin())].push_back(touch);
      }
      result.last = find_open_suspects(board, open);
    }
  }

  std::set<std::size_t> causes(const OpenSuspects& result) const {
    std::set<std::size_t> all;
    for (const OpenSuspect& suspect : result.suspects) {
      all.insert(suspect.segment ? index(*suspect.segment)
                                 : truth.contact(board[suspect.contact].held));
    }
    return all;
  }

  /// Segments, and contacts of `doubtful` leads, whose break alone no lead and no touch can tell
  /// from that of `broken`.
  std::set<std::size_t> ambiguity_group(std::size_t broken,
                                        const std::vector<PointId>& doubtful) const {
    std::vector<std::size_t> seen = leads;
    seen.insert(seen.end(), touchable.begin(), touchable.end());
    std::vector<std::size_t> candidates(board.segments().size());
    std::iota(candidates.begin(), candidates.end(), 0);
    for (const PointId point : doubtful) {
      candidates.push_back(truth.contact(board[point].held));
    }
    const std::vector<std::size_t> signature = partition(truth.broken({broken}), seen);
    std::set<std::size_t> group;
    for (const std::size_t candidate : candidates) {
      if (partition(truth.broken({candidate}), seen) == signature) {
        group.insert(candidate);
      }
    }
    return group;
  }

  bool way_known() const {
    return std::none_of(
        board.segments().begin(), board.segments().end(),
        [](const Segment& segment) { return segment.kind == SegmentKind::unknown_way; });
  }

  bool observable(std::size_t cause) const {
    return partition(truth.broken({cause}), leads) != partition(truth.broken({}), leads);
  }

  const Board& board;
  BreakTruth truth;
  std::vector<PointId> attached;
  std::vector<std::size_t> leads;
  std::vector<std::size_t> touchable;
};

}  // namespace

TEST_CASE("touches as advised end on the broken segment or on what no touch can tell from it",
          "[graph][suspects][slow]") {
  int known = 0;
  int unknown = 0;
  int contacts = 0;
  for (unsigned seed = 0; known + unknown < 1500; ++seed) {
    INFO("seed " << seed);
    REQUIRE(seed < 6000);
    std::mt19937 random(seed);
    Diagnostics diagnostics("random");
    const Board board(random_net(random, static_cast<int>(seed % 3)), diagnostics);
    const Bench bench(board, random);
    std::vector<std::size_t> observable;
    for (std::size_t i = 0; i < board.segments().size(); ++i) {
      if (bench.observable(i)) {
        observable.push_back(i);
      }
    }
    if (observable.empty()) {
      continue;
    }
    std::size_t broken = observable[random() % observable.size()];
    if (random() % 6 == 0) {
      broken = bench.truth.contact(board[bench.attached[random() % bench.attached.size()]].held);
      ++contacts;
    }
    const OpenCase open = bench.measure({broken});
    REQUIRE(open.pieces.size() == 2);
    const Pinpointed result = bench.pinpoint(open, {broken}, broken);
    CHECK(result.first.breaks == 1);
    if (!bench.way_known()) {
      ++unknown;
      continue;
    }
    ++known;
    CHECK(bench.causes(result.last) == bench.ambiguity_group(broken, open.contact_doubtful));
    const auto m = static_cast<double>(result.first.suspects.size());
    CHECK(result.touches <= static_cast<int>(std::ceil(std::log2(m))) + 3);
  }
  CHECK(known > 300);
  CHECK(unknown > 300);
  CHECK(contacts > 100);
}

TEST_CASE("with several breaks the touches end, and on a tree both of two are suspects",
          "[graph][suspects]") {
  std::map<int, int> seen;
  for (unsigned seed = 0; seed < 1500; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    Diagnostics diagnostics("random");
    const Board board(random_net(random, static_cast<int>(seed % 3)), diagnostics);
    const Bench bench(board, random);
    const std::vector<SegmentId>& segments = board[NetId{0}].segments;
    if (bench.attached.size() < 3 || segments.empty()) {
      continue;
    }
    std::set<std::size_t> broken;
    for (unsigned i = 0; i < 2 + seed % 2; ++i) {
      broken.insert(index(segments[random() % segments.size()]));
    }
    const OpenCase open = bench.measure(broken);
    const Pinpointed result = bench.pinpoint(open, broken, std::nullopt);
    CHECK_FALSE(result.last.contradiction);
    ++seen[result.first.breaks];
    const auto places = std::count_if(board.places().begin(), board.places().end(),
                                      [](const Place& one) { return one.net == NetId{0}; });
    const bool tree = static_cast<std::ptrdiff_t>(segments.size()) + 1 == places;
    if (tree && bench.way_known() && broken.size() == 2 && result.first.breaks == 2) {
      for (const std::size_t cause : broken) {
        CHECK(bench.causes(result.first).count(cause) == 1);
      }
      ++seen[-1];
    }
  }
  CHECK(seen[1] > 50);
  CHECK(seen[2] > 50);
  CHECK(seen[3] > 20);
  CHECK(seen[-1] > 5);
}
