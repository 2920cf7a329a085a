// SPDX-License-Identifier: MIT
//
// Names in a row, for text that people read.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "graph/board.hpp"

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

/// "U1.3, U2.7 and 5 more": no more than `most` of them.
inline std::string listed(const std::vector<std::string>& names, std::size_t most) {
  const auto shown = static_cast<std::ptrdiff_t>(std::min(most, names.size()));
  std::string text = fmt::format("{}", fmt::join(names.begin(), names.begin() + shown, ", "));
  return names.size() > most ? fmt::format("{} and {} more", text, names.size() - most) : text;
}

}  // namespace padwalk::tools
