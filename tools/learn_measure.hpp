// SPDX-License-Identifier: MIT
//
// Learning what is attached: LearnScan says which readings it wants, the session makes them, a
// person is asked about what stays silent. Names nothing.
#pragma once

#include "tools/learn_report.hpp"
#include "tools/measure.hpp"

namespace padwalk::tools {

/// What was found among the points of one hookup.
struct HookupLearned {
  std::vector<std::vector<graph::PointId>> pieces;
  bool to_the_end = false;  ///< false: stopped, live, or the tester failed, as the report says
};

/// Checks the power and learns what `fresh` points are to each other and to the `known` pieces,
/// all of which have a lead in `now`. Adds to the report what was read between pieces, what was
/// heard, and counts.
HookupLearned learn_hookup(const Measuring& measuring, const graph::Hookup& now,
                           std::vector<std::vector<graph::PointId>> known,
                           const std::vector<graph::PointId>& fresh, LearnReport& report);

/// Points of the board that have no lead in that hookup.
std::vector<graph::PointId> without_lead(const graph::Board& board, const graph::Hookup& hookup);

}  // namespace padwalk::tools
