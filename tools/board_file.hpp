// SPDX-License-Identifier: MIT
//
// Loads a board file for a command: reads, checks, and keeps the warnings for whoever prints them.
#pragma once

#include <string>

#include "graph/board.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::tools {

struct LoadedBoard {
  graph::Board board;
  graph::Diagnostics diagnostics;  ///< warnings only
};

/// Errors: graph::BadFile with every mistake of the file.
LoadedBoard load_board(const std::string& path);

}  // namespace padwalk::tools
