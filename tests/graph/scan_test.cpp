// SPDX-License-Identifier: MIT
#include "graph/scan.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <map>
#include <numeric>
#include <random>
#include <set>

#include "graph/evidence.hpp"
#include "graph/part_groups.hpp"
#include "graph/part_pairs.hpp"
#include "graph/pieces.hpp"
#include "tests/support/effort.hpp"

namespace {

using namespace padwalk::graph;

using Labels = std::vector<std::size_t>;  // one a point: equal labels are one conductor

/// A board whose point P<i> belongs to net N<expected[i]>.
Board make_board(const Labels& expected, std::set<std::size_t> grounds = {}) {
  BoardDescription description;
  description.state = BoardState::bare;
  std::map<std::size_t, NetDescription> nets;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    PointDescription point;
    point.name = "P" + std::to_string(i);
    description.points.push_back(point);
    NetDescription& net = nets[expected[i]];
    net.name = "N" + std::to_string(expected[i]);
    net.members.push_back({point.name, {}});
    if (grounds.count(expected[i]) != 0) {
      net.role = NetRole::ground;
    }
  }
  for (const auto& [label, net] : nets) {
    description.nets.push_back(net);
  }
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

std::vector<PointId> points_of(const Board& board) {
  std::vector<PointId> points;
  for (std::size_t i = 0; i < board.points().size(); ++i) {
    points.push_back(PointId{static_cast<std::uint32_t>(i)});
  }
  return points;
}

using Tester = std::function<double(const WantedReading&)>;  // not a number: gave no ohms

/// What an ideal tester reads where these labels are the real conductors.
Tester ideal(Labels actual, double joined_ohm = 0) {
  return [actual, joined_ohm](const WantedReading& wanted) {
    std::set<std::size_t> driven;
    for (const PointId point : wanted.source) {
      driven.insert(actual[index(point)]);
    }
    const auto follows = [&](PointId point) { return driven.count(actual[index(point)]) != 0; };
    const bool joined = wanted.purpose == Purpose::follow
                            ? follows(wanted.sense)
                            : std::any_of(wanted.sink.begin(), wanted.sink.end(), follows);
    return joined ? joined_ohm : kOpenOhm;
  };
}

/// Resistors between conductors; `actual` says on which conductor each point is.
struct Resistive {
  Labels actual;
  Eigen::MatrixXd conductance;  // symmetric, siemens, between conductors

  double operator()(const WantedReading& wanted) const {
    const Eigen::Index n = conductance.rows();
    std::vector<int> held(static_cast<std::size_t>(n), -1);  // 1 driven, 0 sunk
    for (const PointId point : wanted.source) {
      held[actual[index(point)]] = 1;
    }
    for (const PointId point : wanted.sink) {
      if (held[actual[index(point)]] == 1) {
        return 0;
      }
      held[actual[index(point)]] = 0;
    }
    std::vector<Eigen::Index> floating;
    for (Eigen::Index i = 0; i < n; ++i) {
      if (held[static_cast<std::size_t>(i)] < 0 && conductance.row(i).sum() > 0) {
        floating.push_back(i);
      }
    }
    const auto size = static_cast<Eigen::Index>(floating.size());
    Eigen::MatrixXd a = Eigen::MatrixXd::Identity(size, size) * 1e-15;
    Eigen::VectorXd b = Eigen::VectorXd::Zero(size);
    for (Eigen::Index i = 0; i < size; ++i) {
      a(i, i) += conductance.row(floating[static_cast<std::size_t>(i)]).sum();
      for (Eigen::Index j = 0; j < size; ++j) {
        a(i, j) -= i == j ? 0
                          : conductance(floating[static_cast<std::size_t>(i)],
                                        floating[static_cast<std::size_t>(j)]);
      }
      for (Eigen::Index k = 0; k < n; ++k) {
        b(i) += held[static_cast<std::size_t>(k)] == 1
                    ? conductance(floating[static_cast<std::size_t>(i)], k)
                    : 0;
      }
    }
    const Eigen::VectorXd inner = a.ldlt().solve(b);
    std::vector<double> volt(static_cast<std::size_t>(n), 0);
    for (std::size_t i = 0; i < volt.size(); ++i) {
      volt[i] = held[i] == 1 ? 1 : 0;
    }
    for (Eigen::Index i = 0; i < size; ++i) {
      volt[static_cast<std::size_t>(floating[static_cast<std::size_t>(i)])] = inner(i);
    }
    double current = 0;
    for (Eigen::Index i = 0; i < n; ++i) {
      for (Eigen::Index j = 0; held[static_cast<std::size_t>(i)] == 1 && j < n; ++j) {
        current += conductance(i, j) *
                   (volt[static_cast<std::size_t>(i)] - volt[static_cast<std::size_t>(j)]);
      }
    }
    return current > 0 ? 1 / current : kOpenOhm;
  }
};

std::set<std::set<std::size_t>> sets_of(const Pieces& pieces) {
  std::set<std::set<std::size_t>> sets;
  for (const std::vector<PointId>& piece : pieces.members) {
    std::set<std::size_t> set;
    for (const PointId point : piece) {
      set.insert(index(point));
    }
    sets.insert(std::move(set));
  }
  return sets;
}

void finish(Scan& scan, const Tester& tester) {
  for (auto round = scan.next(); !round.empty(); round = scan.next()) {
    std::vector<Reading> readings;
    for (const WantedReading& wanted : round) {
      readings.push_back({wanted, tester(wanted), 0, 0.2});
    }
    scan.record(readings);
  }
}

/// Runs rounds until the scan is content; checks the shape of everything that it asks.
struct Run {
  Run(const Board& the_board, const Tester& the_tester, ScanLimits the_limits = {},
      bool is_faulty = true)
      : board(the_board),
        faulty(is_faulty),
        limits(the_limits),
        attached(points_of(the_board)),
        scan(the_board, attached, the_limits) {
    go(the_tester);
  }

  void go(const Tester& tester) {
    for (auto round = scan.next(); !round.empty(); round = scan.next()) {
      ++rounds;
      isolation_rounds += round.front().purpose == Purpose::isolation ? 1 : 0;
      std::vector<Reading> readings;
      for (const WantedReading& wanted : round) {
        check(wanted);
        const double ohm = tester(wanted);
        readings.push_back({wanted, std::isnan(ohm) ? kOpenOhm : ohm, 0, 0.2});
        readings.back().number = !std::isnan(ohm);
        asked.push_back(wanted);
      }
      scan.record(readings);
    }
    REQUIRE(scan.next().empty());
  }

  void check(const WantedReading& wanted) {
    std::set<PointId> points(wanted.source.begin(), wanted.source.end());
    points.insert(wanted.sink.begin(), wanted.sink.end());
    REQUIRE(points.size() == wanted.source.size() + wanted.sink.size());
    REQUIRE(wanted.source.size() <= limits.max_set);
    REQUIRE(wanted.sink.size() <= limits.max_set);
    REQUIRE(!wanted.source.empty());
    REQUIRE(wanted.sink.empty() == (wanted.purpose == Purpose::follow));
    REQUIRE((wanted.sense != kNoPoint) == (wanted.purpose == Purpose::follow));
    if (wanted.purpose == Purpose::continuity) {
      REQUIRE(points.size() == 2);
    }
    if (wanted.purpose == Purpose::isolation) {
      const auto is_ground = [&](PointId point) {
        return board[point].net != kNoNet && board[board[point].net].role == NetRole::ground;
      };
      if (std::any_of(wanted.source.begin(), wanted.source.end(), is_ground)) {
        // Only grounds against grounds, and what turned out to be joined to them.
        const auto grounds =
            std::count_if(board.nets().begin(), board.nets().end(),
                          [](const Net& net) { return net.role == NetRole::ground; });
        REQUIRE(grounds > 1);
        REQUIRE((faulty || std::all_of(wanted.sink.begin(), wanted.sink.end(), is_ground)));
      }
    }
  }

  std::set<std::set<std::size_t>> pieces() const {
    const Pieces found =
        measured_pieces(board, attached, scan.readings(), limits.same_net_ohm, limits.short_ohm);
    return sets_of(found);
  }

  const Board& board;
  bool faulty;
  ScanLimits limits;
  std::vector<PointId> attached;
  Scan scan;
  std::size_t rounds = 0;
  std::size_t isolation_rounds = 0;
  std::vector<WantedReading> asked;
};

std::set<std::set<std::size_t>> partition(const Labels& labels) {
  std::map<std::size_t, std::set<std::size_t>> classes;
  for (std::size_t i = 0; i < labels.size(); ++i) {
    classes[labels[i]].insert(i);
  }
  std::set<std::set<std::size_t>> sets;
  for (const auto& [label, points] : classes) {
    sets.insert(points);
  }
  return sets;
}

std::size_t ceil_log2(std::size_t n) {
  std::size_t bits = 0;
  while ((std::size_t{1} << bits) < n) {
    ++bits;
  }
  return bits;
}

/// All partitions of n points, as restricted growth strings.
std::vector<Labels> all_partitions(std::size_t n) {
  std::vector<Labels> all;
  Labels now;
  const std::function<void(std::size_t)> grow = [&](std::size_t classes) {
    if (now.size() == n) {
      all.push_back(now);
      return;
    }
    for (std::size_t label = 0; label <= classes; ++label) {
      now.push_back(label);
      grow(std::max(classes, label + 1));
      now.pop_back();
    }
  };
  grow(0);
  return all;
}

/// The most readings: isolation L + s (2 L - 1) for s merges, and for a group of n points in t
/// fragments n t - t (t + 1) / 2. And L - 1 where anything merges at all: all bits are read in the
/// first round, so each but the first that conducts may have read a short that another bit finds.
std::size_t most_readings(const Labels& expected, const Labels& actual) {
  std::size_t nets = 0;
  std::map<std::size_t, std::size_t> group_of_net;
  for (const std::size_t net : expected) {
    nets += group_of_net.emplace(net, net).second ? 1 : 0;
  }
  std::size_t merges = 0;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const std::size_t a = group_of_net[expected[i]];
      const std::size_t b = group_of_net[expected[j]];
      if (actual[i] == actual[j] && a != b) {
        ++merges;
        for (auto& [net, group] : group_of_net) {
          group = group == b ? a : group;
        }
      }
    }
  }
  std::map<std::size_t, std::size_t> points;
  std::map<std::size_t, std::set<std::size_t>> fragments;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    ++points[group_of_net[expected[i]]];
    fragments[group_of_net[expected[i]]].insert(actual[i]);
  }
  const std::size_t bits = ceil_log2(nets);
  std::size_t most = bits + merges * (bits == 0 ? 0 : 2 * bits - 1);
  most += merges > 0 && bits > 0 ? bits - 1 : 0;
  for (const auto& [group, n] : points) {
    const std::size_t t = fragments[group].size();
    most += n * t - t * (t + 1) / 2;
  }
  return most;
}

/// Random nets, then up to 3 shorts and up to 3 opens.
struct RandomBoard {
  Labels expected;
  Labels actual;
};
RandomBoard random_board(std::mt19937& random, std::size_t most_points) {
  const auto below = [&](std::size_t n) { return random() % n; };
  RandomBoard board;
  const std::size_t points = 2 + below(most_points - 1);
  const std::size_t nets = 1 + below(points);
  for (std::size_t i = 0; i < points; ++i) {
    board.expected.push_back(below(nets));
  }
  board.actual = board.expected;
  std::size_t fresh = points;
  for (std::size_t opens = below(4); opens > 0; --opens) {
    const std::size_t label = board.actual[below(points)];
    for (std::size_t& one : board.actual) {
      one = one == label && below(2) == 0 ? fresh : one;
    }
    ++fresh;
  }
  for (std::size_t shorts = below(4); shorts > 0; --shorts) {
    const std::size_t a = board.actual[below(points)];
    const std::size_t b = board.actual[below(points)];
    std::replace(board.actual.begin(), board.actual.end(), a, b);
  }
  return board;
}

/// n points dealt to c nets.
Labels dealt(std::size_t n, std::size_t c) {
  Labels labels;
  for (std::size_t i = 0; i < n; ++i) {
    labels.push_back(i % c);
  }
  return labels;
}

const Labels kTwelve = {0, 0, 0, 1, 1, 2, 2, 2, 3, 3, 4, 5};

}  // namespace

TEST_CASE("the worked example of twelve points takes 9, 15, 9 and 17 readings", "[graph][scan]") {
  const Board board = make_board(kTwelve);
  const auto check = [&](const Labels& actual, std::size_t scan, std::size_t confirm) {
    const Run run(board, ideal(actual));
    CHECK(run.pieces() == partition(actual));
    CHECK(run.scan.counts().scan == scan);
    CHECK(run.scan.counts().confirm == confirm);
    return run.rounds;
  };
  CHECK(check(kTwelve, 9, 0) == 2);  // three isolation readings at once, then continuity
  // Point 4 shorted to point 10, which differ in two bits: the second of them is read twice.
  check({0, 0, 0, 1, 1, 2, 2, 2, 3, 3, 1, 5}, 15, 1);
  check({0, 0, 0, 1, 1, 2, 2, 9, 3, 3, 4, 5}, 9, 1);   // point 7 broken off
  check({0, 0, 0, 1, 1, 2, 2, 3, 3, 3, 4, 5}, 17, 2);  // and touching net 3
}

TEST_CASE("a healthy board takes N - c + ceil(log2 c) readings", "[graph][scan]") {
  const std::vector<std::array<std::size_t, 3>> table = {
      {16, 4, 14}, {32, 10, 26}, {64, 16, 52}, {64, 30, 39}, {128, 40, 94}, {128, 64, 70}};
  for (const auto& [n, c, readings] : table) {
    CAPTURE(n, c);
    const Labels labels = dealt(n, c);
    const Board board = make_board(labels);
    const Run run(board, ideal(labels));
    CHECK(run.scan.counts().scan == readings);
    CHECK(run.scan.counts().confirm == 0);
    CHECK(run.pieces() == partition(labels));
    CHECK(run.scan.silent().empty());
    const Board grounded = make_board(labels, {c / 2});
    CHECK(Run(grounded, ideal(labels)).scan.counts().scan == readings);
    ScanLimits quick;
    quick.quick = true;
    const Run fast(board, ideal(labels), quick);
    CHECK(fast.scan.counts().scan == readings);
    std::set<std::vector<PointId>> settings;
    for (const WantedReading& wanted : fast.asked) {
      settings.insert(wanted.source);
    }
    CHECK(settings.size() == ceil_log2(c) + 1);
    CHECK(fast.pieces() == partition(labels));
  }
}

TEST_CASE("a healthy bare board takes two rounds", "[graph][scan]") {
  for (const auto& [n, c] : std::vector<std::array<std::size_t, 2>>{
           {3, 2}, {16, 4}, {32, 10}, {64, 16}, {64, 30}, {128, 40}, {128, 64}, {600, 130}}) {
    const Labels labels = dealt(n, c);
    for (const std::set<std::size_t>& grounds :
         {std::set<std::size_t>{}, std::set<std::size_t>{c / 2}, std::set<std::size_t>{0, c - 1}}) {
      const Board board = make_board(labels, grounds);
      for (const std::size_t block_side : {0, 1, 3, 8}) {
        CAPTURE(n, c, grounds, block_side);
        ScanLimits limits;
        limits.block_side = block_side;
        const Run run(board, ideal(labels), limits, false);
        CHECK(run.rounds == 2);
        CHECK(run.isolation_rounds == 1);
        CHECK(run.pieces() == partition(labels));
        limits.max_set = 5;  // its sets are cut, and still asked at once
        CHECK(Run(board, ideal(labels), limits).rounds == 2);
      }
    }
  }
}

TEST_CASE("shorts take no more rounds than if every set were a round", "[graph][scan]") {
  std::size_t fewer = 0;
  for (unsigned seed = 1; seed <= 300; seed += padwalk::test::kEvery) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const std::size_t nets = 3 + random() % 100;
    const Labels labels = dealt(nets + random() % 100, nets);
    Labels actual = labels;
    for (std::size_t shorts = 1 + random() % 8; shorts > 0; --shorts) {
      const std::size_t from = actual[random() % nets];
      std::replace(actual.begin(), actual.end(), from, actual[random() % nets]);
    }
    const Board board = make_board(labels, {random() % nets});
    const Run run(board, ideal(actual));
    CHECK(run.pieces() == partition(actual));
    const auto sets = static_cast<std::size_t>(std::count_if(
        run.asked.begin(), run.asked.end(),
        [](const WantedReading& wanted) { return wanted.purpose == Purpose::isolation; }));
    // Of these up to ceil(log2 c) - 1 are read twice that would be read once one by one.
    REQUIRE(run.isolation_rounds + ceil_log2(nets) - 1 <= sets);
    fewer += run.isolation_rounds + ceil_log2(nets) - 1 < sets ? 1 : 0;
  }
  CHECK(fewer > 100 / padwalk::test::kEvery);  // what is to be read twice is read together
}

TEST_CASE("two leaks of one signal to two grounds are both found", "[graph][scan]") {
  // From ground to ground it is 12 kohm: what tells grounds apart conducts only with the signal.
  const Labels labels = dealt(24, 8);
  const Board board = make_board(labels, {2, 5});
  for (std::size_t signal = 0; signal < 8; ++signal) {
    if (signal == 2 || signal == 5) {
      continue;
    }
    CAPTURE(signal);
    Resistive tester;
    tester.actual = labels;
    tester.conductance = Eigen::MatrixXd::Zero(8, 8);
    for (const Eigen::Index ground : {2, 5}) {
      const auto net = static_cast<Eigen::Index>(signal);
      tester.conductance(net, ground) = tester.conductance(ground, net) = 1 / 6e3;
    }
    const Run run(board, tester);
    CHECK(run.pieces() == partition(labels));
    std::set<std::set<std::size_t>> leaks;
    for (const PairReading& pair : run.scan.net_readings().pairs) {
      if (pair.ohm < 10e3) {
        leaks.insert({index(pair.a), index(pair.b)});
      }
    }
    CHECK(leaks == std::set<std::set<std::size_t>>{{2, signal}, {5, signal}});
  }
}

TEST_CASE("every pair of partitions of up to five points is measured exactly",
          "[graph][scan][slow]") {
  for (std::size_t n = 1; n <= 5; ++n) {
    const std::vector<Labels> partitions = all_partitions(n);
    for (const Labels& expected : partitions) {
      const Board board = make_board(expected);
      const Board grounded = make_board(expected, {0});
      for (const Labels& actual : partitions) {
        CAPTURE(expected, actual);
        const Run run(board, ideal(actual));
        REQUIRE(run.pieces() == partition(actual));
        REQUIRE(run.scan.counts().scan <= most_readings(expected, actual));
        REQUIRE(Run(grounded, ideal(actual)).pieces() == partition(actual));
        ScanLimits blocks;
        blocks.block_side = 2;
        REQUIRE(Run(board, ideal(actual), blocks).pieces() == partition(actual));
      }
    }
  }
}

TEST_CASE("3000 random boards are measured exactly within the bound", "[graph][scan][slow]") {
  for (unsigned seed = 1; seed <= 3000; seed += padwalk::test::kEvery) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const RandomBoard made = random_board(random, 60);
    const std::set<std::size_t> grounds = seed % 3 == 0   ? std::set<std::size_t>{made.expected[0]}
                                          : seed % 7 == 0 ? std::set<std::size_t>{0, 1, 2}
                                                          : std::set<std::size_t>{};
    const Board board = make_board(made.expected, grounds);
    const Run run(board, ideal(made.actual));
    REQUIRE(run.pieces() == partition(made.actual));
    const std::size_t more = grounds.size() > 1 ? 2 + 3 * 4 : 0;
    REQUIRE(run.scan.counts().scan <= most_readings(made.expected, made.actual) + more);
    ScanLimits limits;
    limits.quick = seed % 2 == 0;
    limits.max_set = 1 + seed % 9;
    limits.block_side = seed % 5 == 0 ? 0 : 1 + seed % 11;
    REQUIRE(Run(board, ideal(made.actual), limits).pieces() == partition(made.actual));
  }
}

TEST_CASE("what is put on later is read against all, and nothing else is read again",
          "[graph][scan]") {
  std::size_t in_two = 0;
  std::size_t whole = 0;
  for (unsigned seed = 1; seed <= 1000; seed += padwalk::test::kEvery) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const RandomBoard made = random_board(random, 40);
    const Board board = make_board(
        made.expected, seed % 3 == 0 ? std::set<std::size_t>{0} : std::set<std::size_t>{});
    ScanLimits limits;
    limits.block_side = seed % 4;
    if (seed % 2 == 0) {
      limits.good_ohm = [](PointId, PointId) { return 1.0; };
    }
    std::vector<PointId> first;
    std::vector<PointId> fresh;
    for (const PointId point : points_of(board)) {
      (random() % 2 == 0 ? first : fresh).push_back(point);
    }
    const auto run = [&](Scan scan) {
      finish(scan, ideal(made.actual));
      return scan;
    };
    Measured all;
    const auto add = [&](const Scan& scan, const std::vector<PointId>& attached) {
      add_evidence(all, {attached, scan.readings(), {}, {}, scan.net_readings(), false});
      return scan.counts().scan;
    };
    in_two += add(run(Scan(board, first, limits)), first);
    if (!fresh.empty()) {
      in_two += add(run(Scan(board, points_of(board), limits, fresh)), points_of(board));
    }
    const Pieces pieces =
        measured_pieces(board, all.attached, all.readings, limits.same_net_ohm, limits.short_ohm);
    REQUIRE(sets_of(pieces) == partition(made.actual));
    whole += Run(board, ideal(made.actual), limits).scan.counts().scan;
  }
  CHECK(in_two < 2 * whole);
}

TEST_CASE("a lead put on a net that has one takes one reading", "[graph][scan]") {
  const Labels labels = dealt(60, 20);  // points 0 to 19 are on nets 0 to 19, and so on
  const Board board = make_board(labels, {0});
  ScanLimits limits;
  limits.good_ohm = [](PointId, PointId) { return 1.0; };
  std::vector<PointId> attached = points_of(board);
  attached.resize(50);
  const std::vector<PointId> fresh(attached.begin() + 40, attached.end());
  const auto readings = [&](const Labels& actual) {
    Scan scan(board, attached, limits, fresh);
    finish(scan, ideal(actual));
    return scan.counts().scan;
  };
  CHECK(readings(labels) == fresh.size());
  // Of a net in pieces, of which one stayed on: found by trying.
  Labels broken = labels;
  broken[0] = 60;  // points 20 and 40 are apart from 0
  CHECK(readings(broken) == fresh.size() + 1);
  // On nothing that stayed: held against the other nets, and read along its own.
  broken = labels;
  broken[40] = 60;
  CHECK(readings(broken) > fresh.size() + 2);
  CHECK(readings(broken) < fresh.size() + 2 + 20);
}

TEST_CASE("several grounds are driven against grounds alone", "[graph][scan]") {
  for (std::size_t grounds = 2; grounds <= 5; ++grounds) {
    for (const std::size_t block_side : {0, 2, 4, 8}) {
      CAPTURE(grounds, block_side);
      std::set<std::size_t> nets;
      for (std::size_t i = 0; i < grounds; ++i) {
        nets.insert(3 * i);
      }
      const Labels labels = dealt(60, 20);
      const Board board = make_board(labels, nets);
      ScanLimits limits;
      limits.block_side = block_side;
      const Run run(board, ideal(labels), limits, false);
      CHECK(run.pieces() == partition(labels));
      if (block_side == 0) {
        CHECK(run.scan.counts().scan == 40 + ceil_log2(20 - grounds + 1) + ceil_log2(grounds));
      }
      Labels shorted = labels;
      std::replace(shorted.begin(), shorted.end(), std::size_t{3}, std::size_t{0});
      CHECK(Run(board, ideal(shorted), limits).pieces() == partition(shorted));
    }
  }
}

namespace {

/// Leaks straight between any two nets and nothing by way of a third; shorts of 10 ohm.
Tester leaky(const Labels& labels, const std::vector<std::pair<std::size_t, std::size_t>>& shorts,
             double leak_ohm) {
  Labels actual = labels;
  for (const auto& [a, b] : shorts) {
    const std::size_t from = actual[b];
    std::replace(actual.begin(), actual.end(), from, actual[a]);
  }
  const Tester copper = ideal(actual, 10);
  return [labels, copper, leak_ohm](const WantedReading& wanted) {
    std::set<std::size_t> source;
    std::set<std::size_t> sink;
    for (const PointId point : wanted.source) {
      source.insert(labels[index(point)]);
    }
    for (const PointId point : wanted.sink) {
      sink.insert(labels[index(point)]);
    }
    return std::min(copper(wanted), leak_ohm / static_cast<double>(source.size() * sink.size()));
  };
}

/// C(ceil(c / x), 2) readings between blocks and ceil(log2 size) inside each.
std::size_t block_readings(std::size_t c, std::size_t x) {
  const std::size_t blocks = (c + x - 1) / x;
  std::size_t readings = blocks * (blocks - 1) / 2;
  for (std::size_t first = 0; first < c; first += x) {
    readings += ceil_log2(std::min(x, c - first));
  }
  return readings;
}

}  // namespace

TEST_CASE("blocks take Q(c, x) readings on a healthy board", "[graph][scan]") {
  const std::vector<std::array<std::size_t, 3>> table = {{64, 64, 6},   {64, 32, 11}, {64, 16, 22},
                                                         {64, 8, 52},   {64, 4, 152}, {64, 1, 2016},
                                                         {128, 16, 60}, {128, 8, 168}};
  for (const auto& [c, x, readings] : table) {
    CAPTURE(c, x);
    const Labels labels = dealt(c, c);
    const Board board = make_board(labels);
    ScanLimits limits;
    limits.block_side = x;
    CHECK(Run(board, ideal(labels), limits).scan.counts().scan == readings);
    CHECK(block_readings(c, x) == readings);
  }
  for (std::size_t c = 1; c <= 40; ++c) {
    for (std::size_t x = 1; x <= 20; ++x) {
      CAPTURE(c, x);
      const Labels labels = dealt(c, c);
      const Board board = make_board(labels);
      ScanLimits limits;
      limits.block_side = x;
      REQUIRE(Run(board, ideal(labels), limits).scan.counts().scan == block_readings(c, x));
    }
  }
}

TEST_CASE("blocks on leaky boards of 64 nets take the readings that were worked out",
          "[graph][scan]") {
  const Labels labels = dealt(64, 64);
  const Board board = make_board(labels);
  struct Row {
    double leak_ohm;
    std::size_t side;
    // none, (5,40), (5,40)(1,2)(40,63). Among them those bits that are read twice: the two of a
    // pair differ there, and in a lower bit of the same block that finds it. With blocks of 64 that
    // is three of the four bits in which 5 and 40 differ, and of all three pairs all but the
    // lowest.
    std::array<std::size_t, 3> readings;
  };
  for (const Row& row :
       {Row{1e6, 8, {52, 59, 79}}, Row{10e6, 16, {22, 31, 57}}, Row{1e9, 64, {6, 20, 43}}}) {
    CAPTURE(row.side);
    ScanLimits limits;
    limits.block_side = row.side;
    const std::vector<std::vector<std::pair<std::size_t, std::size_t>>> faults = {
        {}, {{5, 40}}, {{5, 40}, {1, 2}, {40, 63}}};
    for (std::size_t i = 0; i < 3; ++i) {
      CAPTURE(i);
      const Run run(board, leaky(labels, faults[i], row.leak_ohm), limits);
      Labels actual = labels;
      for (const auto& [a, b] : faults[i]) {
        std::replace(actual.begin(), actual.end(), actual[b], actual[a]);
      }
      CHECK(run.pieces() == partition(actual));
      const std::size_t sorting = std::array<std::size_t, 3>{0, 1, 3}[i];
      CHECK(run.scan.counts().scan - sorting == row.readings[i]);
    }
  }
}

TEST_CASE("a set reading that leaks alone makes low is no short", "[graph][scan]") {
  const Labels labels = dealt(64, 64);
  const Board board = make_board(labels);
  ScanLimits limits;
  limits.block_side = 32;  // 32 x 32 pairs of 10 Mohm read 9.77 kohm
  const Run run(board, leaky(labels, {}, 10e6), limits);
  CHECK(run.pieces() == partition(labels));
  // One search in vain tells what leaks, and 16 nets a side stay above the limit.
  CHECK(run.scan.counts().scan > block_readings(64, 16));
  CHECK(run.scan.counts().scan <= block_readings(64, 32) + 12 + block_readings(64, 16));
  CHECK(run.scan.counts().confirm == 1);
  const Run unlimited(board, leaky(labels, {}, 10e6));
  CHECK(unlimited.pieces() == partition(labels));
  CHECK(unlimited.scan.net_readings().pairs.empty());
  // The first round read six bits, of which one told what leaks.
  CHECK(unlimited.scan.counts().scan <= block_readings(64, 16) + 12 + 5);
  const Run shorted(board, leaky(labels, {{5, 40}, {6, 41}}, 10e6), limits);
  Labels actual = labels;
  actual[40] = 5;
  actual[41] = 6;
  CHECK(shorted.pieces() == partition(actual));
}

TEST_CASE("boards that leak everywhere are measured exactly", "[graph][scan]") {
  for (unsigned seed = 1; seed <= 150; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const RandomBoard made = random_board(random, 30);
    const Board board = make_board(made.expected);
    Resistive tester;
    tester.actual = made.actual;
    const auto n =
        static_cast<Eigen::Index>(1 + *std::max_element(made.actual.begin(), made.actual.end()));
    const double leak_ohm = seed % 2 == 0 ? 400e3 : 2e6;  // pairs by themselves stay above 10 kohm
    tester.conductance = Eigen::MatrixXd::Zero(n, n);
    for (const std::size_t i : std::set<std::size_t>(made.actual.begin(), made.actual.end())) {
      for (const std::size_t j : std::set<std::size_t>(made.actual.begin(), made.actual.end())) {
        tester.conductance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) =
            i == j ? 0 : 1 / leak_ohm;
      }
    }
    ScanLimits limits;
    limits.block_side = seed % 4 < 2 ? 0 : 4;
    limits.max_set = seed % 3 == 0 ? 5 : SIZE_MAX;
    REQUIRE(Run(board, tester, limits).pieces() == partition(made.actual));
  }
}

namespace {

/// Nets N0, N1, … of two test points each, and resistors R0, R1, … between nets.
struct Resistor {
  std::size_t a = 0;
  std::size_t b = 0;
  double ohm = 0;
};

Board make_assembled(std::size_t nets, const std::vector<Resistor>& resistors) {
  BoardDescription description;
  for (std::size_t net = 0; net < nets; ++net) {
    NetDescription one;
    one.name = "N" + std::to_string(net);
    one.role = net == 0 ? NetRole::ground : NetRole::signal;
    for (const char* suffix : {"a", "b"}) {
      PointDescription point;
      point.name = "P" + std::to_string(net) + suffix;
      one.members.push_back({point.name, {}});
      description.points.push_back(point);
    }
    description.nets.push_back(one);
  }
  for (std::size_t i = 0; i < resistors.size(); ++i) {
    PartDescription part;
    part.name = "R" + std::to_string(i);
    part.kind = resistors[i].ohm > 0 ? PartKind::resistor : PartKind::fuse;
    part.value = resistors[i].ohm > 0 ? std::to_string(resistors[i].ohm) + " ohm" : "";
    part.package = "axial 10 mm";
    description.nets[resistors[i].a].members.push_back({part.name + ".1", {}});
    description.nets[resistors[i].b].members.push_back({part.name + ".2", {}});
    description.parts.push_back(part);
  }
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

/// The net of every point, as labels.
Labels as_expected(const Board& board) {
  Labels labels;
  for (const Point& point : board.points()) {
    labels.push_back(index(point.net));
  }
  return labels;
}

/// Copper as `actual` says, and the parts between what their pins are on.
Resistive with_parts(const Board& board, const Labels& actual,
                     const std::vector<Resistor>& resistors) {
  Resistive tester;
  tester.actual = actual;
  const auto n = static_cast<Eigen::Index>(1 + *std::max_element(actual.begin(), actual.end()));
  tester.conductance = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t i = 0; i < resistors.size(); ++i) {
    const auto label = [&](const char* pin) {
      const auto point = board.find_point("R" + std::to_string(i) + pin);
      return static_cast<Eigen::Index>(actual[index(point.value())]);
    };
    if (label(".1") != label(".2")) {
      const double siemens = 1 / std::max(resistors[i].ohm, 0.05);
      tester.conductance(label(".1"), label(".2")) += siemens;
      tester.conductance(label(".2"), label(".1")) += siemens;
    }
  }
  return tester;
}

std::vector<Resistor> pull_ups() {
  std::vector<Resistor> resistors;
  for (std::size_t net = 2; net <= 12; ++net) {
    resistors.push_back({1, net, 4700});
  }
  return resistors;
}

}  // namespace

TEST_CASE("nets that parts join are read pair by pair and in no set reading", "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();  // 12 nets in one cluster
  const Board board = make_assembled(40, resistors);
  const Labels labels = as_expected(board);
  const Run run(board, with_parts(board, labels, resistors));
  CHECK(run.pieces() == partition(labels));
  // 28 nets and the cluster make 29 codes.
  CHECK(run.scan.counts().scan == labels.size() - 40 + 5 + 66);
  CHECK(run.scan.counts().confirm == 0);
  CHECK(run.scan.net_readings().pairs.size() == 66);
  for (const WantedReading& wanted : run.asked) {
    std::set<std::size_t> source;
    std::set<std::size_t> sink;
    for (const PointId point : wanted.source) {
      source.insert(index(board[point].net));
    }
    for (const PointId point : wanted.sink) {
      sink.insert(index(board[point].net));
    }
    const auto in_cluster = [](std::size_t net) { return net >= 1 && net <= 12; };
    const bool facing = std::any_of(source.begin(), source.end(), in_cluster) &&
                        std::any_of(sink.begin(), sink.end(), in_cluster);
    if (facing) {
      CHECK(source.size() == 1);
      CHECK(sink.size() == 1);
    }
  }
}

TEST_CASE("a short into a cluster is laid to the net that it touches", "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();
  const Board board = make_assembled(40, resistors);
  for (const auto& [a, b] : std::vector<std::pair<std::size_t, std::size_t>>{
           {7, 20}, {20, 7}, {3, 4}, {1, 5}, {0, 9}, {0, 1}, {30, 31}}) {
    CAPTURE(a, b);
    Labels actual = as_expected(board);
    std::replace(actual.begin(), actual.end(), b, a);
    const Run run(board, with_parts(board, actual, resistors));
    CHECK(run.pieces() == partition(actual));
    CHECK(run.scan.counts().scan < actual.size() - 40 + 5 + 66 + 40);
    // A net that is shorted to one of a cluster reaches the others of it through their parts.
    const bool grew = (a >= 1 && a <= 12) != (b >= 1 && b <= 12);
    CHECK(run.scan.net_readings().pairs.size() == (grew ? 66 + 11 : 66));
  }
}

TEST_CASE("random boards with resistors, shorts and breaks are measured exactly",
          "[graph][scan][slow]") {
  for (unsigned seed = 1; seed <= 600; seed += padwalk::test::kEvery) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const std::size_t nets = 3 + random() % 14;
    std::vector<Resistor> resistors;
    for (std::size_t i = random() % 12; i > 0; --i) {
      const std::size_t a = random() % nets;
      resistors.push_back({a, (a + 1 + random() % (nets - 1)) % nets,
                           1e3 * static_cast<double>(1 + random() % 60)});
    }
    const Board board = make_assembled(nets, resistors);
    Labels actual = as_expected(board);
    std::size_t fresh = nets;
    for (std::size_t opens = random() % 4; opens > 0; --opens) {
      actual[random() % actual.size()] = fresh++;
    }
    for (std::size_t shorts = random() % 4; shorts > 0; --shorts) {
      const std::size_t a = actual[random() % actual.size()];
      std::replace(actual.begin(), actual.end(), a, actual[random() % actual.size()]);
    }
    ScanLimits limits;
    limits.same_net_ohm = 50;  // no resistor looks like copper
    limits.max_set = seed % 4 == 0 ? 3 : SIZE_MAX;
    limits.block_side = seed % 2 == 0 ? 1 + seed % 5 : 0;
    REQUIRE(Run(board, with_parts(board, actual, resistors), limits).pieces() == partition(actual));
  }
}

TEST_CASE("nets that a closed part ties are one conductor", "[graph][scan]") {
  const std::vector<Resistor> parts = {{1, 2, 0}};
  const Board board = make_assembled(9, parts);
  Labels actual = as_expected(board);
  const Run healthy(board, with_parts(board, actual, parts));
  CHECK(healthy.pieces() == partition(actual));
  CHECK(healthy.scan.counts().scan == actual.size() - 9 + 3 + 1);  // 8 conductors, and the part
  CHECK(healthy.scan.net_readings().pairs.size() == 1);            // the part itself
  std::replace(actual.begin(), actual.end(), std::size_t{5}, std::size_t{2});
  const Run shorted(board, with_parts(board, actual, parts));
  std::replace(actual.begin(), actual.end(), std::size_t{2}, std::size_t{1});
  CHECK(shorted.pieces() == partition(actual));  // all three, through the part
}

TEST_CASE("a leak into a cluster is kept as a reading and joins nothing", "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();
  const Board board = make_assembled(20, resistors);
  const Labels actual = as_expected(board);
  Resistive tester = with_parts(board, actual, resistors);
  tester.conductance(15, 7) = tester.conductance(7, 15) = 1 / 3000.0;
  const Run run(board, tester);
  CHECK(run.pieces() == partition(actual));
  double lowest = kOpenOhm;
  NetId a{};
  NetId b{};
  for (const PairReading& pair : run.scan.net_readings().pairs) {
    if ((index(pair.a) == 15 || index(pair.b) == 15) && pair.ohm < lowest) {
      lowest = pair.ohm;
      a = std::min(pair.a, pair.b);
      b = std::max(pair.a, pair.b);
    }
  }
  CHECK(lowest == Approx(3000));
  CHECK(index(a) == 7);
  CHECK(index(b) == 15);
}

TEST_CASE("a leaky cluster that no block can be made smaller than ends the search all the same",
          "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();
  const Board board = make_assembled(20, resistors);
  const Labels actual = as_expected(board);
  Resistive tester = with_parts(board, actual, resistors);
  for (std::size_t net = 13; net < 20; ++net) {  // alone above 10 kohm, by twos below
    tester.conductance(net, 2) = tester.conductance(2, net) = 1 / 15e3;
  }
  const Run run(board, tester);
  CHECK(run.pieces() == partition(actual));
  CHECK(run.scan.counts().scan < 400);
}

TEST_CASE("silent points are asked about once and a re-seat is believed", "[graph][scan]") {
  const Board board = make_board({0, 0, 0, 1, 1, 2, 2, 2, 3});
  Labels seen = {0, 0, 0, 1, 11, 2, 2, 12, 3};
  Run run(board, ideal(seen));
  CHECK(run.scan.silent() == std::vector<PointId>{PointId{3}, PointId{4}, PointId{7}});
  CHECK(run.pieces() == partition(seen));
  const ScanCounts before = run.scan.counts();
  run.scan.ask_again();
  seen[4] = 1;
  run.go(ideal(seen));
  CHECK(run.scan.silent() == std::vector<PointId>{PointId{7}});
  CHECK(run.pieces() == partition(seen));
  CHECK(run.scan.counts().confirm == before.confirm + 3);  // and point 7 against its net
  CHECK(run.scan.counts().scan == before.scan + 2);        // net 1, and point 7, against all others
  for (const Reading& reading : run.scan.readings()) {
    if (reading.ohm == kOpenOhm) {
      // And the confirmation, the other way.
      CHECK((reading.wanted.sink == std::vector<PointId>{PointId{7}} ||
             reading.wanted.source == std::vector<PointId>{PointId{7}}));
    }
  }
}

TEST_CASE("after a re-seat random boards are measured exactly", "[graph][scan]") {
  for (unsigned seed = 1; seed <= 1500; seed += padwalk::test::kEvery) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const RandomBoard made = random_board(random, 30);
    const Board board = make_board(made.expected);
    Labels seen = made.actual;
    for (std::size_t silent = 1 + random() % 3; silent > 0; --silent) {
      const std::size_t point = random() % seen.size();
      if (std::count(made.expected.begin(), made.expected.end(), made.expected[point]) > 1) {
        seen[point] = 1000 + silent;  // no other point shares it
      }
    }
    ScanLimits limits;
    limits.quick = seed % 2 == 0;
    limits.block_side = seed % 3 == 0 ? 3 : 0;
    Run run(board, ideal(seen), limits);
    REQUIRE(run.pieces() == partition(seen));
    run.scan.ask_again();
    run.go(ideal(made.actual));
    REQUIRE(run.pieces() == partition(made.actual));
  }
}

TEST_CASE("a weak joint of a net that is shorted to another is no break after a re-seat",
          "[graph][scan]") {
  // Net 1 is net 0 by a short; point 5 of net 1 hangs on 71 ohm.
  const Board board = make_board({0, 0, 0, 1, 1, 1});
  Eigen::MatrixXd conductance = Eigen::MatrixXd::Zero(2, 2);
  conductance(0, 1) = conductance(1, 0) = 1 / 71.0;
  const Resistive tester{{0, 0, 0, 0, 0, 1}, conductance};
  ScanLimits limits;
  limits.good_ohm = [](PointId, PointId) { return 1.0; };
  Run run(board, tester, limits);
  CHECK(run.scan.silent() == std::vector<PointId>{PointId{5}});
  run.scan.ask_again();
  run.go(tester);
  const std::vector<Reading>& readings = run.scan.readings();
  CHECK(std::any_of(readings.begin(), readings.end(), [&](const Reading& reading) {
    const auto [a, b] = two_points(reading.wanted);
    return a != kNoPoint && board[a].net == board[b].net && reading.ohm == Approx(71);
  }));
  CHECK(run.pieces() == partition({0, 0, 0, 0, 0, 0}));
}

TEST_CASE("a silent point that touches a net behind a part is found after a re-seat",
          "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();
  const Board board = make_assembled(20, resistors);
  const std::size_t point = index(board.find_point("P4a").value());
  for (const std::size_t other : {1, 3, 15}) {
    CAPTURE(other);
    Labels seen = as_expected(board);
    seen[point] = 20;
    ScanLimits limits;
    limits.same_net_ohm = 50;  // no resistor looks like copper
    Run run(board, with_parts(board, seen, resistors), limits);
    CHECK(run.pieces() == partition(seen));
    seen[point] = other;
    run.scan.ask_again();
    run.go(with_parts(board, seen, resistors));
    CHECK(run.pieces() == partition(seen));
  }
}

TEST_CASE("a lead alone on its net behind parts is read against all after a re-seat",
          "[graph][scan]") {
  const std::vector<Resistor> resistors = pull_ups();
  const Board board = make_assembled(20, resistors);
  const PointId alone = board.find_point("P4a").value();
  std::vector<PointId> attached = points_of(board);
  std::erase_if(attached, [&](PointId point) {
    return point != alone && board[point].net == board[alone].net;
  });
  for (const std::size_t other : {3, 15}) {
    CAPTURE(other);
    Labels seen = as_expected(board);
    seen[index(alone)] = 20;  // no contact
    Scan scan(board, attached, {});
    finish(scan, with_parts(board, seen, resistors));
    CHECK(scan.silent() == std::vector<PointId>{alone});
    seen[index(alone)] = other;
    scan.ask_again();
    finish(scan, with_parts(board, seen, resistors));
    const Pieces pieces = measured_pieces(board, attached, scan.readings(), 10e3, 10);
    const PointId there = board.find_point("P" + std::to_string(other) + "a").value();
    CHECK(pieces[alone] == pieces[there]);
  }
}

TEST_CASE("a leak behind an open fuse is laid to the net that leaks", "[graph][scan]") {
  // N1 and N2 should be tied by a fuse, and N2 leaks to N3.
  const Board board = make_assembled(4, {{1, 2, 0}});
  for (const bool open : {false, true}) {
    CAPTURE(open);
    Resistive actual = with_parts(board, as_expected(board), {});
    const auto join = [&](Eigen::Index one, Eigen::Index other, double ohm) {
      actual.conductance(one, other) = actual.conductance(other, one) = 1 / ohm;
    };
    join(2, 3, 700);
    if (!open) {
      join(1, 2, 0.1);
    }
    const Run run(board, actual);
    const std::vector<PairReading> pairs = run.scan.net_readings().pairs;
    const auto leak = std::find_if(pairs.begin(), pairs.end(), [&](const PairReading& pair) {
      return board[pair.a].name == "N3" || board[pair.b].name == "N3";
    });
    REQUIRE(leak != pairs.end());
    const NetId other = board[leak->a].name == "N3" ? leak->b : leak->a;
    CHECK(board[other].name == (open ? "N2" : "N1"));
    CHECK(leak->ohm == Approx(700).epsilon(0.01));
  }
}

TEST_CASE("a pair far above its part is read again, however unsure the ohms are", "[graph][scan]") {
  const Board board = make_assembled(3, {{0, 1, 5.6e3}});
  const auto read = [&](double uncertainty_ohm) {
    std::vector<std::vector<PointId>> by_net;
    for (const Net& net : board.nets()) {
      by_net.push_back({net.points.front()});
    }
    PartPairs pairs(board, find_part_groups(board, 10), by_net, 10);
    const std::vector<WantedReading> first = pairs.next();
    REQUIRE(first.size() == 1);
    pairs.record(std::vector<Reading>{{first.front(), 2.1e6, uncertainty_ohm, 0.2}});
    const std::vector<WantedReading> again = pairs.next();
    REQUIRE(!again.empty());
    std::vector<Reading> readings;
    for (const WantedReading& wanted : again) {
      readings.push_back({wanted, 2.1e6, uncertainty_ohm, 0.2});
    }
    pairs.record(readings);
    return pairs.silent().size();
  };
  CHECK(read(1.7e6) == 2);  // perhaps nothing conducts: the leads may touch no metal
  CHECK(read(0.1e6) == 0);
}

TEST_CASE("a net that reads open once and closed once keeps both readings", "[graph][scan]") {
  const Labels labels = {0, 0, 0, 1, 1};
  const Board board = make_board(labels);
  const Tester copper = ideal(labels);
  int times = 0;
  const Run run(board, [&](const WantedReading& wanted) {
    const bool weak = wanted.purpose == Purpose::continuity && wanted.sink.front() == PointId{2};
    return weak && ++times == 1 ? kOpenOhm : copper(wanted);
  });
  CHECK(run.pieces() == partition(labels));
  CHECK(run.scan.silent().empty());
  CHECK(run.scan.counts().confirm == 1);
  CHECK(std::count_if(run.scan.readings().begin(), run.scan.readings().end(),
                      [](const Reading& reading) {
                        return reading.wanted.sink == std::vector<PointId>{PointId{2}} ||
                               reading.wanted.source == std::vector<PointId>{PointId{2}};
                      }) == 2);
}

TEST_CASE("two nets that give no ohms are not taken for apart", "[graph][scan]") {
  const Labels labels = {0, 0, 1, 1, 2, 2, 3, 3};
  Labels joined = labels;
  std::replace(joined.begin(), joined.end(), 3u, 1u);
  const Board board = make_board(labels);
  const auto meets = [&](const WantedReading& wanted) {
    return wanted.purpose == Purpose::isolation && ideal(joined)(wanted) < ideal(labels)(wanted);
  };
  SECTION("for a time only: then they are read as what they are") {
    int times = 0;  // in the sets' readings and the first of their own
    const Run run(board, [&](const WantedReading& wanted) {
      return meets(wanted) && ++times < 4 ? NAN : ideal(joined)(wanted);
    });
    CHECK(run.pieces() == partition(joined));
  }
  SECTION("and then conduct a little: one reading is no leak") {
    int times = 0;
    const Run run(board, [&](const WantedReading& wanted) {
      return !meets(wanted) ? ideal(labels)(wanted) : ++times < 4 ? NAN : 5e3;
    });
    CHECK(run.pieces() == partition(labels));
    CHECK(run.scan.net_readings().pairs.empty());
    CHECK(std::count_if(run.scan.readings().begin(), run.scan.readings().end(),
                        [&](const Reading& reading) { return meets(reading.wanted); }) == 1);
  }
  SECTION("for ever: both readings are kept, and nothing is joined") {
    const Run run(board, [&](const WantedReading& wanted) {
      return meets(wanted) ? NAN : ideal(labels)(wanted);
    });
    CHECK(run.pieces() == partition(labels));
    const std::vector<Reading>& kept = run.scan.readings();
    CHECK(std::count_if(kept.begin(), kept.end(), [&](const Reading& reading) {
            return !reading.number && meets(reading.wanted) && reading.wanted.source.size() == 2;
          }) == 2);
  }
}

TEST_CASE("rule 6: a net with a point that must never be driven is left alone", "[graph][scan]") {
  BoardDescription description;
  for (int i = 0; i < 6; ++i) {
    PointDescription point;
    point.name = "P" + std::to_string(i);
    point.drive_never = i == 2;
    description.points.push_back(point);
  }
  description.nets.resize(2);
  description.nets[0].name = "A";
  description.nets[0].members = {{"P0", {}}, {"P1", {}}};
  description.nets[1].name = "HEAD";
  description.nets[1].members = {{"P2", {}}, {"P3", {}}};
  Diagnostics diagnostics("test");
  const Board board(std::move(description), diagnostics);
  const Run run(board, ideal({0, 0, 1, 1, 2, 3}));
  CHECK(run.scan.counts().scan == 1 + 2);
  for (const WantedReading& wanted : run.asked) {
    for (const std::vector<PointId>* set : {&wanted.source, &wanted.sink}) {
      CHECK(std::count(set->begin(), set->end(), PointId{2}) == 0);
      CHECK(std::count(set->begin(), set->end(), PointId{3}) == 0);
    }
  }
}

TEST_CASE("a tester without sets reads every pair of points that a set would have met",
          "[graph][scan]") {
  const Labels labels = {0, 0, 1, 1, 2, 3};
  const Board board = make_board(labels);
  ScanLimits limits;
  limits.max_set = 1;
  const Run run(board, ideal(labels), limits);
  CHECK(run.pieces() == partition(labels));
  CHECK(run.scan.counts().scan == 3 * 3 + 4 * 2 + 2);  // two bits, then continuity
}

TEST_CASE("a board of 2000 points and 260 nets is scanned within the bound", "[graph][scan]") {
  const Labels labels = dealt(2000, 260);
  const Board board = make_board(labels, {17});
  CHECK(Run(board, ideal(labels)).scan.counts().scan == 2000 - 260 + 9);
  Labels actual = labels;
  std::replace(actual.begin(), actual.end(), std::size_t{200}, std::size_t{17});
  actual[5] = 2000;
  const Run run(board, ideal(actual));
  CHECK(run.pieces() == partition(actual));
  CHECK(run.scan.counts().scan <= most_readings(labels, actual));
}
