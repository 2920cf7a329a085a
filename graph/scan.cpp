// SPDX-License-Identifier: MIT
#include "graph/scan.hpp"

#include <algorithm>
#include <cassert>
#include <map>
#include <set>

#include "graph/isolation.hpp"
#include "graph/scan_units.hpp"
#include "graph/sorting.hpp"

namespace padwalk::graph {

namespace {

/// Cuts a reading of sets into readings whose sets the tester can hold; together they meet every
/// pair of points that it would have met.
std::vector<WantedReading> cut_sets(const std::vector<PointId>& source,
                                    const std::vector<PointId>& sink, std::size_t max_set) {
  std::vector<WantedReading> readings;
  const auto cut = [&](const std::vector<PointId>& set, std::size_t from) {
    const std::size_t to = from + std::min(max_set, set.size() - from);
    return std::vector<PointId>(set.begin() + static_cast<std::ptrdiff_t>(from),
                                set.begin() + static_cast<std::ptrdiff_t>(to));
  };
  for (std::size_t i = 0; i < source.size(); i += std::min(max_set, source.size())) {
    for (std::size_t j = 0; j < sink.size(); j += std::min(max_set, sink.size())) {
      readings.push_back({cut(source, i), cut(sink, j), Purpose::isolation, kNoPoint});
    }
  }
  return readings;
}

}  // namespace

/// The scan goes through its phases in order; what a later one finds may send it back.
struct Scan::State {
  enum class Phase : std::uint8_t {
    isolation,           ///< sets against sets
    pairs,               ///< nets that parts join, one pair a reading
    pair_confirmations,  ///< of the shorts among them
    sorting,             ///< continuity, and sorting what is apart
    fragments,           ///< confirmations of what is apart
    finished
  };
  /// Two units to be read against each other.
  struct UnitPair {
    std::uint32_t a = 0;
    std::uint32_t b = 0;
    std::size_t join = SIZE_MAX;  ///< they are read because these two groups conduct
    double ohm = kOpenOhm;
  };

  State(const Board& the_board, const std::vector<PointId>& attached, ScanLimits the_limits)
      : board(the_board),
        limits(the_limits),
        units(make_scan_units(board, attached, limits.short_ohm)),
        conductors(units.size()),
        sorted_units(units.size()),
        isolation(units, limits.isolation_ohm, limits.short_ohm, limits.block_side),
        sorting(board, {limits.same_net_ohm, limits.short_ohm, limits.max_set, limits.quick}) {
    assert(limits.max_set > 0);
    std::map<std::uint32_t, std::vector<std::uint32_t>> clusters;
    for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
      clusters[units[unit].cluster].push_back(unit);
    }
    for (const auto& [cluster, members] : clusters) {
      for (std::size_t i = 0; i < members.size(); ++i) {
        for (std::size_t j = i + 1; j < members.size(); ++j) {
          pairs.push_back({members[i], members[j]});
          add_joined_by_parts(members[i], members[j]);
        }
      }
    }
  }

  void add_joined_by_parts(std::uint32_t a, std::uint32_t b) {
    for (const NetId net_a : units[a].nets) {
      for (const NetId net_b : units[b].nets) {
        joined_by_parts.emplace_back(std::min(net_a, net_b), std::max(net_a, net_b));
      }
    }
  }

  std::vector<PointId> points_of(std::uint32_t conductor) const {
    std::vector<PointId> points;
    for (const std::uint32_t unit : conductors.members(conductor)) {
      const std::vector<PointId> more = units[unit].all_points();
      points.insert(points.end(), more.begin(), more.end());
    }
    return points;
  }

  bool has_ground(std::uint32_t conductor) const {
    const std::vector<std::uint32_t>& members = conductors.members(conductor);
    return std::any_of(members.begin(), members.end(),
                       [&](std::uint32_t unit) { return units[unit].ground; });
  }

  /// Fills `round` with what the phase wants; false: the phase wants nothing.
  bool fill_round() {
    round.clear();
    round_confirms = false;
    switch (phase) {
      case Phase::isolation:
        if (const auto query = isolation.next()) {
          round = cut_sets(query->source, query->sink, limits.max_set);
          round_confirms = query->confirm;
          round_of_pair = query->pair;
        }
        break;
      case Phase::pairs:
        keep_distinct_pairs();
        read_pairs();
        break;
      case Phase::pair_confirmations:
        round_confirms = true;
        read_pairs();
        break;
      case Phase::sorting:
        round_confirms = asked_again && !first_heard_isolated;
        round = sorting.next();
        break;
      case Phase::fragments:
        round_confirms = true;
        round = sorting.next_confirmation();
        break;
      case Phase::finished:
        break;
    }
    return !round.empty();
  }

  void next_phase() {
    switch (phase) {
      case Phase::isolation:
        take_joins();
        phase = Phase::pairs;
        break;
      case Phase::pairs:
        phase = Phase::pair_confirmations;
        break;
      case Phase::pair_confirmations:
        settle_pairs();
        sort_new_conductors();
        phase = Phase::sorting;
        break;
      case Phase::sorting:
        phase = Phase::fragments;
        isolation.ask_again_if(
            [&](std::uint32_t unit) { return sorting.in_fragments(conductors[unit]); });
        if (asked_again && !first_heard_isolated) {
          first_heard_isolated = true;
          isolate_first_heard();
        }
        if (isolation.next() || !pairs.empty()) {
          phase = Phase::isolation;
        }
        break;
      case Phase::fragments:
        phase = Phase::finished;
        break;
      case Phase::finished:
        break;
    }
  }

  /// Groups that conduct: one conductor where each is one and they are shorted; else it takes
  /// readings of pairs to tell which of their nets it is.
  void take_joins() {
    for (const Isolation::Join& join : isolation.take_joins()) {
      std::set<std::uint32_t> a;
      std::set<std::uint32_t> b;
      for (const std::uint32_t unit : join.a) {
        a.insert(conductors[unit]);
      }
      for (const std::uint32_t unit : join.b) {
        b.insert(conductors[unit]);
      }
      if (a.size() == 1 && b.size() == 1) {
        if (join.ohm <= limits.short_ohm) {
          conductors.join(*a.begin(), *b.begin());
        }
        continue;
      }
      for (const std::uint32_t one : a) {
        for (const std::uint32_t other : b) {
          pairs.push_back({one, other, joins});
        }
      }
      ++joins;
    }
  }

  /// Pairs of conductors, each once.
  void keep_distinct_pairs() {
    std::set<std::pair<std::uint32_t, std::uint32_t>> seen;
    std::erase_if(pairs, [&](const UnitPair& pair) {
      const std::uint32_t a = conductors[pair.a];
      const std::uint32_t b = conductors[pair.b];
      return a == b || !seen.emplace(std::min(a, b), std::max(a, b)).second;
    });
  }

  void read_pairs() {
    pair_of_reading.clear();
    for (std::size_t i = 0; i < pairs.size(); ++i) {
      UnitPair& pair = pairs[i];
      if (phase == Phase::pair_confirmations && pair.ohm > limits.short_ohm) {
        continue;
      }
      std::uint32_t source = conductors[pair.a];
      std::uint32_t sink = conductors[pair.b];
      if (has_ground(source)) {
        std::swap(source, sink);
      }
      pair.ohm = kOpenOhm;
      for (WantedReading& one : cut_sets(points_of(source), points_of(sink), limits.max_set)) {
        round.push_back(std::move(one));
        pair_of_reading.push_back(i);
      }
    }
  }

  /// Shorts among the pairs make conductors; what else conducts between two groups goes by way of
  /// their parts.
  void settle_pairs() {
    std::set<std::size_t> explained;
    for (const UnitPair& pair : pairs) {
      if (pair.ohm <= limits.short_ohm) {
        conductors.join(pair.a, pair.b);
        explained.insert(pair.join);
      }
    }
    for (const UnitPair& pair : pairs) {
      if (pair.join != SIZE_MAX && explained.count(pair.join) != 0 && pair.ohm > limits.short_ohm) {
        for (const std::uint32_t a : conductors.members(conductors[pair.a])) {
          for (const std::uint32_t b : conductors.members(conductors[pair.b])) {
            if (units[a].cluster != units[b].cluster) {  // the others are listed from the start
              add_joined_by_parts(a, b);
            }
          }
        }
      }
    }
    pairs.clear();
  }

  /// (Re)starts the sorting of every conductor that has more units than when it was last sorted.
  void sort_new_conductors() {
    std::vector<bool> changed(conductors.size());
    for (std::uint32_t label = 0; label < conductors.size(); ++label) {
      for (const std::uint32_t unit : conductors.members(label)) {
        changed[unit] = sorted_units[label] != conductors.members(label).size();
      }
    }
    sorting.forget([&](std::uint32_t unit) { return changed[unit]; });
    for (std::uint32_t label = 0; label < conductors.size(); ++label) {
      const std::vector<std::uint32_t>& members = conductors.members(label);
      if (members.empty() || !changed[members.front()]) {
        continue;
      }
      sorted_units[label] = members.size();
      if (members.size() > 1) {
        sorting.add(label, points_of(label), true);
        continue;
      }
      for (const std::vector<PointId>& of_net : units[label].points) {
        if (of_net.size() > 1) {
          sorting.add(label, of_net, false);
        }
      }
    }
  }

  /// What no lead had touched before the re-seat may conduct to a foreign net.
  void isolate_first_heard() {
    const std::vector<PointId> first = sorting.first_heard();
    const std::set<PointId> heard(first.begin(), first.end());
    for (std::uint32_t unit = 0; unit < units.size() && !heard.empty(); ++unit) {
      for (const PointId point : units[unit].all_points()) {
        if (heard.count(point) != 0) {
          for (const std::uint32_t beside : isolation.ask_point(point, unit)) {
            pairs.push_back({unit, beside});
          }
        }
      }
    }
  }

  void record(std::span<const Reading> results) {
    assert(results.size() == round.size() && !round.empty());
    (round_confirms ? counts.confirm : counts.scan) += results.size();
    if (phase == Phase::isolation) {
      double lowest = kOpenOhm;
      for (const Reading& reading : results) {
        lowest = std::min(lowest, reading.ohm);
        if (round_of_pair && (round_confirms || reading.ohm <= limits.isolation_ohm)) {
          kept.push_back(reading);
        }
      }
      isolation.answer(lowest);
    } else if (phase == Phase::sorting || phase == Phase::fragments) {
      for (Reading& reading : sorting.record(results)) {
        kept.push_back(std::move(reading));
      }
    } else {
      for (std::size_t i = 0; i < results.size(); ++i) {
        double& ohm = pairs[pair_of_reading[i]].ohm;
        ohm = std::min(ohm, results[i].ohm);
        if (results[i].ohm <= limits.isolation_ohm) {
          kept.push_back(results[i]);
        }
      }
    }
    round.clear();
    if (phase == Phase::pairs || phase == Phase::pair_confirmations || phase == Phase::fragments) {
      next_phase();
    }
  }

  const Board& board;
  ScanLimits limits;
  std::vector<ScanUnit> units;
  Conductors conductors;
  std::vector<std::size_t> sorted_units;  ///< by label: its units when it was sorted
  Isolation isolation;
  Sorting sorting;
  std::vector<UnitPair> pairs;
  std::vector<std::size_t> pair_of_reading;
  std::size_t joins = 0;
  Phase phase = Phase::isolation;
  std::vector<WantedReading> round;
  bool round_confirms = false;
  bool round_of_pair = false;  ///< isolation: of two conductors alone
  bool asked_again = false;
  bool first_heard_isolated = false;
  std::vector<Reading> kept;
  std::vector<std::pair<NetId, NetId>> joined_by_parts;
  ScanCounts counts;
};

Scan::Scan(const Board& board, std::vector<PointId> attached, ScanLimits limits)
    : state_(std::make_unique<State>(board, attached, limits)) {}
Scan::~Scan() = default;
Scan::Scan(Scan&&) noexcept = default;
Scan& Scan::operator=(Scan&&) noexcept = default;

std::vector<WantedReading> Scan::next() {
  assert(state_->round.empty() && "the last round has no results yet");
  while (!state_->fill_round() && state_->phase != State::Phase::finished) {
    state_->next_phase();
  }
  return state_->round;
}

void Scan::record(std::span<const Reading> readings) {
  state_->record(readings);
}

std::vector<PointId> Scan::silent() const {
  return state_->sorting.silent();
}

void Scan::ask_again() {
  State& state = *state_;
  assert(state.phase == State::Phase::finished && !state.asked_again);
  const std::vector<PointId> silent = state.sorting.silent();
  const auto was_silent = [&](PointId point) {
    return std::binary_search(silent.begin(), silent.end(), point);
  };
  // What was read through leads that had no contact says nothing.
  std::erase_if(state.kept, [&](const Reading& reading) {
    return reading.wanted.purpose != Purpose::isolation &&
           (was_silent(reading.wanted.source.front()) ||
            was_silent(reading.wanted.sink.empty() ? reading.wanted.sense
                                                   : reading.wanted.sink.front()));
  });
  state.sorting.sort_silent_again();
  state.asked_again = true;
  state.phase = State::Phase::sorting;
}

const std::vector<Reading>& Scan::readings() const {
  return state_->kept;
}

const std::vector<std::pair<NetId, NetId>>& Scan::joined_by_parts() const {
  return state_->joined_by_parts;
}

ScanCounts Scan::counts() const {
  return state_->counts;
}

}  // namespace padwalk::graph
