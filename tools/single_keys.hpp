// SPDX-License-Identifier: MIT
//
// Single keys of a person at a terminal, without Enter. From a pipe: its characters one by one.
#pragma once

#include <termios.h>

#include <optional>

namespace padwalk::tools {

/// While this lives nothing that is typed is shown. Ctrl-C works as ever.
class SingleKeys {
 public:
  SingleKeys();
  ~SingleKeys();
  SingleKeys(const SingleKeys&) = delete;
  SingleKeys& operator=(const SingleKeys&) = delete;

  /// A key that was pressed by now.
  std::optional<char> next();
  /// Waits for a key; line ends of a pipe are left out. Nothing: none will come, or a signal did.
  std::optional<char> wait();

 private:
  termios before_{};  // read while `terminal_` is made, so it comes first
  bool terminal_ = false;
  bool ended_ = false;
};

}  // namespace padwalk::tools
