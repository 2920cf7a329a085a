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

}  // namespace padwalk::graph
