// SPDX-License-Identifier: MIT
#include "graph/scan_units.hpp"

#include <map>

#include "graph/hookup.hpp"
#include "graph/part_groups.hpp"

namespace padwalk::graph {

std::vector<PointId> ScanUnit::all_points() const {
  std::vector<PointId> all;
  for (const std::vector<PointId>& of_net : points) {
    all.insert(all.end(), of_net.begin(), of_net.end());
  }
  return all;
}

std::vector<ScanUnit> make_scan_units(const Board& board, std::span<const PointId> attached,
                                      double short_ohm) {
  const std::vector<bool> never = never_driven(board);
  const PartGroups groups = find_part_groups(board, short_ohm);
  std::vector<std::vector<PointId>> of_net(board.nets().size());
  for (const PointId point : attached) {
    if (board[point].net != kNoNet && !never[index(point)]) {
      of_net[index(board[point].net)].push_back(point);
    }
  }
  std::vector<ScanUnit> units;
  std::map<std::uint32_t, std::size_t> unit_of_tie;
  for (std::size_t net = 0; net < of_net.size(); ++net) {
    if (of_net[net].empty()) {
      continue;
    }
    const auto [at, fresh] = unit_of_tie.emplace(groups.tie[net], units.size());
    if (fresh) {
      units.emplace_back();
    }
    ScanUnit& unit = units[at->second];
    unit.nets.push_back(NetId{static_cast<std::uint32_t>(net)});
    unit.points.push_back(std::move(of_net[net]));
    unit.cluster = groups.cluster[net];
    unit.ground = unit.ground || board.nets()[net].role == NetRole::ground;
    unit.supply = unit.supply || board.nets()[net].role == NetRole::supply;
  }
  auto cluster = static_cast<std::uint32_t>(board.nets().size());
  for (const PointId point : attached) {
    if (board[point].net == kNoNet && !never[index(point)]) {
      ScanUnit unit;
      unit.points = {{point}};
      unit.cluster = cluster++;
      units.push_back(std::move(unit));
    }
  }
  return units;
}

std::vector<PointId> Conductors::points_of(std::uint32_t label,
                                           std::span<const ScanUnit> units) const {
  std::vector<PointId> points;
  for (const std::uint32_t unit : members_[label]) {
    const std::vector<PointId> more = units[unit].all_points();
    points.insert(points.end(), more.begin(), more.end());
  }
  return points;
}

}  // namespace padwalk::graph
