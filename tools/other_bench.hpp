// SPDX-License-Identifier: MIT
//
// The simulated person where the board that is measured is not yet known: the bench has the true
// one, and points are matched by their names.
#pragma once

#include "tools/follow_plan.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::tools {

/// The same hookup by the points of `to`. Errors: UsageError naming `file` where `to` has no point
/// of a name.
graph::Hookup hookup_on(const graph::Board& to, const std::string& file, const graph::Board& from,
                        const graph::Hookup& hookup);

/// Hands and person of `bench`, which has `truth`, for somebody who only has `known`. Points that
/// `truth` lacks must have been refused before.
class OtherBench : public Person, public Hands {
 public:
  OtherBench(SimulatedBench& bench, const graph::Board& truth, const graph::Board& known)
      : bench_(bench), truth_(truth), known_(known) {}

  void reseat(const graph::Board&, const std::vector<graph::Lead>&) override {
    bench_.reseat_all();
  }
  std::vector<std::size_t> place(const graph::PlanStep&, const graph::Hookup& now) override {
    touch(now);
    return {};
  }
  Reached touch(const graph::Hookup& now) override {
    return bench_.touch(hookup_on(truth_, "", known_, now));
  }
  bool put_right(const graph::PlanMove&, const graph::Slip&, const graph::Hookup&) override {
    return false;
  }
  bool touch_again(graph::NetId, const graph::Hookup&) override { return false; }

 private:
  SimulatedBench& bench_;
  const graph::Board& truth_;
  const graph::Board& known_;
};

}  // namespace padwalk::tools
