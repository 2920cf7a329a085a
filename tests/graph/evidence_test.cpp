// SPDX-License-Identifier: MIT
#include "graph/evidence.hpp"

#include <catch2/catch.hpp>

#include "graph/follow_up.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;

const std::string kBoard =
    "points:\n"
    "  a1: {xy: [0, 0]}\n  a2: {xy: [5, 0]}\n  a3: {xy: [9, 0]}\n"
    "  b1: {xy: [0, 9]}\n  b2: {xy: [5, 9], access: tip}\n  c1: {xy: [9, 9]}\n"
    "nets:\n  A: [a1, a2, a3]\n  B: [b1, b2]\n  C: [c1]\n";

PointId point(const Board& board, const std::string& name) {
  return *board.find_point(name);
}

/// Leads on `attached`; each pair of them in a net read, at `ohm` where it is in `ohms`.
struct Spell {
  std::vector<std::string> attached;
  std::vector<std::tuple<std::string, std::string, double>> readings;
};

Measured measured(const Board& board, const Spell& spell) {
  Measured one;
  for (const std::string& name : spell.attached) {
    one.attached.push_back(point(board, name));
  }
  for (const auto& [a, b, ohm] : spell.readings) {
    one.readings.push_back(
        {{{point(board, a)}, {point(board, b)}, Purpose::continuity, kNoPoint, {}},
         ohm,
         ohm * 0.01,
         0.2});
  }
  return one;
}

Findings judged(const Board& board, const Measured& all) {
  return find_differences(board, limits_for(board), all);
}

}  // namespace

TEST_CASE("pieces that no spell held together may be one, and one break is likelier than two",
          "[graph][evidence]") {
  const Board board = test::small_board(kBoard);
  Evidence evidence(board);
  evidence.add(measured(board, {{"a1", "a2"}, {{"a1", "a2", kOpenOhm}}}));
  evidence.add(measured(board, {{"a1", "a3"}, {{"a1", "a3", kOpenOhm}}}));
  const Findings findings = judged(board, evidence.merged());
  REQUIRE(findings.findings.size() == 1);
  CHECK(findings.findings[0].pieces.size() == 2);

  SECTION("a grabber and the tip tell") {
    Diagnostics diagnostics("bench");
    const Fixtures bench = read_fixtures(
        "padwalk: fixtures/1\nfixtures:\n"
        "  grabbers: {kind: grabber, channels: 1-2, move: 15 s}\n"
        "  tip: {kind: tip, channels: 3, move: 4 s}\n",
        diagnostics);
    std::set<std::pair<PointId, PointId>> tried;
    const Limits limits = limits_for(board);
    const auto step = follow_up(board, bench, limits, evidence.merged(), {}, tried);
    REQUIRE(step);
    REQUIRE(step->moves.size() == 1);
    CHECK(step->moves[0].leads[0].point == point(board, "a2"));
    CHECK(step->touches == std::vector<PointId>{point(board, "a3")});
    // Held already: nothing has to be moved. Asked for once: not again.
    const auto other =
        follow_up(board, bench, limits, evidence.merged(), {point(board, "a3")}, tried);
    REQUIRE(other);
    CHECK(other->moves.empty());
    CHECK(other->touches == std::vector<PointId>{point(board, "a2")});
    CHECK(!follow_up(board, bench, limits, evidence.merged(), {}, tried));

    evidence.add(measured(board, {{"a2", "a3"}, {{"a2", "a3", kOpenOhm}}}));
    CHECK(judged(board, evidence.merged()).findings[0].pieces.size() == 3);
  }
  SECTION("once read, it is known") {
    evidence.add(measured(board, {{"a2", "a3"}, {{"a2", "a3", 0.1}}}));
    const Findings now = judged(board, evidence.merged());
    REQUIRE(now.findings.size() == 1);
    CHECK(now.findings[0].pieces.size() == 2);
  }
}

TEST_CASE("what was never read beside its net is no break", "[graph][evidence]") {
  const Board board = test::small_board(kBoard);
  Evidence evidence(board);
  evidence.add(measured(board, {{"a1", "a2", "b1"}, {{"a1", "a2", 0.1}}}));
  evidence.add(measured(board, {{"a3", "b1", "b2"}, {{"b1", "b2", 0.1}}}));
  const Findings findings = judged(board, evidence.merged());
  CHECK(findings.findings.empty());
  const auto said =
      std::find_if(findings.untested.begin(), findings.untested.end(),
                   [&](const PointNote& note) { return note.point == point(board, "a3"); });
  REQUIRE(said != findings.untested.end());
  CHECK(said->why == "never read together with a1");
}

TEST_CASE("what conducted in one hookup is joined, whatever another says", "[graph][evidence]") {
  const Board board = test::small_board(kBoard);
  Evidence evidence(board);
  evidence.add(measured(board, {{"a1", "a2", "a3"}, {{"a1", "a2", 0.1}, {"a1", "a3", kOpenOhm}}}));
  evidence.add(measured(board, {{"a2", "a3"}, {{"a2", "a3", 0.1}}}));
  CHECK(judged(board, evidence.merged()).findings.empty());
}

TEST_CASE("what a lead said before it had contact is forgotten", "[graph][evidence]") {
  const Board board = test::small_board(kBoard);
  Evidence evidence(board);
  evidence.add(measured(board, {{"a1", "a2", "b1"}, {{"a1", "a2", 0.1}}}));
  evidence.add(measured(board, {{"a3", "b1"}, {}}));
  evidence.add(measured(board, {{"c1", "b1", "b2"}, {{"b1", "b2", kOpenOhm}}}));
  const PointId b1 = point(board, "b1");
  const NetId a = *board.find_net("A");
  const NetId b = *board.find_net("B");
  const NetId c = *board.find_net("C");
  const std::vector<std::pair<NetId, NetId>> pairs = {{a, b}, {a, c}, {b, c}};
  CHECK(evidence.never_together(pairs) == std::vector<std::pair<NetId, NetId>>{{a, c}});
  CHECK(!evidence.conducted(b1, 0, false));
  CHECK(evidence.conducted(point(board, "a1"), 0, true));
  CHECK(!evidence.conducted(point(board, "a1"), 1, false));
  CHECK(judged(board, evidence.merged()).findings.size() == 1);
  evidence.forget({b1}, 1);
  CHECK(evidence.never_together(pairs) == std::vector<std::pair<NetId, NetId>>{{a, c}});
  CHECK(judged(board, evidence.merged()).findings.empty());
  evidence.forget({b1}, 0);
  CHECK(evidence.never_together(pairs) == std::vector<std::pair<NetId, NetId>>{{a, b}, {a, c}});
}

TEST_CASE(
    "of two readings of two nets, what conducts speaks, then what was at rest, then the "
    "surer one",
    "[graph][evidence]") {
  const Board board = test::small_board(kBoard);
  const NetId a = *board.find_net("A");
  const NetId b = *board.find_net("B");
  const auto spoken = [&](PairReading one, PairReading other) {
    Measured all;
    Measured first;
    first.nets.pairs = {one};
    Measured second;
    second.nets.pairs = {other};
    add_evidence(all, first);
    add_evidence(all, second);
    REQUIRE(all.nets.pairs.size() == 1);
    return all.nets.pairs[0].ohm;
  };
  CHECK(spoken({a, b, 900, 9, 0.2, true}, {b, a, 905, 5, 0.2, true}) == 905);
  CHECK(spoken({a, b, 900, 9, 0.2, true}, {a, b, 100, 5, 0.2, false}) == 900);
  CHECK(spoken({a, b, kOpenOhm, 0, 0.2, true}, {a, b, 950, 5, 0.2, true}) == 950);
}
