// SPDX-License-Identifier: MIT
//
// The measuring loop: the scan says which readings it wants, the session makes them, a person is
// asked to re-seat what stays silent. Joins points and channels; judges nothing.
#pragma once

#include <atomic>
#include <memory>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "graph/scan.hpp"
#include "tools/record.hpp"
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
  Record& record = no_record();
};

/// The sweep of what is attached at one time. Findings are not formed here.
class HookupSweep {
 public:
  /// `fresh`: only what meets these points, put on since the last sweep; empty: all.
  HookupSweep(const Measuring& measuring, const graph::Hookup& now,
              const std::vector<graph::PointId>& fresh, SweepReport& report);
  ~HookupSweep();

  /// Checks the power and reads all. False where it ended early: `stop` was set between two rounds,
  /// the board is live, or the tester failed, which the report says.
  bool read();
  /// The same where nothing was moved since the last sweep: the power is checked only if it must.
  bool read_unmoved();
  /// What read() has read.
  const std::vector<graph::Reading>& readings() const;
  /// Asks about silent points, then adds all that was read to what the report holds. False: early.
  bool finish();
  /// What was put on last, as it was given.
  const std::vector<graph::PointId>& fresh() const;
  /// After finish(): what this sweep measured, and silent points that a re-seat cured.
  const graph::Measured& measured() const;
  const std::vector<graph::PointId>& cured() const;
  /// Instead of finish(), where the leads do not sit as they should: only counts what was read.
  void discard();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// What a record that can no longer be written does to a sweep: it ends early, and says why.
void note_lost_record(const RecordError& error, SweepReport& report);

/// Sweeps the hookup of `report`: one HookupSweep.
void measure_sweep(const Measuring& measuring, SweepReport& report);

}  // namespace padwalk::tools
