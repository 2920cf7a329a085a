// SPDX-License-Identifier: MIT
//
// The scores of many boards as one table, and whether the promises were kept.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <ostream>
#include <vector>

#include "tests/study/board_run.hpp"

namespace padwalk::study {

class Tally {
 public:
  void add(const BoardRun& run);

  /// Prints the table. Returns whether all promises were kept.
  bool print(std::ostream& out) const;

 private:
  /// Reported as each kind of finding, or not at all.
  static constexpr std::size_t kColumns = 7;
  using Row = std::array<std::size_t, kColumns>;

  void print_confusion(std::ostream& out) const;
  void print_readings(std::ostream& out) const;

  std::size_t boards_ = 0;
  std::size_t assembled_ = 0;
  std::size_t points_ = 0;
  std::size_t missed_opens_ = 0;
  std::size_t missed_shorts_ = 0;
  std::size_t boards_with_false_ = 0;
  std::size_t single_breaks_ = 0;
  std::size_t without_true_segment_ = 0;
  std::size_t bad_likelihoods_ = 0;
  std::size_t failed_ = 0;
  std::size_t compared_ = 0;
  std::size_t line_differences_ = 0;
  std::size_t not_judged_ = 0;
  std::size_t boards_not_judged_ = 0;
  std::size_t no_contact_ = 0;
  std::size_t must_ = 0;
  std::size_t must_found_ = 0;
  double seconds_ = 0;
  double slowest_ = 0;
  std::map<std::pair<DefectKind, Seen>, Row> confusion_;
  Row false_{};
  std::vector<double> ratio_;          ///< readings to the fewest
  std::vector<double> healthy_ratio_;  ///< of boards without a defect
};

}  // namespace padwalk::study
