// SPDX-License-Identifier: MIT
#include "graph/comparison.hpp"

#include <algorithm>

#include "graph/hookup.hpp"

namespace padwalk::graph {

namespace {

std::vector<PointId> judged_points(const Board& board, std::vector<PointId> attached) {
  const std::vector<bool> never = never_driven(board);
  std::erase_if(attached, [&](PointId point) { return never[index(point)]; });
  std::sort(attached.begin(), attached.end());
  return attached;
}

}  // namespace

Comparison::Comparison(const Board& the_board, const Limits& the_limits,
                       const Measured& the_measured)
    : board(the_board),
      limits(the_limits),
      measured(the_measured),
      attached(judged_points(board, measured.attached)),
      by_net(board.nets().size()),
      pieces(measured_pieces(board, attached, measured.readings, limits.open_above_ohm,
                             limits.short_up_to_ohm)),
      parts(find_part_groups(board, limits.short_up_to_ohm)),
      unproven(board.points().size()) {
  for (const PointId point : attached) {
    if (board[point].net != kNoNet) {
      by_net[index(board[point].net)].push_back(point);
    }
  }
  for (const PointId point : measured.silent_unproven) {
    unproven[index(point)] = true;
  }
  for (const auto& [a, b] : measured.joined_by_parts) {
    part_pairs.emplace(std::min(a, b), std::max(a, b));
  }
}

bool Comparison::same_net(PointId a, PointId b) const {
  return board[a].net != kNoNet && board[a].net == board[b].net;
}

bool Comparison::share_a_piece(const WantedReading& wanted) const {
  std::set<std::uint32_t> driven;
  for (const PointId point : wanted.source) {
    driven.insert(pieces[point]);
  }
  return std::any_of(wanted.sink.begin(), wanted.sink.end(),
                     [&](PointId point) { return driven.count(pieces[point]) != 0; });
}

bool Comparison::joined_by_parts(NetId a, NetId b) const {
  return part_pairs.count({std::min(a, b), std::max(a, b)}) != 0;
}

const std::string& Comparison::conductor_name(PointId point) const {
  const NetId net = board[point].net;
  return net == kNoNet ? board[point].name : board[net].name;
}

}  // namespace padwalk::graph
