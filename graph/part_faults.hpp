// SPDX-License-Identifier: MIT
//
// Nets that parts join, read against each other: which part reads wrong, or which two nets leak.
// Not for nets with nothing between them (verdict.hpp) and not for what is wrong inside a net.
#pragma once

#include <span>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/findings.hpp"
#include "graph/reading.hpp"
#include "graph/verdict.hpp"

namespace padwalk::graph {

/// One reading of one net against one other, all attached points of each tied. Units: ohm, volt.
/// `ohm` is kOpenOhm where nothing flowed; not settled: it is a lower bound.
struct PairReading {
  NetId a = kNoNet;
  NetId b = kNoNet;
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;  ///< k = 2
  double volt = 0;
  bool settled = true;
};

/// What explains pair readings that parts and tolerances do not. Units: ohm.
struct PartFault {
  FindingKind kind = FindingKind::part;  ///< `part`, or `leakage`: a path beside the parts
  PartId part = kNoPart;                 ///< of kind `part`: the one that reads wrong
  /// Parts any one of which explains the readings as well, best first, `part` included. Of a
  /// leakage: parts that would explain it as well.
  std::vector<PartId> candidates;
  NetId a = kNoNet;  ///< the two nets that it is between
  NetId b = kNoNet;
  double ohm = kOpenOhm;           ///< what the part or the leak itself must be; kOpenOhm: open
  double uncertainty_ohm = 0;      ///< half of the range in which all readings agree; of an open 0
  double measured_ohm = kOpenOhm;  ///< of the pair a, b; NaN where it was not read
  double expected_ohm = kOpenOhm;  ///< of the pair a, b, and at the worse ends of all tolerances
  double expected_low_ohm = kOpenOhm;
  double expected_high_ohm = kOpenOhm;
  std::vector<std::pair<NetId, NetId>> explains;  ///< pairs off their expectation
  /// Pairs of nets between which a leak would explain the readings as well. A part that reads low
  /// always has its own two nets here.
  std::vector<std::pair<NetId, NetId>> or_leaks;
};

struct PairVerdicts {
  std::vector<PartFault> faults;
  std::vector<std::pair<NetId, NetId>> unexplained;  ///< off, and no fault explains them
  /// Parts without known ohms take part: not judged here, only a short can be told.
  std::vector<std::pair<NetId, NetId>> unsure;
};

/// Judges the readings between nets that parts join, directly or through other nets, and finds the
/// smallest explanation of those that are off: see network_faults.hpp.
///
/// A reading is as expected where it lies in what the parts allow, all tolerances at their worse
/// edges, give or take 3 sigma of the reading and half an ohm of copper and contacts. Tolerance of
/// a resistor: the larger of its own and 5 %, and 1 % more for age (common practice, no source).
/// Links, closed switches and fuses may have up to 10 ohm, coils up to 100; silicon at the test
/// voltage 0.3 Mohm a pin or more. A leak counts up to limits.isolation_ohm; a weaker one may
/// explain readings but is no fault. `shorted`: pairs that are known as shorts; their nets are
/// one from here on, and readings between them are not judged.
/// Readings between nets that nothing joins count only where they are below the isolation limit.
/// Errors: none. Cost: see find_network_faults(), with a network for each cluster.
PairVerdicts explain_pairs(const Board& board, const Limits& limits,
                           std::span<const PairReading> readings,
                           std::span<const std::pair<NetId, NetId>> shorted);

}  // namespace padwalk::graph
