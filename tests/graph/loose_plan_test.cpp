// SPDX-License-Identifier: MIT
#include "graph/loose_plan.hpp"
#include "tests/support/effort.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>

namespace {

using namespace padwalk::graph;

using NetPair = std::pair<std::uint32_t, std::uint32_t>;

bool all_pairs_meet(const LoosePlan& plan, std::size_t v, std::size_t k) {
  std::set<NetPair> pairs;
  for (const Block& hookup : plan.hookups) {
    if (hookup.size() > k) {
      return false;
    }
    for (const std::uint32_t a : hookup) {
      for (const std::uint32_t b : hookup) {
        if (a < b) {
          pairs.emplace(a, b);
        }
      }
    }
  }
  return pairs.size() == v * (v - 1) / 2;
}

/// Makes the moves with hands: who meets whom, and which points are held to their net's first.
struct PlayedPlan {
  std::set<NetPair> met;
  std::map<std::uint32_t, std::set<std::size_t>> chained;  // by net: points seen with its first
  std::size_t most_held = 0;
  bool sound = true;  // nothing comes off that is not on, nothing goes on twice
};

PlayedPlan play(const Pass& pass) {
  PlayedPlan played;
  std::set<std::uint32_t> held;
  for (const PassMove& move : pass.moves) {
    for (const std::uint32_t net : move.released) {
      played.sound = held.erase(net) == 1 && played.sound;
    }
    for (const std::uint32_t net : held) {
      if (net != move.net) {
        played.met.insert(std::minmax(net, move.net));
      }
    }
    if (move.point == 0 || held.count(move.net) != 0) {
      played.chained[move.net].insert(move.point);
    }
    if (move.held) {
      played.sound = held.insert(move.net).second && played.sound;
    }
    played.most_held = std::max(played.most_held, held.size());
  }
  return played;
}

/// A plan does what it should: each point of each net, each pair of neighbours.
void check(const Pass& pass, const std::vector<std::size_t>& points,
           const std::vector<NetPair>& neighbours, std::size_t max_leads) {
  const PlayedPlan played = play(pass);
  REQUIRE(played.sound);
  REQUIRE(played.most_held == pass.leads);
  REQUIRE(pass.leads <= max_leads);
  for (std::uint32_t net = 0; net < points.size(); ++net) {
    REQUIRE(played.chained.at(net).size() == points[net]);
  }
  for (const auto& [a, b] : neighbours) {
    REQUIRE(played.met.count(std::minmax(a, b)) == 1);
  }
  std::size_t all = 0;
  for (const std::size_t count : points) {
    all += count;
  }
  REQUIRE(pass.moves.size() == all + pass.again());
}

}  // namespace

TEST_CASE("hold and pass takes the leads and hookups that were worked out",
          "[graph][loose_plan][slow]") {
  // Computed for this project, each sequence checked to bring all pairs together.
  struct Row {
    std::size_t v, k, bound;
    std::size_t one[2], eighth[2], quarter[2], half[2];  // hookups, leads put on
  };
  for (const Row& row : {Row{32, 16, 42, {20, 49}, {12, 50}, {8, 52}, {6, 56}},
                         {64, 16, 143, {107, 166}, {59, 172}, {35, 184}, {28, 232}},
                         {128, 16, 550, {485, 604}, {261, 632}, {156, 708}, {120, 968}},
                         {128, 32, 279, {203, 326}, {59, 344}, {35, 368}, {28, 464}},
                         {256, 64, 551, {395, 646}, {59, 688}, {35, 736}, {28, 928}},
                         {500, 64, 2013, {1737, 2229}, {253, 2448}, {156, 2796}, {120, 3836}}}) {
    CAPTURE(row.v, row.k);
    CHECK(fewest_clips_bound(row.v, row.k) == row.bound);
    const auto same = [&](std::size_t moving, const std::size_t(&expected)[2]) {
      CAPTURE(moving);
      const LoosePlan plan = hold_and_pass(row.v, row.k, moving);
      CHECK(all_pairs_meet(plan, row.v, row.k));
      CHECK(plan.hookups.size() <= expected[0]);
      CHECK(plan.clips() <= expected[1]);
      CHECK(plan.clips() >= row.bound);
    };
    same(1, row.one);
    same(row.k / 8, row.eighth);
    same(row.k / 4, row.quarter);
    same(row.k / 2, row.half);
  }
}

TEST_CASE("the plan of all pairs is no slower than the best that was worked out",
          "[graph][loose_plan][slow]" PADWALK_WHOLE_ONLY) {
  // Hookups and leads put on: planes in an order, halves in an order, and the rows above.
  struct Known {
    std::size_t hookups, clips;
  };
  struct Row {
    std::size_t v, k;
    std::vector<Known> known;
  };
  const std::vector<Row> rows = {
      {32, 16, {{6, 56}, {20, 49}, {12, 50}, {8, 52}}},
      {64, 16, {{20, 244}, {28, 232}, {107, 166}, {59, 172}, {35, 184}}},
      {128, 16, {{72, 1010}, {120, 968}, {485, 604}, {261, 632}, {156, 708}}},
      {128, 32, {{20, 488}, {28, 464}, {203, 326}, {59, 344}, {35, 368}}},
      {256, 64, {{20, 976}, {28, 928}, {395, 646}, {59, 688}, {35, 736}}},
      {500, 64, {{120, 3692}, {1737, 2229}, {253, 2448}, {156, 2796}, {120, 3836}}}};
  for (const double hookup_s : {0.0, 1.0, 3.0, 10.0, 60.0}) {
    const HandTimes times{6, hookup_s};
    for (const Row& row : rows) {
      CAPTURE(row.v, row.k, hookup_s);
      const LoosePlan plan = plan_all_pairs(row.v, row.k, times);
      CHECK(all_pairs_meet(plan, row.v, row.k));
      for (const Known& known : row.known) {
        CHECK(plan.seconds(times) <=
              6 * static_cast<double>(known.clips) + hookup_s * static_cast<double>(known.hookups));
      }
    }
  }
}

TEST_CASE("all pairs of few things are one hookup", "[graph][loose_plan][slow]") {
  for (std::size_t k = 2; k < 9; ++k) {
    for (std::size_t v = 2; v < 40; v += 3) {
      CAPTURE(v, k);
      const LoosePlan plan = plan_all_pairs(v, k, {});
      REQUIRE(all_pairs_meet(plan, v, k));
      REQUIRE((v > k || plan.hookups.size() == 1));
      for (std::size_t moving = 1; moving <= k / 2; ++moving) {
        REQUIRE(all_pairs_meet(hold_and_pass(v, k, moving), v, k));
      }
    }
  }
}

TEST_CASE("a grid of nets is passed with one lead a row and one more", "[graph][loose_plan]") {
  constexpr std::uint32_t kRows = 9;
  constexpr std::uint32_t kColumns = 30;
  std::vector<NetPair> neighbours;
  for (std::uint32_t net = 0; net < kRows * kColumns; ++net) {
    if (net % kRows + 1 < kRows) {
      neighbours.emplace_back(net, net + 1);
    }
    if (net + kRows < kRows * kColumns) {
      neighbours.emplace_back(net, net + kRows);
    }
  }
  const std::vector<std::size_t> points(kRows * kColumns, 3);
  const Pass pass = pass_neighbours(points, neighbours, 1000);
  check(pass, points, neighbours, 1000);
  CHECK(pass.again() == 0);
  CHECK(pass.leads == kRows + 1);
  CHECK(pass_neighbours(points, neighbours, kRows + 1).again() == 0);
  std::size_t before = 0;
  for (std::size_t leads = kRows; leads >= 1; --leads) {
    const Pass fewer = pass_neighbours(points, neighbours, leads);
    check(fewer, points, neighbours, leads);
    CAPTURE(leads);
    CHECK(fewer.again() >= before);
    CHECK(fewer.again() > 0);
    before = fewer.again();
  }
  // With one held lead each pair but the chain of the rows is met by a touch more.
  CHECK(before == neighbours.size());
}

TEST_CASE("random neighbours all meet, however few the leads", "[graph][loose_plan]") {
  std::mt19937 random(6);
  for (int i = 0; i < 400; ++i) {
    CAPTURE(i);
    const std::uint32_t nets = 2 + random() % 60;
    std::set<NetPair> chosen;
    for (std::size_t n = random() % (3 * nets); n > 0; --n) {
      const std::uint32_t a = random() % nets;
      const std::uint32_t b = random() % nets;
      if (a != b) {
        chosen.insert(std::minmax(a, b));
      }
    }
    const std::vector<NetPair> neighbours(chosen.begin(), chosen.end());
    std::vector<std::size_t> points(nets);
    for (std::size_t& count : points) {
      count = 1 + random() % 5;
    }
    for (const std::size_t leads : {std::size_t{1}, std::size_t{3}, std::size_t{8}, SIZE_MAX}) {
      check(pass_neighbours(points, neighbours, leads), points, neighbours, leads);
    }
    CHECK(pass_neighbours(points, neighbours, SIZE_MAX).again() == 0);
  }
}
