// SPDX-License-Identifier: MIT
//
// Keys one by one, as they are pressed, without Enter: for hands that flex a board meanwhile.
#pragma once

#include <termios.h>

#include <optional>

namespace padwalk::tools {

/// Standard input while this lives; a terminal gives keys at once and shows none. Ctrl-C stays.
class SingleKeys {
 public:
  SingleKeys();
  ~SingleKeys();
  SingleKeys(const SingleKeys&) = delete;
  SingleKeys& operator=(const SingleKeys&) = delete;

  /// A key that was pressed by now.
  std::optional<char> next();

 private:
  bool terminal_ = false;
  bool ended_ = false;
  termios before_{};
};

}  // namespace padwalk::tools
