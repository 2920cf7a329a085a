// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>

#include "graph/board_yaml.hpp"
#include "graph/hookup.hpp"
#include "graph/lint.hpp"
#include "tools/board_file.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

void print_contents(const Board& board) {
  const auto nets = [&](auto&& has) {
    return std::count_if(board.nets().begin(), board.nets().end(),
                         [&](const graph::Net& net) { return net.listed && has(net); });
  };
  const auto vias =
      std::count_if(board.description().points.begin(), board.description().points.end(),
                    [](const graph::PointDescription& point) { return !point.via.empty(); });
  const auto routed = nets([](const graph::Net& net) { return net.has_route; });
  fmt::print("{} ({}, {} layers)\n", board.name(), board.assembled() ? "assembled" : "bare",
             board.description().layers);
  fmt::print("  {} parts, {} points ({} vias), {} nets: {} with a route, {} known by members\n",
             board.parts().size(), board.points().size(), vias, board.listed_nets(), routed,
             static_cast<long>(board.listed_nets()) - routed);
  fmt::print("  nets that are ground: {}, supply: {}\n",
             nets([](const graph::Net& net) { return net.role == graph::NetRole::ground; }),
             nets([](const graph::Net& net) { return net.role == graph::NetRole::supply; }));
  const std::vector<graph::PointId> attached = graph::default_hookup(board).points();
  fmt::print("  a sweep needs {} channels, for {} groups of points\n", attached.size(),
             graph::count_groups(board, attached));
}

/// What the file leaves open, in sentences.
std::vector<std::string> doubts(const Board& board) {
  std::vector<std::string> all;
  std::size_t lone = 0;
  std::size_t unplaced = 0;
  std::string first_lone;
  for (const graph::Net& net : board.nets()) {
    if (net.listed && net.points.size() < 2) {
      ++lone;
      first_lone = first_lone.empty() ? net.name : first_lone;
    }
  }
  for (const graph::Point& point : board.points()) {
    unplaced += point.xy ? 0 : 1;
  }
  if (lone > 0) {
    all.push_back(fmt::format("nets with fewer than two points: {}, such as {}", lone, first_lone));
  }
  if (unplaced > 0) {
    all.push_back(fmt::format("points without a position, so that a short there gets no place: {}",
                              unplaced));
  }
  if (board.assembled() &&
      std::none_of(board.nets().begin(), board.nets().end(),
                   [](const graph::Net& net) { return net.role == graph::NetRole::ground; })) {
    all.push_back("no net has role: ground, so ground cannot be kept low while measuring");
  }
  return all;
}

}  // namespace

ExitStatus check_board(const CheckOptions& options) {
  std::optional<OutputFile> output;
  const LoadedBoard loaded = load_board(options.board);
  if (!options.rewrite.empty()) {
    output.emplace(options.rewrite);
  }
  print_contents(loaded.board);
  std::vector<std::string> more = doubts(loaded.board);
  const std::vector<std::string> looks_wrong =
      options.lint ? graph::lint(loaded.board) : std::vector<std::string>{};
  more.insert(more.end(), looks_wrong.begin(), looks_wrong.end());
  if (!more.empty() || !loaded.diagnostics.warnings().empty()) {
    fmt::print("Doubtful:\n");
  }
  for (const graph::Diagnostic& warning : loaded.diagnostics.warnings()) {
    fmt::print("  {}\n", loaded.diagnostics.format(warning));
  }
  for (const std::string& doubt : more) {
    fmt::print("  {}\n", doubt);
  }
  if (output) {
    output->commit(graph::write_board(loaded.board.description()));
    fmt::print("Written: {}\n", options.rewrite);
  }
  fmt::print("Next: padwalk sweep {} --simulate, or --port NAME\n",
             options.rewrite.empty() ? options.board : options.rewrite);
  return looks_wrong.empty() ? ExitStatus::good : ExitStatus::findings;
}

}  // namespace padwalk::tools
