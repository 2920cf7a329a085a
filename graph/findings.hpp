// SPDX-License-Identifier: MIT
//
// Measured pieces against expected nets: every difference is a finding with its suspects and the
// next touch. Also who was silent, what was neither good nor bad, and what this hookup cannot see.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/part_faults.hpp"
#include "graph/pieces.hpp"
#include "graph/reading.hpp"
#include "graph/suspects.hpp"
#include "graph/verdict.hpp"

namespace padwalk::graph {

struct BreakHistory;

struct Finding {
  std::string id;  ///< "F1", …
  FindingKind kind = FindingKind::open;
  std::vector<NetId> nets;  ///< one for an open; two or more with `in_no_net` for a short
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;
  double volt = 0;
  // open
  std::vector<std::vector<PointId>> pieces;  ///< largest first
  OpenSuspects open;
  // high resistance: resistors of the file beside the copper that read so, if it is cut
  std::vector<PartId> beside;
  // short, leakage
  std::vector<PointId> in_no_net;  ///< points that are in no net of the file and belong to it
  std::vector<GapSuspect> gaps;
  bool comes_and_goes = false;  ///< of a short: whole nets read so, single points did not
  // part, leakage between nets that parts join
  std::optional<PartFault> fault;
  std::vector<PointId>
      or_no_contact;               ///< of a part that reads open: leads that nothing else proved
  std::vector<PartId> pull_first;  ///< of a supply against ground: socketed chips on both
};

/// One reason that explains several findings.
struct Cause {
  std::string why;
  std::vector<std::string> findings;  ///< their ids
  /// Points that the file has in each other's net.
  std::optional<std::pair<PointId, PointId>> exchanged;
};

/// A point, and a sentence about it.
struct PointNote {
  PointId point = kNoPoint;
  std::string why;
};

/// What a sweep found.
struct Findings {
  std::vector<Finding> findings;
  std::vector<Cause> causes;
  std::vector<PointNote> no_contact;
  std::vector<PointNote> untested;
  std::vector<std::string> cannot_see;
};

/// All that was measured, as the graph side sees it.
struct Measured {
  std::vector<PointId> attached;
  std::vector<Reading> readings;
  /// Points that were silent before a re-seat and after it: their silence is believed.
  std::vector<PointId> silent_believed;
  /// Points that were silent and not asked about: no proof of contact.
  std::vector<PointId> silent_unproven;
  NetReadings nets;
  bool interrupted = false;  ///< not everything that was planned was read
};

/// One `open` finding a net, one `short` finding a merged group of nets, in net order; opens first,
/// then high resistances, shorts, parts and leakages. What went to and fro is `intermittent`.
/// Where the measuring was interrupted nothing is judged, and `cannot_see` says so.
/// `history`, of earlier boards of this type, sharpens the likelihoods of opens.
/// Cost: near linear in points and readings, plus the local graphs of the nets with findings.
Findings find_differences(const Board& board, const Limits& limits, const Measured& measured,
                          const BreakHistory* history = nullptr);

}  // namespace padwalk::graph
