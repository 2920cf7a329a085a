// SPDX-License-Identifier: MIT
#include "tools/sound.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <numbers>
#include <vector>

extern char** environ;

namespace padwalk::tools {

namespace {

/// Where the system has a program of that name; empty: nowhere.
std::string find_program(std::string_view name) {
  const char* path = std::getenv("PATH");
  std::string_view left = path == nullptr ? "" : path;
  while (!left.empty()) {
    const std::size_t end = std::min(left.find(':'), left.size());
    const std::string candidate = std::string(left.substr(0, end)) + "/" + std::string(name);
    if (access(candidate.c_str(), X_OK) == 0) {
      return candidate;
    }
    left.remove_prefix(std::min(end + 1, left.size()));
  }
  return {};
}

/// Starts a program that reads `input`, which a pipe must hold, and says nothing; it ends alone.
void start(const std::string& program, std::vector<std::string> arguments,
           std::string_view input = {}) {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) {
    return;
  }
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_adddup2(&files, ends[0], STDIN_FILENO);
  posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&files, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
  arguments.insert(arguments.begin(), program);
  std::vector<char*> words;
  for (std::string& argument : arguments) {
    words.push_back(argument.data());
  }
  words.push_back(nullptr);
  pid_t child = 0;
  const bool started =
      posix_spawn(&child, program.c_str(), &files, nullptr, words.data(), environ) == 0;
  posix_spawn_file_actions_destroy(&files);
  close(ends[0]);
  if (started && write(ends[1], input.data(), input.size()) < 0) {
    // A tone that is not heard is no reason to stop.
  }
  close(ends[1]);
  while (waitpid(-1, nullptr, WNOHANG) > 0) {  // those before
  }
}

struct Tone {
  double hertz;
  double seconds;
};

/// High for what was expected, low for nothing, told apart without looking.
Tone tone_of(Answer answer) {
  switch (answer) {
    case Answer::named:
      return {660, 0.12};
    case Answer::expected:
      return {990, 0.12};
    case Answer::another:
      return {440, 0.25};
    case Answer::nothing:
      return {220, 0.25};
  }
  return {660, 0.12};
}

constexpr int kSamplesASecond = 16000;

/// Signed 16 bit samples, little endian, the ends faded so that nothing clicks.
std::string samples_of(const Tone& tone) {
  const auto count = static_cast<std::size_t>(tone.seconds * kSamplesASecond);
  std::string samples;
  for (std::size_t i = 0; i < count; ++i) {
    const double fade =
        std::min({1.0, static_cast<double>(i) / 100, static_cast<double>(count - i) / 100});
    const double phase = 2 * std::numbers::pi * tone.hertz * static_cast<double>(i);
    const auto sample = static_cast<std::int16_t>(12000 * fade * std::sin(phase / kSamplesASecond));
    samples += static_cast<char>(sample & 0xFF);
    samples += static_cast<char>(sample >> 8 & 0xFF);
  }
  return samples;
}

}  // namespace

Sound::Sound(std::ostream& terminal, bool loud) : terminal_(terminal), loud_(loud) {
  if (loud) {
    aplay_ = find_program("aplay");
    espeak_ = find_program("espeak-ng");
  }
}

void Sound::play(Answer answer, std::string_view name) {
  if (!loud_) {
    return;
  }
  if (!aplay_.empty()) {
    start(aplay_, {"-q", "-t", "raw", "-f", "S16_LE", "-r", std::to_string(kSamplesASecond), "-"},
          samples_of(tone_of(answer)));
  } else if (isatty(STDOUT_FILENO) != 0) {
    terminal_ << '\a' << std::flush;
  }
  if (!espeak_.empty() && !name.empty()) {
    start(espeak_, {"--", std::string(name)});
  }
}

}  // namespace padwalk::tools
