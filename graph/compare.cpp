// SPDX-License-Identifier: MIT
#include "graph/compare.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <optional>
#include <set>

namespace padwalk::graph {

namespace {

/// A net, or one point that is in none: a conductor of one board.
std::size_t conductor(const Board& board, PointId point) {
  const NetId net = board[point].net;
  return net == kNoNet ? board.nets().size() + index(point) : index(net);
}

std::size_t conductors(const Board& board) {
  return board.nets().size() + board.points().size();
}

void add_nets(const Board& board, const std::set<std::size_t>& held, std::vector<NetId>& to) {
  for (const std::size_t one : held) {
    if (one < board.nets().size()) {
      to.push_back(NetId{static_cast<std::uint32_t>(one)});
    }
  }
}

}  // namespace

BoardsCompared compare_boards(const Board& a, const Board& b) {
  BoardsCompared result;
  std::vector<MovedPoint> common;
  for (std::uint32_t i = 0; i < a.points().size(); ++i) {
    if (const auto other = b.find_point(a.points()[i].name)) {
      common.push_back({PointId{i}, *other});
    } else {
      result.only_a.push_back(PointId{i});
    }
  }
  for (std::uint32_t i = 0; i < b.points().size(); ++i) {
    if (!a.find_point(b.points()[i].name)) {
      result.only_b.push_back(PointId{i});
    }
  }
  // How many points a conductor of one board shares with one of the other; who hangs together.
  std::map<std::pair<std::size_t, std::size_t>, std::size_t> shared;
  boost::disjoint_sets_with_storage<> together(conductors(a) + conductors(b));
  for (const MovedPoint& point : common) {
    const std::size_t of_a = conductor(a, point.a);
    const std::size_t of_b = conductor(b, point.b);
    ++shared[{of_a, of_b}];
    together.union_set(of_a, conductors(a) + of_b);
  }
  struct Group {
    std::set<std::size_t> a;
    std::set<std::size_t> b;
    std::vector<MovedPoint> points;
  };
  std::map<std::size_t, Group> by_root;
  for (const MovedPoint& point : common) {
    const std::size_t of_a = conductor(a, point.a);
    Group& group = by_root[together.find_set(of_a)];
    group.a.insert(of_a);
    group.b.insert(conductor(b, point.b));
    group.points.push_back(point);
  }
  std::vector<const Group*> in_order;
  for (const auto& [root, group] : by_root) {
    in_order.push_back(&group);
  }
  std::sort(in_order.begin(), in_order.end(), [](const Group* one, const Group* other) {
    return *one->a.begin() < *other->a.begin();
  });
  for (const Group* group : in_order) {
    if (group->a.size() == 1 && group->b.size() == 1) {
      std::vector<NetId> of_a;
      std::vector<NetId> of_b;
      add_nets(a, group->a, of_a);
      add_nets(b, group->b, of_b);
      if (!of_a.empty() && !of_b.empty()) {
        result.same.emplace_back(of_a.front(), of_b.front());
      }
      continue;
    }
    NetDifference difference;
    add_nets(a, group->a, difference.a);
    add_nets(b, group->b, difference.b);
    // Each conductor of the first board goes with that of the second that has most of it.
    std::map<std::size_t, std::size_t> goes_with;
    for (const std::size_t of_a : group->a) {
      std::size_t most = 0;
      for (const std::size_t of_b : group->b) {
        const auto count = shared.find({of_a, of_b});
        if (count != shared.end() && count->second > most) {
          most = count->second;
          goes_with[of_a] = of_b;
        }
      }
    }
    for (const MovedPoint& point : group->points) {
      if (goes_with[conductor(a, point.a)] != conductor(b, point.b)) {
        difference.moved.push_back(point);
      }
    }
    result.differences.push_back(std::move(difference));
  }
  return result;
}

}  // namespace padwalk::graph
