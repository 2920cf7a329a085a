// SPDX-License-Identifier: MIT
#include "tools/input_lines.hpp"

#include <poll.h>
#include <unistd.h>

#include <array>
#include <utility>

namespace padwalk::tools {

std::optional<std::string> InputLines::next(bool& ended) {
  for (;;) {
    if (auto line = take()) {
      return line;
    }
    pollfd waiting{STDIN_FILENO, POLLIN, 0};
    if (poll(&waiting, 1, 0) <= 0) {
      return std::nullopt;
    }
    if (!read_more()) {
      ended = text_.empty();
      return ended ? std::nullopt : std::optional(std::exchange(text_, {}));
    }
  }
}

std::optional<std::string> InputLines::wait() {
  for (;;) {
    if (auto line = take()) {
      return line;
    }
    if (!read_more()) {
      return text_.empty() ? std::nullopt : std::optional(std::exchange(text_, {}));
    }
  }
}

/// False: standard input has ended, or a signal came.
bool InputLines::read_more() {
  std::array<char, 256> buffer{};
  const ssize_t count = read(STDIN_FILENO, buffer.data(), buffer.size());
  if (count > 0) {
    text_.append(buffer.data(), static_cast<std::size_t>(count));
  }
  return count > 0;
}

std::optional<std::string> InputLines::take() {
  const std::size_t end = text_.find('\n');
  if (end == std::string::npos) {
    return std::nullopt;
  }
  std::string line = text_.substr(0, end);
  text_.erase(0, end + 1);
  return line;
}

}  // namespace padwalk::tools
