// SPDX-License-Identifier: MIT
#include "tools/single_keys.hpp"

#include <poll.h>
#include <unistd.h>

namespace padwalk::tools {

SingleKeys::SingleKeys() : terminal_(tcgetattr(STDIN_FILENO, &before_) == 0) {
  if (terminal_) {
    termios single = before_;
    single.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
    single.c_cc[VMIN] = 1;
    single.c_cc[VTIME] = 0;
    // Who is stopped and goes on in the background must not be stopped again by this.
    terminal_ =
        tcgetpgrp(STDIN_FILENO) == getpgrp() && tcsetattr(STDIN_FILENO, TCSANOW, &single) == 0;
  }
}

SingleKeys::~SingleKeys() {
  if (terminal_) {
    tcsetattr(STDIN_FILENO, TCSANOW, &before_);
  }
}

std::optional<char> SingleKeys::next() {
  pollfd waiting{STDIN_FILENO, POLLIN, 0};
  char key = 0;
  if (ended_ || poll(&waiting, 1, 0) <= 0) {
    return std::nullopt;
  }
  ended_ = read(STDIN_FILENO, &key, 1) != 1;
  return ended_ ? std::nullopt : std::optional(key);
}

std::optional<char> SingleKeys::wait() {
  constexpr char kCtrlD = 4;
  char key = 0;
  while (!ended_ && read(STDIN_FILENO, &key, 1) == 1) {
    if (terminal_ && key == kCtrlD) {
      return std::nullopt;
    }
    if (terminal_ || (key != '\n' && key != '\r')) {
      return key;
    }
  }
  return std::nullopt;
}

}  // namespace padwalk::tools
