// SPDX-License-Identifier: MIT
#include "graph/unsettled.hpp"

#include <algorithm>
#include <map>
#include <set>

namespace padwalk::graph {

Unsettled::Unsettled(const Board& board, const PlanGoal& goal)
    : board_(board),
      goal_(goal),
      chain_(board.points().size()),
      members_(board.nets().size()),
      left_(board.nets().size()),
      pairs_(board.nets().size(), NetSet(board.nets().size())) {
  for (std::size_t i = 0; i < chain_.size(); ++i) {
    chain_[i] = i;
    if (goal.points[i]) {
      ++members_[index(board.points()[i].net)];
    }
  }
  for (std::size_t net = 0; net < left_.size(); ++net) {
    left_[net] = members_[net] > 1 ? members_[net] - 1 : members_[net];
  }
  for (const auto& [a, b] : goal.pairs) {
    pairs_[index(a)].add(index(b));
    pairs_[index(b)].add(index(a));
  }
}

void Unsettled::attach(PointId point, Attached& now) const {
  const std::size_t net = index(board_[point].net);
  if (board_[point].net == kNoNet) {
    return;
  }
  ++now.points[net];
  now.nets.add(net);
  if (wanted(point)) {
    now.wanted[net].push_back(point);
  }
}

void Unsettled::detach(PointId point, Attached& now) const {
  const std::size_t net = index(board_[point].net);
  if (board_[point].net == kNoNet) {
    return;
  }
  if (--now.points[net] == 0) {
    now.nets.remove(net);
  }
  std::erase(now.wanted[net], point);
}

std::size_t Unsettled::gain(PointId point, const Attached& now) const {
  const std::size_t net = index(board_[point].net);
  return pairs_[net].common(now.nets) + joins(point, now.wanted[net]);
}

std::size_t Unsettled::gain(const Attached& now) const {
  std::size_t pairs = 0;
  std::size_t joined = 0;
  for (std::size_t net = 0; net < now.points.size(); ++net) {
    if (now.points[net] > 0) {
      pairs += pairs_[net].common(now.nets);
      joined += joins(now.wanted[net]);
    }
  }
  return pairs / 2 + joined;
}

void Unsettled::settle(const Attached& now) {
  for (std::size_t net = 0; net < now.points.size(); ++net) {
    if (now.points[net] > 0) {
      settle_pairs(net, now.nets);
    }
    for (const PointId point : now.wanted[net]) {
      join(point, now.wanted[net].front());
    }
  }
}

void Unsettled::settle(PointId touched, const Attached& now) {
  const std::size_t net = index(board_[touched].net);
  settle_pairs(net, now.nets);
  if (wanted(touched)) {
    join(touched, now.wanted[net].empty() ? touched : now.wanted[net].front());
  }
}

void Unsettled::list(Plan& plan) const {
  std::map<NetId, std::map<std::size_t, std::vector<PointId>>> chains;
  for (std::uint32_t i = 0; i < chain_.size(); ++i) {
    const NetId net = board_.points()[i].net;
    if (goal_.points[i] && left_[index(net)] > 0) {
      chains[net][root(i)].push_back(PointId{i});
    }
  }
  for (const auto& [net, by_root] : chains) {
    const auto longest = std::max_element(
        by_root.begin(), by_root.end(),
        [](const auto& a, const auto& b) { return a.second.size() < b.second.size(); });
    for (auto chain = by_root.begin(); chain != by_root.end(); ++chain) {
      if (chain != longest || members_[index(net)] == 1) {
        plan.points_not_covered.insert(plan.points_not_covered.end(), chain->second.begin(),
                                       chain->second.end());
      }
    }
  }
  std::sort(plan.points_not_covered.begin(), plan.points_not_covered.end());
  for (const auto& [a, b] : goal_.pairs) {
    if (pairs_[index(a)].has(index(b))) {
      plan.pairs_not_covered.emplace_back(a, b);
    }
  }
}

std::size_t Unsettled::root(std::size_t point) const {
  while (chain_[point] != point) {
    point = chain_[point];
  }
  return point;
}

std::size_t Unsettled::joins(PointId point, const std::vector<PointId>& beside) const {
  if (!wanted(point) || left_[index(board_[point].net)] == 0) {
    return 0;
  }
  if (lone(point)) {
    return 1;
  }
  return !beside.empty() && std::none_of(beside.begin(), beside.end(), [&](PointId other) {
    return root(index(other)) == root(index(point));
  });
}

std::size_t Unsettled::joins(const std::vector<PointId>& points) const {
  if (points.empty() || left_[index(board_[points.front()].net)] == 0) {
    return 0;
  }
  if (lone(points.front())) {
    return 1;
  }
  std::set<std::size_t> roots;
  for (const PointId point : points) {
    roots.insert(root(index(point)));
  }
  return roots.size() - 1;
}

void Unsettled::settle_pairs(std::size_t net, const NetSet& nets) {
  for (std::size_t other = 0; other < pairs_.size(); ++other) {
    if (nets.has(other)) {
      pairs_[net].remove(other);
      pairs_[other].remove(net);
    }
  }
}

void Unsettled::join(PointId a, PointId b) {
  std::size_t& left = left_[index(board_[a].net)];
  if (lone(a)) {
    left = 0;
    return;
  }
  const std::size_t from = root(index(a));
  const std::size_t to = root(index(b));
  if (from != to) {
    chain_[from] = to;
    --left;
  }
}

}  // namespace padwalk::graph
