// SPDX-License-Identifier: MIT
//
// Boards written as text in a test, and what the reader says against them.
#pragma once

#include <string>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::test {

/// A board from a board/1 text without its first two lines. Errors: BadFile, as of "b.yaml".
inline graph::Board small_board(const std::string& body) {
  graph::Diagnostics diagnostics("b.yaml");
  graph::BoardDescription description =
      graph::read_board("padwalk: board/1\nname: test\n" + body, diagnostics);
  return graph::Board(std::move(description), diagnostics);
}

/// What a reader throws at a text; "nothing" if it takes it.
template <typename Read>
std::string complaint_of(Read read) {
  try {
    read();
  } catch (const graph::BadFile& bad) {
    return bad.what();
  }
  return "nothing";
}

}  // namespace padwalk::test
