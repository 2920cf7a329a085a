// SPDX-License-Identifier: MIT
//
// A tester behind a line on a clock that is worked out, for how long measuring takes whatever the
// machine. For tests and tables of times.
#pragma once

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <deque>
#include <memory>
#include <span>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/transport/byte_stream.hpp"

namespace padwalk::test {

/// 115200 baud, 8N1. Units: s.
inline constexpr double kByteS = 10.0 / 115200;

/// Units: s. A line without a time of its bytes is one of USB alone.
struct Line {
  double round_trip_s = 0;
  double byte_s = kByteS;
};

/// The simulated bench, whose line is never silent.
class SilentHal final : public simulated::BenchHal {
 public:
  using BenchHal::BenchHal;
  uint32_t link_ms() override { return 0; }
};

/// The core on the simulated bench behind a line in both directions, on a clock that is worked out:
/// bytes go one behind the other and are half a round trip under way, and the tester takes the time
/// that its measuring takes. The host's own time is nothing.
class TimedTester final : public transport::ByteStream {
 public:
  TimedTester(simulated::Circuit circuit, Line line)
      : line_(line),
        hal_(std::move(circuit), "timed",
             [this](std::span<const std::uint8_t> bytes) {
               pass();
               sent_free_s_ = std::max(sent_free_s_, tester_s_) + line_s(bytes.size());
               arriving_.push_back(
                   {{bytes.begin(), bytes.end()}, sent_free_s_ + line_.round_trip_s / 2});
             }),
        core_(std::make_unique<core::TesterCore>(hal_)) {}

  simulated::BenchHal& hal() { return hal_; }
  /// The host's clock. Units: s.
  double now() const { return host_s_; }

  bool write(std::span<const std::uint8_t> bytes) override {
    written_free_s_ = std::max(written_free_s_, host_s_) + line_s(bytes.size());
    pass();
    tester_s_ = std::max(tester_s_, written_free_s_ + line_.round_trip_s / 2);
    core_->receive(bytes.data(), bytes.size());
    return true;
  }
  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    while (arriving_.empty() && core_->poll()) {
    }
    if (arriving_.empty()) {
      std::this_thread::sleep_until(deadline);
      return {};
    }
    const Frame frame = std::move(arriving_.front());
    arriving_.pop_front();
    host_s_ = std::max(host_s_, frame.at_s);
    std::copy(frame.bytes.begin(), frame.bytes.end(), buffer.begin());
    return {transport::ReadOutcome::bytes, frame.bytes.size()};
  }
  std::string name() const override { return "memory"; }

 private:
  struct Frame {
    std::vector<std::uint8_t> bytes;
    double at_s;
  };
  double line_s(std::size_t bytes) const { return line_.byte_s * static_cast<double>(bytes); }
  /// What the tester measured since, it took.
  void pass() {
    tester_s_ += (hal_.now_us() - measured_us_) * 1e-6;
    measured_us_ = hal_.now_us();
  }

  Line line_;
  double host_s_ = 0;
  double tester_s_ = 0;
  double written_free_s_ = 0;
  double sent_free_s_ = 0;
  std::uint32_t measured_us_ = 0;
  std::deque<Frame> arriving_;
  SilentHal hal_;
  std::unique_ptr<core::TesterCore> core_;
};

}  // namespace padwalk::test
