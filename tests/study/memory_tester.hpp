// SPDX-License-Identifier: MIT
//
// The portable core on a simulated bench, at the other end of no line at all.
#pragma once

#include <algorithm>
#include <chrono>
#include <deque>
#include <memory>
#include <span>
#include <string>
#include <thread>
#include <utility>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "tests/support/timed_tester.hpp"

namespace padwalk::study {

/// The unit that the simulated tester names too, so that reports compare.
inline constexpr const char* kUnit = "simulated";

/// The core as a byte stream: what is written runs at once, what it says is read.
class MemoryTester final : public transport::ByteStream {
 public:
  explicit MemoryTester(simulated::Circuit circuit)
      : hal_(std::move(circuit), kUnit,
             [this](std::span<const std::uint8_t> bytes) {
               to_host_.insert(to_host_.end(), bytes.begin(), bytes.end());
             }),
        core_(std::make_unique<core::TesterCore>(hal_)) {}

  simulated::BenchHal& hal() { return hal_; }

  bool write(std::span<const std::uint8_t> bytes) override {
    core_->receive(bytes.data(), bytes.size());
    return true;
  }

  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    while (to_host_.empty() && core_->poll()) {
    }
    if (to_host_.empty()) {
      std::this_thread::sleep_until(deadline);
      return {};
    }
    const std::size_t count = std::min(buffer.size(), to_host_.size());
    const auto end = to_host_.begin() + static_cast<std::ptrdiff_t>(count);
    std::copy(to_host_.begin(), end, buffer.begin());
    to_host_.erase(to_host_.begin(), end);
    return {transport::ReadOutcome::bytes, count};
  }

  std::string name() const override { return "memory"; }

 private:
  test::SilentHal hal_;
  std::unique_ptr<core::TesterCore> core_;
  std::deque<std::uint8_t> to_host_;
};

}  // namespace padwalk::study
