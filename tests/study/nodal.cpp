// SPDX-License-Identifier: MIT
#include "tests/study/nodal.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <map>

namespace padwalk::study {

namespace {

constexpr double kOpen = std::numeric_limits<double>::infinity();
constexpr double kNextToNothing = 1e-6;

std::size_t find(std::vector<std::size_t>& parent, std::size_t node) {
  while (parent[node] != node) {
    parent[node] = parent[parent[node]];
    node = parent[node];
  }
  return node;
}

}  // namespace

void Nodal::add(std::size_t a, std::size_t b, double ohm) {
  if (!std::isfinite(ohm)) {
    return;
  }
  if (ohm < kNextToNothing) {
    parent_[find(parent_, a)] = find(parent_, b);
  } else {
    resistors_.push_back({a, b, ohm});
  }
}

std::size_t Nodal::root(std::size_t node) const {
  return find(parent_, node);
}

double Nodal::between(std::span<const std::size_t> a, std::span<const std::size_t> b) const {
  if (a.empty() || b.empty()) {
    return kOpen;
  }
  std::vector<std::size_t> tied = parent_;
  for (const auto& group : {a, b}) {
    for (const std::size_t node : group) {
      tied[find(tied, node)] = find(tied, group.front());
    }
  }
  const std::size_t from = find(tied, a.front());
  const std::size_t to = find(tied, b.front());
  if (from == to) {
    return 0;
  }
  // Only what hangs together with the two takes part.
  std::vector<std::size_t> together = tied;
  for (const Resistor& resistor : resistors_) {
    together[find(together, resistor.a)] = find(together, resistor.b);
  }
  const std::size_t component = find(together, from);
  if (find(together, to) != component) {
    return kOpen;
  }
  std::map<std::size_t, Eigen::Index> row{{to, 0}};
  std::vector<Resistor> inside;
  for (const Resistor& resistor : resistors_) {
    const std::size_t end_a = find(tied, resistor.a);
    const std::size_t end_b = find(tied, resistor.b);
    if (find(together, end_a) == component && end_a != end_b) {
      row.emplace(end_a, static_cast<Eigen::Index>(row.size()));
      row.emplace(end_b, static_cast<Eigen::Index>(row.size()));
      inside.push_back({end_a, end_b, resistor.ohm});
    }
  }
  const auto size = static_cast<Eigen::Index>(row.size());
  Eigen::MatrixXd siemens = Eigen::MatrixXd::Zero(size, size);
  for (const Resistor& resistor : inside) {
    const Eigen::Index i = row[resistor.a];
    const Eigen::Index j = row[resistor.b];
    siemens(i, i) += 1 / resistor.ohm;
    siemens(j, j) += 1 / resistor.ohm;
    siemens(i, j) -= 1 / resistor.ohm;
    siemens(j, i) -= 1 / resistor.ohm;
  }
  // Node 0 is `to`, at 0 V; one ampere goes in at `from`.
  const Eigen::MatrixXd held = siemens.bottomRightCorner(size - 1, size - 1);
  Eigen::VectorXd ampere = Eigen::VectorXd::Zero(size - 1);
  ampere(row[from] - 1) = 1;
  return held.ldlt().solve(ampere)(row[from] - 1);
}

}  // namespace padwalk::study
