// SPDX-License-Identifier: MIT
#include "tools/one_key.hpp"

#include <unistd.h>

namespace padwalk::tools {

OneKey::OneKey() {
  termios now{};
  if (tcgetattr(STDIN_FILENO, &now) == 0) {
    before_ = now;
    now.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
    now.c_cc[VMIN] = 1;
    now.c_cc[VTIME] = 0;
    tcsetattr(STDIN_FILENO, TCSANOW, &now);
  }
}

OneKey::~OneKey() {
  if (before_) {
    tcsetattr(STDIN_FILENO, TCSANOW, &*before_);
  }
}

std::optional<char> OneKey::wait() {
  char key = 0;
  while (read(STDIN_FILENO, &key, 1) == 1) {
    if (key == '\x04' && before_) {  // Ctrl-D
      return std::nullopt;
    }
    if (before_ || (key != '\n' && key != '\r')) {
      return key;
    }
  }
  return std::nullopt;
}

}  // namespace padwalk::tools
