// SPDX-License-Identifier: MIT
#include "tests/study/one_sweep.hpp"

#include <algorithm>
#include <atomic>
#include <deque>
#include <functional>
#include <memory>
#include <thread>
#include <vector>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "graph/hookup.hpp"
#include "tools/measure.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::study {

namespace {

/// The unit that the simulated tester names too, so that reports compare.
constexpr const char* kUnit = "simulated";

/// The simulated bench, whose line is never silent.
class MemoryHal final : public simulated::BenchHal {
 public:
  using BenchHal::BenchHal;
  uint32_t link_ms() override { return 0; }
};

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
  MemoryHal hal_;
  std::unique_ptr<core::TesterCore> core_;
  std::deque<std::uint8_t> to_host_;
};

/// The person beside the tester: a re-seat cures what it can.
class Reseater final : public tools::Person {
 public:
  explicit Reseater(std::function<void()> reseat) : reseat_(std::move(reseat)) {}
  void reseat(const graph::Board&, const std::vector<graph::Lead>&) override { reseat_(); }

 private:
  std::function<void()> reseat_;
};

/// All that knows how a sweep is started.
void measure(transport::ByteStream& stream, const graph::Board& board, tools::Person& person,
             tools::SweepReport& report) {
  session::Options options;
  options.bare_board = !board.assembled();
  session::Session session(stream, options);
  report.tester = session.capabilities();
  const std::atomic<bool> stop{false};
  tools::measure_sweep(session, board, false, &person, stop, report);
  if (!report.refused && report.failure.empty()) {
    report.result = graph::find_differences(board, report.limits, report.measured);
  }
}

}  // namespace

tools::SweepReport sweep(const graph::Board& board, const tools::Defects& defects, Line line) {
  tools::SweepReport report;
  report.limits = graph::limits_for(board);
  report.hookup = graph::default_hookup(board);
  report.groups = graph::count_groups(board, report.hookup.points());
  const std::uint16_t channels = tools::simulated_channels(report.hookup, 0);
  const auto circuit = [&](bool reseated) {
    return tools::make_circuit(board, defects, report.hookup, channels, reseated);
  };
  try {
    if (line == Line::memory) {
      MemoryTester tester(circuit(false));
      Reseater person([&] { tester.hal().set_circuit(circuit(true)); });
      measure(tester, board, person, report);
    } else {
      simulated::SimulatedTester tester(circuit(false), {});
      Reseater person([&] { tester.set_circuit(circuit(true)); });
      const auto stream = transport::open_port(tester.port_name());
      measure(*stream, board, person, report);
    }
  } catch (const std::exception& error) {
    report.failure = error.what();
  }
  return report;
}

}  // namespace padwalk::study
