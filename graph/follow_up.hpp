// SPDX-License-Identifier: MIT
//
// What a plan could not know before: where a net turned out to be in pieces, which of them are one
// must still be read. Only adds hookups; judges nothing.
#pragma once

#include <optional>
#include <set>

#include "graph/findings.hpp"
#include "graph/plan.hpp"

namespace padwalk::graph {

/// The next step for pieces of one net that were never read against each other: a grabber on one of
/// them, unless a point of it is `held` already, the tip on the others. `tried`: points that were
/// asked for before are not asked for again; the step's own are added. Nothing: all is read, or
/// this bench cannot do more.
std::optional<PlanStep> follow_up(const Board& board, const Fixtures& bench, const Limits& limits,
                                  const Measured& measured, const std::set<PointId>& held,
                                  std::set<std::pair<PointId, PointId>>& tried);

}  // namespace padwalk::graph
