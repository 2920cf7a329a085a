// SPDX-License-Identifier: MIT
//
// Lines of parts and test pads as they are read off a paper schematic; net_entry.hpp asks here
// first.
#pragma once

#include <optional>
#include <string_view>

#include "graph/net_entry.hpp"

namespace padwalk::graph {

/// "U2 DIP-16 74138", "R7 axial 10 mm 4k7 5%", "U10-U17 DIP-14 7400", "TP1 pad". Nothing: no such
/// line. `line` is UTF-8 without control characters; `sure`: a doubt does not hold it up.
/// Errors: data, as of enter_line.
std::optional<EntryAnswer> enter_part_line(std::string_view line, const Board& board, bool sure);

}  // namespace padwalk::graph
