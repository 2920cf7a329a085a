// SPDX-License-Identifier: MIT
//
// What became of a repair as plain data, with its judgement and its two writers. The writers ask
// nothing of anybody.
#pragma once

#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "tools/confirm.hpp"
#include "tools/sweep_report.hpp"
#include "tools/watch_report.hpp"

namespace padwalk::tools {

enum class Repaired : std::uint8_t {
  restored,
  weak,     ///< it conducts, worse than it should, or not while the board is bent
  changed,  ///< it is whole, and something else is not as before
  not_yet,
  unknown  ///< it was not measured to its end, or not all of it
};

struct ConfirmReport {
  SweepReport run;
  Joint joint;
  std::vector<graph::NetId> left_out;  ///< neighbours for which the tester has too few channels
  std::optional<EarlierSweep> before;
  Changes changes;
  std::optional<JointOhms> ohms;
  std::optional<session::Measurement> measured;
  std::optional<ThinWire> thin;
  std::optional<WatchReport> flexed;  ///< while the board was bent and tapped

  /// It reads more than the joint should have, beyond doubt.
  bool bad_joint() const;
  /// It opened while the board was bent.
  bool flutters() const { return flexed && flexed->interruptions() > 0; }
  /// Nothing was seen then, and the line lost some of what was.
  bool watch_lost() const { return flexed && flexed->lost > 0 && !flutters(); }
  Repaired verdict() const;
  ExitStatus status() const;
};

/// "restored", "restored, but weak", "restored, but something else changed", "not restored"; or as
/// a sweep's.
std::string repaired_word(const ConfirmReport& report);

/// confirm/1, as boards/FORMAT.md describes it.
void write_confirm_json(std::ostream& out, const graph::Board& board, const ConfirmReport& report);
/// For the person at the bench, but for what to do next. Plain lines, no colour.
void write_confirm_text(std::ostream& out, const graph::Board& board, const ConfirmReport& report);

/// The line that says what to do; empty where the text said it.
std::string after_confirm(const graph::Board& board, const ConfirmReport& report);

}  // namespace padwalk::tools
