// SPDX-License-Identifier: MIT
//
// Which points conduct to each other where nothing is known: each piece finds its lowest-numbered
// point bit by bit, all pieces at once, in ceil(log2 N) settings whatever there is. Pulled like a
// scan: next() hands out a round, record() takes its results. Tells open from closed only; what is
// learned is then held against readings with current like any board file.
// Source: own, in the model of drive-a-set, read-each; settings and readings are proved in
// tests/graph/learn_test.cpp by counting.
#pragma once

#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

class Learn {
 public:
  /// `max_set`: largest source set of the tester; with fewer than half the points a round takes
  /// several settings.
  explicit Learn(std::vector<PointId> points, std::size_t max_set = SIZE_MAX);

  /// `follow` readings that share one source set: one setting. Empty: finished.
  std::vector<WantedReading> next();
  /// The results of the round that next() gave last, in its order.
  void record(std::span<const Reading> readings);

  /// Points that conduct to each other, after finished. Shape: each point once, pieces and points
  /// in the order of the constructor's.
  std::vector<std::vector<PointId>> pieces() const;

  std::size_t settings() const { return settings_; }
  std::size_t readings() const { return readings_; }

 private:
  void begin_bit();
  void end_bit();

  std::vector<PointId> points_;
  std::size_t max_set_;
  std::size_t bits_;                 ///< ceil(log2 N)
  std::size_t bit_ = 0;              ///< from the top
  std::vector<std::size_t> lowest_;  ///< by point: the bits known of its piece's lowest number
  std::vector<std::size_t> driven_;  ///< of this bit: all that are to be driven
  std::size_t driven_before_ = 0;    ///< of those: how many were
  std::vector<bool> high_;           ///< by point: is driven or follows
  std::vector<std::size_t> round_;   ///< the point of each reading
  std::size_t settings_ = 0;
  std::size_t readings_ = 0;
};

}  // namespace padwalk::graph
