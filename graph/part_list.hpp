// SPDX-License-Identifier: MIT
//
// Parts and points as a person types them on one line: "U1 DIP-40 (Z84C00), R7 axial 10 mm (4k7)".
// Not a file format; a board that is worth more words has a board/1 file.
#pragma once

#include <string_view>

#include "graph/board_description.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Adds the parts to `to`: a name, a package, and in brackets what is printed on it (a value, where
/// the kind has one). The kind follows from the letters of the name. Errors: every mistake goes to
/// `diagnostics`, without a place; packages are checked by Board.
/// Source of the letters: IEEE Std 315 class designation letters, from memory, and common practice.
void read_part_list(std::string_view list, BoardDescription& to, Diagnostics& diagnostics);

/// Adds test pads: "TP1, TP2". Errors: as above.
void read_point_list(std::string_view list, BoardDescription& to, Diagnostics& diagnostics);

}  // namespace padwalk::graph
