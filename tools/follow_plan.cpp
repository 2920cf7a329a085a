// SPDX-License-Identifier: MIT
#include "tools/follow_plan.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "graph/follow_up.hpp"

namespace padwalk::tools {

namespace {

bool is_left_out(const SweepReport& report, const graph::Board& board, graph::PointId point) {
  return std::find(report.left_out.begin(), report.left_out.end(), board[point].net) !=
         report.left_out.end();
}

/// What sits where.
class Attached {
 public:
  void take_off(const graph::Mover& mover) { leads_.erase(mover); }
  void put(const graph::PlanMove& move) { leads_[{move.fixture, move.grabber}] = move.leads; }

  /// By channel.
  graph::Hookup hookup(const SweepReport& report, const graph::Board& board) const {
    graph::Hookup hookup;
    for (const auto& [mover, leads] : leads_) {
      hookup.leads.insert(hookup.leads.end(), leads.begin(), leads.end());
    }
    std::erase_if(hookup.leads,
                  [&](const graph::Lead& lead) { return is_left_out(report, board, lead.point); });
    std::sort(hookup.leads.begin(), hookup.leads.end(),
              [](const auto& a, const auto& b) { return a.channel < b.channel; });
    return hookup;
  }

 private:
  std::map<graph::Mover, std::vector<graph::Lead>> leads_;
};

/// Says on which lead a point was last.
void note_leads(const graph::Hookup& hookup, SweepReport& report) {
  for (const graph::Lead& lead : hookup.leads) {
    const auto known = std::find_if(report.hookup.leads.begin(), report.hookup.leads.end(),
                                    [&](const auto& other) { return other.point == lead.point; });
    if (known == report.hookup.leads.end()) {
      report.hookup.leads.push_back(lead);
    } else {
      known->channel = lead.channel;
    }
  }
}

bool has_lead(const graph::Hookup& hookup, graph::PointId point) {
  return std::any_of(hookup.leads.begin(), hookup.leads.end(),
                     [&](const graph::Lead& lead) { return lead.point == point; });
}

/// Does one step after the other.
class Follower {
 public:
  Follower(const Measuring& measuring, const graph::Fixtures& bench, Hands& hands,
           SweepReport& report)
      : measuring_(measuring), bench_(bench), hands_(hands), report_(report) {}

  /// Returns whether to go on.
  bool run(const graph::PlanStep& step) {
    const graph::Hookup before = attached_.hookup(report_, measuring_.board);
    for (const graph::Mover& mover : step.off) {
      attached_.take_off(mover);
    }
    for (const graph::PlanMove& move : step.moves) {
      attached_.put(move);
    }
    const graph::Hookup now = attached_.hookup(report_, measuring_.board);
    return (step.moves.empty() || place(step, before, now)) &&
           std::all_of(step.touches.begin(), step.touches.end(),
                       [&](graph::PointId point) { return touch(point, now); });
  }

  std::set<graph::PointId> held() const {
    const std::vector<graph::PointId> points = attached_.hookup(report_, measuring_.board).points();
    return {points.begin(), points.end()};
  }

 private:
  bool place(const graph::PlanStep& step, const graph::Hookup& before, const graph::Hookup& now) {
    hands_.place(step, now);
    report_.moves += step.moves.size();
    ++report_.hookups;
    note_leads(now, report_);
    measuring_.session.leads_moved();
    std::vector<graph::PointId> fresh;
    for (const graph::Lead& lead : now.leads) {
      if (!has_lead(before, lead.point)) {
        fresh.push_back(lead.point);
      }
    }
    return fresh.empty() || now.leads.size() < 2 || measure(step, now, fresh);
  }

  bool measure(const graph::PlanStep& step, const graph::Hookup& now,
               const std::vector<graph::PointId>& fresh) {
    std::vector<bool> looked_at(step.moves.size());
    for (;;) {
      HookupSweep sweep(measuring_, now, fresh, report_);
      if (!sweep.read()) {
        return sweep.finish();
      }
      bool moved = false;
      while (const auto slip =
                 graph::likeliest_slip(measuring_.board, bench_, report_.limits, {now, step.moves},
                                       sweep.readings(), looked_at)) {
        ++report_.asked;
        looked_at[slip->move] = true;
        moved = hands_.put_right(step.moves[slip->move], *slip, now);
        if (moved) {
          ++report_.slips;
          break;
        }
      }
      if (!moved) {
        return sweep.finish();
      }
      sweep.discard();
      measuring_.session.leads_moved();
    }
  }

  bool touch(graph::PointId point, graph::Hookup now) {
    if (is_left_out(report_, measuring_.board, point)) {
      return true;
    }
    if (measuring_.stop) {
      report_.interrupted = report_.measured.interrupted = true;
      return false;
    }
    now.leads.push_back({bench_.tip()->channels.front(), point});
    if (!hands_.touch(now)) {
      report_.not_reached.push_back(point);
      return true;
    }
    ++report_.touches;
    note_leads(now, report_);
    return now.leads.size() < 2 || measure_touch(point, now);
  }

  bool measure_touch(graph::PointId point, const graph::Hookup& now) {
    HookupSweep sweep(measuring_, now, {point}, report_);
    const auto instead = sweep.read() ? graph::touched_instead(measuring_.board, report_.limits,
                                                               now, sweep.readings())
                                      : std::nullopt;
    report_.asked += instead ? 1 : 0;
    if (!instead || !hands_.touch_again(*instead, now)) {
      return sweep.finish();
    }
    ++report_.slips;
    sweep.discard();
    HookupSweep again(measuring_, now, {point}, report_);
    again.read();
    return again.finish();
  }

  const Measuring& measuring_;
  const graph::Fixtures& bench_;
  Hands& hands_;
  SweepReport& report_;
  Attached attached_;
};

}  // namespace

void follow_plan(const Measuring& measuring, const graph::Fixtures& bench, const graph::Plan& plan,
                 Hands& hands, SweepReport& report) {
  Follower follower(measuring, bench, hands, report);
  for (const graph::PlanStep& step : plan.steps) {
    if (!follower.run(step)) {
      return;
    }
  }
  std::set<std::pair<graph::PointId, graph::PointId>> tried;
  while (const auto step = graph::follow_up(measuring.board, bench, report.limits, report.measured,
                                            follower.held(), tried)) {
    if (!follower.run(*step)) {
      return;
    }
  }
}

}  // namespace padwalk::tools
