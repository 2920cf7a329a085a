// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <map>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

ExitStatus import_netlist(const ImportOptions& options) {
  static const std::map<std::string, std::optional<graph::IpcUnits>> units = {
      {"", std::nullopt}, {"inch", graph::IpcUnits::inch_1e4}, {"mm", graph::IpcUnits::mm_1e3}};
  graph::Diagnostics diagnostics(options.netlist);
  graph::IpcSummary summary;
  graph::BoardDescription description = graph::read_ipc356(
      graph::read_file(options.netlist), units.at(options.units), diagnostics, summary);
  diagnostics.throw_if_errors();
  if (options.assembled) {
    description.state = graph::BoardState::assembled;
  }
  const graph::Board board(std::move(description), diagnostics);
  OutputFile output(options.output);
  output.commit(graph::write_board(board.description()));
  for (const graph::Diagnostic& warning : diagnostics.warnings()) {
    fmt::print("doubtful: {}\n", diagnostics.format(warning));
  }
  fmt::print("{}: {} records, {} nets, {} unconnected points, {} tooling holes\n", options.netlist,
             summary.records, summary.nets, summary.unconnected, summary.tooling_holes);
  fmt::print("the way of the copper is known of {} nets, in part of {}\n", summary.routed,
             summary.routed_in_part);
  fmt::print("{}: {} parts ({} of known package), {} points, state: {}\n", options.output,
             board.parts().size(), summary.packages, board.points().size(),
             board.assembled() ? "assembled" : "bare");
  fmt::print("Next: padwalk check {}\n", options.output);
  return ExitStatus::good;
}

}  // namespace padwalk::tools
