// SPDX-License-Identifier: MIT
#include "tests/study/one_sweep.hpp"

#include <atomic>
#include <functional>
#include <vector>

#include "firmware-host/simulated/simulated_tester.hpp"
#include "graph/hookup.hpp"
#include "tests/study/memory_tester.hpp"
#include "tools/measure.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::study {

namespace {

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
  tools::measure_sweep({session, board, false, &person, stop}, report);
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
