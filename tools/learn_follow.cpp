// SPDX-License-Identifier: MIT
#include "tools/learn_follow.hpp"

#include "graph/learn_moves.hpp"

namespace padwalk::tools {

namespace {

/// Pairs that are listed where they never had leads at one time.
constexpr std::size_t kMostPairs = 1000;

/// False: it ended early.
bool learn_step(const Measuring& measuring, const graph::PlanStep& step, graph::LearnMoves& moves,
                Hands& hands, LearnReport& report) {
  SweepReport& sweep = report.sweep;
  const graph::Hookup now = moves.hookup();
  if (!step.moves.empty()) {
    hands.place(step, now);
    measuring.session.leads_moved();
    ++sweep.hookups;
    sweep.moves += step.moves.size();
  } else if (!hands.touch(now)) {
    sweep.not_reached.push_back(step.touches.front());
    moves.not_reached();
    return true;
  } else {
    ++sweep.touches;
  }
  if (measuring.stop) {
    sweep.interrupted = true;
    return false;
  }
  note_leads(now, sweep);
  const std::vector<graph::PointId> fresh = moves.fresh();
  if (fresh.empty()) {
    return true;
  }
  const HookupLearned learned = learn_hookup(measuring, now, moves.known(), fresh, report);
  if (learned.to_the_end) {
    moves.record(learned.pieces);
  }
  return learned.to_the_end;
}

}  // namespace

void learn_by_moves(const Measuring& measuring, const graph::Fixtures& bench, Hands& hands,
                    LearnReport& report) {
  const Measuring unasked{measuring.session, measuring.board, false, nullptr, measuring.stop};
  graph::LearnMoves moves(measuring.board, bench);
  bool goes_on = true;
  while (goes_on) {
    const std::optional<graph::PlanStep> step = moves.next();
    goes_on = step && learn_step(unasked, *step, moves, hands, report);
  }
  report.pieces = moves.books().groups();
  report.never_together = moves.books().never_together(kMostPairs);
  report.no_lead = moves.not_covered();
}

}  // namespace padwalk::tools
