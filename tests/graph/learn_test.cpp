// SPDX-License-Identifier: MIT
#include "graph/learn.hpp"
#include "tests/support/effort.hpp"

#include <algorithm>
#include <bit>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>

namespace {

using namespace padwalk::graph;

using Labels = std::vector<std::size_t>;  // one a point: equal labels are one conductor

PointId point(std::size_t number) {
  return PointId{static_cast<std::uint32_t>(number)};
}

/// Runs it on an ideal tester. Every round is one setting and reads no point twice.
Learn learned(const Labels& labels, std::size_t max_set = SIZE_MAX) {
  std::vector<PointId> points;
  for (std::size_t v = 0; v < labels.size(); ++v) {
    points.push_back(point(v));
  }
  Learn learn(points, max_set);
  for (auto round = learn.next(); !round.empty(); round = learn.next()) {
    std::set<std::size_t> driven;
    for (const PointId one : round.front().source) {
      driven.insert(labels[index(one)]);
    }
    bool sound = round.front().source.size() <= max_set;
    std::vector<Reading> readings;
    std::set<PointId> sensed;
    for (const WantedReading& wanted : round) {
      sound = sound && wanted.purpose == Purpose::follow && wanted.source == round.front().source &&
              sensed.insert(wanted.sense).second;
      const bool follows = driven.count(labels[index(wanted.sense)]) != 0;
      readings.push_back({wanted, follows ? 0 : kOpenOhm});
    }
    REQUIRE(sound);
    learn.record(readings);
  }
  return learn;
}

std::vector<std::vector<PointId>> pieces_of(const Labels& labels) {
  std::map<std::size_t, std::vector<PointId>> by_first;
  for (std::size_t v = 0; v < labels.size(); ++v) {
    const auto first = std::find(labels.begin(), labels.end(), labels[v]) - labels.begin();
    by_first[static_cast<std::size_t>(first)].push_back(point(v));
  }
  std::vector<std::vector<PointId>> pieces;
  for (const auto& [first, points] : by_first) {
    pieces.push_back(points);
  }
  return pieces;
}

std::size_t bits(std::size_t points) {
  return points < 2 ? 0 : std::bit_width(points - 1);
}

/// N L - (2^L - 1): the set that is driven for bit r has at least 2^(L - r - 1) points.
std::size_t most_readings(std::size_t points) {
  return points * bits(points) - ((std::size_t{1} << bits(points)) - 1);
}

/// The next partition of these points in restricted-growth order; false after the last.
bool next_partition(Labels& labels) {
  for (std::size_t v = labels.size(); v-- > 1;) {
    if (labels[v] <= *std::max_element(labels.begin(), labels.begin() + static_cast<int>(v))) {
      ++labels[v];
      std::fill(labels.begin() + static_cast<int>(v) + 1, labels.end(), 0);
      return true;
    }
  }
  return false;
}

}  // namespace

TEST_CASE("no point and one point are learned without asking", "[graph][learn]") {
  CHECK(learned({}).pieces().empty());
  CHECK(learned({0}).pieces() == pieces_of({0}));
  CHECK(learned({0}).settings() == 0);
}

TEST_CASE("every partition of up to eight points is learned; the worst takes the bound",
          "[graph][learn]") {
  for (std::size_t points = 2; points <= 8; ++points) {
    std::size_t most = 0;
    Labels labels(points);
    do {
      const Learn learn = learned(labels);
      REQUIRE(learn.pieces() == pieces_of(labels));
      REQUIRE(learn.settings() <= bits(points));
      most = std::max(most, learn.readings());
    } while (next_partition(labels));
    CAPTURE(points);
    CHECK(most == most_readings(points));
  }
}

TEST_CASE("10,000 random partitions up to 128 points take ceil(log2 N) settings",
          "[graph][learn][slow]") {
  std::mt19937 random(4);
  for (unsigned i = 0; i < 10'000 / padwalk::test::kEvery; ++i) {
    CAPTURE(i);
    const std::size_t points = 2 + random() % 127;
    const std::size_t nets = 1 + random() % points;
    Labels labels(points);
    for (std::size_t& label : labels) {
      label = random() % nets;
    }
    const Learn learn = learned(labels);
    REQUIRE(learn.pieces() == pieces_of(labels));
    REQUIRE(learn.settings() == bits(points));
    REQUIRE(learn.readings() <= most_readings(points));
  }
}

TEST_CASE("a tester with small sets learns the same in more settings", "[graph][learn][slow]") {
  std::mt19937 random(5);
  for (int i = 0; i < 300; ++i) {
    const std::size_t points = 2 + random() % 60;
    Labels labels(points);
    for (std::size_t& label : labels) {
      label = random() % (1 + points / 2);
    }
    for (const std::size_t max_set : {1, 3, 8}) {
      REQUIRE(learned(labels, max_set).pieces() == pieces_of(labels));
    }
  }
}
