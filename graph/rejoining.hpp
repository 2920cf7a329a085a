// SPDX-License-Identifier: MIT
//
// Leads that were put on last, each read against leads of its net that stayed. What is joined to
// one of them is one conductor with it, and what that conducts to is known: only the rest needs a
// scan. One round at a time; it knows no tester.
#pragma once

#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/pieces.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

class Rejoining {
 public:
  /// `good_ohm`: up to this two points of a net are joined by copper alone. Points that must never
  /// be driven take no part.
  Rejoining(const Board& board, const std::vector<PointId>& attached,
            const std::vector<PointId>& fresh, OhmLimit good_ohm);

  /// One reading a lead that is not joined yet, against the next lead of its net, a few at most;
  /// empty: finished.
  std::vector<WantedReading> next();
  /// The results of the round that next() gave last.
  void record(std::span<const Reading> readings);

  /// Those of `fresh` that are joined to nothing that stayed, in their order.
  const std::vector<PointId>& apart() const { return apart_; }
  /// What joined the others.
  const std::vector<Reading>& readings() const { return readings_; }

 private:
  struct Lead {
    PointId point = kNoPoint;
    std::vector<PointId> stayed;  ///< of its net
    bool joined = false;
  };
  OhmLimit good_ohm_;
  std::vector<Lead> leads_;
  std::vector<std::size_t> round_;  ///< the lead of each reading
  std::size_t tries_ = 0;
  std::vector<PointId> apart_;
  std::vector<Reading> readings_;
};

}  // namespace padwalk::graph
