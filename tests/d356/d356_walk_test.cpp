// SPDX-License-Identifier: MIT
//
// How soon a tip is named on the largest of the real netlists with 64 leads clipped: the tester's
// time plus that of a link whose round trip is 4 ms.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
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

/// Counts how often the host waits for what it asked, and all bytes.
class CountingTester final : public transport::ByteStream {
 public:
  explicit CountingTester(simulated::Circuit circuit) : tester_(std::move(circuit)) {}
  simulated::BenchHal& hal() { return tester_.hal(); }
  /// From now on.
  void begin() {
    trips_ = bytes_ = 0;
    began_us_ = hal().now_us();
  }
  /// Since begin(): the tester's time and the round trips; `with_bytes`: that of all bytes as well.
  double seconds(bool with_bytes) {
    return (hal().now_us() - began_us_) * 1e-6 + kRoundTripS * static_cast<double>(trips_) +
           (with_bytes ? kByteS * static_cast<double>(bytes_) : 0);
  }

  bool write(std::span<const std::uint8_t> bytes) override {
    asked_ = true;
    bytes_ += bytes.size();
    return tester_.write(bytes);
  }
  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    trips_ += std::exchange(asked_, false) ? 1 : 0;
    const transport::ReadResult result = tester_.read(buffer, deadline);
    bytes_ += result.count;
    return result;
  }
  std::string name() const override { return "memory"; }

 private:
  study::MemoryTester tester_;
  bool asked_ = false;
  std::size_t trips_ = 0;
  std::size_t bytes_ = 0;
  std::uint32_t began_us_ = 0;
};

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
  const auto tip = static_cast<std::uint16_t>(kClipped + 1);
  const auto circuit = [&](const graph::Hookup& now) {
    return tools::make_circuit(board, tools::Defects(), now, tip, false);
  };
  CountingTester tester(circuit(hookup));
  session::Session session(tester, session::Options());
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : hookup.leads) {
    channels.push_back(lead.channel);
  }
  REQUIRE(session.power_check(channels).passed);
  const session::Held held = tools::held_by(board, hookup);

  double longest = 0;
  double longest_with_bytes = 0;
  for (std::size_t i = 0; i < touched.size(); ++i) {
    tester.begin();
    CHECK_FALSE(session.touches(tip, held));
    // A contact may come just after a round of listening began, which then says nothing.
    const double missed = tester.seconds(false);
    const double missed_with_bytes = tester.seconds(true);
    tester.begin();
    graph::Hookup now = hookup;
    now.leads.push_back({tip, touched[i]});
    tester.hal().set_circuit(circuit(now));
    REQUIRE(session.touches(tip, held));
    const session::Heard heard = session.name(tip, held);
    REQUIRE(heard.group);
    CHECK(held.groups[*heard.group].front() == hookup.leads[i].channel);
    longest = std::max(longest, missed + tester.seconds(false));
    longest_with_bytes = std::max(longest_with_bytes, missed_with_bytes + tester.seconds(true));
    tester.begin();
    tester.hal().set_circuit(circuit(hookup));
  }
  CHECK(longest < kSoonS);
  std::cout << fmt::format(
      "walk, 64 leads: from contact to name {:.0f} ms at most, and {:.0f} ms where the link has "
      "115200 baud\n",
      longest * 1e3, longest_with_bytes * 1e3);
}
