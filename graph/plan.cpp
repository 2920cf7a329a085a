// SPDX-License-Identifier: MIT
#include "graph/plan.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "graph/unsettled.hpp"

namespace padwalk::graph {

namespace {

/// How to value what is settled now against all else; no choice is the best for every board.
struct Weights {
  double worthwhile = 0.3;  ///< a move more in a step, against the step so far
  double later = 0.1;       ///< what may be settled later beside what is held
  double stays = 0.05;      ///< what a fixture still has to do where it is
  bool early = false;       ///< put on in a step what settles nothing in it yet
};
constexpr Weights kWeights[] = {
    {0.3, 0.03, 0.05, false}, {0.3, 0.1, 0.2, false},  {0.3, 0.3, 0, false}, {0.1, 1, 0, false},
    {0.1, 1, 0.05, false},    {0.3, 0.03, 0.05, true}, {0.3, 0.3, 0, true},  {0.1, 1, 0.05, true}};

class Planner {
 public:
  Planner(const Board& board, const Fixtures& bench, const PlanGoal& goal, const Weights& weights)
      : board_(board),
        bench_(bench),
        weights_(weights),
        unsettled_(board, goal),
        now_(board),
        attached_(board.points().size()) {
    for (std::size_t f = 0; f < bench.fixtures.size(); ++f) {
      const Fixture& fixture = bench.fixtures[f];
      if (fixture.kind == FixtureKind::grabber) {
        for (std::size_t g = 0; g < fixture.channels.size(); ++g) {
          grabbers_.push_back({f, g});
        }
      }
      for (std::uint32_t part = 0; part < board.parts().size(); ++part) {
        std::string why;
        if (auto leads = leads_on(board, fixture, PartId{part}, why); leads && !leads->empty()) {
          for (const Lead& lead : *leads) {
            if (bench.tip() != nullptr) {
              clipped_.insert(board[lead.point].net);
            }
          }
          fits_.push_back({f, 0, PartId{part}, *std::move(leads)});
        }
      }
    }
  }

  const std::vector<PlanMove>& fits() const { return fits_; }

  /// Puts it there in the step that is being made; begins one where none is.
  void put(const PlanMove& move) {
    if (!making_) {
      plan_.steps.emplace_back();
      plan_.steps.back().off = std::exchange(off_, {});
      making_ = true;
      moved_.clear();
      made_s_ = bench_.confirm_s;
    }
    up_.turn_to(side_to_reach(board_, move));
    const Mover mover(move.fixture, move.grabber);
    lift(mover);
    for (const Lead& lead : move.leads) {
      unsettled_.attach(lead.point, now_);
      ++attached_[index(lead.point)];
    }
    held_[mover] = move;
    moved_.insert(mover);
    made_s_ += bench_.fixtures[move.fixture].move_s;
    plan_.steps.back().moves.push_back(move);
  }

  /// The look and the sweep of the step.
  void settle() {
    anew_ = anew_ && unsettled_.gain(now_) == 0;
    unsettled_.settle(now_);
    making_ = false;
  }

  /// All points of the nets that are held, whether that settles anything or not.
  void touch_all_of_held_nets() {
    for (std::uint32_t i = 0; bench_.tip() != nullptr && i < board_.points().size(); ++i) {
      const PointId point{i};
      if (unsettled_.wanted(point) && attached_[i] == 0 &&
          now_.points[index(board_[point].net)] > 0) {
        touch_now(point);
      }
    }
  }

  /// Goes on until nothing is left that any move settles.
  Plan finish() {
    for (;;) {
      if (making_) {
        const auto next = best_move();
        const double so_far = static_cast<double>(unsettled_.gain(now_)) / made_s_;
        if (next && next->rate >= weights_.worthwhile * so_far &&
            gain_with(next->move) >= unsettled_.gain(now_) + (weights_.early ? 0 : 1)) {
          put(next->move);
        } else {
          settle();
        }
        continue;
      }
      const auto move = best_move();
      const auto touch = best_touch();
      if (!move && !touch) {
        if (!take_off_grabbers()) {
          break;
        }
        continue;
      }
      if (touch && (!move || touch->rate >= move->rate)) {
        touch_now(touch->point);
      } else {
        put(move->move);
      }
    }
    unsettled_.list(plan_);
    return std::move(plan_);
  }

 private:
  struct Move {
    PlanMove move;
    double rate = 0;  ///< settled a second
  };
  struct Touch {
    PointId point = kNoPoint;
    double rate = 0;
  };
  double turning_s(Side side) const { return up_.must_turn(side) ? bench_.turn_s : 0; }
  void lift(Mover mover) {
    if (const auto held = held_.find(mover); held != held_.end()) {
      for (const Lead& lead : held->second.leads) {
        unsettled_.detach(lead.point, now_);
        --attached_[index(lead.point)];
      }
      held_.erase(held);
    }
  }
  /// Another clip, or a grabber, is where it would go.
  bool taken(const PlanMove& move) const {
    return std::any_of(held_.begin(), held_.end(),
                       [&](const auto& one) { return one.second.part == move.part; }) ||
           std::any_of(move.leads.begin(), move.leads.end(),
                       [&](const Lead& lead) { return attached_[index(lead.point)] > 0; });
  }
  /// Where no single grabber is worth moving, all may be. False: that was just tried.
  bool take_off_grabbers() {
    if (anew_) {
      return false;
    }
    anew_ = true;
    for (const Mover& mover : grabbers_) {
      if (held_.count(mover) != 0) {
        lift(mover);
        off_.push_back(mover);
      }
    }
    return !off_.empty();
  }
  Attached without(Mover mover) const {
    Attached then = now_;
    if (const auto held = held_.find(mover); held != held_.end()) {
      for (const Lead& lead : held->second.leads) {
        unsettled_.detach(lead.point, then);
      }
    }
    return then;
  }
  Attached with(const PlanMove& move) const {
    Attached then = without({move.fixture, move.grabber});
    for (const Lead& lead : move.leads) {
      unsettled_.attach(lead.point, then);
    }
    return then;
  }
  std::size_t gain_with(const PlanMove& move) const { return unsettled_.gain(with(move)); }

  /// What is left to do where a fixture sits now.
  double pending(Mover mover) const {
    double sum = 0;
    if (const auto held = held_.find(mover); held != held_.end()) {
      for (const Lead& lead : held->second.leads) {
        if (board_[lead.point].net != kNoNet) {
          sum += static_cast<double>(unsettled_.of_net(board_[lead.point].net));
        }
      }
    }
    return sum;
  }
  /// What may be settled beside what is attached, without moving it.
  double later(const Attached& then) const {
    std::size_t sum = 0;
    for (std::uint32_t net = 0; net < then.points.size(); ++net) {
      sum += then.points[net] > 0 ? unsettled_.of_net(NetId{net}) : 0;
    }
    return static_cast<double>(sum);
  }

  /// Nothing where no move settles anything, or lets the tip settle more.
  std::optional<Move> best_move() const {
    std::optional<Move> best;
    const double settled_now = making_ ? static_cast<double>(unsettled_.gain(now_)) : 0;
    const double later_now = later(now_);
    const auto offer = [&](const PlanMove& move, double settled, double more_later) {
      const double value = settled + weights_.later * more_later;
      // What touches do as well is not worth a grabber.
      const bool dear = bench_.tip() != nullptr && more_later <= 0 &&
                        settled * bench_.tip()->move_s < bench_.fixtures[move.fixture].move_s;
      if (value <= 0 || dear) {
        return;
      }
      const double seconds = bench_.fixtures[move.fixture].move_s +
                             turning_s(side_to_reach(board_, move)) +
                             (making_ ? 0 : bench_.confirm_s);
      const double rate =
          (value - weights_.stays * pending({move.fixture, move.grabber})) / seconds;
      if (!best || rate > best->rate) {
        best = Move{move, rate};
      }
    };
    for (const PlanMove& move : fits_) {
      if (!moved_in_step({move.fixture, 0}) && !taken(move)) {
        const Attached then = with(move);
        offer(move, static_cast<double>(unsettled_.gain(then)) - settled_now,
              later(then) - later_now);
      }
    }
    if (const auto grabber = free_grabber()) {
      const auto& [fixture, number] = *grabber;
      const std::vector<PointId>& not_at = bench_.fixtures[fixture].not_at;
      const Attached rest = without(*grabber);
      const double later_rest = later(rest);
      for (std::uint32_t i = 0; i < board_.points().size(); ++i) {
        const PointId point{i};
        const NetId net = board_[point].net;
        if (!unsettled_.wanted(point) || board_[point].access != Access::clip || attached_[i] > 0 ||
            clipped_.count(net) != 0 ||
            std::find(not_at.begin(), not_at.end(), point) != not_at.end()) {
          continue;
        }
        const bool fresh = rest.points[index(net)] == 0;
        offer({fixture, number, kNoPart, {{bench_.fixtures[fixture].channels[number], point}}},
              static_cast<double>(unsettled_.gain(point, rest)),
              later_rest + (fresh ? static_cast<double>(unsettled_.of_net(net)) : 0) - later_now);
      }
    }
    return best;
  }

  bool moved_in_step(Mover mover) const { return making_ && moved_.count(mover) != 0; }

  /// An idle one, else the one that has least left to do where it is.
  std::optional<Mover> free_grabber() const {
    std::optional<Mover> best;
    double least = 0;
    for (const Mover& mover : grabbers_) {
      if (moved_in_step(mover)) {
        continue;
      }
      if (held_.count(mover) == 0) {
        return mover;
      }
      const double left = pending(mover);
      if (!best || left < least) {
        best = mover;
        least = left;
      }
    }
    return best;
  }

  std::optional<Touch> best_touch() const {
    std::optional<Touch> best;
    if (bench_.tip() == nullptr || held_.empty()) {
      return best;
    }
    for (std::uint32_t i = 0; i < board_.points().size(); ++i) {
      const PointId point{i};
      if (!unsettled_.wanted(point)) {
        continue;
      }
      const std::size_t settled = unsettled_.gain(point, now_);
      if (settled == 0 || attached_[i] > 0) {
        continue;
      }
      const double rate = static_cast<double>(settled) /
                          (bench_.tip()->move_s + turning_s(side_to_reach(board_, point)));
      if (!best || rate > best->rate) {
        best = Touch{point, rate};
      }
    }
    return best;
  }

  void touch_now(PointId point) {
    up_.turn_to(side_to_reach(board_, point));
    unsettled_.settle(point, now_);
    anew_ = false;
    plan_.steps.back().touches.push_back(point);
  }

  const Board& board_;
  const Fixtures& bench_;
  Weights weights_;
  Unsettled unsettled_;
  Attached now_;
  std::vector<PlanMove> fits_;
  std::vector<Mover> grabbers_;
  std::set<NetId> clipped_;  ///< where the tip does for a clip's net what a grabber would
  std::map<Mover, PlanMove> held_;
  std::vector<std::uint8_t> attached_;  ///< by point: how many leads
  std::set<Mover> moved_;               ///< in the step that is being made
  std::vector<Mover> off_;              ///< taken off before the next step
  bool anew_ = false;  ///< all grabbers were taken off, and nothing was settled since
  bool making_ = false;
  double made_s_ = 0;
  SideUp up_;
  Plan plan_;
};

}  // namespace

Plan make_plan(const Board& board, const Fixtures& bench, const PlanGoal& goal) {
  std::optional<Plan> best;
  const auto worth = [&](const Plan& plan) {
    return std::pair(plan.points_not_covered.size() + plan.pairs_not_covered.size(),
                     cost_of(board, bench, plan).seconds);
  };
  for (const Weights& weights : kWeights) {
    Plan plan = Planner(board, bench, goal, weights).finish();
    if (!best || worth(plan) < worth(*best)) {
      best = std::move(plan);
    }
  }
  return *std::move(best);
}

Plan plan_by_chip_pairs(const Board& board, const Fixtures& bench, const PlanGoal& goal) {
  Planner planner(board, bench, goal, Weights());
  std::map<PartId, std::vector<PlanMove>> ways;
  for (const PlanMove& move : planner.fits()) {
    ways[move.part].push_back(move);
  }
  const auto share = [&](PartId a, PartId b) {
    return std::any_of(board[a].pins.begin(), board[a].pins.end(), [&](PointId one) {
      return board[one].net != kNoNet &&
             std::any_of(board[b].pins.begin(), board[b].pins.end(),
                         [&](PointId other) { return board[other].net == board[one].net; });
    });
  };
  std::map<std::size_t, PartId> on;  // where each fixture is
  const auto stays = [&](const PlanMove& move) {
    const auto at = on.find(move.fixture);
    return at != on.end() && at->second == move.part;
  };
  // Nothing that stays where it is sits on a chip that another is to go on.
  const auto is_free = [&](const PlanMove& move, const PlanMove& beside) {
    return std::none_of(on.begin(), on.end(), [&](const auto& one) {
      return one.second == move.part && one.first != move.fixture && one.first != beside.fixture;
    });
  };
  for (auto a = ways.begin(); a != ways.end(); ++a) {
    for (auto b = std::next(a); b != ways.end(); ++b) {
      if (!share(a->first, b->first)) {
        continue;
      }
      std::vector<const PlanMove*> best;
      for (const PlanMove& one : a->second) {
        for (const PlanMove& other : b->second) {
          if (one.fixture == other.fixture || !is_free(one, other) || !is_free(other, one)) {
            continue;
          }
          std::vector<const PlanMove*> moves;
          for (const PlanMove* move : {&one, &other}) {
            if (!stays(*move)) {
              moves.push_back(move);
            }
          }
          if (best.empty() || moves.size() < best.size()) {
            best = std::move(moves);
          }
        }
      }
      for (const PlanMove* move : best) {
        planner.put(*move);
        on[move->fixture] = move->part;
      }
      if (!best.empty()) {
        planner.settle();
        planner.touch_all_of_held_nets();
      }
    }
  }
  return planner.finish();
}

}  // namespace padwalk::graph
