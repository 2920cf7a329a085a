// SPDX-License-Identifier: MIT
#include "graph/neighbours.hpp"

#include <algorithm>
#include <boost/geometry.hpp>
#include <boost/geometry/index/rtree.hpp>
#include <cmath>
#include <iterator>
#include <limits>
#include <set>

namespace padwalk::graph {

namespace {

namespace bg = boost::geometry;
namespace bgi = boost::geometry::index;

using Position = bg::model::point<double, 2, bg::cs::cartesian>;
using Entry = std::pair<Position, std::size_t>;

bool counts(const Point& point, const NeighbourRules& rules) {
  return point.net != kNoNet && point.xy && (point.part != kNoPart || !rules.pins_only);
}

/// Some place of one and some place of the other can be bridged on the outside.
bool share_a_side(const Board& board, const Point& a, const Point& b) {
  const auto reaches = [&](const Point& point, Side side) {
    for (std::size_t i = 0; i < point.places; ++i) {
      const Side here = board[PlaceId{static_cast<std::uint32_t>(index(point.first) + i)}].side;
      if (here == side || here == Side::unknown) {
        return true;
      }
    }
    return false;
  };
  return (reaches(a, Side::top) && reaches(b, Side::top)) ||
         (reaches(a, Side::bottom) && reaches(b, Side::bottom));
}

}  // namespace

std::vector<std::pair<NetId, NetId>> neighbour_nets(const Board& board,
                                                    const NeighbourRules& rules) {
  std::vector<Entry> entries;
  for (std::size_t i = 0; i < board.points().size(); ++i) {
    if (const Point& point = board.points()[i]; counts(point, rules)) {
      entries.emplace_back(Position(point.xy->x, point.xy->y), i);
    }
  }
  const bgi::rtree<Entry, bgi::quadratic<16>> tree(entries);
  std::set<std::pair<NetId, NetId>> pairs;
  const auto add = [&](NetId a, NetId b) {
    if (a != b && a != kNoNet && b != kNoNet) {
      pairs.insert(std::minmax(a, b));
    }
  };
  const double reach = rules.within_mm;
  for (const auto& [at, i] : entries) {
    const Point& point = board.points()[i];
    const bg::model::box<Position> around(Position(bg::get<0>(at) - reach, bg::get<1>(at) - reach),
                                          Position(bg::get<0>(at) + reach, bg::get<1>(at) + reach));
    for (auto near = tree.qbegin(bgi::intersects(around)); near != tree.qend(); ++near) {
      const Point& other = board.points()[near->second];
      if (near->second > i && bg::distance(at, near->first) <= reach &&
          share_a_side(board, point, other)) {
        add(point.net, other.net);
      }
    }
  }
  for (const Part& part : board.parts()) {
    if (!rules.at_parts || part.pins.size() > rules.small_part) {
      continue;
    }
    for (const PointId a : part.pins) {
      for (const PointId b : part.pins) {
        add(board[a].net, board[b].net);
      }
    }
  }
  if (rules.as_file_says) {
    pairs.insert(board.neighbours().begin(), board.neighbours().end());
  }
  return {pairs.begin(), pairs.end()};
}

std::vector<NetId> nets_along(const Board& board, const NeighbourRules& rules) {
  constexpr double kFar = std::numeric_limits<double>::infinity();
  Xy low{kFar, kFar};
  Xy high{-kFar, -kFar};
  for (const Point& point : board.points()) {
    if (counts(point, rules)) {
      low = {std::min(low.x, point.xy->x), std::min(low.y, point.xy->y)};
      high = {std::max(high.x, point.xy->x), std::max(high.y, point.xy->y)};
    }
  }
  const bool along_x = high.x - low.x >= high.y - low.y;
  std::vector<std::pair<double, NetId>> order;
  for (std::size_t i = 0; i < board.nets().size(); ++i) {
    double first = kFar;
    for (const PointId id : board.nets()[i].points) {
      if (const Point& point = board[id]; counts(point, rules)) {
        first = std::min(first, along_x ? point.xy->x : point.xy->y);
      }
    }
    if (!board.nets()[i].points.empty()) {
      order.emplace_back(first, NetId{static_cast<std::uint32_t>(i)});
    }
  }
  std::sort(order.begin(), order.end());
  std::vector<NetId> nets;
  std::transform(order.begin(), order.end(), std::back_inserter(nets),
                 [](const auto& one) { return one.second; });
  return nets;
}

NumberedNets number_along(const Board& board, const NeighbourRules& rules) {
  NumberedNets numbered;
  constexpr std::uint32_t kNone = UINT32_MAX;
  std::vector<std::uint32_t> number(board.nets().size(), kNone);
  for (const NetId net : nets_along(board, rules)) {
    const auto& points = board[net].points;
    const auto count = std::count_if(points.begin(), points.end(),
                                     [&](PointId point) { return counts(board[point], rules); });
    if (count > 0) {
      number[index(net)] = static_cast<std::uint32_t>(numbered.points.size());
      numbered.points.push_back(static_cast<std::size_t>(count));
    }
  }
  for (const auto& [a, b] : neighbour_nets(board, rules)) {
    // Nets may meet at a part whose pins have no place.
    if (number[index(a)] != kNone && number[index(b)] != kNone) {
      numbered.neighbours.emplace_back(number[index(a)], number[index(b)]);
    }
  }
  return numbered;
}

}  // namespace padwalk::graph
