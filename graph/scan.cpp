// SPDX-License-Identifier: MIT
#include "graph/scan.hpp"

#include <algorithm>
#include <cassert>
#include <map>
#include <set>

#include "graph/conducting_pairs.hpp"
#include "graph/deciding.hpp"
#include "graph/isolation.hpp"
#include "graph/part_pairs.hpp"
#include "graph/rejoining.hpp"
#include "graph/scan_units.hpp"
#include "graph/sorting.hpp"
#include "graph/supplies.hpp"

namespace padwalk::graph {

namespace {

std::vector<bool> supplies_of(const Board& board, std::span<const ScanUnit> units) {
  std::vector<bool> supplies(units.size());
  for (std::size_t unit = 0; unit < units.size(); ++unit) {
    supplies[unit] = board.assembled() && units[unit].supply && !units[unit].ground;
  }
  return supplies;
}

/// Which units hold one of these points; none at all: nothing is known of any.
std::vector<bool> units_with(std::span<const ScanUnit> units, const std::vector<PointId>& points) {
  std::vector<bool> with(points.empty() ? 0 : units.size());
  const std::set<PointId> sought(points.begin(), points.end());
  for (std::size_t unit = 0; unit < with.size(); ++unit) {
    const std::vector<PointId> all = units[unit].all_points();
    with[unit] = std::any_of(all.begin(), all.end(),
                             [&](PointId point) { return sought.count(point) != 0; });
  }
  return with;
}

/// Nets that only these points stand for.
std::set<NetId> nets_of_only(const Board& board, const std::vector<PointId>& attached,
                             const std::vector<PointId>& points) {
  std::set<NetId> nets;
  for (const PointId point : points) {
    nets.insert(board[point].net);
  }
  const std::set<PointId> among(points.begin(), points.end());
  for (const PointId point : attached) {
    if (among.count(point) == 0) {
      nets.erase(board[point].net);
    }
  }
  return nets;
}

}  // namespace

/// The scan goes through its phases in order; what a later one finds may send it back.
struct Scan::State {
  enum class Phase : std::uint8_t {
    isolation,           ///< sets against sets
    supplies,            ///< of an assembled board, apart
    pairs,               ///< one pair a reading, where groups of nets conduct
    pair_confirmations,  ///< of what conducts among them
    part_pairs,          ///< nets that parts join
    sorting,             ///< continuity, and sorting what is apart
    fragments,           ///< confirmations of what is apart
    finished
  };
  State(const Board& the_board, const std::vector<PointId>& attached, ScanLimits the_limits,
        const std::vector<PointId>& fresh_points)
      : board(the_board),
        limits(the_limits),
        units(make_scan_units(board, attached, limits.short_ohm)),
        fresh(units_with(units, fresh_points)),
        conductors(units.size()),
        sorted_units(units.size()),
        pairs(board, units, conductors, {limits.isolation_ohm, limits.short_ohm, limits.max_set}),
        isolation(units, limits.isolation_ohm, limits.short_ohm, limits.block_side,
                  supplies_of(board, units), fresh),
        sorting(board, {limits.same_net_ohm, limits.good_ohm, limits.short_ohm, limits.max_set,
                        limits.quick}) {
    assert(limits.max_set > 0);
    std::vector<std::vector<PointId>> by_net(board.nets().size());
    for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
      for (std::size_t i = 0; i < units[unit].nets.size(); ++i) {
        by_net[index(units[unit].nets[i])] = units[unit].points[i];
        unit_of_net[units[unit].nets[i]] = unit;
      }
    }
    const std::set<NetId> fresh_nets = nets_of_only(board, attached, fresh_points);
    if (!fresh_points.empty() && fresh_nets.empty()) {
      by_net.assign(by_net.size(), {});  // all pairs of nets are known
    }
    part_pairs.emplace(board, find_part_groups(board, limits.short_ohm), std::move(by_net),
                       limits.short_ohm, fresh_nets);
    if (board.assembled()) {
      supplies.emplace(units, limits.isolation_ohm, limits.short_ohm, fresh);
    }
  }

  void ask(const std::vector<Isolation::Query>& queries) {
    round_of_pair.clear();
    for (const Isolation::Query& query : queries) {
      const bool provisional = !query.pair && !query.confirm;
      round.push_back(
          {query.source, query.sink, Purpose::isolation, kNoPoint, query.expected, provisional});
      round_of_pair.push_back(query.pair);
      round_confirms = query.confirm;  // which is asked alone
    }
    cut_round();
  }

  /// Fills `round` with what the phase wants; false: the phase wants nothing.
  bool fill_round() {
    round.clear();
    round_confirms = false;
    switch (phase) {
      case Phase::isolation:
        ask(isolation.next());
        break;
      case Phase::supplies:
        if (const auto query = supplies ? supplies->next() : std::nullopt) {
          ask({*query});
        }
        break;
      case Phase::pairs:
        round = pairs.next();
        break;
      case Phase::pair_confirmations:
        round_confirms = true;
        round = pairs.next_again();
        break;
      case Phase::part_pairs:
        round = part_pairs->next();
        cut_round();
        round_confirms = part_pairs->confirming();
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
        pairs.add(isolation.take_joins());
        phase = Phase::supplies;
        break;
      case Phase::supplies:
        if (supplies) {
          pairs.add(supplies->take_joins());
        }
        phase = Phase::pairs;
        break;
      case Phase::pairs:
        phase = Phase::pair_confirmations;
        break;
      case Phase::pair_confirmations:
        pairs.settle(kept);
        phase = Phase::part_pairs;
        break;
      case Phase::part_pairs:
        for (const auto& [a, b] : part_pairs->shorted()) {
          conductors.join(unit_of_net.at(a), unit_of_net.at(b));
        }
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
        if (!isolation.next().empty() || !pairs.empty()) {
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
      const auto is_fresh = [&](std::uint32_t unit) { return fresh.empty() || fresh[unit]; };
      if (members.empty() || !changed[members.front()] ||
          std::none_of(members.begin(), members.end(), is_fresh)) {
        continue;
      }
      sorted_units[label] = members.size();
      if (members.size() > 1) {
        sorting.add(label, conductors.points_of(label, units), true);
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
    for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
      for (const PointId point : units[unit].all_points()) {
        const bool alone = alone_silent.count(point) != 0;
        if (heard.count(point) == 0 && !alone) {
          continue;
        }
        for (const std::uint32_t beside : isolation.ask_point(point, unit)) {
          // What parts join to it is read again as it is.
          if (!alone || units[beside].cluster != units[unit].cluster) {
            pairs.add(unit, beside);
          }
        }
      }
    }
  }

  /// Cuts the sets of the round's readings to the tester's; remembers which belong together.
  void cut_round() {
    cut_of.clear();
    std::vector<WantedReading> whole = std::exchange(round, {});
    for (std::size_t i = 0; i < whole.size(); ++i) {
      for (WantedReading& one :
           cut_sets(whole[i].source, whole[i].sink, limits.max_set, whole[i].expected)) {
        one.provisional = whole[i].provisional;
        round.push_back(std::move(one));
        cut_of.push_back(i);
      }
    }
  }

  /// Of the readings that cut_round() cut: the part that conducts best, for each whole one.
  std::vector<Reading> join_cut(std::span<const Reading> results) const {
    std::vector<Reading> whole;
    for (std::size_t i = 0; i < results.size(); ++i) {
      if (i == 0 || cut_of[i] != cut_of[i - 1]) {
        whole.push_back(results[i]);
      } else if (results[i].ohm < whole.back().ohm) {
        whole.back() = results[i];
      }
    }
    return whole;
  }

  void record(std::span<const Reading> results) {
    assert(results.size() == round.size() && !round.empty());
    (round_confirms ? counts.confirm : counts.scan) += results.size();
    round.clear();
    switch (phase) {
      case Phase::isolation: {
        const std::vector<Reading> whole = join_cut(results);
        std::vector<double> ohms;
        for (std::size_t i = 0; i < whole.size(); ++i) {
          const Reading& reading = whole[i];
          if (round_of_pair[i] && reading.number && reading.settled &&
              reading.ohm <= limits.short_ohm) {
            kept.push_back(reading);
          }
          // A set too close to its limit is searched, and one of no ohms; its pairs are clear.
          ohms.push_back(reading.number && is_clear(reading)
                             ? reading.ohm
                             : std::min(reading.ohm, limits.isolation_ohm));
        }
        isolation.answer(ohms);
        break;
      }
      case Phase::supplies:
        supplies->answer(lowest(results));
        break;
      case Phase::pairs:
      case Phase::pair_confirmations:
        pairs.record(results);
        next_phase();
        break;
      case Phase::part_pairs:
        part_pairs->record(join_cut(results));
        break;
      case Phase::sorting:
      case Phase::fragments:
        for (Reading& reading : sorting.record(results)) {
          kept.push_back(std::move(reading));
        }
        if (phase == Phase::fragments) {
          next_phase();
        }
        break;
      case Phase::finished:
        break;
    }
  }

  const Board& board;
  ScanLimits limits;
  std::vector<ScanUnit> units;
  std::vector<bool> fresh;  ///< by unit; empty: all are
  Conductors conductors;
  std::vector<std::size_t> sorted_units;  ///< by label: its units when it was sorted
  ConductingPairs pairs;
  Isolation isolation;
  Sorting sorting;
  std::optional<Supplies> supplies;
  std::optional<PartPairs> part_pairs;
  std::map<NetId, std::uint32_t> unit_of_net;
  std::vector<std::size_t> cut_of;  ///< by reading of the round: which whole one it is of
  Phase phase = Phase::isolation;
  std::vector<WantedReading> round;
  bool round_confirms = false;
  std::vector<bool> round_of_pair;  ///< by query of the round: of two conductors alone
  bool asked_again = false;
  bool first_heard_isolated = false;
  std::set<PointId> alone_silent;  ///< before the re-seat: alone of their nets, behind parts
  std::vector<Reading> kept;
  ScanCounts counts;
};

/// What stayed since the last scan, which the new leads are read against before anything else.
struct Scan::Stayed {
  const Board& board;
  std::vector<PointId> attached;
  ScanLimits limits;
  Rejoining rejoining;
  std::size_t readings = 0;
};

Scan::Scan(const Board& board, std::vector<PointId> attached, ScanLimits limits,
           const std::vector<PointId>& fresh)
    : state_(std::make_unique<State>(board, attached, limits, fresh)) {
  if (!fresh.empty() && limits.good_ohm && !limits.quick) {
    Rejoining rejoining(board, attached, fresh, limits.good_ohm);
    stayed_ = std::make_unique<Stayed>(
        Stayed{board, std::move(attached), std::move(limits), std::move(rejoining)});
  }
}
Scan::~Scan() = default;
Scan::Scan(Scan&&) noexcept = default;
Scan& Scan::operator=(Scan&&) noexcept = default;

std::vector<WantedReading> Scan::next() {
  assert(state_->round.empty() && "the last round has no results yet");
  if (stayed_) {
    std::vector<WantedReading> round = stayed_->rejoining.next();
    if (!round.empty()) {
      return round;
    }
    scan_what_is_apart();
  }
  while (!state_->fill_round() && state_->phase != State::Phase::finished) {
    state_->next_phase();
  }
  return state_->round;
}

void Scan::scan_what_is_apart() {
  const std::vector<PointId>& apart = stayed_->rejoining.apart();
  const std::vector<Reading>& joined = stayed_->rejoining.readings();
  if (apart.empty()) {
    state_->phase = State::Phase::finished;
  } else if (!joined.empty()) {
    state_ = std::make_unique<State>(stayed_->board, stayed_->attached, stayed_->limits, apart);
  }
  state_->kept = joined;
  state_->counts.scan += stayed_->readings;
  stayed_.reset();
}

void Scan::record(std::span<const Reading> readings) {
  if (stayed_) {
    stayed_->readings += readings.size();
    stayed_->rejoining.record(readings);
  } else {
    state_->record(readings);
  }
}

std::vector<PointId> Scan::silent() const {
  const State& state = *state_;
  std::vector<PointId> silent = state.sorting.silent();
  for (const NetId net : state.part_pairs->silent()) {
    const ScanUnit& unit = state.units[state.unit_of_net.at(net)];
    const auto at = std::find(unit.nets.begin(), unit.nets.end(), net) - unit.nets.begin();
    silent.push_back(unit.points[static_cast<std::size_t>(at)].front());
  }
  std::sort(silent.begin(), silent.end());
  silent.erase(std::unique(silent.begin(), silent.end()), silent.end());
  return silent;
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
  const std::vector<NetId> nets = state.part_pairs->silent();
  for (const NetId net : nets) {
    for (const PointId point : state.units[state.unit_of_net.at(net)].all_points()) {
      if (state.board[point].net == net) {
        state.alone_silent.insert(point);
      }
    }
  }
  state.part_pairs->ask_again(nets);
  state.asked_again = true;
  state.phase = State::Phase::part_pairs;
}

const std::vector<Reading>& Scan::readings() const {
  return state_->kept;
}

NetReadings Scan::net_readings() const {
  const State& state = *state_;
  NetReadings all = state.pairs.readings();
  const PartPairs& parts = *state.part_pairs;
  all.pairs.insert(all.pairs.end(), parts.readings().begin(), parts.readings().end());
  all.one_way.insert(all.one_way.end(), parts.one_way().begin(), parts.one_way().end());
  all.unsure = parts.unsure();
  return all;
}

ScanCounts Scan::counts() const {
  return state_->counts;
}

}  // namespace padwalk::graph
