// SPDX-License-Identifier: MIT
//
// What a bench holds of its circuit, for its own two source files. Nobody else includes it.
#pragma once

#include <memory>
#include <vector>

#include "firmware-host/simulated/bench.hpp"
#include "firmware-host/simulated/factorization.hpp"
#include "firmware-host/simulated/hum.hpp"
#include "firmware-host/simulated/transient.hpp"

namespace padwalk::simulated {

/// Holds a component that nothing else holds.
inline constexpr double kFloatingSiemens = 1e-12;

/// The root of a node in a forest of joined nodes.
inline int find(std::vector<int>& parent, int node) {
  while (parent[node] != node) {
    parent[node] = parent[parent[node]];
    node = parent[node];
  }
  return node;
}

/// Nodes that anything joins, with what the present setting does to them.
struct Bench::Component {
  std::vector<int> nodes;
  std::vector<const Circuit::Resistor*> resistors;
  std::vector<const Circuit::Source*> sources;
  std::vector<std::size_t> closed;  // channels on it that something holds
  bool touched = false;
  bool moves = false;  // it has capacitors, junctions or a clock
  Potential potential = Potential::none;
  Eigen::MatrixX2d volts;  // columns: with the sink bus at 0 V; what each volt of it adds
  Matrix conductance;      // lower half, without the instrument
  Matrix held;             // the same with the instrument
  std::unique_ptr<Factorization> solver;  // analysed once
};

/// Nodes of a moving component that copper joins.
struct Bench::Lump {
  std::vector<int> nodes;
  std::vector<const Circuit::Resistor*> copper;
  Matrix copper_siemens;
  std::vector<std::size_t> closed;
  bool held = false;
  bool mixed = false;     ///< held towards more than one potential: current flows along it
  bool factored = false;  ///< for what holds it now
  Eigen::MatrixX2d volts;
  std::unique_ptr<Factorization> solver;
};

}  // namespace padwalk::simulated
