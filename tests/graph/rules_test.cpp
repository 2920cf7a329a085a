// SPDX-License-Identifier: MIT
//
// The reference tester's rules of measuring that the scan and the limits keep, named by them: what
// is driven against what, and what counts as good. The session's rules: measuring_rules_test.cpp.
#include <algorithm>
#include <catch2/catch.hpp>
#include <set>
#include <utility>
#include <vector>

#include "graph/scan.hpp"
#include "graph/verdict.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;

namespace {

using LeakingNets = std::pair<std::string, std::string>;  // nets

/// Fourteen nets without parts: two grounds, two supplies, ten signals of two points each.
const std::string kRails = [] {
  std::string points = "points:\n";
  std::string nets = "nets:\n";
  for (const char* rail : {"GND", "AGND", "VCC", "VBAT"}) {
    const std::string name = rail;
    points += "  " + name + "_1: {}\n  " + name + "_2: {}\n";
    nets += "  " + name + ": {role: " + (name.back() == 'D' ? "ground" : "supply") + ", points: [" +
            name + "_1, " + name + "_2]}\n";
  }
  for (int i = 0; i < 10; ++i) {
    const std::string name = "S" + std::to_string(i);
    points += "  " + name + "_1: {}\n  " + name + "_2: {}\n";
    nets += "  " + name + ": [" + name + "_1, " + name + "_2]\n";
  }
  return points + nets;
}();

/// Everything that a scan of an assembled board asks where some nets leak 2 kohm to one another.
struct Scanned {
  explicit Scanned(const std::vector<LeakingNets>& leaks)
      : board(padwalk::test::small_board("state: assembled\n" + kRails)) {
    std::vector<PointId> attached;
    for (std::size_t i = 0; i < board.points().size(); ++i) {
      attached.push_back(PointId{static_cast<std::uint32_t>(i)});
    }
    Scan scan(board, attached, {});
    for (auto round = scan.next(); !round.empty(); round = scan.next()) {
      std::vector<Reading> readings;
      for (const WantedReading& wanted : round) {
        const bool inside = wanted.purpose != Purpose::isolation;
        const double flows = inside ? 0 : siemens(wanted, leaks);
        readings.push_back({wanted, inside ? 0.05 : flows > 0 ? 1 / flows : kOpenOhm, 0.01, 0.2});
        asked.push_back(wanted);
      }
      scan.record(readings);
    }
    pairs = scan.net_readings().pairs;
  }

  std::set<std::string> nets(const std::vector<PointId>& points) const {
    std::set<std::string> names;
    for (const PointId point : points) {
      names.insert(board[board[point].net].name);
    }
    return names;
  }

  bool has(const std::vector<PointId>& points, NetRole role) const {
    return std::any_of(points.begin(), points.end(),
                       [&](PointId point) { return board[board[point].net].role == role; });
  }

  /// Whether a reading drove exactly net `from` and sank net `to`, alone or with others.
  bool drove(const std::string& from, const std::string& to) const {
    return std::any_of(asked.begin(), asked.end(), [&](const WantedReading& wanted) {
      return nets(wanted.source) == std::set{from} && nets(wanted.sink).count(to) != 0;
    });
  }

  Board board;
  std::vector<WantedReading> asked;
  std::vector<PairReading> pairs;

 private:
  double siemens(const WantedReading& wanted, const std::vector<LeakingNets>& leaks) const {
    const std::set<std::string> source = nets(wanted.source);
    const std::set<std::string> sink = nets(wanted.sink);
    double sum = 0;
    for (const auto& [a, b] : leaks) {
      const bool crosses = (source.count(a) != 0 && sink.count(b) != 0) ||
                           (source.count(b) != 0 && sink.count(a) != 0);
      sum += crosses ? 1 / 2e3 : 0;
    }
    return sum;
  }
};

}  // namespace

TEST_CASE("rule 2: no signal is driven below ground or above its supply", "[graph][rules]") {
  const std::vector<LeakingNets> leaks =
      GENERATE(std::vector<LeakingNets>{}, std::vector<LeakingNets>{{"S1", "S6"}},
               std::vector<LeakingNets>{{"S1", "GND"}, {"S2", "VCC"}, {"S3", "S4"}});
  const Scanned scanned(leaks);
  std::size_t codes = 0;
  for (const WantedReading& wanted : scanned.asked) {
    if (wanted.purpose != Purpose::isolation) {
      continue;
    }
    INFO(scanned.nets(wanted.source).size() << " to " << scanned.nets(wanted.sink).size());
    if (scanned.has(wanted.source, NetRole::ground)) {
      CHECK_FALSE(scanned.has(wanted.sink, NetRole::signal));
      CHECK_FALSE(scanned.has(wanted.sink, NetRole::supply));
    }
    if (scanned.has(wanted.sink, NetRole::supply)) {
      CHECK_FALSE(scanned.has(wanted.source, NetRole::signal));
    }
    // A set code: several signals at once. Ground is sunk with it, supplies are not in it.
    if (scanned.nets(wanted.source).size() > 1) {
      ++codes;
      CHECK_FALSE(scanned.has(wanted.source, NetRole::supply));
      CHECK(scanned.has(wanted.sink, NetRole::ground));
    }
  }
  CHECK(codes > 0);
}

TEST_CASE("rule 3: polarity is reversed between two signals only", "[graph][rules]") {
  const Scanned scanned({{"S1", "GND"}, {"S2", "VCC"}, {"S3", "S4"}});
  CHECK(scanned.drove("S3", "S4"));
  CHECK(scanned.drove("S4", "S3"));
  CHECK(scanned.drove("S1", "GND"));
  CHECK_FALSE(scanned.drove("GND", "S1"));
  CHECK(scanned.drove("VCC", "S2"));
  CHECK_FALSE(scanned.drove("S2", "VCC"));
  REQUIRE(scanned.pairs.size() == 3);
  for (const PairReading& pair : scanned.pairs) {
    CHECK(pair.ohm == Approx(2e3));
  }
}

TEST_CASE("rule 15: good is the copper's own ohms and 1 ohm, of rails and 0.2 ohm",
          "[graph][rules]") {
  const std::string board =
      "points:\n"
      "  A1: {xy: [0, 0], side: bottom}\n"
      "  A2: {xy: [100, 0], side: bottom}\n"
      "  B1: {xy: [0, 10], side: bottom}\n"
      "  B2: {xy: [900, 10], side: bottom}\n"
      "nets:\n"
      "  SIGNAL: {route: [{side: bottom, chain: [A1, A2]}]}\n"
      "  RAIL: {role: supply, route: [{side: bottom, chain: [B1, B2]}]}\n"
      "copper:\n"
      "  - {between: [A1, A2], width: 0.5 mm, length: 100 mm}\n"
      "  - {between: [B1, B2], width: 0.5 mm, length: 900 mm}\n";
  const auto limit = [](const Board& of, std::uint32_t first) {
    return good_limit(of, limits_for(of))(PointId{first}, PointId{first + 1});
  };
  // 100 mm by 0.5 mm by 35 um of copper at 20 C: 98.3 mohm (1.72e-8 ohm m, see copper_test).
  const Board plain = padwalk::test::small_board(board);
  CHECK(limit(plain, 0) == Approx(1.0983).epsilon(1e-3));
  CHECK(limit(plain, 2) == Approx(9 * 0.0983 + 0.2).epsilon(2e-3));
  // A standard's limit is a choice, and then it is the same for all.
  const Board chosen = padwalk::test::small_board("limits: {class: MIL-PRF-55110G}\n" + board);
  CHECK(limit(chosen, 0) == 20);
  CHECK(limit(chosen, 2) == 20);
}
