// SPDX-License-Identifier: MIT
//
// The abstract problem behind part_faults.hpp: a network of resistors, each known within a range,
// and readings between its nodes. Which smallest set of changes (one resistor of another value, or
// a leak between two nodes) explains the readings that the ranges do not? Knows no board.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace padwalk::graph {

/// Nothing that a tester reads tells this conductance from none, or more than kMostSiemens from a
/// perfect conductor; all conductances are held between the two. Units: siemens.
inline constexpr double kLeastSiemens = 1e-9;
inline constexpr double kMostSiemens = 100;

/// A resistor between two nodes. Units: siemens; least <= usual <= most.
struct NetworkEdge {
  std::size_t u = 0;
  std::size_t v = 0;
  double least_siemens = kLeastSiemens;
  double siemens = kLeastSiemens;
  double most_siemens = kLeastSiemens;
  bool known = true;       ///< false: anything between the two, see network_change.hpp
  bool may_change = true;  ///< a change of it is worth telling
};

/// A reading between two nodes. Units: ohm; infinite where nothing flowed.
struct NetworkReading {
  std::size_t a = 0;
  std::size_t b = 0;
  double ohm = 0;
  double sigma_ohm = 0;  ///< its noise, to weigh it
  double low_ohm = 0;    ///< the truth lies between these
  double high_ohm = 0;
};

/// What is read between two nodes with every edge as usual, and at the worse ends of all ranges.
struct NetworkExpected {
  double ohm = 0;
  double low_ohm = 0;
  double high_ohm = 0;
};

/// One edge with another conductance, or a leak where `edge` says nothing. Units: siemens.
struct NetworkChange {
  std::size_t u = 0;
  std::size_t v = 0;
  std::optional<std::size_t> edge;
  double siemens = 0;        ///< fits best; of the edge or the leak itself
  double least_siemens = 0;  ///< all readings agree from here
  double most_siemens = 0;   ///< to here
  double misfit = 0;         ///< sum of squared deviations; less is better
  NetworkExpected expected;  ///< between u and v where nothing is changed
};

struct NetworkFault {
  /// Single changes that do equally: with any of them all readings are as they should be. Best
  /// first, the one that was chosen; never empty.
  std::vector<NetworkChange> ways;
  std::vector<std::size_t> explains;  ///< readings, as indices
};

struct NetworkFaults {
  std::vector<NetworkFault> faults;
  std::vector<std::size_t> off;          ///< readings outside their range
  std::vector<std::size_t> unexplained;  ///< those of `off` that no fault explains
};

/// The smallest explanation of the readings: no change, one, two or three; up to six where each is
/// borne out by several readings.
///
/// A reading is as expected where [low_ohm, high_ohm] meets what the network allows: resistance
/// never rises with a conductance (Rayleigh), so the allowed range is that of all edges at `most`
/// and of all at `least`. A change keeps the ranges of all other edges, and its effect on each
/// reading is a rank-one update, R' = R - x phi^2 / (1 + x R_uv): each reading allows an interval
/// of the changed conductance in closed form. One change is tried in full; more are searched
/// from the most promising ones (a beam), so an explanation by several may be missed, in which case
/// `unexplained` says so. A leak of less than `least_leak_siemens` may explain
/// readings but is taken only if no other single change does.
///
/// Errors: none; nodes must be below `nodes`, edges and readings join different nodes.
/// Cost: nodes^3, and for each candidate (edges, pairs of nodes of readings that are off) up to
/// readings, far less for those that fail early; a beam adds some thousand updates of nodes^2 a
/// change. Measured once: 100 nodes, 200 edges, 5000 readings: 10 ms with one fault, 1 s with
/// three, 4 s with seven, which it does not explain.
NetworkFaults find_network_faults(std::size_t nodes, std::span<const NetworkEdge> edges,
                                  std::span<const NetworkReading> readings,
                                  double least_leak_siemens);

}  // namespace padwalk::graph
