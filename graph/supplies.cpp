// SPDX-License-Identifier: MIT
#include "graph/supplies.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <numeric>

namespace padwalk::graph {

namespace {

double siemens(double ohm) {
  return std::isfinite(ohm) ? 1 / std::max(ohm, 1e-3) : 0;
}

/// k = 2, of the conductance.
double error_siemens(const Reading& reading) {
  const double g = siemens(reading.ohm);
  return g * g * reading.uncertainty_ohm;
}

}  // namespace

Supplies::Supplies(std::span<const ScanUnit> units, double conducting_ohm, double short_ohm,
                   const std::vector<bool>& fresh)
    : units_(units), conducting_ohm_(conducting_ohm), short_ohm_(short_ohm) {
  const auto is_fresh = [&](std::uint32_t unit) { return fresh.empty() || fresh[unit]; };
  for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
    if (units[unit].ground) {
      grounds_.push_back(unit);
    }
  }
  for (std::uint32_t supply = 0; supply < units.size(); ++supply) {
    if (!units[supply].supply || units[supply].ground) {
      continue;
    }
    Case one;
    one.supply = supply;
    std::map<std::uint32_t, List> clusters;
    for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
      const bool earlier_supply = units[unit].supply && unit <= supply;
      if (!earlier_supply && !units[unit].ground && units[unit].cluster != units[supply].cluster) {
        clusters[units[unit].cluster].push_back(unit);
      }
    }
    for (auto& [cluster, members] : clusters) {
      if (is_fresh(supply) || std::any_of(members.begin(), members.end(), is_fresh)) {
        one.others.push_back(std::move(members));
      }
    }
    std::copy_if(
        grounds_.begin(), grounds_.end(), std::back_inserter(one.grounds_apart),
        [&](std::uint32_t ground) { return units[ground].cluster != units[supply].cluster; });
    if (is_fresh(supply) || !one.others.empty() ||
        std::any_of(grounds_.begin(), grounds_.end(), is_fresh)) {
      cases_.push_back(std::move(one));
    }
  }
  begin_next();
}

/// Goes to the first case from `at_` on that has something to ask.
void Supplies::begin_next() {
  for (; at_ < cases_.size(); ++at_) {
    left_.resize(cases_[at_].others.size());
    std::iota(left_.begin(), left_.end(), 0U);
    ground_siemens_ = ground_error_siemens_ = 0;
    with_ground_ = false;
    if (!grounds_.empty()) {
      step_ = Step::ground;
      return;
    }
    if (!left_.empty()) {
      step_ = Step::others;
      return;
    }
  }
}

std::vector<PointId> Supplies::points_of(const List& units) const {
  std::vector<PointId> points;
  for (const std::uint32_t unit : units) {
    const std::vector<PointId> more = units_[unit].all_points();
    points.insert(points.end(), more.begin(), more.end());
  }
  return points;
}

std::optional<Isolation::Query> Supplies::next() {
  if (at_ >= cases_.size()) {
    return std::nullopt;
  }
  const Case& now = cases_[at_];
  Isolation::Query query;
  query.source = units_[now.supply].all_points();
  if (step_ == Step::ground) {
    query.sink = points_of(grounds_);
    if (now.grounds_apart.size() == grounds_.size()) {
      query.expected.at_least_ohm = conducting_ohm_;
    }
    return query;
  }
  for (const std::uint32_t i : step_ == Step::search ? search_->query().second : left_) {
    const std::vector<PointId> more = points_of(now.others[i]);
    query.sink.insert(query.sink.end(), more.begin(), more.end());
  }
  if (with_ground_) {
    const std::vector<PointId> more = points_of(grounds_);
    query.sink.insert(query.sink.end(), more.begin(), more.end());
  }
  query.expected.at_least_ohm = 1 / (1 / conducting_ohm_ + (with_ground_ ? ground_siemens_ : 0));
  query.confirm = step_ == Step::search && search_->confirming();
  return query;
}

/// What must flow beyond what ground takes. Where that is not known well enough to subtract, only a
/// short tells: through a floating ground the clamps of chips conduct.
double Supplies::conducting_siemens() const {
  const bool safe =
      grounds_.empty() || (with_ground_ && 3 * ground_error_siemens_ < 0.5 / conducting_ohm_);
  return 1 / (safe ? conducting_ohm_ : short_ohm_);
}

/// What gave no ohms is searched as if it conducted.
bool Supplies::conducts(const Reading& reading) const {
  return !reading.number || excess_siemens(reading) >= conducting_siemens();
}

double Supplies::excess_siemens(const Reading& reading) const {
  return siemens(reading.ohm) - (with_ground_ ? ground_siemens_ : 0);
}

void Supplies::ask_others() {
  if (left_.empty()) {
    ++at_;
    begin_next();
  } else {
    step_ = Step::others;
  }
}

void Supplies::answer(const Reading& reading) {
  const Case& now = cases_[at_];
  switch (step_) {
    case Step::ground:
      // Each pair is then read by itself. What parts join to it hides what others let through.
      if (!now.grounds_apart.empty() &&
          (now.grounds_apart.size() < grounds_.size() || !reading.number ||
           siemens(reading.ohm) >= 1 / conducting_ohm_)) {
        joins_.push_back({{now.supply}, now.grounds_apart, kOpenOhm});
      }
      ground_siemens_ = siemens(reading.ohm);
      ground_error_siemens_ = error_siemens(reading);
      // Two such readings are subtracted; that is safe where their error is far below the limit.
      with_ground_ =
          reading.number && reading.settled && 3 * ground_error_siemens_ < 0.5 / conducting_ohm_;
      ask_others();
      return;
    case Step::others:
      if (conducts(reading)) {
        search_.emplace(List{0}, left_, false);
        step_ = Step::search;
      } else {
        left_.clear();
        ask_others();
      }
      return;
    case Step::search: {
      search_->answer(conducts(reading));
      if (!search_->over()) {
        return;
      }
      const auto found = search_->found();
      search_.reset();
      if (found) {
        joins_.push_back({{now.supply},
                          now.others[found->second],
                          reading.number ? 1 / excess_siemens(reading) : kOpenOhm});
        std::erase(left_, found->second);
      } else {
        left_.clear();  // it leaks, but no pair of it by itself
      }
      ask_others();
      return;
    }
  }
}

}  // namespace padwalk::graph
