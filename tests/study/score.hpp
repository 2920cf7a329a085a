// SPDX-License-Identifier: MIT
//
// One sweep's findings held against what was planted and what the oracle says of it.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "graph/board.hpp"
#include "tests/study/oracle.hpp"
#include "tests/study/random_defects.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::study {

/// One planted defect and what became of it.
struct Judged {
  DefectKind kind = DefectKind::open;
  Seen seen = Seen::no;
  graph::FindingKind wanted = graph::FindingKind::open;  ///< as what it should be found
  std::optional<graph::FindingKind> reported;            ///< nearest to it; none: not at all
  bool found = false;                                    ///< as wanted
};

struct BoardScore {
  std::vector<Judged> planted;
  std::vector<std::string> troubles;  ///< broken promises, a sentence each
  std::vector<std::string> others;    ///< what else should have been found and was not
  std::size_t missed_opens = 0;       ///< surely seen, and not found as one
  std::size_t missed_shorts = 0;
  std::size_t false_findings = 0;
  std::vector<graph::FindingKind> false_kinds;
  std::size_t single_breaks = 0;
  std::size_t without_true_segment = 0;  ///< of those
  std::size_t bad_likelihoods = 0;       ///< findings whose suspects' shares do not sum to 1
  bool failed = false;                   ///< or refused
  std::size_t not_judged = 0;            ///< attached points listed as untested
  std::size_t no_contact = 0;
  std::size_t attached = 0;
  std::size_t fewest_readings = 0;  ///< N - c + ceil(log2 c)
  std::size_t readings = 0;
};

/// `all`: the board with all its defects. `alone`: with each of `planted` alone, in order.
BoardScore score(const graph::Board& board, std::span<const Planted> planted, const Oracle& all,
                 std::span<const Oracle> alone, const tools::SweepReport& report);

}  // namespace padwalk::study
