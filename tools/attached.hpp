// SPDX-License-Identifier: MIT
//
// Which fixture sits where while a plan is followed, and the leads that this makes. Measures
// nothing.
#pragma once

#include <algorithm>
#include <map>

#include "graph/plan.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

inline bool is_left_out(const SweepReport& report, graph::NetId net) {
  return std::find(report.left_out.begin(), report.left_out.end(), net) != report.left_out.end();
}
inline bool is_left_out(const SweepReport& report, const graph::Board& board,
                        graph::PointId point) {
  return is_left_out(report, board[point].net);
}

/// What sits where, of a sweep over several hookups.
class Attached {
 public:
  void take_off(const graph::Mover& mover) { moves_.erase(mover); }
  void put(const graph::PlanMove& move) { moves_[{move.fixture, move.grabber}] = move; }

  /// It is there already.
  bool sits(const graph::PlanMove& move) const {
    const auto known = moves_.find({move.fixture, move.grabber});
    return known != moves_.end() &&
           std::equal(known->second.leads.begin(), known->second.leads.end(), move.leads.begin(),
                      move.leads.end(), [](const graph::Lead& a, const graph::Lead& b) {
                        return a.channel == b.channel && a.point == b.point;
                      });
  }

  const std::map<graph::Mover, graph::PlanMove>& moves() const { return moves_; }

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

}  // namespace padwalk::tools
