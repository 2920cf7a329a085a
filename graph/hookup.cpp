// SPDX-License-Identifier: MIT
#include "graph/hookup.hpp"

namespace padwalk::graph {

std::vector<PointId> Hookup::points() const {
  std::vector<PointId> points;
  points.reserve(leads.size());
  for (const Lead& lead : leads) {
    points.push_back(lead.point);
  }
  return points;
}

std::vector<bool> never_driven(const Board& board) {
  std::vector<bool> net_never(board.nets().size());
  for (const Point& point : board.points()) {
    if (point.drive_never && point.net != kNoNet) {
      net_never[index(point.net)] = true;
    }
  }
  std::vector<bool> never;
  never.reserve(board.points().size());
  for (const Point& point : board.points()) {
    never.push_back(point.drive_never || (point.net != kNoNet && net_never[index(point.net)]));
  }
  return never;
}

Hookup default_hookup(const Board& board) {
  const std::vector<bool> never = never_driven(board);
  Hookup hookup;
  for (std::size_t i = 0; i < board.points().size(); ++i) {
    if (board.points()[i].access == Access::clip && !never[i]) {
      hookup.leads.push_back({static_cast<std::uint16_t>(hookup.leads.size() + 1),
                              PointId{static_cast<std::uint32_t>(i)}});
    }
  }
  return hookup;
}

std::size_t count_groups(const Board& board, const std::vector<PointId>& attached) {
  std::vector<bool> seen(board.nets().size());
  std::size_t groups = 0;
  for (const PointId point : attached) {
    const NetId net = board[point].net;
    if (net == kNoNet) {
      ++groups;
    } else if (!seen[index(net)]) {
      seen[index(net)] = true;
      ++groups;
    }
  }
  return groups;
}

}  // namespace padwalk::graph
