// SPDX-License-Identifier: MIT
#include "graph/evidence.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <iterator>
#include <map>
#include <set>
#include <utility>

namespace padwalk::graph {

namespace {

template <typename T>
void append(std::vector<T>& to, std::vector<T> from) {
  std::move(from.begin(), from.end(), std::back_inserter(to));
}

/// Appends what is not in it.
template <typename T>
void append_new(std::vector<T>& to, const std::vector<T>& from) {
  std::set<T> seen(to.begin(), to.end());
  std::copy_if(from.begin(), from.end(), std::back_inserter(to),
               [&](const T& one) { return seen.insert(one).second; });
}

bool speaks_before(const PairReading& a, const PairReading& b) {
  if (std::isfinite(a.ohm) != std::isfinite(b.ohm)) {
    return std::isfinite(a.ohm);
  }
  return a.settled != b.settled ? a.settled : a.uncertainty_ohm < b.uncertainty_ohm;
}

std::pair<NetId, NetId> nets_of(const PairReading& pair) {
  return {std::min(pair.a, pair.b), std::max(pair.a, pair.b)};
}

}  // namespace

void add_evidence(Measured& all, Measured one) {
  append_new(all.attached, one.attached);
  append(all.readings, std::move(one.readings));
  append_new(all.silent_believed, one.silent_believed);
  append_new(all.silent_unproven, one.silent_unproven);
  append_new(all.nets.unsure, one.nets.unsure);
  std::map<std::pair<NetId, NetId>, std::size_t> at;
  for (std::size_t i = 0; i < all.nets.pairs.size(); ++i) {
    at.emplace(nets_of(all.nets.pairs[i]), i);
  }
  for (const PairReading& pair : one.nets.pairs) {
    const auto [known, fresh] = at.emplace(nets_of(pair), all.nets.pairs.size());
    if (fresh) {
      all.nets.pairs.push_back(pair);
    } else if (speaks_before(pair, all.nets.pairs[known->second])) {
      all.nets.pairs[known->second] = pair;
    }
  }
  for (const OneWay& way : one.nets.one_way) {
    const bool known = std::any_of(
        all.nets.one_way.begin(), all.nets.one_way.end(),
        [&](const OneWay& other) { return other.from == way.from && other.to == way.to; });
    if (!known) {
      all.nets.one_way.push_back(way);
    }
  }
  all.interrupted = all.interrupted || one.interrupted;
}

void Evidence::forget(const std::vector<PointId>& points, std::size_t since) {
  const std::set<PointId> wrong(points.begin(), points.end());
  std::set<NetId> nets;
  for (const PointId point : points) {
    nets.insert(board_[point].net);
  }
  const auto is_wrong = [&](PointId point) { return wrong.count(point) != 0; };
  for (std::size_t i = since; i < spells_.size(); ++i) {
    Measured& spell = spells_[i];
    std::erase_if(spell.attached, is_wrong);
    std::erase_if(spell.silent_believed, is_wrong);
    std::erase_if(spell.silent_unproven, is_wrong);
    std::erase_if(spell.readings, [&](const Reading& reading) {
      const std::vector<PointId>& source = reading.wanted.source;
      const std::vector<PointId>& sink = reading.wanted.sink;
      return std::any_of(source.begin(), source.end(), is_wrong) ||
             std::any_of(sink.begin(), sink.end(), is_wrong) || is_wrong(reading.wanted.sense);
    });
    std::erase_if(spell.nets.pairs, [&](const PairReading& pair) {
      return nets.count(pair.a) + nets.count(pair.b) != 0;
    });
    std::erase_if(spell.nets.one_way, [&](const OneWay& way) {
      return nets.count(way.from) + nets.count(way.to) != 0;
    });
  }
}

bool Evidence::conducted(PointId point, std::size_t since, bool own_net) const {
  return std::any_of(spells_.begin() + static_cast<std::ptrdiff_t>(since), spells_.end(),
                     [&](const auto& spell) {
                       return std::any_of(spell.readings.begin(), spell.readings.end(),
                                          [&](const Reading& reading) {
                                            const auto [a, b] = two_points(reading.wanted);
                                            return (a == point || b == point) && b != kNoPoint &&
                                                   (!own_net || board_[a].net == board_[b].net) &&
                                                   reading.settled && std::isfinite(reading.ohm);
                                          });
                     });
}

std::vector<std::pair<NetId, NetId>> Evidence::never_together(
    std::span<const std::pair<NetId, NetId>> pairs) const {
  std::vector<std::vector<bool>> held;
  for (const Measured& spell : spells_) {
    held.emplace_back(board_.nets().size());
    for (const PointId point : spell.attached) {
      if (board_[point].net != kNoNet) {
        held.back()[index(board_[point].net)] = true;
      }
    }
  }
  std::vector<std::pair<NetId, NetId>> never;
  std::copy_if(pairs.begin(), pairs.end(), std::back_inserter(never), [&](const auto& pair) {
    return std::none_of(held.begin(), held.end(), [&](const std::vector<bool>& nets) {
      return nets[index(pair.first)] && nets[index(pair.second)];
    });
  });
  return never;
}

PlanGoal Evidence::left_of(const PlanGoal& goal) const {
  std::vector<std::size_t> rank(board_.points().size());
  std::vector<std::size_t> parent(rank.size());
  boost::disjoint_sets chains(rank.data(), parent.data());
  std::vector<bool> attached(rank.size());
  for (std::size_t i = 0; i < rank.size(); ++i) {
    chains.make_set(i);
  }
  for (const Measured& spell : spells_) {
    std::map<NetId, PointId> first;
    for (const PointId point : spell.attached) {
      attached[index(point)] = true;
      if (board_[point].net != kNoNet) {
        const PointId with = first.emplace(board_[point].net, point).first->second;
        chains.union_set(index(point), index(with));
      }
    }
  }
  std::map<NetId, std::map<std::size_t, PointId>> of_net;  // one point of each chain
  for (std::uint32_t i = 0; i < rank.size(); ++i) {
    if (goal.points[i]) {
      of_net[board_.points()[i].net].emplace(chains.find_set(std::size_t{i}), PointId{i});
    }
  }
  PlanGoal left;
  left.points.resize(rank.size());
  for (const auto& [net, points] : of_net) {
    const bool done = points.size() == 1 && attached[index(points.begin()->second)];
    for (const auto& [chain, point] : points) {
      left.points[index(point)] = !done;
    }
  }
  left.pairs = never_together(goal.pairs);
  return left;
}

Measured Evidence::merged() const {
  Measured all;
  for (const Measured& spell : spells_) {
    add_evidence(all, spell);
  }
  return all;
}

}  // namespace padwalk::graph
