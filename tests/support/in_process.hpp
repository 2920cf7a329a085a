// SPDX-License-Identifier: MIT
//
// A whole sweep inside a test: board, defects, simulated tester behind its pseudo-terminal,
// session, scan, findings. Every byte takes the real way.
#pragma once

#include <atomic>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "graph/findings.hpp"
#include "tools/measure.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::test {

/// The person beside the simulated tester.
class Reseater : public tools::Person {
 public:
  Reseater(simulated::SimulatedTester& tester, simulated::Circuit circuit)
      : tester_(tester), circuit_(std::move(circuit)) {}
  void reseat(const graph::Board&, const std::vector<graph::Lead>&) override {
    tester_.set_circuit(circuit_);
  }

 private:
  simulated::SimulatedTester& tester_;
  simulated::Circuit circuit_;
};

/// Resistors and sources alone, for tests of copper or of the line: what moves in time costs time.
inline simulated::Circuit still(simulated::Circuit circuit) {
  circuit.capacitors.clear();
  circuit.junctions.clear();
  return circuit;
}

/// Sweeps `board` with `defects` on a simulated tester of enough channels; nothing on the board
/// moves in time.
inline tools::SweepReport sweep(const graph::Board& board, const tools::Defects& defects,
                                bool ask = true,
                                const simulated::SimulatedTesterOptions& tester_options = {},
                                bool quick = false) {
  tools::SweepReport report;
  report.hookup = graph::default_hookup(board);
  report.limits = graph::limits_for(board);
  report.groups = graph::count_groups(board, report.hookup.points());
  const auto channels = static_cast<std::uint16_t>(report.hookup.leads.size());
  simulated::SimulatedTester tester(
      still(tools::make_circuit(board, defects, report.hookup, channels, false)), tester_options);
  Reseater person(tester,
                  still(tools::make_circuit(board, defects, report.hookup, channels, true)));
  const auto stream = transport::open_port(tester.port_name());
  session::Options session_options;
  session_options.bare_board = !board.assembled();
  try {
    session::Session session(*stream, session_options);
    report.tester = session.capabilities();
    const std::atomic<bool> stop{false};
    tools::measure_sweep({session, board, quick, ask ? &person : nullptr, stop}, report);
  } catch (const session::TesterError& error) {
    report.failure = error.what();
    report.measured.interrupted = true;
  }
  if (!report.refused && !report.measured.interrupted) {
    report.result = graph::find_differences(board, report.limits, report.measured);
  }
  return report;
}

}  // namespace padwalk::test
