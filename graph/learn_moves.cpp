// SPDX-License-Identifier: MIT
#include "graph/learn_moves.hpp"

#include <algorithm>
#include <string>
#include <utility>

namespace padwalk::graph {

namespace {

constexpr double kLeastSeconds = 0.1;  // a bench may say that a move takes no time

bool is_via(const Point& point) {
  return point.part == kNoPart && point.name.find('@') != std::string::npos;
}

std::vector<bool> points_where(const Board& board, bool (*reached)(Access)) {
  const std::vector<bool> never = never_driven(board);
  std::vector<bool> where;
  for (std::size_t i = 0; i < never.size(); ++i) {
    const Point& point = board.points()[i];
    where.push_back(!never[i] && !is_via(point) && reached(point.access));
  }
  return where;
}

}  // namespace

LearnMoves::LearnMoves(const Board& board, const Fixtures& bench)
    : board_(board),
      bench_(bench),
      clip_(points_where(board, [](Access access) { return access == Access::clip; })),
      tip_(points_where(board, [](Access access) { return access != Access::none; })),
      counted_(board.points().size()),
      books_({}) {
  bool grabbers = false;
  for (std::size_t i = 0; i < bench.fixtures.size(); ++i) {
    const Fixture& fixture = bench.fixtures[i];
    if (fixture.kind == FixtureKind::grabber) {
      for (std::size_t grabber = 0; grabber < fixture.channels.size(); ++grabber) {
        moving_.push_back({i, grabber, true, {}, {}, 0});
        grabbers = true;
      }
    } else if (fixture.kind != FixtureKind::tip) {
      Moving moving{i, 0, false, {}, {}, 0};
      for (std::uint32_t part = 0; part < board.parts().size(); ++part) {
        std::string why;
        if (const auto leads = leads_on(board, fixture, PartId{part}, why)) {
          moving.spots.push_back({PartId{part}, *leads});
        }
      }
      moving_.push_back(std::move(moving));
    }
  }
  if (bench.tip() == nullptr) {
    tip_.assign(tip_.size(), false);
  }
  if (!grabbers) {
    clip_.assign(clip_.size(), false);
  }
  for (std::size_t i = 0; i < counted_.size(); ++i) {
    counted_[i] = clip_[i] || tip_[i];
  }
  for (const Moving& moving : moving_) {
    for (const Spot& spot : moving.spots) {
      for (const Lead& lead : spot.leads) {
        counted_[index(lead.point)] = true;
      }
    }
  }
  books_ = LearnBooks(counted_);
}

LearnMoves::Groups LearnMoves::groups_of(std::span<const Lead> leads) const {
  Groups groups;
  for (const Lead& lead : leads) {
    groups.insert(books_.group_of(lead.point));
  }
  return groups;
}

LearnMoves::Groups LearnMoves::held_without(std::size_t without) const {
  Groups groups;
  for (std::size_t i = 0; i < moving_.size(); ++i) {
    if (i != without && moving_[i].at) {
      groups.merge(groups_of(moving_[i].at->leads));
    }
  }
  return groups;
}

/// By group: how many fixtures hold it.
std::vector<std::size_t> LearnMoves::holders() const {
  std::vector<std::size_t> holders(counted_.size());
  for (const Moving& moving : moving_) {
    if (moving.at) {
      for (const std::size_t group : groups_of(moving.at->leads)) {
        ++holders[group];
      }
    }
  }
  return holders;
}

/// It holds nothing that others do not hold and that has somebody to meet.
bool LearnMoves::is_free(const Moving& moving, const std::vector<std::size_t>& holders) const {
  return !moving.at ||
         std::all_of(moving.at->leads.begin(), moving.at->leads.end(), [&](const Lead& lead) {
           const std::size_t group = books_.group_of(lead.point);
           return books_.open_with(group) == 0 || holders[group] > 1;
         });
}

double LearnMoves::seconds(std::size_t moving, const Spot& spot) const {
  const Fixture& fixture = bench_.fixtures[moving_[moving].fixture];
  const PlanMove move{moving_[moving].fixture, moving_[moving].grabber, spot.part, spot.leads};
  return std::max(kLeastSeconds,
                  fixture.move_s + bench_.confirm_s +
                      (up_.must_turn(side_to_reach(board_, move)) ? bench_.turn_s : 0));
}

LearnMoves::Spot LearnMoves::spot_on(const Moving& grabber, PointId point) const {
  return {kNoPart, {{bench_.fixtures[grabber.fixture].channels[grabber.grabber], point}}};
}

std::optional<PlanStep> LearnMoves::next() {
  auto step = next_step();
  if (!step && !postponed_.empty()) {
    for (const PointId point : std::exchange(postponed_, {})) {
      tip_[index(point)] = true;
    }
    step = next_step();
  }
  return step;
}

std::optional<PlanStep> LearnMoves::next_step() {
  for (const auto way : {&LearnMoves::hold_touched, &LearnMoves::best_step,
                         &LearnMoves::last_grabber, &LearnMoves::begin_anew}) {
    if (std::optional<PlanStep> step = (this->*way)()) {
      return step;
    }
  }
  return std::nullopt;
}

/// The tip leaves: a new group that still has many to meet is held, where a grabber is free.
std::optional<PlanStep> LearnMoves::hold_touched() {
  const auto touched = std::exchange(touched_, std::nullopt);
  if (!touched || !std::exchange(to_be_held_, false)) {
    return std::nullopt;
  }
  const std::size_t group = books_.group_of(*touched);
  if (held_without(moving_.size()).count(group) != 0 || !clip_[index(*touched)]) {
    return std::nullopt;
  }
  const std::vector<std::size_t> holding = holders();
  const double touches = static_cast<double>(books_.open_with(group)) * bench_.tip()->move_s;
  for (std::size_t i = 0; i < moving_.size(); ++i) {
    if (moving_[i].single && is_free(moving_[i], holding)) {
      const Spot spot = spot_on(moving_[i], *touched);
      return touches > seconds(i, spot) ? std::optional(put(i, spot)) : std::nullopt;
    }
  }
  return std::nullopt;
}

/// Of all free fixtures, the tip, and clips and plugs that hold something as well.
std::optional<PlanStep> LearnMoves::best_step() {
  std::optional<Choice> best;
  const auto consider = [&](std::size_t moving, const Spot& spot, const Groups& held, double cost) {
    const double worth = static_cast<double>(books_.would_meet(groups_of(spot.leads), held)) / cost;
    if (worth > 0 && (!best || worth > best->worth)) {
      best = Choice{moving, spot, worth};
    }
  };
  const std::vector<std::size_t> holding = holders();
  bool tried_grabber = false;
  for (std::size_t i = 0; i < moving_.size(); ++i) {
    const Moving& moving = moving_[i];
    if (moving.single && (tried_grabber || !is_free(moving, holding))) {
      continue;
    }
    const Groups held = held_without(i);
    for (const Spot& spot : moving.spots) {
      if (!moving.at || moving.at->part != spot.part) {
        consider(i, spot, held, seconds(i, spot));
      }
    }
    tried_grabber = tried_grabber || moving.single;  // another free one would do the same
    for (std::uint32_t point = 0; moving.single && point < clip_.size(); ++point) {
      if (clip_[point]) {
        const Spot spot = spot_on(moving, PointId{point});
        consider(i, spot, held, seconds(i, spot));
      }
    }
  }
  const Groups held = held_without(moving_.size());
  for (std::uint32_t point = 0; point < tip_.size(); ++point) {
    if (tip_[point]) {
      const bool turns = up_.must_turn(side_to_reach(board_, PointId{point}));
      const double cost = bench_.tip()->move_s + (turns ? bench_.turn_s : 0);
      consider(moving_.size(), {kNoPart, {{0, PointId{point}}}}, held,
               std::max(kLeastSeconds, cost));
    }
  }
  if (!best) {
    return std::nullopt;
  }
  return best->moving == moving_.size() ? touch(best->spot.leads.front().point)
                                        : put(best->moving, best->spot);
}

/// The grabber that was put on last sweeps on; those before it keep their groups.
std::optional<PlanStep> LearnMoves::last_grabber() {
  std::vector<std::size_t> grabbers;
  for (std::size_t i = 0; i < moving_.size(); ++i) {
    if (moving_[i].single) {
      grabbers.push_back(i);
    }
  }
  std::sort(grabbers.begin(), grabbers.end(),
            [&](std::size_t a, std::size_t b) { return moving_[a].since > moving_[b].since; });
  for (const std::size_t i : grabbers) {
    const Groups held = held_without(i);
    for (std::uint32_t point = 0; point < clip_.size(); ++point) {
      if (clip_[point] && books_.would_meet({books_.group_of(PointId{point})}, held) > 0) {
        return put(i, spot_on(moving_[i], PointId{point}));
      }
    }
  }
  return std::nullopt;
}

/// Nothing meets anything new by one step: what has most to meet is put on first.
std::optional<PlanStep> LearnMoves::begin_anew() {
  std::size_t open = 0;
  for (const auto& group : books_.groups()) {
    open += books_.open_with(books_.group_of(group.front()));
  }
  if (open == 0 || open == anew_at_) {
    return std::nullopt;  // the last one led to nothing
  }
  std::optional<Choice> best;
  const auto consider = [&](std::size_t moving, const Spot& spot) {
    const Groups groups = groups_of(spot.leads);
    double worth = 0;
    for (const std::size_t group : groups) {
      worth += static_cast<double>(books_.open_with(group));
    }
    worth /= seconds(moving, spot);
    if (worth > 0 && (!best || worth > best->worth) && can_bring(groups, moving)) {
      best = Choice{moving, spot, worth};
    }
  };
  const std::vector<std::size_t> holding = holders();
  for (const bool free : {true, false}) {
    for (std::size_t i = 0; i < moving_.size() && (!best || free); ++i) {
      if (is_free(moving_[i], holding) != free) {
        continue;
      }
      for (const Spot& spot : moving_[i].spots) {
        consider(i, spot);
      }
      for (std::uint32_t point = 0; moving_[i].single && point < clip_.size(); ++point) {
        if (clip_[point]) {
          consider(i, spot_on(moving_[i], PointId{point}));
        }
      }
    }
  }
  if (!best) {
    return std::nullopt;
  }
  anew_at_ = open;
  return put(best->moving, best->spot);
}

/// Whether something else than this fixture brings a group that one of these has yet to meet.
bool LearnMoves::can_bring(const Groups& to, std::size_t except) const {
  const auto wanted = [&](PointId point) {
    const std::size_t group = books_.group_of(point);
    return std::any_of(to.begin(), to.end(),
                       [&](std::size_t one) { return books_.is_open(one, group); });
  };
  bool grabber = false;
  for (std::size_t i = 0; i < moving_.size(); ++i) {
    if (i == except) {
      continue;
    }
    grabber = grabber || moving_[i].single;
    for (const Spot& spot : moving_[i].spots) {
      if (std::any_of(spot.leads.begin(), spot.leads.end(),
                      [&](const Lead& lead) { return wanted(lead.point); })) {
        return true;
      }
    }
  }
  for (std::uint32_t point = 0; point < counted_.size(); ++point) {
    if (((grabber && clip_[point]) || tip_[point]) && wanted(PointId{point})) {
      return true;
    }
  }
  return false;
}

PlanStep LearnMoves::put(std::size_t i, Spot spot) {
  Moving& moving = moving_[i];
  before_.clear();
  for (std::size_t other = 0; other < moving_.size(); ++other) {
    if (other != i && moving_[other].at) {
      const std::vector<Lead>& leads = moving_[other].at->leads;
      before_.insert(before_.end(), leads.begin(), leads.end());
    }
  }
  touched_.reset();
  moving.at = std::move(spot);
  moving.since = ++now_;
  PlanStep step;
  step.moves.push_back({moving.fixture, moving.grabber, moving.at->part, moving.at->leads});
  up_.turn_to(side_to_reach(board_, step.moves.front()));
  return step;
}

PlanStep LearnMoves::touch(PointId point) {
  before_ = hookup().leads;
  touched_ = point;
  to_be_held_ = true;
  up_.turn_to(side_to_reach(board_, point));
  PlanStep step;
  step.touches.push_back(point);
  return step;
}

Hookup LearnMoves::hookup() const {
  Hookup hookup;
  std::set<PointId> has;
  for (const Moving& moving : moving_) {
    for (std::size_t i = 0; moving.at && i < moving.at->leads.size(); ++i) {
      if (has.insert(moving.at->leads[i].point).second) {
        hookup.leads.push_back(moving.at->leads[i]);
      }
    }
  }
  std::sort(hookup.leads.begin(), hookup.leads.end(),
            [](const Lead& a, const Lead& b) { return a.channel < b.channel; });
  if (touched_ && has.count(*touched_) == 0) {
    hookup.leads.push_back({bench_.tip()->channels.front(), *touched_});
  }
  return hookup;
}

std::vector<std::vector<PointId>> LearnMoves::known() const {
  std::vector<std::vector<PointId>> known;
  const Groups before = groups_of(before_);
  for (const std::size_t group : before) {
    known.emplace_back();
    for (const Lead& lead : before_) {
      if (books_.group_of(lead.point) == group) {
        known.back().push_back(lead.point);
      }
    }
  }
  return known;
}

std::vector<PointId> LearnMoves::fresh() const {
  Groups seen = groups_of(before_);
  std::vector<PointId> fresh;
  for (const Lead& lead : hookup().leads) {
    if (seen.insert(books_.group_of(lead.point)).second) {
      fresh.push_back(lead.point);
    }
  }
  // What has met all others by now teaches nothing.
  const Groups all = groups_of(hookup().leads);
  Groups new_ones;
  for (const PointId point : fresh) {
    new_ones.insert(books_.group_of(point));
  }
  return books_.would_meet(new_ones, all) == 0 ? std::vector<PointId>{} : fresh;
}

void LearnMoves::record(const std::vector<std::vector<PointId>>& pieces) {
  books_.add(pieces);
}

bool LearnMoves::not_reached(bool later) {
  if (!touched_) {
    return false;
  }
  tip_[index(*touched_)] = false;
  const bool again = later && was_postponed_.insert(*touched_).second;
  if (again) {
    postponed_.push_back(*touched_);
  }
  touched_.reset();
  to_be_held_ = false;
  anew_at_ = SIZE_MAX;
  return again;
}

void LearnMoves::does_not_fit() {
  const auto last = std::find_if(moving_.begin(), moving_.end(), [&](const Moving& moving) {
    return moving.at && moving.since == now_;
  });
  if (last == moving_.end()) {
    return;
  }
  if (last->single) {
    clip_[index(last->at->leads.front().point)] = false;
  } else {
    std::erase_if(last->spots, [&](const Spot& spot) { return spot.part == last->at->part; });
  }
  last->at.reset();
  anew_at_ = SIZE_MAX;
}

std::vector<PointId> LearnMoves::not_covered() const {
  std::vector<PointId> none;
  for (std::uint32_t i = 0; i < counted_.size(); ++i) {
    if (!counted_[i]) {
      none.push_back(PointId{i});
    }
  }
  return none;
}

}  // namespace padwalk::graph
