// SPDX-License-Identifier: MIT
//
// What several hookups of one board measured, as one. Judges nothing.
#pragma once

#include "graph/findings.hpp"

namespace padwalk::graph {

/// Adds what one hookup measured. Two readings of one pair are both kept, and what conducted once
/// is joined: leads that moved may have had no contact. Of two nets that parts join or that leak,
/// what conducts speaks before what does not, then what was at rest, then the smaller error.
void add_evidence(Measured& all, Measured one);

/// Forgets what leads said that were taken for being on these points, and were not: all readings of
/// the points, and of whole nets that they stood for.
void drop_evidence(const Board& board, Measured& all, const std::vector<PointId>& points);

}  // namespace padwalk::graph
