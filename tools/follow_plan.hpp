// SPDX-License-Identifier: MIT
//
// A sweep over several hookups: fixtures are moved and points touched as a plan says, and all that
// is measured is added up. Joins plan and measuring loop; judges nothing.
#pragma once

#include "graph/plan.hpp"
#include "graph/slips.hpp"
#include "tools/measure.hpp"

namespace padwalk::tools {

/// What became of a touch.
enum class Reached : std::uint8_t {
  yes,
  later,  ///< not now: asked for again behind the others
  no      ///< it cannot be reached
};

/// Whoever moves the fixtures and holds the tip.
class Hands {
 public:
  virtual ~Hands() = default;
  /// Puts on what `step` says and looks whether it sits right. `now`: all leads after that.
  /// Returns which of its moves do not fit there, by their place in it, and were left off.
  virtual std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& now) = 0;
  /// Looks whether `move` sits as `slip` says or wrong in another way, and puts it right. False: it
  /// sits right.
  virtual bool put_right(const graph::PlanMove& move, const graph::Slip& slip,
                         const graph::Hookup& now) = 0;
  /// Looks whether the tip is on the last point of `now`: it conducts to `instead`. False: it is.
  virtual bool touch_again(graph::NetId instead, const graph::Hookup& now) = 0;
  /// Holds the tip on the last point of `now`, until the next call.
  virtual Reached touch(const graph::Hookup& now) = 0;
};

/// After each move and touch, a slip of the hand that explains what was read is asked about before
/// anything is believed. Follows `plan`, which was made for `goal`, to its end, then reads against
/// each other what turned out to be in pieces; or until the tester fails, the board comes alive or
/// the caller stops it. What does not fit stays off, and `plan` becomes one for what is left.
/// Points of nets that `report` leaves out get no lead. Fills in what was measured, and how much of
/// the plan was done. `before`: what a sweep that was cut off had kept: it counts, and only what is
/// left of the goal is planned and done.
void follow_plan(const Measuring& measuring, graph::Fixtures bench, const graph::PlanGoal& goal,
                 graph::Plan& plan, Hands& hands, SweepReport& report,
                 const std::optional<Kept>& before = std::nullopt);

}  // namespace padwalk::tools
