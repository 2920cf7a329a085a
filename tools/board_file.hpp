// SPDX-License-Identifier: MIT
//
// A board file for a command: loaded, with the warnings kept for whoever prints them, and added to
// where the person wants it.
#pragma once

#include <functional>
#include <ostream>
#include <string>

#include "graph/board.hpp"
#include "graph/diagnostics.hpp"
#include "tools/input_lines.hpp"

namespace padwalk::tools {

struct LoadedBoard {
  graph::Board board;
  graph::Diagnostics diagnostics;  ///< warnings only
};

/// Errors: graph::BadFile with every mistake of the file.
LoadedBoard load_board(const std::string& path);

/// Asks whether `what` shall go into the file of that path, and puts there what `spliced` makes of
/// its text. Says what became of it; what cannot be put there is said, to be added by hand.
void offer_to_file(std::ostream& out, const std::string& path, const std::string& what,
                   Lines& lines, const std::function<std::string(const std::string&)>& spliced);

}  // namespace padwalk::tools
