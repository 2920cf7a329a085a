// SPDX-License-Identifier: MIT
//
// What to read next to prove or refute that the attached points are connected as the board file
// says, in the fewest readings. Pulled: next() hands out a round of readings, record() takes their
// results; no I/O, no clock. Isolation by binary codes over the nets, then continuity point by
// point, then whatever the answers ask for (locating a short, sorting the fragments of a net,
// confirming). On an assembled board supplies are measured apart, and nets that parts join pair by
// pair. Not for judging: it only needs to know what conducts.
// Source: certificate bound N - c + ceil(log2 c), see DEVELOPERS.md.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/pieces.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

/// Plain limits that the tester and the board put on a scan.
struct ScanLimits {
  double isolation_ohm = 10e3;     ///< two nets: conducting at or below
  double same_net_ohm = 10e3;      ///< inside a net: conducting at or below
  OhmLimit good_ohm;               ///< the same pair by pair, where it is set
  double short_ohm = 10;           ///< two nets that parts join: only this low is a short
  std::size_t max_set = SIZE_MAX;  ///< largest source or sink set of the tester
  std::size_t block_side = 0;      ///< nets a side of an isolation reading; 0: no limit
  bool quick = false;              ///< continuity by `follow` readings: one setting for all nets
};

/// How a scan's readings divide.
struct ScanCounts {
  std::size_t scan = 0;     ///< isolation, continuity, locating and sorting
  std::size_t confirm = 0;  ///< independent repetitions behind findings
};

class Scan {
 public:
  /// `attached` are the points that have a lead, in hookup order. Nets that parts join
  /// (board.part_links()) are never on two sides of one reading unless alone, or with ground.
  /// `fresh`: those of them that were put on last; what the others are to each other is known. What
  /// copper joins to one of them needs no more; of the rest only nets that hold one of these are
  /// read. Empty: all are.
  Scan(const Board& board, std::vector<PointId> attached, ScanLimits limits,
       const std::vector<PointId>& fresh = {});
  ~Scan();
  Scan(Scan&&) noexcept;
  Scan& operator=(Scan&&) noexcept;

  /// The next round: readings that do not depend on each other's results. Empty: finished.
  /// Shape: sets hold distinct points; `source` and `sink` are disjoint.
  std::vector<WantedReading> next();

  /// The results of the round that next() gave last, in its order.
  void record(std::span<const Reading> readings);

  /// Points that conducted well to nothing although their net has other attached points, or parts
  /// lead to it: the caller may have them re-seated and then ask_again().
  std::vector<PointId> silent() const;

  /// Reads the silent points once more, and what is heard for the first time against all other
  /// nets; next() then hands out the readings of that. May be called once, after next() came back
  /// empty.
  void ask_again();

  /// All readings so far that pieces and findings need, in the order recorded.
  const std::vector<Reading>& readings() const;

  /// Readings of one whole net against one other that are not in readings().
  NetReadings net_readings() const;

  ScanCounts counts() const;

 private:
  void scan_what_is_apart();

  struct State;
  struct Stayed;
  std::unique_ptr<State> state_;
  std::unique_ptr<Stayed> stayed_;  ///< until new leads were read against what stayed
};

}  // namespace padwalk::graph
