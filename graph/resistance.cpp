// SPDX-License-Identifier: MIT
#include "graph/resistance.hpp"

#include <Eigen/SparseCholesky>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <limits>
#include <queue>
#include <stdexcept>
#include <tuple>

namespace padwalk::graph {

namespace {

using Node = ResistiveNetwork::Node;

constexpr double kOpen = std::numeric_limits<double>::infinity();
constexpr Node kNone = std::numeric_limits<Node>::max();
/// Below this share of what was there the rank-one formula has lost too many digits.
constexpr double kTooLittleLeft = 1e-6;
/// What is taken away may be wrong by this share of itself and still count as all that is there.
constexpr double kSame = 1e-9;

/// A resistor seen from one end, or a way from one node of the tree to the next.
struct Arm {
  Node to = 0;
  double siemens = 0;
};

}  // namespace

/// Resistors of 0 ohm make nodes one; each node that is left hangs in the tree of its component.
/// `parent`, `depth`, `component` and `siemens` are by node, and only a root's hold.
struct ResistiveNetwork::Solved {
  std::vector<Node> root;  ///< the node that stands for it
  std::vector<Node> parent;
  std::vector<std::size_t> depth;
  std::vector<Node> component;
  std::vector<double> scale;  ///< of the voltage to the parent: 1 over the root of its siemens
  std::vector<int> unknown;   ///< which unknown that voltage is; -1: a root of a tree
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> factors;

  Solved(std::size_t nodes, const std::vector<Resistor>& resistors) {
    join(nodes, resistors);
    std::vector<std::vector<Arm>> arms(nodes);
    for (const Resistor& one : resistors) {
      const Node a = root[one.a];
      const Node b = root[one.b];
      if (a != b) {
        arms[a].push_back({b, 1 / one.ohm});
        arms[b].push_back({a, 1 / one.ohm});
      }
    }
    const int unknowns = grow(arms);
    factor(arms, unknowns);
  }

  /// Calls `step(node, sign)` for every tree voltage on the way from a to b: +1 where the way goes
  /// up, -1 where it goes down. Both must be in one component.
  template <typename Step>
  void walk(Node a, Node b, Step step) const {
    a = root[a];
    b = root[b];
    while (a != b) {
      if (depth[a] >= depth[b]) {
        step(a, 1.0);
        a = parent[a];
      } else {
        step(b, -1.0);
        b = parent[b];
      }
    }
  }

  bool joined(Node a, Node b) const { return component[root[a]] == component[root[b]]; }

 private:
  void join(std::size_t nodes, const std::vector<Resistor>& resistors) {
    boost::disjoint_sets_with_storage<> sets(nodes);
    for (const Resistor& one : resistors) {
      if (one.ohm == 0) {
        sets.union_set(one.a, one.b);
      }
    }
    for (Node node = 0; node < nodes; ++node) {
      root.push_back(sets.find_set(node));
    }
  }

  /// Grows a tree a component, best conductors first by decades of siemens, and among those from
  /// the least depth, so that a mesh of equal resistors gets short ways. Returns how many voltages.
  int grow(const std::vector<std::vector<Arm>>& arms) {
    const std::size_t nodes = arms.size();
    parent.assign(nodes, kNone);
    depth.assign(nodes, 0);
    component.assign(nodes, kNone);
    scale.assign(nodes, 0);
    unknown.assign(nodes, -1);
    using Reach = std::tuple<int, std::size_t, Node, Node, double>;  // decade, depth, from, to, S
    const auto worse = [](const Reach& a, const Reach& b) {
      return std::get<0>(a) != std::get<0>(b)   ? std::get<0>(a) < std::get<0>(b)
             : std::get<1>(a) != std::get<1>(b) ? std::get<1>(a) > std::get<1>(b)
                                                : std::get<3>(a) > std::get<3>(b);
    };
    int unknowns = 0;
    for (Node start = 0; start < nodes; ++start) {
      if (root[start] != start || component[start] != kNone) {
        continue;
      }
      std::priority_queue<Reach, std::vector<Reach>, decltype(worse)> reach(worse);
      const auto take = [&](Node node) {
        component[node] = start;
        for (const Arm& arm : arms[node]) {
          if (component[arm.to] == kNone) {
            reach.emplace(static_cast<int>(std::floor(std::log10(arm.siemens))), depth[node] + 1,
                          node, arm.to, arm.siemens);
          }
        }
      };
      take(start);
      while (!reach.empty()) {
        const auto [decade, deep, from, to, siemens] = reach.top();
        reach.pop();
        if (component[to] != kNone) {
          continue;
        }
        parent[to] = from;
        depth[to] = deep;
        scale[to] = 1 / std::sqrt(siemens);
        unknown[to] = unknowns++;
        take(to);
      }
    }
    return unknowns;
  }

  /// The matrix is the sum over all resistors of siemens p p', p being the way through the tree
  /// between its ends; scaled, the tree's own resistors make the unit matrix.
  void factor(const std::vector<std::vector<Arm>>& arms, int unknowns) {
    if (unknowns == 0) {
      return;
    }
    std::vector<Eigen::Triplet<double>> entries;
    std::vector<std::pair<int, double>> way;
    for (Node a = 0; a < arms.size(); ++a) {
      for (const Arm& arm : arms[a]) {
        if (a > arm.to) {
          continue;  // each resistor once
        }
        way.clear();
        const double root_of_siemens = std::sqrt(arm.siemens);
        walk(a, arm.to, [&](Node node, double sign) {
          way.emplace_back(unknown[node], sign * scale[node] * root_of_siemens);
        });
        for (const auto& [row, left] : way) {
          for (const auto& [column, right] : way) {
            if (row >= column) {
              entries.emplace_back(row, column, left * right);
            }
          }
        }
      }
    }
    Eigen::SparseMatrix<double> matrix(unknowns, unknowns);
    matrix.setFromTriplets(entries.begin(), entries.end());
    factors.compute(matrix);
    if (factors.info() != Eigen::Success) {
      throw std::runtime_error("a network of resistors could not be solved");
    }
  }
};

ResistiveNetwork::ResistiveNetwork(std::size_t nodes) : nodes_(nodes) {}

void ResistiveNetwork::check(Node node) const {
  if (node >= nodes_) {
    throw std::invalid_argument("there is no such node in the network");
  }
}

void ResistiveNetwork::add(Node a, Node b, double ohm) {
  check(a);
  check(b);
  if (!(ohm >= 0)) {
    throw std::invalid_argument("a resistor has 0 ohm or more");
  }
  // What has no reciprocal counts as nothing.
  resistors_.push_back({a, b, ohm < std::numeric_limits<double>::min() ? 0 : ohm});
  solved_.reset();
}

const ResistiveNetwork::Solved& ResistiveNetwork::solved() const {
  if (!solved_) {
    std::vector<Resistor> conducting;
    for (const Resistor& one : resistors_) {
      if (std::isfinite(one.ohm)) {
        conducting.push_back(one);
      }
    }
    solved_ = std::make_shared<const Solved>(nodes_, conducting);
  }
  return *solved_;
}

ResistiveNetwork::Flow ResistiveNetwork::flow(Node a, Node b) const {
  check(a);
  check(b);
  const Solved& all = solved();
  Flow flow{a, b, 0, std::vector<double>(nodes_, 0)};
  if (!all.joined(a, b)) {
    flow.ohm = kOpen;
    return flow;
  }
  if (all.root[a] == all.root[b]) {
    return flow;
  }
  Eigen::VectorXd wanted = Eigen::VectorXd::Zero(all.factors.rows());
  all.walk(a, b,
           [&](Node node, double sign) { wanted[all.unknown[node]] = sign * all.scale[node]; });
  const Eigen::VectorXd scaled = all.factors.solve(wanted);
  flow.ohm = wanted.dot(scaled);
  for (Node node = 0; node < nodes_; ++node) {
    if (all.unknown[node] >= 0) {
      flow.drop[node] = scaled[all.unknown[node]] * all.scale[node];
    }
  }
  return flow;
}

double ResistiveNetwork::between(Node a, Node b) const {
  return flow(a, b).ohm;
}

double ResistiveNetwork::between(std::span<const Node> a, std::span<const Node> b) const {
  for (const Node node : a) {
    check(node);
  }
  for (const Node node : b) {
    check(node);
  }
  if (a.size() == 1 && b.size() == 1) {
    return between(a.front(), b.front());
  }
  const Solved& all = solved();
  // 1: a touches that component, 2: b does.
  std::vector<int> touched(nodes_, 0);
  std::vector<Node> renamed(nodes_, kNone);
  for (const Node node : a) {
    touched[all.component[all.root[node]]] |= 1;
    renamed[all.root[node]] = 0;
  }
  bool meet = false;
  for (const Node node : b) {
    if (renamed[all.root[node]] == 0) {
      return 0;
    }
    int& mark = touched[all.component[all.root[node]]];
    mark |= 2;
    meet = meet || mark == 3;
  }
  if (!meet) {
    return kOpen;
  }
  for (const Node node : b) {
    renamed[all.root[node]] = 1;
  }
  std::size_t count = 2;
  std::vector<Resistor> inside;
  const auto rename = [&](Node node) {
    Node& name = renamed[all.root[node]];
    return name == kNone ? name = count++ : name;
  };
  for (const Resistor& one : resistors_) {
    if (touched[all.component[all.root[one.a]]] == 3 && std::isfinite(one.ohm) &&
        all.root[one.a] != all.root[one.b]) {
      const Node from = rename(one.a);
      inside.push_back({from, rename(one.b), one.ohm});
    }
  }
  ResistiveNetwork tied(count);
  tied.resistors_ = std::move(inside);
  return tied.between(Node{0}, Node{1});
}

double ResistiveNetwork::volt(const Flow& flow, Node u, Node v) const {
  check(u);
  check(v);
  const Solved& all = solved();
  if (!all.joined(u, v)) {
    return 0;
  }
  double volt = 0;
  all.walk(u, v, [&](Node node, double sign) { volt += sign * flow.drop[node]; });
  return volt;
}

double ResistiveNetwork::share(const Flow& flow, std::size_t resistor) const {
  const Resistor& one = resistors_.at(resistor);
  if (one.ohm == 0 || !std::isfinite(one.ohm)) {
    return 0;
  }
  const double across = volt(flow, one.a, one.b);
  return across * across / one.ohm;
}

double ResistiveNetwork::between_with(Node a, Node b, Change change) const {
  return between_with(flow(a, b), flow(change.u, change.v), change);
}

double ResistiveNetwork::between_with(const Flow& flow, const Flow& at_change,
                                      Change change) const {
  const Solved& all = solved();
  if (std::isnan(change.siemens)) {
    throw std::invalid_argument("a change of conductance is a number");
  }
  if (all.root[change.u] == all.root[change.v] || change.siemens == 0 || flow.ohm == 0) {
    return flow.ohm;
  }
  if (!all.joined(flow.from, flow.to) || !std::isfinite(at_change.ohm)) {
    return solve_changed(flow.from, flow.to, change);
  }
  if (!all.joined(flow.from, change.u)) {
    return flow.ohm;
  }
  const double across = volt(flow, change.u, change.v);
  const double left = 1 + change.siemens * at_change.ohm;
  const double less = std::isfinite(change.siemens) ? change.siemens * across * across / left
                                                    : across * across / at_change.ohm;
  const double ohm = flow.ohm - less;
  if (!(left > kTooLittleLeft) || !(ohm > kTooLittleLeft * flow.ohm)) {
    return solve_changed(flow.from, flow.to, change);
  }
  return ohm;
}

double ResistiveNetwork::solve_changed(Node a, Node b, Change change) const {
  const Solved& all = solved();
  const Node u = all.root[change.u];
  const Node v = all.root[change.v];
  ResistiveNetwork changed(nodes_);
  double siemens = 0;
  for (const Resistor& one : resistors_) {
    const Node from = all.root[one.a];
    const Node to = all.root[one.b];
    if (one.ohm > 0 && ((from == u && to == v) || (from == v && to == u))) {
      siemens += 1 / one.ohm;
    } else {
      changed.resistors_.push_back(one);
    }
  }
  double left = siemens + change.siemens;
  if (left < -kSame * siemens || (siemens == 0 && left < 0)) {
    throw std::invalid_argument("more conductance would be taken away than is there");
  }
  if (left > kSame * siemens || change.siemens > 0) {
    changed.add(u, v, std::isfinite(left) ? 1 / left : 0);
  }
  return changed.between(a, b);
}

}  // namespace padwalk::graph
