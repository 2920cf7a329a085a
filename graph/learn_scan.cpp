// SPDX-License-Identifier: MIT
#include "graph/learn_scan.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "graph/conducting_pairs.hpp"
#include "graph/deciding.hpp"

namespace padwalk::graph {

LearnScan::LearnScan(std::vector<std::vector<PointId>> known, std::vector<PointId> fresh,
                     double joined_ohm, std::size_t max_set)
    : joined_ohm_(joined_ohm),
      max_set_(max_set),
      pieces_(std::move(known)),
      fresh_from_(pieces_.size()) {
  for (const PointId point : fresh) {
    pieces_.push_back({point});
  }
  apart_.resize(pieces_.size());
  into_.resize(pieces_.size());
  std::iota(into_.begin(), into_.end(), std::size_t{0});
  heard_.resize(pieces_.size());
  for (std::size_t a = 0; a < fresh_from_; ++a) {
    for (std::size_t b = 0; b < a; ++b) {
      part(a, b);
    }
  }
  if (fresh.empty() || pieces_.size() < 2) {
    step_ = Step::finished;
  } else if (fresh.size() == 1) {
    lone_ = fresh_from_;
  } else {
    std::vector<PointId> points;
    for (const std::vector<PointId>& piece : pieces_) {
      points.push_back(piece.front());
    }
    learn_.emplace(std::move(points), max_set_);
  }
}

std::vector<WantedReading> LearnScan::next() {
  while (step_ != Step::finished) {
    std::vector<WantedReading> round = step_ == Step::follow  ? next_follow()
                                       : step_ == Step::split ? next_split()
                                                              : next_verify();
    if (!round.empty()) {
      return round;
    }
    if (step_ == Step::follow) {
      begin_split(lone_ ? std::vector<Numbers>{} : followed());
    } else if (step_ == Step::split) {
      begin_verify();
    } else {
      step_ = Step::finished;
    }
  }
  return {};
}

/// Who follows whom, by numbers of pieces.
std::vector<LearnScan::Numbers> LearnScan::followed() const {
  std::map<PointId, std::size_t> number_of;
  for (std::size_t i = 0; i < pieces_.size(); ++i) {
    if (!pieces_[i].empty()) {
      number_of[pieces_[i].front()] = i;
    }
  }
  std::vector<Numbers> groups;
  for (const std::vector<PointId>& group : learn_->pieces()) {
    groups.emplace_back();
    for (const PointId point : group) {
      groups.back().push_back(number_of.at(point));
    }
  }
  return groups;
}

/// A lone fresh point is driven and all others are listened to: one setting.
std::vector<WantedReading> LearnScan::next_follow() {
  std::vector<WantedReading> round;
  if (!lone_) {
    round = learn_->next();
  } else if (!asked_lone_) {
    asked_lone_ = true;
    round_.clear();
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
      if (i != *lone_ && !pieces_[i].empty()) {
        round.push_back(
            {{pieces_[*lone_].front()}, {}, Purpose::follow, pieces_[i].front(), {}, false});
        round_.emplace_back(*lone_, i);
      }
    }
  }
  follow_settings_ += round.empty() ? 0 : 1;
  follow_readings_ += round.size();
  return round;
}

void LearnScan::record_lone(std::span<const Reading> readings) {
  Numbers group{*lone_};
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (readings[i].ohm != kOpenOhm) {
      group.push_back(round_[i].second);
    }
  }
  begin_split({group});
}

void LearnScan::begin_split(std::vector<Numbers> groups) {
  std::erase_if(groups, [](const Numbers& group) { return group.size() < 2; });
  for (const Numbers& group : groups) {
    for (const std::size_t number : group) {
      heard_[number] = true;
    }
  }
  groups_ = std::move(groups);
  step_ = Step::split;
}

/// One clear reading is enough either way.
WantedReading LearnScan::current(std::size_t from, std::size_t to, bool once) const {
  return {{pieces_[from].front()},
          {pieces_[to].front()},
          Purpose::continuity,
          kNoPoint,
          {std::nextafter(joined_ohm_, kOpenOhm), kOpenOhm},
          once};
}

/// The first of each group against all others that it is not known to be apart from.
std::vector<WantedReading> LearnScan::next_split() {
  std::vector<WantedReading> round = next_close();
  for (std::size_t i = 0; !deciding_ && i < groups_.size(); ++i) {
    Numbers& group = groups_[i];
    bool asked = false;
    while (!asked && group.size() > 1) {
      const std::size_t from = group.front();
      group.erase(group.begin());
      for (const std::size_t to : group) {
        if (apart_[from].count(to) == 0) {
          round.push_back(current(from, to, true));
          round_.emplace_back(from, to);
          asked = true;
        }
      }
    }
  }
  current_readings_ += deciding_ ? 0 : round.size();
  return round;
}

/// Pairs that are to be decided.
std::vector<WantedReading> LearnScan::next_close() {
  std::vector<WantedReading> round;
  round_ = std::exchange(close_, {});
  deciding_ = !round_.empty();
  for (const auto& [from, to] : round_) {
    round.push_back(current(from, to, false));
  }
  current_readings_ += round.size();
  return round;
}

/// One point of each piece against one of each other, so many together that ceil(log2) readings
/// tell; only what is fresh has to be told from all others.
void LearnScan::begin_verify() {
  step_ = Step::verify;
  std::vector<ScanUnit> units;
  std::vector<bool> fresh;
  for (std::size_t i = 0; i < pieces_.size(); ++i) {
    if (!pieces_[i].empty()) {
      ScanUnit unit;
      unit.points = {{pieces_[i].front()}};
      unit.cluster = static_cast<std::uint32_t>(units.size());
      units.push_back(std::move(unit));
      units_.push_back(i);
      fresh.push_back(i >= fresh_from_);
    }
  }
  isolation_.emplace(units, joined_ohm_, joined_ohm_, 0, std::vector<bool>{}, fresh);
}

std::vector<WantedReading> LearnScan::next_verify() {
  std::vector<WantedReading> round = next_close();
  while (!deciding_ && round.empty()) {
    const std::vector<Isolation::Query> queries = isolation_->next();
    if (queries.empty()) {
      ask_about_joins();
      return next_close();
    }
    query_of_.clear();
    for (std::size_t i = 0; i < queries.size(); ++i) {
      for (WantedReading& one :
           cut_sets(queries[i].source, queries[i].sink, max_set_, queries[i].expected)) {
        one.purpose = Purpose::continuity;  // with all the current there is: it is about copper
        one.provisional = true;
        round.push_back(std::move(one));
        query_of_.push_back(i);
      }
    }
    current_readings_ += round.size();
  }
  return round;
}

/// What the sets found is read pair by pair before it is believed; parts together may look like it.
void LearnScan::ask_about_joins() {
  for (const Isolation::Join& join : isolation_->take_joins()) {
    for (const std::uint32_t a : join.a) {
      for (const std::uint32_t b : join.b) {
        if (apart_[units_[a]].count(units_[b]) == 0) {
          close_.emplace_back(units_[a], units_[b]);
        }
      }
    }
  }
}

std::size_t LearnScan::alive(std::size_t number) const {
  return into_[number] == number ? number : alive(into_[number]);
}

void LearnScan::record(std::span<const Reading> readings) {
  if (step_ == Step::split || deciding_) {
    assert(readings.size() == round_.size());
    record_split(readings);
  } else if (step_ == Step::verify) {
    std::vector<double> ohms(query_of_.back() + 1, kOpenOhm);
    for (std::size_t i = 0; i < readings.size(); ++i) {
      double& lowest = ohms[query_of_[i]];
      lowest = std::min(lowest, readings[i].number ? readings[i].ohm : 0);
    }
    isolation_->answer(ohms);
  } else if (lone_) {
    assert(readings.size() == round_.size());
    record_lone(readings);
  } else {
    learn_->record(readings);
  }
}

void LearnScan::record_split(std::span<const Reading> readings) {
  std::set<std::size_t> gone;
  for (std::size_t i = 0; i < round_.size(); ++i) {
    const std::size_t from = alive(round_[i].first);
    const std::size_t to = alive(round_[i].second);
    const Reading& read = readings[i];
    if (from == to) {
      continue;
    }
    if (!deciding_ && read.number && !is_clear(read)) {
      close_.push_back(round_[i]);
      continue;
    }
    if (read.number && read.settled && read.ohm <= joined_ohm_) {
      join(from, to);
      gone.insert(to);
    } else {
      part(from, to);
    }
    const bool copper = gone.count(to) != 0 && !read.intermittent;
    if (!copper && (std::isfinite(read.ohm) || !read.number)) {
      between_.push_back({pieces_[from].front(), read.wanted.sink.front(), read.ohm,
                          read.uncertainty_ohm, read.settled, read.number, read.intermittent});
    }
  }
  for (Numbers& group : groups_) {
    std::erase_if(group, [&](std::size_t number) { return gone.count(number) != 0; });
  }
}

void LearnScan::join(std::size_t a, std::size_t b) {
  pieces_[a].insert(pieces_[a].end(), pieces_[b].begin(), pieces_[b].end());
  pieces_[b].clear();
  for (const std::size_t other : std::exchange(apart_[b], {})) {
    apart_[other].erase(b);
    if (other != a) {
      part(a, other);
    }
  }
  into_[b] = a;
  heard_[a] = true;
}

void LearnScan::part(std::size_t a, std::size_t b) {
  apart_[a].insert(b);
  apart_[b].insert(a);
}

std::vector<std::vector<PointId>> LearnScan::pieces() const {
  assert(step_ == Step::finished);
  std::vector<std::vector<PointId>> pieces;
  std::copy_if(pieces_.begin(), pieces_.end(), std::back_inserter(pieces),
               [](const std::vector<PointId>& piece) { return !piece.empty(); });
  for (std::vector<PointId>& piece : pieces) {
    std::sort(piece.begin(), piece.end());
  }
  std::sort(pieces.begin(), pieces.end());
  return pieces;
}

std::vector<PointId> LearnScan::silent() const {
  std::vector<PointId> silent;
  for (std::size_t i = fresh_from_; i < pieces_.size(); ++i) {
    if (!heard_[i] && pieces_[i].size() == 1) {
      silent.push_back(pieces_[i].front());
    }
  }
  return silent;
}

std::vector<PointId> LearnScan::heard() const {
  std::vector<PointId> heard;
  for (std::size_t i = 0; i < pieces_.size(); ++i) {
    if (heard_[i] || pieces_[i].size() > 1) {
      heard.insert(heard.end(), pieces_[i].begin(), pieces_[i].end());
    }
  }
  return heard;
}

}  // namespace padwalk::graph
