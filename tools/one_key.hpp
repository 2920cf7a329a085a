// SPDX-License-Identifier: MIT
//
// Single keys of a person at a terminal, without Enter. From a pipe: its characters one by one,
// line ends left out.
#pragma once

#include <termios.h>

#include <optional>

namespace padwalk::tools {

/// While this lives nothing that is typed is shown. Ctrl-C works as ever.
class OneKey {
 public:
  OneKey();
  ~OneKey();
  OneKey(const OneKey&) = delete;
  OneKey& operator=(const OneKey&) = delete;

  /// Waits for a key. Nothing: none will come, or a signal did.
  std::optional<char> wait();

 private:
  std::optional<termios> before_;  ///< nothing: this is no terminal
};

}  // namespace padwalk::tools
