// SPDX-License-Identifier: MIT
#include "tools/follow_plan.hpp"

#include <algorithm>
#include <map>

namespace padwalk::tools {

namespace {

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
    std::erase_if(hookup.leads, [&](const graph::Lead& lead) {
      return std::find(report.left_out.begin(), report.left_out.end(), board[lead.point].net) !=
             report.left_out.end();
    });
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

}  // namespace

void follow_plan(const Measuring& measuring, const graph::Fixtures& bench, const graph::Plan& plan,
                 Hands& hands, SweepReport& report) {
  const graph::Board& board = measuring.board;
  const graph::Fixture* tip = bench.tip();
  Attached attached;
  for (const graph::PlanStep& step : plan.steps) {
    const graph::Hookup before = attached.hookup(report, board);
    for (const graph::Mover& mover : step.off) {
      attached.take_off(mover);
    }
    for (const graph::PlanMove& move : step.moves) {
      attached.put(move);
    }
    const graph::Hookup now = attached.hookup(report, board);
    hands.place(step, now);
    report.moves += step.moves.size();
    ++report.hookups;
    note_leads(now, report);
    measuring.session.leads_moved();
    std::vector<graph::PointId> fresh;
    for (const graph::Lead& lead : now.leads) {
      if (!has_lead(before, lead.point)) {
        fresh.push_back(lead.point);
      }
    }
    if (!fresh.empty() && now.leads.size() > 1 && !measure_hookup(measuring, now, fresh, report)) {
      return;
    }
    for (const graph::PointId point : step.touches) {
      if (measuring.stop) {
        report.interrupted = report.measured.interrupted = true;
        return;
      }
      graph::Hookup touching = now;
      touching.leads.push_back({tip->channels.front(), point});
      if (std::find(report.left_out.begin(), report.left_out.end(), board[point].net) !=
          report.left_out.end()) {
        continue;
      }
      if (!hands.touch(touching)) {
        report.not_reached.push_back(point);
        continue;
      }
      ++report.touches;
      note_leads(touching, report);
      if (!measure_hookup(measuring, touching, {point}, report)) {
        return;
      }
    }
  }
}

}  // namespace padwalk::tools
