// SPDX-License-Identifier: MIT
#include "tools/button_lines.hpp"

#include <thread>
#include <utility>

namespace padwalk::tools {

namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

/// Presses that follow each other within this belong together.
constexpr milliseconds kTogether{500};
/// Between two looks; the tester opens its switches after a second without one.
constexpr milliseconds kLook{30};

}  // namespace

std::optional<std::string> ButtonLines::next(bool& ended) {
  if (auto line = typed_.next(ended)) {
    return line;
  }
  return pressed();
}

std::optional<std::string> ButtonLines::wait() {
  while (session_.capabilities().button && !failed_) {
    bool ended = false;
    if (auto line = next(ended); line || ended) {
      return line;
    }
    std::this_thread::sleep_for(kLook);
  }
  return typed_.wait();
}

/// A line, when no further press may belong to it.
std::optional<std::string> ButtonLines::pressed() {
  try {
    const std::size_t more = failed_ ? 0 : session_.presses();
    if (more > 0) {
      presses_ += more;
      last_press_ = Clock::now();
    }
  } catch (const session::TesterError&) {
    failed_ = true;  // whoever measures next says so
  }
  if (presses_ == 0 || Clock::now() - last_press_ < kTogether) {
    return std::nullopt;
  }
  const std::size_t presses = std::exchange(presses_, 0);
  return presses == 1 ? "" : presses == 2 ? "l" : "n";
}

}  // namespace padwalk::tools
