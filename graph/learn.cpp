// SPDX-License-Identifier: MIT
#include "graph/learn.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <map>
#include <utility>

namespace padwalk::graph {

Learn::Learn(std::vector<PointId> points, std::size_t max_set)
    : points_(std::move(points)),
      max_set_(max_set),
      bits_(points_.size() < 2 ? 0 : std::bit_width(points_.size() - 1)),
      lowest_(points_.size()) {
  assert(max_set_ > 0);
  begin_bit();
}

/// Drives those whose number so far is the lowest of their piece, and goes on with 0.
void Learn::begin_bit() {
  driven_.clear();
  driven_before_ = 0;
  high_.assign(points_.size(), false);
  if (bit_ == bits_) {
    return;
  }
  const std::size_t below = bits_ - bit_;  // bits that are not known yet
  for (std::size_t v = 0; v < points_.size(); ++v) {
    if (v >> below == lowest_[v] && (v >> (below - 1) & 1) == 0) {
      driven_.push_back(v);
      high_[v] = true;
    }
  }
}

void Learn::end_bit() {
  for (std::size_t v = 0; v < points_.size(); ++v) {
    lowest_[v] = 2 * lowest_[v] + (high_[v] ? 0 : 1);
  }
  ++bit_;
  begin_bit();
}

std::vector<WantedReading> Learn::next() {
  round_.clear();
  std::vector<WantedReading> round;
  while (bit_ < bits_ && round.empty()) {
    const std::size_t count = std::min(max_set_, driven_.size() - driven_before_);
    std::vector<PointId> source;
    for (std::size_t i = 0; i < count; ++i) {
      source.push_back(points_[driven_[driven_before_ + i]]);
    }
    driven_before_ += count;
    for (std::size_t v = 0; v < points_.size(); ++v) {
      if (!high_[v]) {
        round.push_back({source, {}, Purpose::follow, points_[v], {}});
        round_.push_back(v);
      }
    }
    if (round.empty()) {
      end_bit();  // all are known to follow already
    }
  }
  settings_ += !round.empty();
  readings_ += round.size();
  return round;
}

void Learn::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  for (std::size_t i = 0; i < round_.size(); ++i) {
    high_[round_[i]] = readings[i].ohm != kOpenOhm;
  }
  if (driven_before_ == driven_.size()) {
    end_bit();
  }
}

std::vector<std::vector<PointId>> Learn::pieces() const {
  assert(bit_ == bits_);
  std::map<std::size_t, std::vector<PointId>> by_lowest;
  for (std::size_t v = 0; v < points_.size(); ++v) {
    by_lowest[lowest_[v]].push_back(points_[v]);
  }
  std::vector<std::vector<PointId>> pieces;
  for (auto& [lowest, points] : by_lowest) {
    pieces.push_back(std::move(points));
  }
  return pieces;
}

}  // namespace padwalk::graph
