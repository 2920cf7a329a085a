// SPDX-License-Identifier: MIT
//
// board/1 files: text to BoardDescription and back. The format is in boards/FORMAT.md.
#pragma once

#include <string>
#include <string_view>

#include "graph/board_description.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Reads a board/1 text. Errors: all mistakes of content go to `diagnostics`, with positions; a
/// mistake of syntax, an alias, nesting over 32 or more than 64 MB throw BadFile at once.
/// Cost: linear in the size of the text.
BoardDescription read_board(std::string_view text, Diagnostics& diagnostics);

/// Writes a description as a board/1 text: one net a line, in file order, quoted where YAML needs
/// it. read_board of the result gives the same description, marks aside.
std::string write_board(const BoardDescription& description);

/// What stands behind a name of its sections, on one line.
std::string write_entry(const PartDescription& part);
std::string write_entry(const PointDescription& point);
std::string write_entry(const NetDescription& net);
std::string write_entry(const WireDescription& wire);

}  // namespace padwalk::graph
