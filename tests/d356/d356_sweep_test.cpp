// SPDX-License-Identifier: MIT
//
// Real netlists on the simulated tester: each imported board sweeps as good, and each of twenty
// random single defects gives one finding that names the net or the pair and holds the true place.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <set>

#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/in_process.hpp"

namespace {

using namespace padwalk;
using graph::Board;
using graph::NetId;
using graph::PlaceId;
using graph::PointId;

constexpr int kDefectsABoard = 20;

Board import(const std::string& name) {
  const std::string path = std::string(PADWALK_NETLISTS) + "/" + name;
  graph::Diagnostics diagnostics(path);
  graph::IpcSummary summary;
  graph::BoardDescription description =
      graph::read_ipc356(graph::read_file(path), std::nullopt, diagnostics, summary);
  diagnostics.throw_if_errors();
  return Board(std::move(description), diagnostics);
}

std::vector<PointId> attached_points(const Board& board, NetId net) {
  std::vector<PointId> all;
  for (const PointId point : board[net].points) {
    if (board[point].access == graph::Access::clip) {
      all.push_back(point);
    }
  }
  return all;
}

struct Gap {
  PlaceId a;
  PlaceId b;
  double mm;
};

double edge_distance(const graph::Point& a, const graph::Point& b) {
  double dx = std::abs(a.xy->x - b.xy->x);
  double dy = std::abs(a.xy->y - b.xy->y);
  if (a.pad && b.pad) {
    dx = std::max(0.0, dx - (a.pad->x + b.pad->x) / 2);
    dy = std::max(0.0, dy - (a.pad->y + b.pad->y) / 2);
  }
  return std::hypot(dx, dy);
}

/// The three closest places of two nets on a common side, by trying all.
std::vector<Gap> closest(const Board& board, NetId x, NetId y) {
  std::vector<Gap> gaps;
  for (const PointId a : board[x].points) {
    for (const PointId b : board[y].points) {
      const PlaceId place_a = board[a].first;
      const PlaceId place_b = board[b].first;
      const graph::Side side_a = board[place_a].side;
      const graph::Side side_b = board[place_b].side;
      const bool outer = side_a < graph::Side::inner1 && side_b < graph::Side::inner1;
      const bool common =
          side_a == side_b || side_a == graph::Side::unknown || side_b == graph::Side::unknown;
      if (outer && common && board[a].xy && board[b].xy) {
        gaps.push_back({place_a, place_b, edge_distance(board[a], board[b])});
      }
    }
  }
  std::stable_sort(gaps.begin(), gaps.end(),
                   [](const Gap& a, const Gap& b) { return a.mm < b.mm; });
  gaps.resize(std::min<std::size_t>(gaps.size(), 3));
  return gaps;
}

void check_split(const Board& board, std::mt19937& random) {
  NetId net{};
  std::vector<PointId> points;
  do {
    net = NetId{static_cast<std::uint32_t>(random() % board.listed_nets())};
    points = attached_points(board, net);
  } while (points.size() < 2);
  std::shuffle(points.begin(), points.end(), random);
  const std::size_t off = 1 + random() % (points.size() - 1);
  tools::Defects defects;
  defects.splits.push_back({net, {points.begin(), points.begin() + static_cast<long>(off)}});
  std::set<PointId> one(points.begin(), points.begin() + static_cast<long>(off));
  std::set<PointId> rest(points.begin() + static_cast<long>(off), points.end());
  INFO("net " << board[net].name << " split into " << one.size() << " and " << rest.size());
  const tools::SweepReport report = test::sweep(board, defects);
  REQUIRE(report.failure.empty());
  REQUIRE(report.result.findings.size() == 1);
  const graph::Finding& finding = report.result.findings.front();
  CHECK(finding.kind == graph::FindingKind::open);
  CHECK(finding.nets == std::vector<NetId>{net});
  REQUIRE(finding.pieces.size() == 2);
  const std::set<PointId> larger(finding.pieces[0].begin(), finding.pieces[0].end());
  const std::set<PointId> smaller(finding.pieces[1].begin(), finding.pieces[1].end());
  CHECK(((larger == one && smaller == rest) || (larger == rest && smaller == one)));
  for (const PointId point : smaller) {  // its copper is where the tip should slide from
    CHECK(std::any_of(finding.open.suspects.begin(), finding.open.suspects.end(),
                      [&](const graph::OpenSuspect& suspect) {
                        return suspect.segment && board[*suspect.segment].member == point;
                      }));
  }
  CHECK(report.status() == tools::ExitStatus::findings);
}

void check_short(const Board& board, std::mt19937& random) {
  NetId x{};
  NetId y{};
  std::vector<Gap> gaps;
  while (gaps.empty()) {
    x = NetId{static_cast<std::uint32_t>(random() % board.listed_nets())};
    y = NetId{static_cast<std::uint32_t>(random() % board.listed_nets())};
    if (x != y && !attached_points(board, x).empty() && !attached_points(board, y).empty()) {
      gaps = closest(board, x, y);
    }
  }
  const Gap gap = gaps[random() % gaps.size()];
  tools::Defects defects;
  defects.bridges.push_back({gap.a, gap.b, 0.4});
  INFO("short from " << board.place_name(gap.a) << " to " << board.place_name(gap.b));
  const tools::SweepReport report = test::sweep(board, defects);
  REQUIRE(report.failure.empty());
  REQUIRE(report.result.findings.size() == 1);
  const graph::Finding& finding = report.result.findings.front();
  CHECK(finding.kind == graph::FindingKind::short_circuit);
  CHECK(std::set<NetId>(finding.nets.begin(), finding.nets.end()) == std::set<NetId>{x, y});
  CHECK(std::any_of(finding.gaps.begin(), finding.gaps.end(), [&](const graph::GapSuspect& one) {
    return (one.a == gap.a && one.b == gap.b) || (one.a == gap.b && one.b == gap.a);
  }));
}

}  // namespace

TEST_CASE("every imported board sweeps as good and every planted defect is found", "[d356]") {
  for (const char* name : {"board-01.d356", "board-02.d356", "board-03.d356", "board-04.d356",
                           "board-10.d356", "board-12.d356", "board-21.d356"}) {
    INFO(name);
    const Board board = import(name);
    const tools::SweepReport healthy = test::sweep(board, {});
    CHECK(healthy.failure.empty());
    CHECK(healthy.status() == tools::ExitStatus::good);
    const std::size_t n = healthy.hookup.leads.size();
    const std::size_t c = healthy.groups;
    CHECK(healthy.counts.scan ==
          n - c + static_cast<std::size_t>(std::ceil(std::log2(static_cast<double>(c)))));
    std::mt19937 random(356);
    for (int i = 0; i < kDefectsABoard; ++i) {
      INFO("defect " << i);
      if (i % 2 == 0) {
        check_split(board, random);
      } else {
        check_short(board, random);
      }
    }
  }
}
