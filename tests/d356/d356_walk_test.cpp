// SPDX-License-Identifier: MIT
//
// How soon a tip is named on the largest of the real netlists with 64 leads clipped: the tester's
// time plus that of a link whose round trip is 4 ms.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <deque>
#include <iostream>

#include "firmware-host/core/tester_core.hpp"
#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/study/memory_tester.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/walk.hpp"

namespace {

using namespace padwalk;
using graph::PointId;

constexpr std::size_t kClipped = 64;
constexpr double kSoonS = 0.1;
constexpr double kRoundTripS = 4e-3;
constexpr double kByteS = 10.0 / 115200;

/// The core on the simulated bench behind a line in both directions, on a clock that is worked out:
/// bytes go one behind the other and are half a round trip under way, and the tester takes the time
/// that its measuring takes. The host's own time is nothing.
class TimedTester final : public transport::ByteStream {
 public:
  TimedTester(simulated::Circuit circuit, double byte_s)
      : byte_s_(byte_s),
        hal_(std::move(circuit), "timed",
             [this](std::span<const std::uint8_t> bytes) {
               pass();
               sent_free_s_ = std::max(sent_free_s_, tester_s_) + line_s(bytes.size());
               arriving_.push_back({{bytes.begin(), bytes.end()}, sent_free_s_ + kRoundTripS / 2});
             }),
        core_(std::make_unique<core::TesterCore>(hal_)) {}

  simulated::BenchHal& hal() { return hal_; }
  /// The host's clock. Units: s.
  double now() const { return host_s_; }

  bool write(std::span<const std::uint8_t> bytes) override {
    written_free_s_ = std::max(written_free_s_, host_s_) + line_s(bytes.size());
    pass();
    tester_s_ = std::max(tester_s_, written_free_s_ + kRoundTripS / 2);
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
  double line_s(std::size_t bytes) const { return byte_s_ * static_cast<double>(bytes); }
  /// What the tester measured since, it took.
  void pass() {
    tester_s_ += (hal_.now_us() - measured_us_) * 1e-6;
    measured_us_ = hal_.now_us();
  }

  double byte_s_;
  double host_s_ = 0;
  double tester_s_ = 0;
  double written_free_s_ = 0;
  double sent_free_s_ = 0;
  std::uint32_t measured_us_ = 0;
  std::deque<Frame> arriving_;
  study::MemoryHal hal_;
  std::unique_ptr<core::TesterCore> core_;
};

/// The longest time from a contact to its name, one round of listening missed. Units: s.
double longest(const graph::Board& board, const graph::Hookup& hookup,
               const std::vector<PointId>& touched, double byte_s) {
  const auto tip = static_cast<std::uint16_t>(hookup.leads.size() + 1);
  const auto circuit = [&](const graph::Hookup& now) {
    return tools::make_circuit(board, tools::Defects(), now, tip, false);
  };
  TimedTester tester(circuit(hookup), byte_s);
  session::Session session(tester, session::Options());
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : hookup.leads) {
    channels.push_back(lead.channel);
  }
  REQUIRE(session.power_check(channels).passed);
  const session::Held held = tools::held_by(board, hookup);
  double longest = 0;
  for (std::size_t i = 0; i < touched.size(); ++i) {
    const double contact = tester.now();
    CHECK_FALSE(session.touches(tip, held));
    graph::Hookup now = hookup;
    now.leads.push_back({tip, touched[i]});
    tester.hal().set_circuit(circuit(now));
    REQUIRE(session.touches(tip, held));
    const session::Heard heard = session.name(tip, held);
    longest = std::max(longest, tester.now() - contact);
    REQUIRE(heard.group);
    CHECK(held.groups[*heard.group].front() == hookup.leads[i].channel);
    tester.hal().set_circuit(circuit(hookup));
  }
  return longest;
}

}  // namespace

TEST_CASE("a tip is named within a tenth of a second beside 64 leads", "[d356][walk]") {
  const std::string path = std::string(PADWALK_NETLISTS) + "/board-01.d356";
  graph::Diagnostics diagnostics(path);
  graph::IpcSummary summary;
  graph::BoardDescription description =
      graph::read_ipc356(graph::read_file(path), std::nullopt, diagnostics, summary);
  diagnostics.throw_if_errors();
  const graph::Board board(std::move(description), diagnostics);

  // A lead on each of the first 64 nets that have two points to touch.
  graph::Hookup hookup;
  std::vector<PointId> touched;
  for (const graph::Net& net : board.nets()) {
    std::vector<PointId> reached;
    std::copy_if(net.points.begin(), net.points.end(), std::back_inserter(reached),
                 [&](PointId point) { return board[point].access == graph::Access::clip; });
    if (reached.size() > 1 && hookup.leads.size() < kClipped) {
      hookup.leads.push_back(
          {static_cast<std::uint16_t>(hookup.leads.size() + 1), reached.front()});
      touched.push_back(reached.back());
    }
  }
  REQUIRE(hookup.leads.size() == kClipped);
  const double fast = longest(board, hookup, touched, 0);
  const double serial = longest(board, hookup, touched, kByteS);
  CHECK(fast < kSoonS);
  std::cout << fmt::format(
      "walk, 64 leads: from contact to name {:.0f} ms at most, {:.0f} ms at 115200 baud\n",
      fast * 1e3, serial * 1e3);
}
