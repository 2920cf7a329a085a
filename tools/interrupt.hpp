// SPDX-License-Identifier: MIT
//
// Ctrl-C and a polite kill end what runs at its next good moment; what was read is kept.
#pragma once

#include <atomic>
#include <csignal>

namespace padwalk::tools {

class StopOnInterrupt {
 public:
  StopOnInterrupt() {
    stop_ = false;
    struct sigaction action {};
    action.sa_handler = [](int) { stop_ = true; };
    sigaction(SIGINT, &action, &before_interrupt_);
    sigaction(SIGTERM, &action, &before_terminate_);
  }
  ~StopOnInterrupt() {
    sigaction(SIGINT, &before_interrupt_, nullptr);
    sigaction(SIGTERM, &before_terminate_, nullptr);
  }
  StopOnInterrupt(const StopOnInterrupt&) = delete;
  StopOnInterrupt& operator=(const StopOnInterrupt&) = delete;

  /// Set by a signal, or by whoever finds that nobody is there any more.
  std::atomic<bool>& requested() { return stop_; }

 private:
  static inline std::atomic<bool> stop_{false};
  struct sigaction before_interrupt_ {};
  struct sigaction before_terminate_ {};
};

}  // namespace padwalk::tools
