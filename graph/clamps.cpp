// SPDX-License-Identifier: MIT
#include "graph/clamps.hpp"

#include <algorithm>
#include <cmath>

#include "graph/part_ohms.hpp"

namespace padwalk::graph {

namespace {

/// Most that one clamp leaks backwards, whatever the voltage: 1 uA and half as much for spread
/// (computed from the model of a small Schottky diode at 27 C).
constexpr double kMostAmpere = 1.5e-6;
/// Below this the current falls with the voltage: kT/q at 27 C, with the diode's 1.05.
constexpr double kKneeVolt = 0.0272;

double by_backward(std::size_t clamps, double across_volt) {
  return static_cast<double>(clamps) * kMostAmpere / std::max(std::abs(across_volt), kKneeVolt);
}

}  // namespace

void Clamps::Joined::join(std::uint32_t a, std::uint32_t b) {
  const std::size_t from = root(a);
  const std::size_t to = root(b);
  if (from != to) {
    const std::size_t sum = count_[from] + count_[to];
    sets_.link(from, to);
    count_[root(a)] = sum;
  }
}

Clamps::Clamps(const Board& board, const PartGroups& groups)
    : board_(board),
      cluster_(groups.cluster),
      by_shorts_(board.nets().size()),
      by_leaks_(board.nets().size()) {
  if (!board.assembled()) {
    return;
  }
  for (const Point& point : board.points()) {
    if (point.part != kNoPart && point.net != kNoNet) {
      const Part& part = board[point.part];
      const bool has = part.kind == PartKind::ic && part.chip != ChipState::pulled &&
                       board[point.net].role == NetRole::signal && has_schottky_clamps(part.type);
      on_board_ = on_board_ || has;
      by_shorts_.add_clamps(cluster_[index(point.net)], has);
      by_leaks_.add_clamps(cluster_[index(point.net)], has);
    }
  }
}

void Clamps::add_short(NetId a, NetId b) {
  by_shorts_.join(cluster_[index(a)], cluster_[index(b)]);
  by_leaks_.join(cluster_[index(a)], cluster_[index(b)]);
  if (board_[a].role != NetRole::signal || board_[b].role != NetRole::signal) {
    add_fault(a, b, at_shorts_);
  }
}

void Clamps::add_leak(NetId a, NetId b) {
  by_leaks_.join(cluster_[index(a)], cluster_[index(b)]);
}

void Clamps::add_leak_into_ground(NetId a, NetId b) {
  add_fault(a, b, at_leaks_);
}

/// The clamps need not be on these nets: what is joined to them brings the current.
void Clamps::add_fault(NetId a, NetId b, std::set<std::uint32_t>& clusters) {
  if (on_board_) {
    clusters.insert({cluster_[index(a)], cluster_[index(b)]});
    at_fault_.insert({a, b});
  }
}

/// Of one net alone: out of it backwards into ground.
double Clamps::backward_siemens(NetId net, double across_volt) const {
  return by_backward(by_leaks_.count(cluster_[index(net)]), across_volt);
}

/// Out of one net backwards into ground, and forwards into the other, which adds nothing.
double Clamps::backward_siemens(NetId a, NetId b, double across_volt) const {
  const std::uint32_t one = cluster_[index(a)];
  const std::uint32_t other = cluster_[index(b)];
  // Of two nets that leak to each other, the leak itself is in question.
  const Joined& joined = by_leaks_.together(one, other) ? by_shorts_ : by_leaks_;
  return by_backward(std::max(joined.count(one), joined.count(other)), across_volt);
}

bool Clamps::forward_way(NetId net) const {
  const std::uint32_t cluster = cluster_[index(net)];
  return board_[net].role != NetRole::ground &&
         at_shorts_.count(cluster) + at_leaks_.count(cluster) > 0;
}

bool Clamps::forward_way(NetId a, NetId b) const {
  const std::uint32_t one = cluster_[index(a)];
  const std::uint32_t other = cluster_[index(b)];
  return at_shorts_.count(one) + at_shorts_.count(other) > 0 ||
         (one == other && at_leaks_.count(one) > 0);
}

}  // namespace padwalk::graph
