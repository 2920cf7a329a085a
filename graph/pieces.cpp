// SPDX-License-Identifier: MIT
#include "graph/pieces.hpp"

#include <boost/pending/disjoint_sets.hpp>

namespace padwalk::graph {

std::pair<PointId, PointId> two_points(const WantedReading& wanted) {
  const bool follow = wanted.purpose == Purpose::follow;
  if (wanted.source.size() != 1 || (!follow && wanted.sink.size() != 1)) {
    return {kNoPoint, kNoPoint};
  }
  return {wanted.source.front(), follow ? wanted.sense : wanted.sink.front()};
}

Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, const OhmLimit& joined_ohm) {
  const std::size_t points = board.points().size();
  std::vector<bool> is_attached(points);
  for (const PointId point : attached) {
    is_attached[index(point)] = true;
  }
  boost::disjoint_sets_with_storage<> joined(points);
  for (const Reading& reading : readings) {
    const auto [a, b] = two_points(reading.wanted);
    if (a == kNoPoint || reading.wanted.purpose == Purpose::isolation || !is_attached[index(a)] ||
        !is_attached[index(b)]) {
      continue;
    }
    const bool same_net = board[a].net == board[b].net && board[a].net != kNoNet;
    if (reading.ohm <= joined_ohm(a, b) || (!reading.number && same_net)) {
      joined.union_set(index(a), index(b));
    }
  }
  Pieces pieces;
  pieces.piece_of.assign(points, Pieces::kNotAttached);
  std::vector<std::uint32_t> number(points, Pieces::kNotAttached);  // by a set's representative
  for (std::size_t i = 0; i < points; ++i) {
    if (!is_attached[i]) {
      continue;
    }
    std::uint32_t& piece = number[joined.find_set(i)];
    if (piece == Pieces::kNotAttached) {
      piece = static_cast<std::uint32_t>(pieces.members.size());
      pieces.members.emplace_back();
    }
    pieces.piece_of[i] = piece;
    pieces.members[piece].push_back(PointId{static_cast<std::uint32_t>(i)});
  }
  return pieces;
}

Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, double same_net_ohm,
                       double two_nets_ohm) {
  return measured_pieces(board, attached, readings, [&](PointId a, PointId b) {
    const bool same_net = board[a].net == board[b].net && board[a].net != kNoNet;
    return same_net ? same_net_ohm : two_nets_ohm;
  });
}

}  // namespace padwalk::graph
