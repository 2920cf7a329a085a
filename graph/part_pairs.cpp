// SPDX-License-Identifier: MIT
#include "graph/part_pairs.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>

#include "graph/conducting_pairs.hpp"
#include "graph/part_groups.hpp"

namespace padwalk::graph {

namespace {

/// What little is left beside the parts: a quarter of what a leak worth telling conducts.
constexpr double kLittleSiemens = 25e-6;

/// A signal is never driven above its supply nor below its ground: supplies are driven, grounds
/// sunk.
int rank(NetRole role) {
  return role == NetRole::supply ? 0 : role == NetRole::signal ? 1 : 2;
}

}  // namespace

PartPairs::PartPairs(const Board& board, const PartGroups& groups,
                     std::vector<std::vector<PointId>> by_net, double short_ohm,
                     const std::set<NetId>& fresh)
    : board_(board),
      by_net_(std::move(by_net)),
      ohms_(board),
      clamps_(board, groups),
      short_ohm_(short_ohm) {
  std::map<std::uint32_t, std::vector<NetId>> clusters;
  for (std::size_t net = 0; net < by_net_.size(); ++net) {
    if (!by_net_[net].empty()) {
      const NetId id{static_cast<std::uint32_t>(net)};
      clusters[groups.cluster[net]].push_back(id);
      if (board[id].role == NetRole::ground) {
        grounds_.push_back(id);
      }
    }
  }
  for (auto& [cluster, nets] : clusters) {
    clusters_.push_back(std::move(nets));
  }
  list_pairs([&](NetId a, NetId b) {
    return fresh.empty() || fresh.count(a) != 0 || fresh.count(b) != 0;
  });
}

void PartPairs::list_pairs(const std::function<bool(NetId a, NetId b)>& wanted) {
  for (const std::vector<NetId>& nets : clusters_) {
    for (std::size_t i = 0; i < nets.size(); ++i) {
      for (std::size_t j = i + 1; j < nets.size(); ++j) {
        if (wanted(nets[i], nets[j])) {
          add_pair(nets[i], nets[j]);
        }
      }
    }
  }
}

void PartPairs::add_pair(NetId a, NetId b) {
  Pair pair{a, b, {}, {}, {}};
  if (rank(board_[a].role) > rank(board_[b].role)) {
    std::swap(pair.a, pair.b);
  }
  pair.expected = ohms_.between({&pair.a, 1}, {&pair.b, 1});
  if (!pair.expected.sure) {
    unsure_.emplace_back(a, b);
  }
  pairs_.push_back(std::move(pair));
}

/// To tell clamps from what is off one has to know what the driven net has to the grounds.
void PartPairs::add_grounds_of_off() {
  std::set<std::pair<NetId, NetId>> listed;
  for (const Pair& pair : pairs_) {
    listed.emplace(pair.a, pair.b);
  }
  for (std::size_t i = 0; i < read_; ++i) {
    const NetId net = pairs_[i].a;
    if (!off(pairs_[i]) || board_[net].role == NetRole::ground) {
      continue;
    }
    for (const std::vector<NetId>& nets : clusters_) {
      if (std::find(nets.begin(), nets.end(), net) == nets.end()) {
        continue;
      }
      for (const NetId ground : nets) {
        if (board_[ground].role == NetRole::ground && listed.emplace(net, ground).second) {
          add_pair(net, ground);
        }
      }
    }
  }
}

std::vector<NetId> PartPairs::silent() const {
  std::vector<int> state(by_net_.size());  // 1: something is expected, 2: something conducted
  for (const PairReading& reading : readings_) {
    const ExpectedOhm expected = ohms_.between({&reading.a, 1}, {&reading.b, 1});
    const bool conducts = reading.uncertainty_ohm < reading.ohm / 2 && std::isfinite(reading.ohm);
    for (const NetId net : {reading.a, reading.b}) {
      int& now = state[index(net)];
      now = conducts ? 2 : now == 0 && std::isfinite(expected.ohm) ? 1 : now;
    }
  }
  std::vector<NetId> silent;
  for (std::size_t net = 0; net < state.size(); ++net) {
    if (state[net] == 1 && by_net_[net].size() == 1) {
      silent.push_back(NetId{static_cast<std::uint32_t>(net)});
    }
  }
  return silent;
}

void PartPairs::ask_again(const std::vector<NetId>& nets) {
  const auto asked = [&](NetId a, NetId b) {
    return std::any_of(nets.begin(), nets.end(), [&](NetId net) { return net == a || net == b; });
  };
  const auto of_pair = [&](const std::pair<NetId, NetId>& pair) {
    return asked(pair.first, pair.second);
  };
  std::erase_if(readings_, [&](const PairReading& one) { return asked(one.a, one.b); });
  std::erase_if(one_way_, [&](const OneWay& one) { return asked(one.from, one.to); });
  std::erase_if(unsure_, of_pair);
  std::erase_if(shorted_, of_pair);
  step_ = 0;
  read_ = 0;
  list_pairs(asked);
}

/// A pair that is not sure should at least be no short, if anything is to be there at all.
Band PartPairs::band(const ExpectedOhm& expected) const {
  if (!expected.sure) {
    return {std::min(short_ohm_, expected.ohm / 2), kOpenOhm};
  }
  return {expected.low_ohm, expected.high_ohm};
}

bool PartPairs::both_signals(const Pair& pair) const {
  return board_[pair.a].role == NetRole::signal && board_[pair.b].role == NetRole::signal;
}

/// Off by more than the reading's own error.
bool PartPairs::off(const Pair& pair) const {
  const Band good = band(pair.expected);
  const Reading& reading = pair.first;
  const double slack = 1.5 * reading.uncertainty_ohm;
  // Above, it is the current that has an error: of next to none, many ohms.
  const double most_siemens =
      std::isfinite(reading.ohm) ? (1 + slack / reading.ohm) / reading.ohm : 0;
  return reading.number && (reading.ohm + slack < good.at_least_ohm ||
                            (most_siemens < 1 / good.at_most_ohm && reading.settled));
}

std::vector<WantedReading> PartPairs::next() {
  round_.clear();
  std::vector<WantedReading> round;
  if (pairs_.empty()) {
    return round;
  }
  step_ = read_ < pairs_.size() ? 0 : 1;
  const auto points = [&](NetId net) { return by_net_[index(net)]; };
  for (std::size_t i = step_ == 0 ? read_ : 0; i < pairs_.size(); ++i) {
    const Pair& pair = pairs_[i];
    if (step_ == 0) {
      // Where the file does not say what it should be, the number itself is wanted, at rest.
      round.push_back({points(pair.a), points(pair.b), Purpose::isolation, kNoPoint,
                       pair.expected.sure ? band(pair.expected) : Band{}, true});
      round_.push_back(i);
      continue;
    }
    if (!off(pair)) {
      continue;
    }
    const bool turned = both_signals(pair);
    round.push_back({points(turned ? pair.b : pair.a),
                     points(turned ? pair.a : pair.b),
                     Purpose::isolation,
                     kNoPoint,
                     {},
                     true});
    round_.push_back(i);
    if (board_[pair.b].role == NetRole::signal && !grounds_.empty()) {
      const std::vector<NetId> sunk = [&] {
        std::vector<NetId> nets = grounds_;
        nets.push_back(pair.b);
        return nets;
      }();
      WantedReading clamped{points(pair.a),
                            {},
                            Purpose::isolation,
                            kNoPoint,
                            band(ohms_.between({&pair.a, 1}, sunk)),
                            true};
      for (const NetId net : sunk) {
        clamped.sink.insert(clamped.sink.end(), by_net_[index(net)].begin(),
                            by_net_[index(net)].end());
      }
      round.push_back(std::move(clamped));
      round_.push_back(i);
    }
  }
  if (step_ == 1 && round.empty()) {
    for (const Pair& pair : pairs_) {
      settle(pair);
    }
    pairs_.clear();
  }
  return round;
}

void PartPairs::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  for (std::size_t k = 0; k < readings.size(); ++k) {
    Pair& pair = pairs_[round_[k]];
    if (step_ == 0) {
      pair.first = readings[k];
    } else {
      pair.again.push_back(readings[k]);
    }
  }
  if (step_ == 1) {
    for (const Pair& pair : pairs_) {
      settle(pair);
    }
    pairs_.clear();
  } else {
    read_ = pairs_.size();
    add_grounds_of_off();
  }
}

/// Sunk with the grounds, a pair conducts what it does without clamps, and what the driven net has
/// to the grounds by itself: that, and how much of it is beyond its parts. Units: siemens.
PartPairs::ToGrounds PartPairs::to_grounds(NetId net) const {
  ToGrounds sum;
  for (const Pair& pair : pairs_) {
    if (pair.a == net && board_[pair.b].role == NetRole::ground && pair.first.number) {
      sum.all += 1 / pair.first.ohm;
      sum.beyond_parts += std::max(0.0, 1 / pair.first.ohm - 1 / pair.expected.low_ohm);
    }
  }
  return sum;
}

/// How much of a reading may flow through clamps, by way of the grounds; `sunk`: the pair read with
/// the grounds sunk, where it was. Units: siemens.
double PartPairs::through_clamps(const Pair& pair, const Reading& read, const Reading* sunk) const {
  if (!below_parts(pair, read)) {
    return 0;
  }
  if (!pair.expected.sure) {
    return 1 / read.ohm;  // no short, and more is not known
  }
  return sunk == nullptr ? 0
                         : std::clamp(1 / read.ohm - (1 / sunk->ohm - to_grounds(pair.a).all), 0.0,
                                      1 / read.ohm);
}

bool PartPairs::below_parts(const Pair& pair, const Reading& read) const {
  return read.ohm > short_ohm_ && read.ohm < pair.expected.low_ohm;
}

void PartPairs::settle(const Pair& pair) {
  const Reading* read = &pair.first;
  const bool clamped = clamps_.any(pair.a) || clamps_.any(pair.b);
  const Reading* sunk =
      clamped && pair.again.size() > 1 && pair.again[1].number ? &pair.again[1] : nullptr;
  if (!pair.again.empty()) {
    const Reading& turned = pair.again.front();
    if (turned.number && may_be(turned) > may_be(*read)) {
      if (both_signals(pair) && conducts_one_way(*read, turned)) {
        one_way_.push_back({pair.a, pair.b, read->ohm});
      }
      read = &turned;
    } else if (turned.number && both_signals(pair) && conducts_one_way(*read, turned)) {
      one_way_.push_back({pair.b, pair.a, turned.ohm});
    }
    // With ground held, its clamps conduct no more: little is left beside the parts.
    if (sunk != nullptr && below_parts(pair, *read) &&
        1 / sunk->ohm - 1 / sunk->wanted.expected.at_least_ohm - to_grounds(pair.a).beyond_parts <
            kLittleSiemens + clamps_.backward_siemens(pair.a, pair.b, sunk->across_volt)) {
      return;
    }
  }
  if (!read->number) {
    return;
  }
  readings_.push_back({pair.a, pair.b, read->ohm, read->uncertainty_ohm, read->volt, read->settled,
                       through_clamps(pair, *read, sunk)});
  readings_.back().across_volt = read->across_volt;
  if (read->settled && read->ohm <= short_ohm_ && band(pair.expected).at_least_ohm > read->ohm) {
    shorted_.emplace_back(std::min(pair.a, pair.b), std::max(pair.a, pair.b));
  }
}

}  // namespace padwalk::graph
