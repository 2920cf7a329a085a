// SPDX-License-Identifier: MIT
#include "graph/learn_scan.hpp"

#include <algorithm>
#include <bit>
#include <catch2/catch.hpp>
#include <map>
#include <random>

#include "graph/learned_board.hpp"
#include "graph/part_list.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;

PointId numbered(std::size_t number) {
  return PointId{static_cast<std::uint32_t>(number)};
}

/// Points with a conductor each, and conductors that parts join.
struct World {
  std::vector<std::size_t> conductor;                         // by point
  std::map<std::pair<std::size_t, std::size_t>, double> ohm;  // by conductors, lower one first

  double between(std::size_t a, std::size_t b) const {
    const auto found = ohm.find(std::minmax(conductor[a], conductor[b]));
    return conductor[a] == conductor[b] ? 0.05 : found == ohm.end() ? kOpenOhm : found->second;
  }
  /// Whether a chain of parts leads from one to the other.
  bool follows(std::size_t a, std::size_t b) const {
    std::set<std::size_t> seen{conductor[a]};
    for (bool more = true; more;) {
      more = false;
      for (const auto& [pair, value] : ohm) {
        if (seen.count(pair.first) != seen.count(pair.second)) {
          seen.insert({pair.first, pair.second});
          more = true;
        }
      }
    }
    return seen.count(conductor[b]) != 0;
  }
  Reading read(const WantedReading& wanted) const {
    Reading reading{wanted, kOpenOhm};
    if (wanted.purpose == Purpose::follow) {
      const bool high =
          std::any_of(wanted.source.begin(), wanted.source.end(),
                      [&](PointId driven) { return follows(index(driven), index(wanted.sense)); });
      reading.ohm = high ? 0 : kOpenOhm;
    } else {
      double siemens = 0;
      for (const PointId from : wanted.source) {
        for (const PointId to : wanted.sink) {
          siemens += 1 / between(index(from), index(to));
        }
      }
      const bool pair = wanted.source.size() * wanted.sink.size() == 1;
      reading.ohm = pair          ? between(index(wanted.source[0]), index(wanted.sink[0]))
                    : siemens > 0 ? 1 / siemens
                                  : kOpenOhm;
      reading.uncertainty_ohm = 0.001;
    }
    return reading;
  }
  std::vector<std::vector<PointId>> pieces() const {
    std::map<std::size_t, std::vector<PointId>> by_first;
    for (std::size_t i = 0; i < conductor.size(); ++i) {
      const auto first = std::find(conductor.begin(), conductor.end(), conductor[i]);
      by_first[static_cast<std::size_t>(first - conductor.begin())].push_back(numbered(i));
    }
    std::vector<std::vector<PointId>> all;
    for (auto& [first, points] : by_first) {
      all.push_back(points);
    }
    return all;
  }
};

void drain(LearnScan& scan, const World& world) {
  for (auto round = scan.next(); !round.empty(); round = scan.next()) {
    std::vector<Reading> readings;
    for (const WantedReading& wanted : round) {
      readings.push_back(world.read(wanted));
    }
    scan.record(readings);
  }
}

std::vector<PointId> all_points(std::size_t count) {
  std::vector<PointId> points;
  for (std::size_t i = 0; i < count; ++i) {
    points.push_back(numbered(i));
  }
  return points;
}

World random_world(std::mt19937& random, std::size_t points) {
  World world;
  const std::size_t conductors = 1 + random() % points;
  for (std::size_t i = 0; i < points; ++i) {
    world.conductor.push_back(random() % conductors);
  }
  for (std::size_t i = random() % (conductors + 1); i > 0; --i) {
    const std::size_t a = random() % conductors;
    const std::size_t b = random() % conductors;
    if (a != b) {
      world.ohm[std::minmax(a, b)] = 3 + static_cast<double>(random() % 10000);
    }
  }
  return world;
}

}  // namespace

TEST_CASE("what parts join is split; what copper joins is kept", "[graph][learn]") {
  std::mt19937 random(11);
  for (unsigned i = 0; i < 2000 / padwalk::test::kEvery; ++i) {
    CAPTURE(i);
    const std::size_t points = 1 + random() % 40;
    const World world = random_world(random, points);
    LearnScan scan({}, all_points(points), 1.0);
    drain(scan, world);
    REQUIRE(scan.pieces() == world.pieces());
    for (const LearnedPair& pair : scan.between()) {
      REQUIRE(pair.ohm == world.between(index(pair.a), index(pair.b)));
    }
    for (const PointId silent : scan.silent()) {
      for (std::size_t other = 0; other < points; ++other) {
        REQUIRE((numbered(other) == silent || !world.follows(index(silent), other)));
      }
    }
  }
}

TEST_CASE("points are added to pieces that are known", "[graph][learn]") {
  std::mt19937 random(12);
  for (unsigned i = 0; i < 2000 / padwalk::test::kEvery; ++i) {
    CAPTURE(i);
    const std::size_t points = 2 + random() % 30;
    const World world = random_world(random, points);
    const std::size_t before = random() % points;
    LearnScan first({}, all_points(before), 1.0);
    drain(first, world);
    std::vector<PointId> fresh;
    for (std::size_t p = before; p < points; ++p) {
      fresh.push_back(numbered(p));
    }
    LearnScan then(first.pieces(), fresh, 1.0);
    drain(then, world);
    REQUIRE(then.pieces() == world.pieces());
  }
}

TEST_CASE(
    "one new point beside known pieces costs a setting, a reading for its piece and one "
    "for all others",
    "[graph][learn]") {
  const World world{{0, 0, 1, 2, 1}, {}};
  LearnScan scan({{numbered(0), numbered(1)}, {numbered(2)}, {numbered(3)}}, {numbered(4)}, 1.0);
  drain(scan, world);
  CHECK(scan.pieces() == world.pieces());
  CHECK(scan.current_readings() == 2);
  CHECK(scan.follow_settings() == 1);
}

TEST_CASE("what follows only at times is put right by readings of sets", "[graph][learn]") {
  std::mt19937 random(13);
  for (unsigned i = 0; i < 1000 / padwalk::test::kEvery; ++i) {
    CAPTURE(i);
    const World world = random_world(random, 2 + random() % 40);
    LearnScan scan({}, all_points(world.conductor.size()), 1.0);
    for (auto round = scan.next(); !round.empty(); round = scan.next()) {
      std::vector<Reading> readings;
      for (const WantedReading& wanted : round) {
        readings.push_back(world.read(wanted));
        if (wanted.purpose == Purpose::follow && random() % 10 == 0) {
          readings.back().ohm = readings.back().ohm == 0 ? kOpenOhm : 0;
        }
      }
      scan.record(readings);
    }
    REQUIRE(scan.pieces() == world.pieces());
  }
}

TEST_CASE("copper alone: ceil(log2 N) settings, a reading a join and ceil(log2 c) for the rest",
          "[graph][learn]") {
  std::mt19937 random(14);
  for (int i = 0; i < 500; ++i) {
    World world = random_world(random, 2 + random() % 100);
    world.ohm.clear();
    const std::size_t points = world.conductor.size();
    LearnScan scan({}, all_points(points), 1.0);
    drain(scan, world);
    const std::size_t pieces = world.pieces().size();
    REQUIRE(scan.pieces() == world.pieces());
    REQUIRE(scan.follow_settings() <= static_cast<std::size_t>(std::bit_width(points - 1)));
    REQUIRE(scan.current_readings() ==
            points - pieces + static_cast<std::size_t>(std::bit_width(pieces - 1)));
  }
}

TEST_CASE("a reading too close to the limit is asked again, decided", "[graph][learn]") {
  LearnScan scan({}, all_points(2), 1.0);
  bool decided = false;
  for (auto round = scan.next(); !round.empty(); round = scan.next()) {
    std::vector<Reading> readings;
    for (const WantedReading& wanted : round) {
      readings.push_back({wanted, wanted.purpose == Purpose::follow ? 0 : 1.02});
      if (wanted.purpose == Purpose::continuity && !decided) {
        decided = !wanted.provisional;
        readings.back().ohm = decided ? 1.02 : 0.98;
        readings.back().uncertainty_ohm = 0.1;
      }
    }
    scan.record(readings);
  }
  CHECK(decided);
  CHECK(scan.pieces().size() == 2);
  REQUIRE(scan.between().size() == 1);
  CHECK(scan.between().front().ohm == 1.02);
}

TEST_CASE("what a capacitor hides, or a voltage, joins nothing and is told", "[graph][learn]") {
  for (const bool settled : {true, false}) {
    LearnScan scan({}, all_points(2), 1.0);
    for (auto round = scan.next(); !round.empty(); round = scan.next()) {
      std::vector<Reading> readings;
      for (const WantedReading& wanted : round) {
        readings.push_back({wanted, wanted.purpose == Purpose::follow || !settled ? 0 : kOpenOhm});
        readings.back().settled = settled;
        readings.back().number = !settled;
      }
      scan.record(readings);
    }
    CHECK(scan.pieces().size() == 2);
    REQUIRE(scan.between().size() == 1);
    CHECK(scan.between().front().settled == settled);
    CHECK(scan.between().front().number == !settled);
  }
}

TEST_CASE("nets are named, roles come from chips, and only the nearer of two links is told",
          "[graph][learn]") {
  const Board blank = padwalk::test::small_board(
      "parts:\n"
      "  U1: {kind: ic, type: 74HC00, package: DIP-14}\n"
      "  U2: {kind: ic, type: 74HC00, package: DIP-14}\n"
      "  F1: {kind: fuse, package: axial 10 mm}\n"
      "points:\n"
      "  V1: {via: [top, bottom]}\n");
  const auto p = [&](const char* name) { return *blank.find_point(name); };
  const std::vector<std::vector<PointId>> pieces = {
      {p("U1.1"), p("U2.1")},   {p("U1.2")}, {p("U1.7"), p("U2.7")},
      {p("U1.14"), p("U2.14")}, {p("U1.3")}, {p("F1.1"), p("F1.2")}};
  const std::vector<LearnedPair> between = {{p("U1.1"), p("U1.14"), 10000},
                                            {p("U1.1"), p("U1.2"), 20000},
                                            {p("U1.14"), p("U1.2"), 10000},
                                            {p("U1.7"), p("U1.3"), 200000}};
  const LearnedNets learned = name_learned(blank, pieces, between, 100e3);
  REQUIRE(learned.nets.size() == 4);
  CHECK(learned.nets[0].name == "N1");
  CHECK(learned.nets[1].name == "GND");
  CHECK(learned.nets[1].role == NetRole::ground);
  CHECK(learned.nets[2].name == "VCC");
  CHECK(learned.nets[2].role == NetRole::supply);
  CHECK(learned.alone == std::vector<PointId>{p("U1.2"), p("U1.3")});
  REQUIRE(learned.links.size() == 2);
  CHECK(link_text(learned.links[0]) == "N1 and VCC: about 10 kohm");
  CHECK(link_text(learned.links[1]) == "U1.2 and VCC: about 10 kohm");
  REQUIRE(learned.across_copper.size() == 1);
  CHECK(blank[learned.across_copper[0]].name == "F1");

  const BoardDescription file = describe_learned(blank, learned);
  Diagnostics diagnostics("learned");
  const Board board(read_board(write_board(file), diagnostics), diagnostics);
  CHECK(board.listed_nets() == 4);
  CHECK(board.description().points.empty());
  CHECK(board.description().nets[0].note == "N1 and VCC: about 10 kohm");
  CHECK(board.description().note == "U1.2 and VCC: about 10 kohm");
}

TEST_CASE("parts as they are typed", "[graph][learn]") {
  BoardDescription board;
  Diagnostics diagnostics("--parts");
  read_part_list("U1 DIP-40 (Z84C00), R7 axial 10 mm (4k7),RN2 SIP-9, zz row 3 ,", board,
                 diagnostics);
  read_point_list("TP1, TP2", board, diagnostics);
  CHECK(diagnostics.errors().empty());
  REQUIRE(board.parts.size() == 4);
  CHECK(board.parts[0].kind == PartKind::ic);
  CHECK(board.parts[0].type == "Z84C00");
  CHECK(board.parts[0].package == "DIP-40");
  CHECK(board.parts[1].kind == PartKind::resistor);
  CHECK(board.parts[1].value == "4k7");
  CHECK(board.parts[1].package == "axial 10 mm");
  CHECK(board.parts[2].kind == PartKind::network);
  CHECK(board.parts[3].kind == PartKind::other);
  CHECK(board.points.size() == 2);
  read_part_list("U1, .x DIP-8, U2 DIP-8 (", board, diagnostics);
  read_point_list("U1.3", board, diagnostics);
  CHECK(diagnostics.errors().size() == 4);
}
