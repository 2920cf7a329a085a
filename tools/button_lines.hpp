// SPDX-License-Identifier: MIT
//
// The tester's button as one more way to type: for hands that hold the tip. A foot pedal that types
// keys needs nothing of this.
#pragma once

#include <chrono>

#include "firmware-host/session/session.hpp"
#include "tools/input_lines.hpp"

namespace padwalk::tools {

/// One press is Enter, two close behind each other are "l" (later), three "n" (cannot reach it).
class ButtonLines : public Lines {
 public:
  /// Both outlive this. Without a button, or once the tester fails, there is what is typed alone.
  ButtonLines(Lines& typed, session::Session& session) : typed_(typed), session_(session) {}

  std::optional<std::string> next(bool& ended) override;
  std::optional<std::string> wait() override;

 private:
  std::optional<std::string> pressed();

  Lines& typed_;
  session::Session& session_;
  bool failed_ = false;
  std::size_t presses_ = 0;  ///< that are no line yet
  std::chrono::steady_clock::time_point last_press_;
};

}  // namespace padwalk::tools
