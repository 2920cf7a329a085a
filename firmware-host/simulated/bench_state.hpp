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
  bool mixed = false;  ///< held towards more than one potential: current flows along it
  bool ready = false;  ///< what follows is of the present setting
  /// Columns: with the sink bus at 0 V; what each volt of it adds; and what each ampere adds that
  /// comes from elsewhere. That is little beside what flows between the leads, and is led in at
  /// one.
  Eigen::MatrixX3d volts;
  // Of its leads together. Units: siemens, ampere.
  double hold_siemens = 0;   ///< all that holds it
  double source_ampere = 0;  ///< from the source bus, at 0 V
  double sink_siemens = 0;   ///< towards the sink bus
  /// Into the sink bus at 0 V, for each volt of it less, and for each volt of the lump, or where
  /// it is mixed for each ampere from elsewhere, more.
  struct {
    double ampere = 0;
    double siemens = 0;
    double moving = 0;
  } to_bus;
  double volt = 0;       ///< by the transient
  double elsewhere = 0;  ///< ampere into it from elsewhere
  std::unique_ptr<Factorization> solver;
};

}  // namespace padwalk::simulated
