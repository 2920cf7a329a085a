// SPDX-License-Identifier: MIT
//
// A sweep as the command does it, of a board in memory: either the portable core at the other end
// of no line at all, or the simulated tester behind its pseudo-terminal.
#pragma once

#include "graph/board.hpp"
#include "tools/defects.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::study {

enum class Line : std::uint8_t { memory, pseudo_terminal };

/// Leads on all points that a clip holds on; a person re-seats what is silent. What goes wrong is
/// in the report's `failure`.
tools::SweepReport sweep(const graph::Board& board, const tools::Defects& defects, Line line);

}  // namespace padwalk::study
