// SPDX-License-Identifier: MIT
#include "graph/slip_matching.hpp"

#include <algorithm>
#include <set>

namespace padwalk::graph {

namespace {

/// Points first; then nets of known way, larger conductors, nets further up in the file.
std::int64_t slip_weight(const Board& now, std::size_t net, std::size_t points,
                         std::size_t of_conductor) {
  constexpr std::int64_t kPoint = 1'000'000'000;
  const bool route = now.nets()[net].has_route;
  const auto place = static_cast<std::int64_t>(std::min<std::size_t>(net, 9999));
  return static_cast<std::int64_t>(points) * kPoint + (route ? kPoint / 2 : 0) +
         static_cast<std::int64_t>(std::min<std::size_t>(of_conductor, 9999)) * 10'000 +
         (9999 - place);
}

}  // namespace

SlipMatching::SlipMatching(const Board& now,
                           const std::vector<std::vector<std::string>>& conductors,
                           const std::vector<std::size_t>& from) {
  std::map<std::size_t, std::map<std::size_t, std::vector<PointId>>> by_net;
  std::map<std::size_t, std::map<std::size_t, std::vector<PointId>>> by_conductor;
  for (std::size_t c = 0; c < conductors.size(); ++c) {
    for (const std::string& name : conductors[c]) {
      if (const auto point = now.find_point(name)) {
        const NetId net = now[*point].net;
        const std::size_t n = net == kNoNet || !now[net].listed ? kNone : index(net);
        by_net[n][c].push_back(*point);
        by_conductor[c][n].push_back(*point);
      }
    }
  }
  std::set<std::size_t> seen;
  std::vector<std::size_t> todo = from;
  while (!todo.empty()) {
    const std::size_t c = todo.back();
    todo.pop_back();
    if (!seen.insert(c).second) {
      continue;
    }
    std::size_t size = 0;
    for (const auto& [n, points] : by_conductor[c]) {
      size += points.size();
    }
    for (const auto& [n, points] : by_conductor[c]) {
      cells_.push_back({n, c, points});
      if (n != kNone) {
        weights_.push_back(slip_weight(now, n, points.size(), size));
        for (const auto& [other, unused] : by_net[n]) {
          todo.push_back(other);
        }
      } else {
        weights_.push_back(0);
      }
    }
  }
  while (augment()) {
  }
}

/// The path of largest gain from a net without a conductor to a conductor without a net. False:
/// none gains.
bool SlipMatching::augment() {
  std::map<std::size_t, std::int64_t> net_gain;
  std::map<std::size_t, std::int64_t> conductor_gain;
  std::map<std::size_t, std::size_t> cell_to;  // by conductor: the cell that led there
  for (const Cell& cell : cells_) {
    if (cell.net != kNone && home_of_net(cell.net) == kNone) {
      net_gain[cell.net] = 0;
    }
  }
  for (bool changed = true; changed;) {
    changed = false;
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      const Cell& cell = cells_[i];
      const auto from = net_gain.find(cell.net);
      if (cell.net == kNone || from == net_gain.end() || home_of_net(cell.net) == cell.conductor) {
        continue;
      }
      const std::int64_t gain = from->second + weights_[i];
      const auto there = conductor_gain.find(cell.conductor);
      if (there != conductor_gain.end() && there->second >= gain) {
        continue;
      }
      conductor_gain[cell.conductor] = gain;
      cell_to[cell.conductor] = i;
      changed = true;
      if (const std::size_t net = home_of_conductor(cell.conductor); net != kNone) {
        net_gain[net] = gain - weight_between(net, cell.conductor);
      }
    }
  }
  std::size_t best = kNone;
  for (const auto& [c, gain] : conductor_gain) {
    if (home_of_conductor(c) == kNone && gain > 0 &&
        (best == kNone || gain > conductor_gain[best])) {
      best = c;
    }
  }
  for (std::size_t c = best; c != kNone;) {
    const std::size_t net = cells_[cell_to[c]].net;
    const std::size_t next = home_of_net(net);
    net_of_[c] = net;
    conductor_of_[net] = c;
    c = next;
  }
  return best != kNone;
}

std::int64_t SlipMatching::weight_between(std::size_t net, std::size_t c) const {
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    if (cells_[i].net == net && cells_[i].conductor == c) {
      return weights_[i];
    }
  }
  return 0;
}

}  // namespace padwalk::graph
