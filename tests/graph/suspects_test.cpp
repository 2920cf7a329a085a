// SPDX-License-Identifier: MIT
#include "graph/suspects.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <numeric>
#include <random>
#include <set>

namespace {

using namespace padwalk::graph;

using Classes = std::vector<std::vector<int>>;
using Sets = std::vector<std::vector<int>>;

/// Joins vertices by relabelling: slow and plain, an oracle.
std::vector<int> components(const LocalRoute& route, const std::vector<int>& removed) {
  std::vector<int> label(static_cast<std::size_t>(route.vertices));
  std::iota(label.begin(), label.end(), 0);
  for (std::size_t e = 0; e < route.edges.size(); ++e) {
    if (std::find(removed.begin(), removed.end(), static_cast<int>(e)) == removed.end()) {
      const int from = label[static_cast<std::size_t>(route.edges[e].a)];
      const int to = label[static_cast<std::size_t>(route.edges[e].b)];
      std::replace(label.begin(), label.end(), from, to);
    }
  }
  return label;
}

bool explains(const LocalRoute& route, const Classes& classes, const std::vector<int>& removed) {
  const std::vector<int> label = components(route, removed);
  std::set<int> used;
  for (const std::vector<int>& one : classes) {
    std::set<int> own;
    for (const int v : one) {
      own.insert(label[static_cast<std::size_t>(v)]);
    }
    if (own.size() != 1 || !used.insert(*own.begin()).second) {
      return false;
    }
  }
  return true;
}

Sets explaining_sets(const LocalRoute& route, const Classes& classes, int size) {
  const int edges = static_cast<int>(route.edges.size());
  Sets sets;
  for (int a = 0; a < edges; ++a) {
    if (size == 1 && explains(route, classes, {a})) {
      sets.push_back({a});
    }
    for (int b = a + 1; size == 2 && b < edges; ++b) {
      if (explains(route, classes, {a, b})) {
        sets.push_back({a, b});
      }
    }
  }
  return sets;
}

/// Does any set of breaks at all leave these classes?
bool possible(const LocalRoute& route, const Classes& classes) {
  const unsigned all = 1U << route.edges.size();
  for (unsigned mask = 0; mask < all; ++mask) {
    std::vector<int> removed;
    for (std::size_t e = 0; e < route.edges.size(); ++e) {
      if ((mask >> e & 1U) != 0) {
        removed.push_back(static_cast<int>(e));
      }
    }
    if (explains(route, classes, removed)) {
      return true;
    }
  }
  return false;
}

LocalRoute route_of(int vertices, std::vector<std::pair<int, int>> edges) {
  LocalRoute route;
  route.vertices = vertices;
  for (const auto& [a, b] : edges) {
    route.edges.push_back({a, b, 1});
  }
  return route;
}

/// A random connected route: a tree, and `extra` more edges that close loops or run parallel.
LocalRoute random_route(std::mt19937& random, int vertices, int extra) {
  LocalRoute route;
  route.vertices = vertices;
  const auto below = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
  for (int v = 1; v < vertices; ++v) {
    route.edges.push_back({v, std::max(below(v), v - 1 - below(3)), 1});
  }
  for (int i = 0; i < extra; ++i) {
    if (below(3) == 0) {
      const LocalRoute::Edge twin =
          route.edges[static_cast<std::size_t>(below(static_cast<int>(route.edges.size())))];
      route.edges.push_back({twin.b, twin.a, 1});
      continue;
    }
    const int a = below(vertices);
    const int b = below(vertices);
    if (a != b) {
      route.edges.push_back({a, b, 1});
    }
  }
  std::shuffle(route.edges.begin(), route.edges.end(), random);
  return route;
}

/// The classes that some vertices of a route fall into when `breaks` random edges are cut.
Classes measured(std::mt19937& random, const LocalRoute& route, int breaks) {
  std::vector<int> removed;
  for (int i = 0; i < breaks; ++i) {
    removed.push_back(static_cast<int>(random() % route.edges.size()));
  }
  const std::vector<int> label = components(route, removed);
  std::map<int, std::vector<int>> classes;
  for (int v = 0; v < route.vertices; ++v) {
    if (random() % 2 == 0) {
      classes[label[static_cast<std::size_t>(v)]].push_back(v);
    }
  }
  Classes all;
  for (auto& [component, one] : classes) {
    std::shuffle(one.begin(), one.end(), random);
    all.push_back(one);
  }
  return all;
}

bool everywhere_touchable(const RowPlan& plan, int m) {
  return plan.first_cut > 0 && plan.first_cut < m;
}

}  // namespace

TEST_CASE("the suspects of one break are the path between two pieces", "[graph][suspects]") {
  // 0 P1 - 1 V1 - 2 V2 - 3 J1 - 4 P2, and V2 - 5 P3
  const LocalRoute route = route_of(6, {{0, 1}, {1, 2}, {2, 3}, {3, 4}, {2, 5}});
  CHECK(explain(route, {{0}, {4, 5}}).sets == Sets{{0}, {1}});
  CHECK(explain(route, {{0, 5}, {4}}).sets == Sets{{2}, {3}});
  CHECK(explain(route, {{0, 4}, {5}}).sets == Sets{{4}});
  CHECK(explain(route, {{0, 4}, {5}}).breaks == 1);
}

TEST_CASE("pieces that cannot both be connected are a contradiction", "[graph][suspects]") {
  const LocalRoute path = route_of(4, {{0, 1}, {1, 2}, {2, 3}});
  const Explanation crossed = explain(path, {{0, 2}, {1, 3}});
  CHECK(crossed.contradiction);
  CHECK(crossed.sets.empty());
  CHECK(explain(route_of(4, {{0, 1}, {2, 3}}), {{0, 2}, {1}}).contradiction);
}

TEST_CASE("nothing needs explaining where the pieces are apart already", "[graph][suspects]") {
  CHECK(explain(route_of(4, {{0, 1}, {2, 3}}), {{0, 1}, {2}}).breaks == 0);
  CHECK(explain(route_of(2, {{0, 1}}), {{0, 1}}).breaks == 0);
  CHECK(explain(route_of(1, {}), {}).breaks == 0);
}

TEST_CASE("loops are not suspects of a single break", "[graph][suspects]") {
  const LocalRoute loop = route_of(5, {{0, 1}, {1, 2}, {1, 3}, {3, 2}, {2, 4}});
  const Explanation one = explain(loop, {{0}, {4}});
  CHECK(one.breaks == 1);
  CHECK(one.sets == Sets{{0}, {4}});
  const LocalRoute ring = route_of(4, {{0, 1}, {1, 2}, {2, 3}, {3, 0}});
  const Explanation two = explain(ring, {{0}, {2}});
  CHECK(two.breaks == 2);
  CHECK(two.sets == Sets{{0, 2}, {0, 3}, {1, 2}, {1, 3}});
}

TEST_CASE("parallel segments break only together", "[graph][suspects]") {
  const Explanation twin = explain(route_of(3, {{0, 1}, {1, 0}, {1, 2}}), {{0}, {2}});
  CHECK(twin.sets == Sets{{2}});
  const Explanation both = explain(route_of(2, {{0, 1}, {1, 0}}), {{0}, {1}});
  CHECK(both.breaks == 2);
  CHECK(both.sets == Sets{{0, 1}});
}

TEST_CASE("a smaller cut that would part a piece is no explanation", "[graph][suspects]") {
  // 0 A1 - 2 u, 1 A2 - 2 u, and three parallel tracks from u to 3 B
  const LocalRoute route = route_of(4, {{0, 2}, {1, 2}, {2, 3}, {2, 3}, {2, 3}});
  const Explanation result = explain(route, {{0, 1}, {3}});
  CHECK_FALSE(result.contradiction);
  CHECK(result.breaks == 3);
  CHECK(result.sets.size() == 1);
}

TEST_CASE("several pieces of a star need several breaks", "[graph][suspects]") {
  const LocalRoute star = route_of(5, {{0, 1}, {0, 2}, {0, 3}, {0, 4}});
  const Explanation two = explain(star, {{1, 4}, {2}, {3}});
  CHECK(two.breaks == 2);
  CHECK(two.sets == Sets{{1, 2}});
  const Explanation three = explain(star, {{1}, {2}, {3}, {4}});
  CHECK(three.breaks == 3);
  CHECK(three.sets == Sets{{0, 1, 2, 3}});
}

TEST_CASE("one and two breaks are explained as by trying all sets", "[graph][suspects]") {
  std::map<int, int> seen;
  for (unsigned seed = 0; seed < 2000; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const int vertices = 2 + static_cast<int>(random() % 10);
    const int extra = seed % 2 == 0 ? 0 : static_cast<int>(random() % 5);
    const LocalRoute route = random_route(random, vertices, extra);
    const Classes classes = measured(random, route, 1 + static_cast<int>(random() % 4));
    const Explanation result = explain(route, classes);
    CHECK_FALSE(result.contradiction);
    ++seen[result.breaks];
    if (explains(route, classes, {})) {
      CHECK(result.breaks == 0);
      CHECK(result.sets.empty());
      continue;
    }
    Sets sets = explaining_sets(route, classes, 1);
    int breaks = 1;
    if (sets.empty()) {
      sets = explaining_sets(route, classes, 2);
      breaks = 2;
    }
    if (sets.empty()) {
      CHECK(result.breaks == 3);
      REQUIRE(result.sets.size() == 1);
      CHECK_FALSE(result.sets.front().empty());
      continue;
    }
    CHECK(result.breaks == breaks);
    CHECK(result.sets == sets);
  }
  CHECK(seen[1] > 300);
  CHECK(seen[2] > 300);
  CHECK(seen[3] > 50);
}

TEST_CASE("a contradiction is exact on trees and never claimed wrongly on loops",
          "[graph][suspects]") {
  int contradictions = 0;
  for (unsigned seed = 0; seed < 1000; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const bool tree = seed % 2 == 0;
    const LocalRoute route = random_route(random, 2 + static_cast<int>(random() % 5), tree ? 0 : 3);
    Classes classes(2 + random() % 2);
    for (int v = 0; v < route.vertices; ++v) {
      const std::size_t which = random() % (classes.size() + 1);
      if (which < classes.size()) {
        classes[which].push_back(v);
      }
    }
    classes.erase(std::remove_if(classes.begin(), classes.end(),
                                 [](const std::vector<int>& one) { return one.empty(); }),
                  classes.end());
    const Explanation result = explain(route, classes);
    const bool can_be = possible(route, classes);
    contradictions += result.contradiction ? 1 : 0;
    if (tree) {
      CHECK(result.contradiction == !can_be);
    } else {
      CHECK_FALSE((result.contradiction && can_be));
      CHECK((can_be || result.contradiction || result.breaks == 3));
    }
  }
  CHECK(contradictions > 100);
}

TEST_CASE("a chain of equal segments takes ceil(log2 m) touches at worst", "[graph][suspects]") {
  for (int m = 1; m <= 16; ++m) {
    INFO(m);
    const RowPlan plan = plan_row(std::vector<double>(static_cast<std::size_t>(m), 1.0),
                                  std::vector<bool>(static_cast<std::size_t>(m) + 1, true));
    CHECK(plan.worst == static_cast<int>(std::ceil(std::log2(m))));
    CHECK(everywhere_touchable(plan, m) == (m > 1));
  }
  CHECK(plan_row(std::vector<double>(8, 1.0), std::vector<bool>(9, true)).mean_cost ==
        Approx(24.0 / 8));
  CHECK(plan_row(std::vector<double>(6, 1.0), std::vector<bool>(7, true)).mean_cost ==
        Approx(16.0 / 6));
}

TEST_CASE("a weighted row is cut where the mean number of touches is least", "[graph][suspects]") {
  const std::vector<double> weights = {1, 8, 1, 4, 1, 8};  // trace, via, trace, joint, trace, via
  const RowPlan free = plan_row(weights, std::vector<bool>(7, true));
  CHECK(free.mean_cost == Approx(57.0 / 23));
  CHECK(free.first_cut == 2);
  std::vector<bool> touchable(7, true);
  touchable[2] = touchable[5] = false;
  const RowPlan merged = plan_row(weights, touchable);
  CHECK(merged.mean_cost == Approx(46.0 / 23));
  CHECK(merged.first_cut == 3);
  CHECK(merged.worst == 2);
}

TEST_CASE("a row without a touchable boundary has no plan", "[graph][suspects]") {
  const RowPlan none = plan_row(std::vector<double>{1, 2, 3}, {true, false, false, true});
  CHECK(none.first_cut == -1);
  CHECK(none.worst == 0);
  CHECK(none.mean_cost == 0);
  CHECK(plan_row({}, {true}).first_cut == -1);
}

namespace {

/// The least mean cost by trying all plans, without a table.
double least_cost(const std::vector<double>& weights, const std::vector<bool>& touchable,
                  std::size_t i, std::size_t j) {
  double best = -1;
  for (std::size_t k = i + 1; k < j; ++k) {
    if (touchable[k]) {
      const double cost =
          least_cost(weights, touchable, i, k) + least_cost(weights, touchable, k, j);
      best = best < 0 ? cost : std::min(best, cost);
    }
  }
  return best < 0 ? 0
                  : best + std::accumulate(weights.begin() + static_cast<long>(i),
                                           weights.begin() + static_cast<long>(j), 0.0);
}

}  // namespace

TEST_CASE("plans of random rows are the best there are", "[graph][suspects]") {
  std::mt19937 random(4);
  for (int round = 0; round < 200; ++round) {
    INFO("round " << round);
    const std::size_t m = 1 + random() % 9;
    std::vector<double> weights;
    std::vector<bool> touchable = {true};
    for (std::size_t i = 0; i < m; ++i) {
      weights.push_back(1 + static_cast<double>(random() % 10));
      touchable.push_back(random() % 4 != 0);
    }
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    const RowPlan plan = plan_row(weights, touchable);
    CHECK(plan.mean_cost == Approx(least_cost(weights, touchable, 0, m) / sum));
    CHECK((plan.first_cut == -1 || touchable[static_cast<std::size_t>(plan.first_cut)]));
  }
}

namespace {

/// The same with sides: by trying all plans.
double least_time(const std::vector<double>& weights, const std::vector<RowBoundary>& boundaries,
                  const TouchTimes& times, Side up, std::size_t i, std::size_t j) {
  double best = -1;
  const double sum = std::accumulate(weights.begin() + static_cast<long>(i),
                                     weights.begin() + static_cast<long>(j), 0.0);
  for (std::size_t k = i + 1; k < j; ++k) {
    for (const Side side : {Side::top, Side::bottom}) {
      if (side == Side::top ? boundaries[k].top : boundaries[k].bottom) {
        const double cost = (times.touch + (side == up ? 0 : times.turn)) * sum +
                            least_time(weights, boundaries, times, side, i, k) +
                            least_time(weights, boundaries, times, side, k, j);
        best = best < 0 ? cost : std::min(best, cost);
      }
    }
  }
  return std::max(best, 0.0);
}

}  // namespace

TEST_CASE("where a turn of the board takes time, rows are planned for the least of it",
          "[graph][suspects]") {
  std::mt19937 random(5);
  std::size_t turned = 0;
  for (int round = 0; round < 200; ++round) {
    INFO("round " << round);
    const std::size_t m = 1 + random() % 7;
    std::vector<double> weights;
    std::vector<RowBoundary> boundaries = {{}};
    for (std::size_t i = 0; i < m; ++i) {
      weights.push_back(1 + static_cast<double>(random() % 10));
      boundaries.push_back({random() % 2 == 0, random() % 2 == 0});
    }
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    const TouchTimes times{4, 15};
    for (const Side up : {Side::top, Side::bottom}) {
      const RowPlan plan = plan_row(weights, boundaries, times, up);
      CHECK(plan.mean_cost ==
            Approx(least_time(weights, boundaries, times, up, 0, m) / sum).margin(1e-12));
      turned += plan.first_cut >= 0 && plan.side != up ? 1 : 0;
    }
  }
  CHECK(turned > 20);
}

TEST_CASE("long rows are planned by balance, close to the best", "[graph][suspects]") {
  const RowPlan plan = plan_row(std::vector<double>(1024, 1.0), std::vector<bool>(1025, true));
  CHECK(plan.mean_cost == Approx(10));
  CHECK(plan.worst == 10);
  CHECK(plan.first_cut == 512);
  std::vector<double> steep;
  for (int i = 0; i < 1000; ++i) {
    steep.push_back(std::pow(2.0, -i));
  }
  CHECK(plan_row(steep, std::vector<bool>(1001, true)).mean_cost < 2.1);
}

TEST_CASE("a long ring is explained without running out of memory", "[graph][suspects]") {
  LocalRoute ring;
  ring.vertices = 2000;
  for (int v = 0; v < ring.vertices; ++v) {
    ring.edges.push_back({v, (v + 1) % ring.vertices, 1});
  }
  const Explanation result = explain(ring, {{0}, {1000}});
  CHECK(result.breaks == 2);
  CHECK(result.sets.size() == 100000);
}
