// SPDX-License-Identifier: MIT
//
// Resistors between nodes, solved one pair at a time by dense nodal analysis: small, slow, and
// independent of all other solvers of the project.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace padwalk::study {

class Nodal {
 public:
  explicit Nodal(std::size_t nodes) : parent_(nodes) {
    for (std::size_t i = 0; i < nodes; ++i) {
      parent_[i] = i;
    }
  }

  std::size_t add_node() {
    parent_.push_back(parent_.size());
    return parent_.size() - 1;
  }

  /// Infinite ohms are nothing; next to none make one node.
  void add(std::size_t a, std::size_t b, double ohm);

  /// Ohms between two groups of nodes, each tied; infinite where nothing joins them, 0 where they
  /// share a node. Cost: cubic in the nodes of their component.
  double between(std::span<const std::size_t> a, std::span<const std::size_t> b) const;

  /// The node that stands for all that is tied to `node`.
  std::size_t root(std::size_t node) const;

 private:
  struct Resistor {
    std::size_t a;
    std::size_t b;
    double ohm;
  };
  mutable std::vector<std::size_t> parent_;
  std::vector<Resistor> resistors_;
};

}  // namespace padwalk::study
