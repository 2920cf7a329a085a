// SPDX-License-Identifier: MIT
//
// Runs the padwalk program as a person does, and catches what it prints and returns.
#pragma once

#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace padwalk::test {

/// What a program left behind. A crash gives status 128 + signal.
struct Outcome {
  int status = -1;
  std::string out;
  std::string err;
};

/// A program that runs beside the test; killed when the test is done with it.
class Running {
 public:
  explicit Running(const std::vector<std::string>& command) {
    std::array<int, 2> out{}, err{}, in{};
    if (pipe(out.data()) != 0 || pipe(err.data()) != 0 || pipe(in.data()) != 0) {
      std::abort();
    }
    child_ = fork();
    if (child_ == 0) {
      dup2(in[0], STDIN_FILENO);
      dup2(out[1], STDOUT_FILENO);
      dup2(err[1], STDERR_FILENO);
      for (int fd = 3; fd < 64; ++fd) {
        close(fd);
      }
      std::vector<char*> argv;
      for (const std::string& word : command) {
        argv.push_back(const_cast<char*>(word.c_str()));
      }
      argv.push_back(nullptr);
      execvp(argv[0], argv.data());
      _exit(127);
    }
    close(in[0]);
    close(out[1]);
    close(err[1]);
    in_ = in[1];
    out_ = out[0];
    err_ = err[0];
  }
  ~Running() {
    if (!done_) {
      kill(child_, SIGKILL);
      waitpid(child_, nullptr, 0);
    }
    close_input();
    close(out_);
    close(err_);
  }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

  /// The next line of its standard output, without the line end.
  std::string read_line() {
    std::string line;
    char c = 0;
    while (read(out_, &c, 1) == 1 && c != '\n') {
      line += c;
    }
    return line;
  }

  void send(const std::string& text) {
    if (write(in_, text.data(), text.size()) < 0) {
      std::abort();
    }
  }

  void close_input() {
    if (in_ >= 0) {
      close(in_);
      in_ = -1;
    }
  }

  void signal(int number) { kill(child_, number); }

  /// Waits for its end.
  Outcome finish() {
    close_input();
    Outcome outcome;
    std::array<pollfd, 2> waiting = {pollfd{out_, POLLIN, 0}, pollfd{err_, POLLIN, 0}};
    std::array<std::string*, 2> texts = {&outcome.out, &outcome.err};
    while (waiting[0].fd >= 0 || waiting[1].fd >= 0) {
      poll(waiting.data(), waiting.size(), -1);
      for (std::size_t i = 0; i < 2; ++i) {
        if (waiting[i].fd < 0 || waiting[i].revents == 0) {
          continue;
        }
        std::array<char, 4096> buffer{};
        const ssize_t count = read(waiting[i].fd, buffer.data(), buffer.size());
        if (count <= 0) {
          waiting[i].fd = -1;
        } else {
          texts[i]->append(buffer.data(), static_cast<std::size_t>(count));
        }
      }
    }
    int status = 0;
    waitpid(child_, &status, 0);
    done_ = true;
    outcome.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    return outcome;
  }

 private:
  pid_t child_ = -1;
  int in_ = -1;
  int out_ = -1;
  int err_ = -1;
  bool done_ = false;
};

inline Outcome run(const std::vector<std::string>& command) {
  return Running(command).finish();
}

/// Runs padwalk with these arguments.
inline Outcome padwalk(std::vector<std::string> arguments) {
  arguments.insert(arguments.begin(), PADWALK_PROGRAM);
  return run(arguments);
}

/// The path of a file of the project.
inline std::string source(const std::string& path) {
  return std::string(PADWALK_SOURCE_DIR) + "/" + path;
}

/// The demo's folder and its board.
inline const std::string kDemo = PADWALK_SOURCE_DIR "/boards/tide-gauge/";
inline const std::string kDemoBoard = kDemo + "board.yaml";

inline bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

/// A folder of the test's own, removed at the end.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "padwalk-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;

  std::string path(const std::string& name) const { return path_ + "/" + name; }

  std::string write(const std::string& name, const std::string& text) const {
    std::ofstream(path(name), std::ios::binary) << text;
    return path(name);
  }

 private:
  std::string path_;
};

inline std::string read_text(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

}  // namespace padwalk::test
