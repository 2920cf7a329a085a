// SPDX-License-Identifier: MIT
//
// Lets a round of readings be repeated until each is decided: a clear reading that is as expected
// decides alone, any other is taken again, the setting applied anew, until one of three hypotheses
// (as expected, not, to and fro) leads. Pulled like a scan; no I/O. Source: sequential analysis
// with three hypotheses, see sequential_test.hpp.
#pragma once

#include <span>
#include <vector>

#include "graph/decide.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

class Deciding {
 public:
  /// `ratio`: how many times likelier the best hypothesis must be; see ratio_for().
  Deciding(std::vector<WantedReading> wanted, double ratio);

  /// What is to be read next; empty: all are decided.
  std::vector<WantedReading> next();
  /// The results of the round that next() gave last, in its order.
  void record(std::span<const Reading> readings);

  /// One reading for each that was wanted. Shape: the order of the constructor's.
  std::vector<Reading> decided() &&;
  /// Readings beyond the first of each.
  std::size_t repeated() const { return repeated_; }

 private:
  struct Case {
    WantedReading wanted;
    std::vector<Reading> readings;
    SequentialTest test;
    bool done = false;
  };
  std::vector<Case> cases_;
  std::vector<std::size_t> round_;
  std::size_t repeated_ = 0;
};

/// More than six sigma away from either end of its band. An open one has no end to be close to.
bool is_clear(const Reading& reading);

}  // namespace padwalk::graph
