// SPDX-License-Identifier: MIT
#include "graph/rejoining.hpp"

#include <algorithm>
#include <cassert>
#include <map>
#include <set>

#include "graph/hookup.hpp"

namespace padwalk::graph {

namespace {

/// A lead that stayed may be in another piece of a broken net; more are left to the scan.
constexpr std::size_t kMostTries = 3;

}  // namespace

Rejoining::Rejoining(const Board& board, const std::vector<PointId>& attached,
                     const std::vector<PointId>& fresh, OhmLimit good_ohm)
    : good_ohm_(std::move(good_ohm)), apart_(fresh) {
  const std::vector<bool> never = never_driven(board);
  const std::set<PointId> new_ones(fresh.begin(), fresh.end());
  std::map<NetId, std::vector<PointId>> stayed;
  for (const PointId point : attached) {
    if (board[point].net != kNoNet && new_ones.count(point) == 0 && !never[index(point)]) {
      stayed[board[point].net].push_back(point);
    }
  }
  for (const PointId point : fresh) {
    const auto of_net = stayed.find(board[point].net);
    if (of_net != stayed.end() && !never[index(point)]) {
      leads_.push_back({point, of_net->second});
    }
  }
}

std::vector<WantedReading> Rejoining::next() {
  std::vector<WantedReading> round;
  round_.clear();
  if (tries_ == kMostTries) {
    return round;
  }
  for (std::size_t i = 0; i < leads_.size(); ++i) {
    const Lead& lead = leads_[i];
    if (!lead.joined && tries_ < lead.stayed.size()) {
      const PointId to = lead.stayed[tries_];
      round.push_back(
          {{lead.point}, {to}, Purpose::continuity, kNoPoint, {0, good_ohm_(lead.point, to)}});
      round_.push_back(i);
    }
  }
  ++tries_;
  return round;
}

void Rejoining::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  for (std::size_t k = 0; k < readings.size(); ++k) {
    const Reading& reading = readings[k];
    Lead& lead = leads_[round_[k]];
    lead.joined = reading.number && reading.settled && !reading.intermittent && !reading.close &&
                  reading.wanted.expected.holds(reading.ohm);
    if (lead.joined) {
      readings_.push_back(reading);
      std::erase(apart_, lead.point);
    }
  }
}

}  // namespace padwalk::graph
