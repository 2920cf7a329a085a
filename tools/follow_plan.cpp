// SPDX-License-Identifier: MIT
#include "tools/follow_plan.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "graph/evidence.hpp"
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
  void take_off(const graph::Mover& mover) { moves_.erase(mover); }
  void put(const graph::PlanMove& move) { moves_[{move.fixture, move.grabber}] = move; }

  std::vector<graph::PlanMove> moves() const {
    std::vector<graph::PlanMove> moves;
    for (const auto& [mover, move] : moves_) {
      moves.push_back(move);
    }
    return moves;
  }

  /// By channel.
  graph::Hookup hookup(const SweepReport& report, const graph::Board& board) const {
    graph::Hookup hookup;
    for (const auto& [mover, move] : moves_) {
      hookup.leads.insert(hookup.leads.end(), move.leads.begin(), move.leads.end());
    }
    std::erase_if(hookup.leads,
                  [&](const graph::Lead& lead) { return is_left_out(report, board, lead.point); });
    std::sort(hookup.leads.begin(), hookup.leads.end(),
              [](const auto& a, const auto& b) { return a.channel < b.channel; });
    return hookup;
  }

 private:
  std::map<graph::Mover, graph::PlanMove> moves_;
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
  using LookedAt = std::set<graph::Mover>;

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
    return fresh.empty() || now.leads.size() < 2 || measure(now, fresh);
  }

  bool measure(const graph::Hookup& now, std::vector<graph::PointId> fresh) {
    LookedAt looked_at;
    for (;;) {
      HookupSweep sweep(measuring_, now, fresh, report_);
      if (!sweep.read() || !put_right(sweep.readings(), now, looked_at)) {
        return sweep.finish();
      }
      sweep.discard();
      add_wrong_to(fresh);
    }
  }

  bool touch(graph::PointId point, const graph::Hookup& held) {
    if (is_left_out(report_, measuring_.board, point)) {
      return true;
    }
    graph::Hookup now = held;
    now.leads.push_back({bench_.tip()->channels.front(), point});
    LookedAt looked_at;
    bool tip_looked_at = false;
    for (;;) {
      if (measuring_.stop) {
        report_.interrupted = report_.measured.interrupted = true;
        return false;
      }
      if (!hands_.touch(now)) {
        report_.not_reached.push_back(point);
        return true;
      }
      ++report_.touches;
      note_leads(now, report_);
      if (now.leads.size() < 2) {
        return true;
      }
      HookupSweep sweep(measuring_, now, {point}, report_);
      if (!sweep.read()) {
        return sweep.finish();
      }
      const auto instead =
          graph::touched_instead(measuring_.board, report_.limits, now, sweep.readings());
      if (instead && !tip_looked_at && ask_tip(*instead, now)) {
        sweep.discard();
        HookupSweep again(measuring_, now, {point}, report_);
        again.read();
        return again.finish();
      }
      tip_looked_at = instead.has_value();
      if (!instead || !put_right(sweep.readings(), now, looked_at)) {
        return sweep.finish();
      }
      // What sat wrong is read anew, then the tip comes back.
      sweep.discard();
      std::vector<graph::PointId> fresh;
      add_wrong_to(fresh);
      if (!measure(held, fresh)) {
        return false;
      }
    }
  }

  bool ask_tip(graph::NetId instead, const graph::Hookup& now) {
    ++report_.asked;
    const bool slipped = hands_.touch_again(instead, now);
    report_.slips += slipped ? 1 : 0;
    return slipped;
  }

  /// Asks about fixtures that seem to sit wrong until one did, and that is put right; what it said
  /// before is forgotten. False: none.
  bool put_right(const std::vector<graph::Reading>& readings, const graph::Hookup& now,
                 LookedAt& looked_at) {
    const std::vector<graph::PlanMove> moves = attached_.moves();
    std::vector<bool> known;
    for (const graph::PlanMove& move : moves) {
      known.push_back(looked_at.count({move.fixture, move.grabber}) != 0);
    }
    while (const auto slip = graph::likeliest_slip(measuring_.board, bench_, report_.limits,
                                                   {now, moves}, readings, known)) {
      const graph::PlanMove& move = moves[slip->move];
      ++report_.asked;
      known[slip->move] = true;
      looked_at.insert({move.fixture, move.grabber});
      if (hands_.put_right(move, *slip, now)) {
        ++report_.slips;
        wrong_.clear();
        for (const graph::Lead& lead : move.leads) {
          wrong_.push_back(lead.point);
        }
        graph::drop_evidence(measuring_.board, report_.measured, wrong_);
        measuring_.session.leads_moved();
        return true;
      }
    }
    return false;
  }

  void add_wrong_to(std::vector<graph::PointId>& fresh) const {
    for (const graph::PointId point : wrong_) {
      if (!is_left_out(report_, measuring_.board, point) &&
          std::find(fresh.begin(), fresh.end(), point) == fresh.end()) {
        fresh.push_back(point);
      }
    }
  }

  const Measuring& measuring_;
  const graph::Fixtures& bench_;
  Hands& hands_;
  SweepReport& report_;
  Attached attached_;
  std::vector<graph::PointId> wrong_;  ///< where a fixture was thought to be that was put right
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
