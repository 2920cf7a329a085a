// SPDX-License-Identifier: MIT
//
// Ctrl-C ends a measuring command between two rounds; what was read is kept.
#pragma once

#include <atomic>
#include <csignal>

namespace padwalk::tools {

/// Set by a signal, or where the terminal is closed.
inline std::atomic<bool> stop_requested{false};

/// While it lives, SIGINT and SIGTERM ask to stop.
class StopOnInterrupt {
 public:
  StopOnInterrupt() {
    struct sigaction action {};
    action.sa_handler = [](int) { stop_requested = true; };
    sigaction(SIGINT, &action, &before_interrupt_);
    sigaction(SIGTERM, &action, &before_terminate_);
  }
  ~StopOnInterrupt() {
    sigaction(SIGINT, &before_interrupt_, nullptr);
    sigaction(SIGTERM, &before_terminate_, nullptr);
  }
  StopOnInterrupt(const StopOnInterrupt&) = delete;
  StopOnInterrupt& operator=(const StopOnInterrupt&) = delete;

 private:
  struct sigaction before_interrupt_ {};
  struct sigaction before_terminate_ {};
};

}  // namespace padwalk::tools
