// SPDX-License-Identifier: MIT
//
// What a sweep of this hookup can see of a board with its defects, from first principles: a small
// nodal circuit of its own. Shares no code with graph/ beyond the Board's plain data, nor with the
// simulated bench. Knows nothing of readings and findings.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "graph/board.hpp"
#include "tests/study/nodal.hpp"
#include "tools/defects.hpp"

namespace padwalk::study {

/// How sure a difference shows. `maybe`: so near to a limit that either answer is right.
enum class Seen : std::uint8_t { no, maybe, yes };

/// Ohms between two conductors. Units: ohm.
struct OhmBand {
  double low = 0;
  double high = 0;
};

/// What one net reads inside. `worst`: to the attached point that is worst to reach, from the best
/// and from the worst point to start from. Units: ohm; infinite: apart.
struct NetState {
  OhmBand worst;
  bool parts_bridge = false;  ///< two pieces of it conduct, and not as copper does
  Seen open = Seen::no;
  Seen high = Seen::no;
};

/// A conductor that a lead can speak of: a net, or a point that is in none.
struct Conductor {
  graph::NetId net = graph::kNoNet;
  graph::PointId point = graph::kNoPoint;
  friend bool operator==(const Conductor&, const Conductor&) = default;
};
Conductor conductor_at(const graph::Board& board, graph::PlaceId place);

/// What two conductors read against each other, all attached points of each tied.
struct PairState {
  OhmBand expected;  ///< of the healthy board, all tolerances at their worse edges
  OhmBand actual;
  bool attached = false;  ///< both have a lead that touches
  Seen short_circuit = Seen::no;
  Seen leakage = Seen::no;
  /// Above or below what parts allow.
  Seen off = Seen::no;
};

/// A board in one state. `leads`: the points that have a lead.
class Oracle {
 public:
  Oracle(const graph::Board& board, const tools::Defects& defects,
         std::span<const graph::PointId> leads, double isolation_ohm);

  NetState net(graph::NetId id) const;
  PairState pair(const Conductor& a, const Conductor& b) const;

 private:
  std::vector<graph::PointId> touched(const Conductor& conductor) const;
  void add_copper(const tools::Defects& defects);
  void add_parts(const tools::Defects& defects);
  void add_part(graph::PartId id, std::optional<double> changed);
  void add_clamps(const graph::Part& part);
  void join(graph::PlaceId a, graph::PlaceId b, OhmBand expected, OhmBand actual);

  const graph::Board& board_;
  double isolation_ohm_;
  std::vector<std::vector<graph::PointId>> touched_;  ///< by net: points whose lead touches
  std::vector<graph::PointId> touched_alone_;         ///< of those in no net
  std::vector<bool> silent_;                          ///< by net: a lead of it stays silent
  std::vector<bool> doubtful_;                        ///< by point: it may be silent unnoticed
  Nodal expected_low_, expected_high_, actual_low_, actual_high_;
};

}  // namespace padwalk::study
