// SPDX-License-Identifier: MIT
//
// The measuring loop: the scan says which readings it wants, the session makes them, a person is
// asked to re-seat what stays silent. Joins points and channels; judges nothing.
#pragma once

#include <atomic>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "graph/scan.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

/// Whoever holds the leads.
class Person {
 public:
  virtual ~Person() = default;
  /// Takes these leads off and puts them on again. Returns when it is done.
  virtual void reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) = 0;
};

/// Sweeps the hookup of `report` and fills in what was measured; findings are not formed here.
/// `person` may be null: then nobody is asked. `stop` ends the sweep between two rounds.
/// A tester that fails is noted in `report.failure`, with all that was read before.
void measure_sweep(session::Session& session, const graph::Board& board, bool quick, Person* person,
                   const std::atomic<bool>& stop, SweepReport& report);

}  // namespace padwalk::tools
