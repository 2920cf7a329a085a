// SPDX-License-Identifier: MIT
#include "tools/follow_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <deque>
#include <iterator>
#include <map>
#include <set>

#include "graph/evidence.hpp"
#include "graph/follow_up.hpp"
#include "tools/attached.hpp"

namespace padwalk::tools {

namespace {

bool has_lead(const graph::Hookup& hookup, graph::PointId point) {
  return std::any_of(hookup.leads.begin(), hookup.leads.end(),
                     [&](const graph::Lead& lead) { return lead.point == point; });
}

/// Does one step after the other.
class Follower {
 public:
  Follower(const Measuring& measuring, graph::Fixtures bench, Hands& hands, SweepReport& report,
           const std::optional<Kept>& before)
      : measuring_(measuring),
        board_(measuring.board),
        bench_(std::move(bench)),
        hands_(hands),
        report_(report),
        record_(measuring.record),
        evidence_(before ? before->evidence : graph::Evidence(board_)) {}

  /// Goes on where a sweep was cut off. Returns a plan for what is left of the goal.
  graph::Plan go_on(const Kept& before, const graph::PlanGoal& goal) {
    report_.measured = evidence_.merged();
    note_leads({before.leads}, report_);
    report_.not_reached = before.not_reached;
    for (const auto& [fixture, where] : before.misfits) {
      note_misfit(fixture, where);
    }
    return plan_for_rest(goal);
  }

  /// Returns whether to go on. Where something did not fit the rest of the step is not done.
  bool run(const graph::PlanStep& step) {
    const graph::Hookup before = attached_.hookup(report_, board_);
    for (const graph::Mover& mover : step.off) {
      attached_.take_off(mover);
    }
    graph::PlanStep really = step;
    std::erase_if(really.moves, [&](const graph::PlanMove& move) { return attached_.sits(move); });
    for (const graph::PlanMove& move : really.moves) {
      attached_.put(move);
      placed_[{move.fixture, move.grabber}] = {evidence_.size(), false, {}};
    }
    if (!really.moves.empty() && !place(really, before)) {
      return false;
    }
    const graph::Hookup now = attached_.hookup(report_, board_);
    std::deque<graph::PointId> touches(step.touches.begin(), step.touches.end());
    std::set<graph::PointId> put_off;
    while (!does_not_fit_ && !touches.empty()) {
      const graph::PointId point = touches.front();
      touches.pop_front();
      bool later = false;
      if (!touch(point, now, later)) {
        return false;
      }
      if (later && put_off.insert(point).second) {
        touches.insert(behind_side(touches, point), point);
      } else if (later) {
        note_not_reached(point);
      }
    }
    return true;
  }

  /// Of what is left of `goal`, where something did not fit since this was asked last.
  std::optional<graph::Plan> new_plan(const graph::PlanGoal& goal) {
    if (!std::exchange(does_not_fit_, false)) {
      return std::nullopt;
    }
    return plan_for_rest(goal);
  }

  const graph::Evidence& evidence() const { return evidence_; }
  const graph::Fixtures& bench() const { return bench_; }
  std::set<graph::PointId> held() const {
    const std::vector<graph::PointId> points = attached_.hookup(report_, board_).points();
    return {points.begin(), points.end()};
  }

 private:
  graph::Plan plan_for_rest(const graph::PlanGoal& goal) {
    graph::PlanGoal left = evidence_.left_of(goal);
    for (std::uint32_t i = 0; i < left.points.size(); ++i) {
      left.points[i] = left.points[i] && !is_left_out(report_, board_, graph::PointId{i});
    }
    for (const graph::PointId point : report_.not_reached) {
      left.points[graph::index(point)] = false;
    }
    std::erase_if(left.pairs, [&](const auto& pair) {
      return is_left_out(report_, pair.first) || is_left_out(report_, pair.second);
    });
    return graph::make_plan(board_, bench_, left);
  }

  struct Placed {
    std::size_t since = 0;             ///< spell of measuring
    bool looked_at = false;            ///< and found right
    std::set<graph::PointId> doubted;  ///< leads whose past was forgotten when they were heard
  };

  /// It had contact where it should: what conducts to another net alone may sit wrong, unless the
  /// person looked.
  bool proven(graph::PointId point, const Placed& placed) const {
    return evidence_.conducted(point, placed.since, !placed.looked_at);
  }

  /// That fixture never goes there again: on a part, or, a grabber, on a point.
  void note_misfit(const std::string& name, const std::string& where) {
    for (graph::Fixture& fixture : bench_.fixtures) {
      const auto part = board_.find_part(where);
      const auto point = board_.find_point(where);
      if (fixture.name == name && fixture.kind == graph::FixtureKind::grabber && point) {
        fixture.not_at.push_back(*point);
      } else if (fixture.name == name && part) {
        fixture.not_on.push_back(*part);
      }
    }
    report_.misfits.push_back(fmt::format("{} on {}", name, where));
  }

  /// It stays off, for good.
  void leave_off(const graph::PlanMove& move) {
    const std::string& name = bench_.fixtures[move.fixture].name;
    const std::string& where = move.part == graph::kNoPart ? board_[move.leads.front().point].name
                                                           : board_[move.part].name;
    note_misfit(name, where);
    record_.misfit(name, where);
    attached_.take_off({move.fixture, move.grabber});
    does_not_fit_ = true;
  }

  void note_not_reached(graph::PointId point) {
    report_.not_reached.push_back(point);
    record_.not_reached(point);
  }

  void note_hookup(const graph::Hookup& now) {
    note_leads(now, report_);
    record_.leads(now);
  }

  bool place(const graph::PlanStep& step, const graph::Hookup& before) {
    const std::vector<std::size_t> misfits = hands_.place(step, attached_.hookup(report_, board_));
    for (const std::size_t which : misfits) {
      leave_off(step.moves[which]);
    }
    const graph::Hookup now = attached_.hookup(report_, board_);
    report_.moves += step.moves.size() - misfits.size();
    ++report_.hookups;
    note_hookup(now);
    measuring_.session.leads_moved();
    std::vector<graph::PointId> fresh;
    for (const graph::Lead& lead : now.leads) {
      if (!has_lead(before, lead.point)) {
        fresh.push_back(lead.point);
      }
    }
    return fresh.empty() || now.leads.size() < 2 || measure(now, fresh);
  }

  /// And the leads on nets of `fresh` that stayed but never conducted: they may have had no
  /// contact, so what their nets conduct to is not known.
  std::vector<graph::PointId> with_unproven(std::vector<graph::PointId> fresh,
                                            const graph::Hookup& now) {
    std::set<graph::NetId> nets;
    for (const graph::PointId point : fresh) {
      nets.insert(board_[point].net);
    }
    for (const auto& [mover, move] : attached_.moves()) {
      for (const graph::Lead& lead : move.leads) {
        const bool listed = std::find(fresh.begin(), fresh.end(), lead.point) != fresh.end();
        if (!listed && has_lead(now, lead.point) && nets.count(board_[lead.point].net) != 0 &&
            !proven(lead.point, placed_[mover])) {
          fresh.push_back(lead.point);
        }
      }
    }
    return fresh;
  }

  bool measure(const graph::Hookup& now, std::vector<graph::PointId> fresh, bool moved = true) {
    for (;; moved = true) {
      HookupSweep sweep(measuring_, now, with_unproven(fresh, now), report_);
      if (!(moved ? sweep.read() : sweep.read_unmoved())) {
        return sweep.finish();
      }
      const std::vector<graph::PointId> wrong = wrong_or_ended(sweep, now);
      if (wrong.empty()) {
        return !report_.measured.interrupted;
      }
      fresh.insert(fresh.end(), wrong.begin(), wrong.end());
    }
  }

  /// Behind the last touch of the same side, so that the board is not turned for one; the end where
  /// there is none.
  std::deque<graph::PointId>::iterator behind_side(std::deque<graph::PointId>& touches,
                                                   graph::PointId point) const {
    const graph::Side side = graph::side_to_reach(board_, point);
    const auto last = std::find_if(touches.rbegin(), touches.rend(), [&](graph::PointId other) {
      return graph::side_to_reach(board_, other) == side;
    });
    return last == touches.rend() ? touches.end() : last.base();
  }

  /// Returns whether to go on. `later`: the person wants to come back to it.
  bool touch(graph::PointId point, const graph::Hookup& held, bool& later) {
    const bool not_reached = std::find(report_.not_reached.begin(), report_.not_reached.end(),
                                       point) != report_.not_reached.end();
    if (not_reached || is_left_out(report_, board_, point)) {
      return true;
    }
    if (has_lead(held, point)) {
      return measure(held, {point});  // a lead is there: it is read again
    }
    graph::Hookup now = held;
    now.leads.push_back({bench_.tip()->channels.front(), point});
    for (;;) {
      if (measuring_.stop) {
        report_.interrupted = report_.measured.interrupted = true;
        return false;
      }
      const Reached reached = hands_.touch(now);
      later = reached == Reached::later;
      if (reached == Reached::no) {
        note_not_reached(point);
      }
      if (reached != Reached::yes) {
        return true;
      }
      ++report_.touches;
      note_hookup(now);
      if (now.leads.size() < 2) {
        return true;
      }
      HookupSweep sweep(measuring_, now, with_unproven({point}, now), report_);
      if (!sweep.read()) {
        return sweep.finish();
      }
      std::vector<graph::PointId> wrong;
      const auto instead = graph::touched_instead(board_, report_.limits, now, sweep.readings());
      if (instead && ask_tip(*instead, now)) {
        sweep.discard();
        HookupSweep again(measuring_, now, with_unproven({point}, now), report_);
        if (!again.read()) {
          return again.finish();
        }
        wrong = wrong_or_ended(again, now);
      } else {
        wrong = wrong_or_ended(sweep, now);
      }
      if (wrong.empty()) {
        return !report_.measured.interrupted;
      }
      // What sat wrong is read anew, then the tip comes back.
      if (!measure(held, wrong)) {
        return false;
      }
    }
  }

  /// Ends a sweep whose fixtures sit right, as far as it shows. Otherwise one was put right: where
  /// its leads are now.
  std::vector<graph::PointId> wrong_or_ended(HookupSweep& sweep, const graph::Hookup& now) {
    std::vector<graph::PointId> wrong = put_right(sweep.readings(), now);
    if (!wrong.empty()) {
      sweep.discard();
    } else {
      std::vector<graph::PointId> unproven;
      if (finish(sweep, now, unproven) && !sweep.cured().empty()) {
        if (!unproven.empty()) {
          std::set<graph::PointId> again(unproven.begin(), unproven.end());
          again.insert(sweep.fresh().begin(), sweep.fresh().end());
          measure(now, {again.begin(), again.end()}, false);
        } else {  // what has contact now may show more
          wrong = put_right(sweep.measured().readings, now);
        }
      }
    }
    merge_again();
    return wrong;
  }

  /// Ends a sweep. A lead that only now has contact, after it was silent, had none before, or was
  /// elsewhere, and with it perhaps the whole clip, which whoever re-seats it puts right: all that
  /// its unproven leads said until now is forgotten. `unproven`: such leads, once each.
  bool finish(HookupSweep& sweep, const graph::Hookup& now, std::vector<graph::PointId>& unproven) {
    const bool to_the_end = sweep.finish();
    std::map<graph::Mover, std::vector<graph::PointId>> of_movers;
    for (const auto& [mover, move] : attached_.moves()) {
      const bool cured =
          to_the_end && std::any_of(move.leads.begin(), move.leads.end(), [&](const auto& lead) {
            return std::find(sweep.cured().begin(), sweep.cured().end(), lead.point) !=
                   sweep.cured().end();
          });
      for (const graph::Lead& lead : move.leads) {
        if (cured && has_lead(now, lead.point) && !proven(lead.point, placed_[mover]) &&
            placed_[mover].doubted.insert(lead.point).second) {
          of_movers[mover].push_back(lead.point);
        }
      }
    }
    evidence_.add(sweep.measured());
    if (!sweep.measured().interrupted) {
      record_.spell(sweep.measured());
    }
    for (const auto& [mover, points] : of_movers) {
      forget(points, placed_[mover].since);
      unproven.insert(unproven.end(), points.begin(), points.end());
    }
    merge_again();
    return to_the_end;
  }

  void merge_again() {
    if (forgotten_) {
      report_.measured = evidence_.merged();
      forgotten_ = false;
    }
  }

  void forget(const std::vector<graph::PointId>& points, std::size_t since) {
    if (!points.empty()) {
      evidence_.forget(points, since);
      record_.forgotten(points, since);
      forgotten_ = true;
    }
  }

  bool ask_tip(graph::NetId instead, const graph::Hookup& now) {
    ++report_.asked;
    const bool slipped = hands_.touch_again(instead, now);
    report_.slips += slipped ? 1 : 0;
    return slipped;
  }

  /// Asks about fixtures that seem to sit wrong until one did, and that is put right; what it said
  /// before is forgotten. Returns where its leads were thought to be and are now.
  std::vector<graph::PointId> put_right(const std::vector<graph::Reading>& readings,
                                        const graph::Hookup& now) {
    std::vector<graph::PlanMove> moves;
    std::vector<bool> looked_at;
    for (const auto& [mover, move] : attached_.moves()) {
      moves.push_back(move);
      looked_at.push_back(placed_[mover].looked_at);
    }
    std::vector<graph::PointId> wrong;
    while (wrong.empty() && !measuring_.stop) {
      const auto slip =
          graph::likeliest_slip(board_, bench_, report_.limits, {now, moves}, readings, looked_at);
      if (!slip) {
        break;
      }
      const graph::PlanMove& move = moves[slip->move];
      Placed& placed = placed_[{move.fixture, move.grabber}];
      ++report_.asked;
      looked_at[slip->move] = placed.looked_at = true;
      if (hands_.put_right(move, *slip, now)) {
        ++report_.slips;
        for (const graph::Lead& lead : move.leads) {
          if (!is_left_out(report_, board_, lead.point)) {
            wrong.push_back(lead.point);
          }
        }
        forget(wrong, placed.since);
        placed.since = evidence_.size();
        measuring_.session.leads_moved();
      }
    }
    return wrong;
  }

  const Measuring& measuring_;
  const graph::Board& board_;
  graph::Fixtures bench_;
  Hands& hands_;
  SweepReport& report_;
  Record& record_;
  Attached attached_;
  std::map<graph::Mover, Placed> placed_;
  graph::Evidence evidence_;
  bool forgotten_ = false;     ///< something, since it was merged last
  bool does_not_fit_ = false;  ///< something, since a plan was made last
};

/// Does a plan; goes over to another one where something does not fit. False: stopped.
bool run_all(Follower& follower, const graph::PlanGoal& goal, graph::Plan& plan) {
  for (std::size_t at = 0; at < plan.steps.size();) {
    if (!follower.run(plan.steps[at++])) {
      return false;
    }
    if (auto other = follower.new_plan(goal)) {
      plan = *std::move(other);
      at = 0;
    }
  }
  return true;
}

/// What the plan before could reach and this one cannot.
void note_not_reached(const graph::Plan& before, const graph::Plan& plan, SweepReport& report) {
  std::vector<graph::PointId> could_not = before.points_not_covered;
  could_not.insert(could_not.end(), report.not_reached.begin(), report.not_reached.end());
  std::copy_if(plan.points_not_covered.begin(), plan.points_not_covered.end(),
               std::back_inserter(report.not_reached), [&](graph::PointId point) {
                 return std::find(could_not.begin(), could_not.end(), point) == could_not.end();
               });
}

/// Pairs of nets that were to be together and were not, since a lead had no contact or sat wrong.
bool catch_up(Follower& follower, const Measuring& measuring, const graph::PlanGoal& goal,
              const graph::Plan& plan, const SweepReport& report) {
  std::vector<std::pair<graph::NetId, graph::NetId>> due;
  std::set_difference(goal.pairs.begin(), goal.pairs.end(), plan.pairs_not_covered.begin(),
                      plan.pairs_not_covered.end(), std::back_inserter(due));
  std::erase_if(due, [&](const auto& pair) {
    return is_left_out(report, pair.first) || is_left_out(report, pair.second);
  });
  graph::PlanGoal left;
  left.points.resize(goal.points.size());
  left.pairs = follower.evidence().never_together(due);
  if (left.pairs.empty()) {
    return true;
  }
  graph::Plan more = graph::make_plan(measuring.board, follower.bench(), left);
  return run_all(follower, left, more);
}

void follow(const Measuring& measuring, graph::Fixtures bench, const graph::PlanGoal& goal,
            graph::Plan& plan, Hands& hands, SweepReport& report,
            const std::optional<Kept>& before) {
  Follower follower(measuring, std::move(bench), hands, report, before);
  const graph::Plan first = plan;
  if (before) {
    plan = follower.go_on(*before, goal);
  }
  const bool to_the_end = run_all(follower, goal, plan);
  note_not_reached(first, plan, report);
  if (!to_the_end || !catch_up(follower, measuring, goal, plan, report)) {
    return;
  }
  std::set<std::pair<graph::PointId, graph::PointId>> tried;
  while (const auto step = graph::follow_up(measuring.board, follower.bench(), report.limits,
                                            report.measured, follower.held(), tried)) {
    if (!follower.run(*step)) {
      return;
    }
  }
}

}  // namespace

void follow_plan(const Measuring& measuring, graph::Fixtures bench, const graph::PlanGoal& goal,
                 graph::Plan& plan, Hands& hands, SweepReport& report,
                 const std::optional<Kept>& before) {
  try {
    follow(measuring, std::move(bench), goal, plan, hands, report, before);
  } catch (const RecordError& error) {
    note_lost_record(error, report);
  }
}

}  // namespace padwalk::tools
