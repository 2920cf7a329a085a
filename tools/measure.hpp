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

/// Who and what measures.
struct Measuring {
  session::Session& session;
  const graph::Board& board;
  bool quick;
  Person* person;  ///< null: nobody is asked
  const std::atomic<bool>& stop;
};

/// Measures what is attached `now` and adds it to what `report` holds; findings are not formed
/// here. `fresh`: only what meets these points, put on since the last call; empty: all.
/// `measuring.stop` ends it between two rounds. A tester that fails is noted in `report.failure`,
/// with all that was read before. Returns whether it came to its end.
bool measure_hookup(const Measuring& measuring, const graph::Hookup& now,
                    const std::vector<graph::PointId>& fresh, SweepReport& report);

/// Sweeps the hookup of `report`, as measure_hookup().
void measure_sweep(session::Session& session, const graph::Board& board, bool quick, Person* person,
                   const std::atomic<bool>& stop, SweepReport& report);

}  // namespace padwalk::tools
