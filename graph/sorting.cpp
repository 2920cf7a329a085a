// SPDX-License-Identifier: MIT
#include "graph/sorting.hpp"

#include <algorithm>
#include <cassert>
#include <map>

namespace padwalk::graph {

void Sorting::add(std::uint32_t unit, std::vector<PointId> points, bool shorted) {
  Group group;
  group.unit = unit;
  group.shorted = shorted;
  group.rest = std::move(points);
  groups_.push_back(std::move(group));
}

/// Makes `fragments[tried]` the one whose first point is driven. False: nothing is left to read.
bool Sorting::begin_step(Group& group) {
  if (!group.rest.empty() && group.tried == group.fragments.size()) {
    group.fragments.push_back({group.rest.front()});
    group.rest.erase(group.rest.begin());
  }
  return !group.rest.empty();
}

std::vector<WantedReading> Sorting::next() {
  confirming_ = false;
  round_.clear();
  std::vector<WantedReading> round;
  std::vector<std::size_t> together;
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    Group& group = groups_[i];
    if (!begin_step(group)) {
      continue;
    }
    if (!options_.quick || group.again) {
      const PointId from = group.fragments[group.tried].front();
      for (const PointId to : group.rest) {
        round.push_back({{from}, {to}, Purpose::continuity, kNoPoint, expected(from, to)});
        round_.push_back({i, from, to});
      }
    } else if (group.shorted || group.tried > 0) {
      ask_following({i}, round);
    } else {
      together.push_back(i);
      if (together.size() == options_.max_set) {
        ask_following(together, round);
        together.clear();
      }
    }
  }
  ask_following(together, round);
  return round;
}

void Sorting::ask_following(const std::vector<std::size_t>& groups,
                            std::vector<WantedReading>& round) {
  std::vector<PointId> driven;
  for (const std::size_t i : groups) {
    driven.push_back(groups_[i].fragments[groups_[i].tried].front());
  }
  for (std::size_t i = 0; i < groups.size(); ++i) {
    for (const PointId to : groups_[groups[i]].rest) {
      round.push_back({driven, {}, Purpose::follow, to, expected(driven[i], to)});
      round_.push_back({groups[i], driven[i], to});
    }
  }
}

/// For each net the parts that the fragments hold of it, net by net, in the order of the fragments.
std::vector<std::vector<std::vector<PointId>>> Sorting::parts_by_net(const Group& group) const {
  std::map<NetId, std::vector<std::vector<PointId>>> parts;
  for (const std::vector<PointId>& fragment : group.fragments) {
    std::map<NetId, std::vector<PointId>> of_net;
    for (const PointId point : fragment) {
      of_net[board_[point].net].push_back(point);
    }
    for (auto& [net, points] : of_net) {
      if (net != kNoNet) {
        parts[net].push_back(std::move(points));
      }
    }
  }
  std::vector<std::vector<std::vector<PointId>>> all;
  for (auto& [net, of_net] : parts) {
    all.push_back(std::move(of_net));
  }
  return all;
}

std::vector<WantedReading> Sorting::next_confirmation() {
  confirming_ = true;
  round_.clear();
  std::vector<WantedReading> round;
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    if (std::exchange(groups_[i].confirmed, true) || groups_[i].fragments.size() < 2) {
      continue;
    }
    for (const auto& parts : parts_by_net(groups_[i])) {
      const auto main =
          std::max_element(parts.begin(), parts.end(),
                           [](const auto& a, const auto& b) { return a.size() < b.size(); });
      for (auto part = parts.begin(); part != parts.end(); ++part) {
        if (part != main) {
          // The other way round than when it was sorted: a junction conducts one way only.
          const PointId from = std::max(main, part)->front();
          const PointId to = std::min(main, part)->front();
          round.push_back({{from}, {to}, Purpose::continuity, kNoPoint, expected(from, to)});
          round_.push_back({i, from, to});
        }
      }
    }
  }
  return round;
}

double Sorting::conducts_up_to(PointId a, PointId b) const {
  if (!same_net(a, b)) {
    return options_.two_nets_ohm;
  }
  return options_.good_ohm ? options_.good_ohm(a, b) : options_.same_net_ohm;
}

/// Nothing particular of two nets that are shorted already.
Band Sorting::expected(PointId a, PointId b) const {
  return same_net(a, b) ? Band{0, conducts_up_to(a, b)} : Band{};
}

/// What gave no number is no evidence of a break.
bool Sorting::conducts(const Asked& asked, const Reading& reading) const {
  return (reading.ohm <= conducts_up_to(asked.from, asked.to) && !says_nothing(reading)) ||
         (!reading.number && same_net(asked.from, asked.to));
}

void Sorting::join(Group& group, PointId a, PointId b) {
  const auto holding = [&](PointId point) {
    return std::find_if(group.fragments.begin(), group.fragments.end(), [&](const auto& fragment) {
      return std::find(fragment.begin(), fragment.end(), point) != fragment.end();
    });
  };
  const auto to = holding(a);
  const auto from = holding(b);
  if (to != from) {
    to->insert(to->end(), from->begin(), from->end());
    group.fragments.erase(from);
  }
}

std::vector<Reading> Sorting::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  if (!confirming_) {
    for (const Asked& asked : round_) {
      groups_[asked.group].rest.clear();
    }
  }
  std::vector<Reading> kept;
  kept.reserve(readings.size());
  for (std::size_t i = 0; i < round_.size(); ++i) {
    const Asked& asked = round_[i];
    Group& group = groups_[asked.group];
    kept.push_back(readings[i]);
    kept.back().wanted.source = {asked.from};
    const bool together = conducts(asked, readings[i]);
    if (!confirming_) {
      (together ? group.fragments[group.tried] : group.rest).push_back(asked.to);
    } else if (together) {
      join(group, asked.from, asked.to);
    }
  }
  for (std::size_t i = 0; !confirming_ && i < round_.size(); ++i) {
    if (i == 0 || round_[i].group != round_[i - 1].group) {
      ++groups_[round_[i].group].tried;
    }
  }
  return kept;
}

std::vector<PointId> Sorting::silent_in(const Group& group) const {
  std::vector<PointId> silent;
  if (group.fragments.size() < 2) {
    return silent;
  }
  std::map<NetId, std::size_t> points_of_net;
  for (const std::vector<PointId>& fragment : group.fragments) {
    for (const PointId point : fragment) {
      ++points_of_net[board_[point].net];
    }
  }
  for (const std::vector<PointId>& fragment : group.fragments) {
    const NetId net = board_[fragment.front()].net;
    if (fragment.size() == 1 && net != kNoNet && points_of_net[net] > 1) {
      silent.push_back(fragment.front());
    }
  }
  return silent;
}

std::vector<PointId> Sorting::silent() const {
  std::vector<PointId> silent;
  for (const Group& group : groups_) {
    const std::vector<PointId> here = silent_in(group);
    silent.insert(silent.end(), here.begin(), here.end());
  }
  std::sort(silent.begin(), silent.end());
  return silent;
}

void Sorting::sort_silent_again() {
  for (Group& group : groups_) {
    group.rest = silent_in(group);
    group.again = true;
    group.confirmed = false;
    std::erase_if(group.fragments, [&](const auto& fragment) {
      return std::find(group.rest.begin(), group.rest.end(), fragment.front()) != group.rest.end();
    });
    std::stable_sort(group.fragments.begin(), group.fragments.end(),
                     [](const auto& a, const auto& b) { return a.size() > b.size(); });
    group.heard_before = group.fragments.size();
    group.tried = 0;
  }
}

std::vector<PointId> Sorting::first_heard() const {
  std::vector<PointId> first;
  for (const Group& group : groups_) {
    for (std::size_t i = group.heard_before; group.again && i < group.fragments.size(); ++i) {
      first.push_back(group.fragments[i].front());
    }
  }
  return first;
}

bool Sorting::in_fragments(std::uint32_t unit) const {
  return std::any_of(groups_.begin(), groups_.end(), [&](const Group& group) {
    return group.unit == unit && group.fragments.size() > 1;
  });
}

}  // namespace padwalk::graph
