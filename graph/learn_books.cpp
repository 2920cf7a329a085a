// SPDX-License-Identifier: MIT
#include "graph/learn_books.hpp"

#include <algorithm>
#include <iterator>

namespace padwalk::graph {

LearnBooks::LearnBooks(std::vector<bool> counted)
    : counted_(std::move(counted)),
      group_of_(counted_.size()),
      points_(counted_.size()),
      met_(counted_.size()),
      open_(counted_.size()) {
  const auto all = static_cast<std::size_t>(std::count(counted_.begin(), counted_.end(), true));
  for (std::size_t i = 0; i < counted_.size(); ++i) {
    group_of_[i] = i;
    if (counted_[i]) {
      points_[i] = {PointId{static_cast<std::uint32_t>(i)}};
      met_[i].resize(counted_.size());
      open_[i] = all - 1;
    }
  }
}

void LearnBooks::add(const std::vector<std::vector<PointId>>& pieces) {
  for (const std::vector<PointId>& piece : pieces) {
    for (const PointId point : piece) {
      join(group_of(piece.front()), group_of(point));
    }
  }
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      meet(group_of(pieces[i].front()), group_of(pieces[j].front()));
    }
  }
}

void LearnBooks::meet(std::size_t a, std::size_t b) {
  if (is_open(a, b)) {
    met_[a][b] = met_[b][a] = true;
    --open_[a];
    --open_[b];
  }
}

/// What either met, both met.
void LearnBooks::join(std::size_t a, std::size_t b) {
  if (a == b) {
    return;
  }
  for (std::size_t other = 0; other < points_.size(); ++other) {
    if (other == a || other == b || !exists(other)) {
      continue;
    }
    // Two pairs become one.
    const bool open_a = !met_[a][other];
    const bool open_b = !met_[b][other];
    met_[a][other] = met_[other][a] = !open_a || !open_b;
    open_[other] -= (open_a ? 1 : 0) + (open_b ? 1 : 0) - (open_a && open_b ? 1 : 0);
  }
  for (const PointId point : points_[b]) {
    group_of_[index(point)] = a;
  }
  points_[a].insert(points_[a].end(), points_[b].begin(), points_[b].end());
  points_[b].clear();
  met_[a][b] = met_[b][a] = true;
  open_[b] = 0;
  open_[a] = 0;
  for (std::size_t other = 0; other < points_.size(); ++other) {
    open_[a] += exists(other) && is_open(a, other) ? 1 : 0;
  }
}

std::size_t LearnBooks::would_meet(const Groups& fresh, const Groups& held) const {
  std::size_t pairs = 0;
  for (auto one = fresh.begin(); one != fresh.end(); ++one) {
    if (open_with(*one) == 0) {
      continue;
    }
    for (const std::size_t other : held) {
      pairs += fresh.count(other) == 0 && is_open(*one, other) ? 1 : 0;
    }
    for (auto other = std::next(one); other != fresh.end(); ++other) {
      pairs += is_open(*one, *other) ? 1 : 0;
    }
  }
  return pairs;
}

std::vector<std::vector<PointId>> LearnBooks::groups() const {
  std::vector<std::vector<PointId>> groups;
  for (std::vector<PointId> group : points_) {
    if (!group.empty()) {
      std::sort(group.begin(), group.end());
      groups.push_back(std::move(group));
    }
  }
  std::sort(groups.begin(), groups.end());
  return groups;
}

std::vector<std::pair<PointId, PointId>> LearnBooks::never_together(std::size_t most) const {
  std::vector<std::pair<PointId, PointId>> pairs;
  for (std::size_t a = 0; a < points_.size(); ++a) {
    for (std::size_t b = a + 1; b < points_.size() && open_[a] > 0; ++b) {
      if (pairs.size() < most && exists(a) && exists(b) && is_open(a, b)) {
        pairs.emplace_back(points_[a].front(), points_[b].front());
      }
    }
  }
  return pairs;
}

}  // namespace padwalk::graph
