// SPDX-License-Identifier: MIT
//
// The parts of an assembled board as resistors, capacitors and junctions of the simulated circuit.
// What each kind becomes is said in boards/FORMAT.md. Used by simulated_bench.cpp alone.
#pragma once

#include "firmware-host/simulated/circuit.hpp"
#include "graph/board.hpp"
#include "tools/defects.hpp"

namespace padwalk::tools {

/// No conductor has no ohms, however short. Units: ohm.
inline constexpr double kLowestOhm = 1e-4;

/// A diode of that material, from `anode` to `cathode`. Units: ampere. Not for Junction::none.
simulated::Circuit::Junction make_junction(int anode, int cathode, Junction material);

/// Adds all parts but pulled chips; the node of a place is its number.
void add_parts(const graph::Board& board, const Defects& defects, simulated::Circuit& circuit);

}  // namespace padwalk::tools
