// SPDX-License-Identifier: MIT
#include "graph/conducting_pairs.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <set>

namespace padwalk::graph {

namespace {

constexpr double kOneWayRatio = 1.3;

}  // namespace

/// Cuts a reading of sets into readings whose sets the tester can hold; together they meet every
/// pair of points that it would have met.
std::vector<WantedReading> cut_sets(const std::vector<PointId>& source,
                                    const std::vector<PointId>& sink, std::size_t max_set,
                                    Band expected) {
  std::vector<WantedReading> readings;
  const auto cut = [&](const std::vector<PointId>& set, std::size_t from) {
    const std::size_t to = from + std::min(max_set, set.size() - from);
    return std::vector<PointId>(set.begin() + static_cast<std::ptrdiff_t>(from),
                                set.begin() + static_cast<std::ptrdiff_t>(to));
  };
  for (std::size_t i = 0; i < source.size(); i += std::min(max_set, source.size())) {
    for (std::size_t j = 0; j < sink.size(); j += std::min(max_set, sink.size())) {
      readings.push_back({cut(source, i), cut(sink, j), Purpose::isolation, kNoPoint, expected});
    }
  }
  return readings;
}

/// Of several readings that together stand for one, the one that conducts best.
const Reading& lowest(std::span<const Reading> readings) {
  return *std::min_element(readings.begin(), readings.end(),
                           [](const Reading& a, const Reading& b) { return a.ohm < b.ohm; });
}

double may_be(const Reading& reading) {
  return reading.ohm + 1.5 * reading.uncertainty_ohm;
}

bool conducts_one_way(const Reading& a, const Reading& b) {
  const double low = std::min(a.ohm, b.ohm);
  const double high = std::max(a.ohm, b.ohm);
  return high > kOneWayRatio * low &&
         (!std::isfinite(high) ||
          high - low > 1.5 * std::hypot(a.uncertainty_ohm, b.uncertainty_ohm));
}

void ConductingPairs::add(const std::vector<Isolation::Join>& joins) {
  for (const Isolation::Join& join : joins) {
    std::set<std::uint32_t> a;
    std::set<std::uint32_t> b;
    for (const std::uint32_t unit : join.a) {
      a.insert(conductors_[unit]);
    }
    for (const std::uint32_t unit : join.b) {
      b.insert(conductors_[unit]);
    }
    if (a.size() == 1 && b.size() == 1 && join.ohm <= limits_.short_ohm) {
      conductors_.join(*a.begin(), *b.begin());
      continue;
    }
    for (const std::uint32_t one : a) {
      for (const std::uint32_t other : b) {
        add(one, other);
      }
    }
  }
}

/// Supplies are driven, grounds are sunk, signals go both ways.
int ConductingPairs::rank(std::uint32_t conductor) const {
  int rank = 1;
  for (const std::uint32_t unit : conductors_.members(conductor)) {
    rank = units_[unit].ground ? 2 : units_[unit].supply && rank == 1 ? 0 : rank;
  }
  return board_.assembled() || rank == 2 ? rank : 1;
}

void ConductingPairs::ask(std::size_t pair, bool turned, std::vector<WantedReading>& round) {
  std::uint32_t source = conductors_[pairs_[pair].a];
  std::uint32_t sink = conductors_[pairs_[pair].b];
  const int order = rank(source) - rank(sink);
  if (order > 0 || (turned && order == 0 && rank(source) == 1)) {
    std::swap(source, sink);
  }
  for (WantedReading& one :
       cut_sets(conductors_.points_of(source, units_), conductors_.points_of(sink, units_),
                limits_.max_set, {limits_.isolation_ohm, kOpenOhm})) {
    round.push_back(std::move(one));
    round_.push_back({pair, false});
  }
}

void ConductingPairs::ask_by_net(std::size_t pair, std::vector<WantedReading>& round) {
  const ScanUnit* source = &units_[pairs_[pair].a];
  const ScanUnit* sink = &units_[pairs_[pair].b];
  if (source->nets.size() * sink->nets.size() < 2) {
    return;
  }
  if (rank(conductors_[pairs_[pair].a]) > rank(conductors_[pairs_[pair].b])) {
    std::swap(source, sink);
  }
  for (const std::vector<PointId>& from : source->points) {
    for (const std::vector<PointId>& to : sink->points) {
      for (WantedReading& one :
           cut_sets(from, to, limits_.max_set, {limits_.isolation_ohm, kOpenOhm})) {
        round.push_back(std::move(one));
        round_.push_back({pair, true});
      }
    }
  }
}

std::vector<WantedReading> ConductingPairs::next() {
  std::set<std::pair<std::uint32_t, std::uint32_t>> seen;
  std::erase_if(pairs_, [&](const Pair& pair) {
    const std::uint32_t a = conductors_[pair.a];
    const std::uint32_t b = conductors_[pair.b];
    return a == b || !seen.emplace(std::min(a, b), std::max(a, b)).second;
  });
  round_.clear();
  again_ = false;
  std::vector<WantedReading> round;
  for (std::size_t i = 0; i < pairs_.size(); ++i) {
    ask(i, false, round);
  }
  return round;
}

std::vector<WantedReading> ConductingPairs::next_again() {
  round_.clear();
  again_ = true;
  std::vector<WantedReading> round;
  for (std::size_t i = 0; i < pairs_.size(); ++i) {
    const Reading& first = lowest(pairs_[i].first);
    if (!first.number) {
      ask(i, false, round);
    } else if (first.ohm <= limits_.isolation_ohm) {
      ask(i, first.ohm > limits_.short_ohm, round);
      if (first.ohm > limits_.short_ohm) {
        ask_by_net(i, round);
      }
    }
  }
  return round;
}

void ConductingPairs::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const auto& [number, by_net] = round_[i];
    Pair& pair = pairs_[number];
    (by_net ? pair.by_net : again_ ? pair.again : pair.first).push_back(readings[i]);
  }
}

void ConductingPairs::settle(std::vector<Reading>& kept) {
  for (const Pair& pair : pairs_) {
    if (pair.again.empty()) {
      continue;
    }
    const Reading& first = lowest(pair.first);
    const Reading& again = lowest(pair.again);
    if (first.number && first.ohm > limits_.short_ohm) {
      settle_leak(pair, kept);
      continue;
    }
    kept.push_back(first);
    if (!first.number && again.number && again.ohm > limits_.short_ohm) {
      continue;  // that is no second reading of a leak
    }
    kept.push_back(again);
    if (again.ohm <= limits_.short_ohm && again.settled) {
      conductors_.join(pair.a, pair.b);
    }
  }
  pairs_.clear();
}

/// The reading of more ohms is believed: what conducts one way only is no leak.
void ConductingPairs::settle_leak(const Pair& pair, std::vector<Reading>& kept) {
  const Reading& first = lowest(pair.first);
  const Reading& again = lowest(pair.again);
  const Reading& believed = may_be(again) > may_be(first) ? again : first;
  const auto net_of = [&](std::uint32_t unit) {
    return units_[unit].nets.empty() ? kNoNet : units_[unit].nets.front();
  };
  NetId a = net_of(pair.a);
  NetId b = net_of(pair.b);
  if (!pair.by_net.empty()) {
    const Reading& best = lowest(pair.by_net);
    const Reading& usual = pair.by_net.front();
    // Tied as they should be, all nets of a tie read alike.
    if (usual.ohm > kOneWayRatio * best.ohm) {
      const NetId source = board_[best.wanted.source.front()].net;
      const NetId sink = board_[best.wanted.sink.front()].net;
      const auto& of_a = units_[pair.a].nets;
      const bool in_order = std::find(of_a.begin(), of_a.end(), source) != of_a.end();
      a = in_order ? source : sink;
      b = in_order ? sink : source;
    }
  }
  const bool nets = a != kNoNet && b != kNoNet;
  if (nets && first.wanted.source != again.wanted.source && conducts_one_way(first, again)) {
    const auto& of_a = units_[pair.a].nets;
    const bool a_driven =
        std::find(of_a.begin(), of_a.end(), board_[first.wanted.source.front()].net) != of_a.end();
    const bool forward = (first.ohm < again.ohm) == a_driven;
    readings_.one_way.push_back({forward ? a : b, forward ? b : a, std::min(first.ohm, again.ohm)});
  }
  if (believed.ohm > limits_.isolation_ohm) {
    return;
  }
  if (nets) {
    readings_.pairs.push_back(
        {a, b, believed.ohm, believed.uncertainty_ohm, believed.volt, believed.settled});
    readings_.pairs.back().across_volt = believed.across_volt;
  } else {
    kept.push_back(believed);
  }
}

}  // namespace padwalk::graph
