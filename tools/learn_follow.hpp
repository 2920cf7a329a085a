// SPDX-License-Identifier: MIT
//
// Learning a board of more points than leads: fixtures are moved and points touched one by one, and
// what each taught decides the next. Joins graph::LearnMoves and learn_hookup().
#pragma once

#include "graph/fixtures.hpp"
#include "tools/follow_plan.hpp"
#include "tools/learn_measure.hpp"

namespace padwalk::tools {

/// Until all is known that this bench can bring together, or it ends early, as the report says.
/// Nobody is asked about silent points: the next thing past them tells more.
void learn_by_moves(const Measuring& measuring, const graph::Fixtures& bench, Hands& hands,
                    LearnReport& report);

}  // namespace padwalk::tools
