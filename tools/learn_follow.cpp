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
    const bool fits = hands.place(step, now).empty();
    measuring.session.leads_moved();
    if (!fits) {
      moves.does_not_fit();
      return !measuring.stop;
    }
    ++sweep.hookups;
    sweep.moves += step.moves.size();
  } else if (const Reached reached = hands.touch(now); reached != Reached::yes) {
    if (!moves.not_reached(reached == Reached::later)) {
      sweep.not_reached.push_back(step.touches.front());
    }
    return !measuring.stop;
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
  report.no_lead = without_lead(measuring.board, report.sweep.hookup);
  for (const graph::PointId point : report.sweep.not_reached) {  // said apart
    std::erase(report.no_lead, point);
  }
}

}  // namespace padwalk::tools
