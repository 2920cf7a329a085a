// SPDX-License-Identifier: MIT
//
// What a person sees of the program, key by key: a terminal of its own, what was shown until it
// waited, and what was typed then.
#pragma once

#include <pty.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <string>
#include <vector>

namespace padwalk::test {

struct Recording {
  std::string screen;  ///< what was typed stands where it was typed, as a terminal shows it
  int status = -1;
};

/// What is typed, with Enter, once the screen ends so.
struct Key {
  std::string after;
  std::string typed;
};

/// Runs `command` at a terminal of 100 columns and types `keys` one after the other.
inline Recording record(const std::vector<std::string>& command, const std::vector<Key>& keys) {
  winsize size{50, 100, 0, 0};
  int terminal = -1;
  const pid_t child = forkpty(&terminal, nullptr, nullptr, &size);
  if (child == 0) {
    std::vector<char*> argv;
    for (const std::string& word : command) {
      argv.push_back(const_cast<char*>(word.c_str()));
    }
    argv.push_back(nullptr);
    execvp(argv[0], argv.data());
    _exit(127);
  }
  Recording recording;
  std::size_t typed = 0;
  for (;;) {
    if (typed < keys.size() && recording.screen.ends_with(keys[typed].after)) {
      const std::string line = keys[typed++].typed + "\n";
      if (write(terminal, line.data(), line.size()) < 0) {
        break;
      }
    }
    std::array<char, 4096> buffer{};
    const ssize_t count = read(terminal, buffer.data(), buffer.size());
    if (count <= 0) {
      break;
    }
    for (const char character : std::string(buffer.data(), static_cast<std::size_t>(count))) {
      if (character != '\r') {
        recording.screen += character;
      }
    }
  }
  int status = 0;
  waitpid(child, &status, 0);
  close(terminal);
  recording.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return recording;
}

}  // namespace padwalk::test
