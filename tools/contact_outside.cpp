// SPDX-License-Identifier: MIT
#include "tools/contact_outside.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "graph/diagnostics.hpp"

namespace padwalk::tools {

namespace {

graph::Board board_without(const graph::Board& board, graph::PartId part) {
  graph::BoardDescription description = board.description();
  description.parts[graph::index(part)].positions.clear();
  graph::Diagnostics diagnostics(board.name());
  return {std::move(description), diagnostics};
}

}  // namespace

ContactOutside::ContactOutside(const graph::Board& board, graph::PartId part)
    : board_(board_without(board, part)), part_(part), ohms_(board_), filling_(board_) {}

std::vector<graph::NetId> ContactOutside::nets(const std::vector<std::size_t>& terminals) const {
  std::vector<graph::NetId> nets;
  for (const std::size_t terminal : terminals) {
    const graph::NetId net = board_[board_[part_].pins[terminal]].net;
    if (net != graph::kNoNet && std::find(nets.begin(), nets.end(), net) == nets.end()) {
      nets.push_back(net);
    }
  }
  return nets;
}

double ContactOutside::least_ohm(const std::vector<std::size_t>& a,
                                 const std::vector<std::size_t>& b) const {
  const std::vector<graph::NetId> from = nets(a);
  const std::vector<graph::NetId> to = nets(b);
  if (from.empty() || to.empty()) {
    return std::numeric_limits<double>::infinity();
  }
  double siemens = 0;
  for (const graph::NetId one : from) {
    for (const graph::NetId other : to) {
      siemens += one == other ? 0 : filling_.siemens(one, other);
    }
  }
  return 1 / (1 / ohms_.between(from, to).low_ohm + siemens);
}

std::string ContactOutside::names(std::size_t a, std::size_t b) const {
  const graph::NetId first = board_[board_[part_].pins[a]].net;
  const graph::NetId second = board_[board_[part_].pins[b]].net;
  if (first == graph::kNoNet || second == graph::kNoNet) {
    return {};
  }
  if (first == second) {
    return fmt::format("the board's copper (net {})", board_[first].name);
  }
  std::vector<graph::PartWay> ways = ohms_.unsure(first, second);
  const std::vector<graph::PartWay> sure = ohms_.consists_of(first, second);
  ways.insert(ways.end(), sure.begin(), sure.end());
  std::vector<std::string> parts;
  for (const graph::PartWay& way : ways) {
    const std::string& name = board_[way.part].name;
    if (std::find(parts.begin(), parts.end(), name) == parts.end()) {
      parts.push_back(name);
    }
  }
  return fmt::format("{}", fmt::join(parts, ", "));
}

}  // namespace padwalk::tools
