// SPDX-License-Identifier: MIT
//
// One board of the study, from its number to its score.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/study/random_defects.hpp"
#include "tests/study/score.hpp"

namespace padwalk::study {

struct RunOptions {
  std::uint64_t seed = 1;
  std::vector<DefectKind> kinds;
  bool reference_bench = false;
  bool verbose = false;
};

struct BoardRun {
  BoardScore score;
  bool assembled = false;
  bool compared = false;        ///< swept over a pseudo-terminal too
  std::string line_difference;  ///< where the two reports differ; empty: they do not
  double seconds = 0;           ///< of the sweep in memory
  std::string text;             ///< verbose: board, defects, report
};

/// The same number and seed give the same board and defects on every machine; other kinds of
/// defects leave the board as it is. `compare`: also over a pseudo-terminal. Errors:
/// graph::BadFile where the product refuses the board.
BoardRun run_board(std::uint64_t number, const RunOptions& options, bool compare);

}  // namespace padwalk::study
