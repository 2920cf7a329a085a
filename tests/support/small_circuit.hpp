// SPDX-License-Identifier: MIT
//
// Small circuits for tests of the simulated bench.
#pragma once

#include <utility>
#include <vector>

#include "firmware-host/simulated/circuit.hpp"

namespace padwalk::test {

inline constexpr double kContactOhm = 0.025;

/// Resistors, and a lead on every node.
inline simulated::Circuit network(int nodes, std::vector<simulated::Circuit::Resistor> resistors) {
  simulated::Circuit circuit;
  circuit.nodes = nodes;
  circuit.resistors = std::move(resistors);
  for (int node = 0; node < nodes; ++node) {
    circuit.leads.push_back({node, kContactOhm});
  }
  return circuit;
}

}  // namespace padwalk::test
