// SPDX-License-Identifier: MIT
//
// What looks wrong with a netlist by what its chips' pins are for. Doubts, not errors: a board may
// be built so, and a learned one may be broken so.
#pragma once

#include <string>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// One sentence each, in board order: supply and ground pins of known chips that are not with the
/// others, inputs that nothing is joined to, outputs that are joined, a line of a bus that lacks a
/// chip which its brothers have. Only of chips that the table of types has.
std::vector<std::string> lint(const Board& board);

}  // namespace padwalk::graph
