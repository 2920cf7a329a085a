// SPDX-License-Identifier: MIT
//
// Names in a row, for text that people read.
#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/typed_points.hpp"

namespace padwalk::tools {

/// The names of points, nets or parts of a board.
template <typename Id>
std::vector<std::string> names_of(const graph::Board& board, const std::vector<Id>& ids) {
  std::vector<std::string> names;
  names.reserve(ids.size());
  for (const Id id : ids) {
    names.push_back(board[id].name);
  }
  return names;
}

/// "1 touch", "3 touches", "2 nets". `what`: one of them.
inline std::string count_text(std::size_t count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : what.ends_with("ch") ? "es" : "s");
}

/// "U1.3, U2.7 and 5 more": no more than `most` of them.
inline std::string listed(const std::vector<std::string>& names, std::size_t most) {
  return graph::some_of(names, most);
}

}  // namespace padwalk::tools
