// SPDX-License-Identifier: MIT
//
// The result of a sweep as plain data, and its two writers. The writers ask nothing of anybody.
#pragma once

#include <optional>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/findings.hpp"
#include "graph/hookup.hpp"
#include "graph/scan.hpp"
#include "tools/options.hpp"

namespace padwalk::tools {

/// A point with a voltage on it. Units: volt.
struct LivePoint {
  graph::PointId point = graph::kNoPoint;
  double volt = 0;      ///< mean
  double rms_volt = 0;  ///< of what alternates
  session::LiveKind kind = session::LiveKind::source;
};

/// "good", "faulty", "incomplete", "refused" or "failed".
std::string verdict_word(ExitStatus status);

struct SweepReport {
  std::string board_file;
  std::string job;  ///< where it is kept; empty: nowhere
  std::string port;
  session::Capabilities tester;
  session::Zero zero;
  graph::Limits limits;
  graph::Hookup hookup;  ///< of several: the lead that a point had last
  std::size_t groups = 0;
  std::size_t hookups = 0;
  std::size_t moves = 0;  ///< fixtures put on, where a plan was followed
  std::size_t touches = 0;
  std::size_t asked = 0;                    ///< whether a fixture or the tip sits wrong
  std::size_t slips = 0;                    ///< of these: it did
  std::vector<graph::PointId> not_reached;  ///< that the first plan has and nothing could reach
  std::vector<std::string> misfits;         ///< "clip-16 on U3": tried, and it does not fit

  // power check
  bool refused = false;
  double power_limit_volt = 0;
  std::vector<LivePoint> live;     ///< strongest first
  std::optional<double> tied_ohm;  ///< the board is joined to the tester's ground
  double hum_volt = 0;             ///< rms, the most that a lead picked up
  std::vector<graph::NetId> left_out;

  // how it went
  std::size_t power_readings = 0;
  graph::ScanCounts counts;
  std::size_t repeated = 0;  ///< readings taken again until they were decided
  session::Counters link;
  double seconds = 0;
  bool interrupted = false;
  std::string failure;       ///< why the tester, the link or the record failed; empty: none did
  bool record_lost = false;  ///< it was the record

  graph::Measured measured;
  graph::Findings result;
  std::size_t history_jobs = 0;  ///< earlier jobs of this board that sharpened likelihoods

  /// Findings whose likelihoods they sharpened, by their ids.
  std::vector<std::string> sharpened() const;

  ExitStatus status() const;
  std::string verdict() const { return verdict_word(status()); }
};

/// Notes what of the report's hookup a power check that did not pass found live; channels that have
/// no lead there are left out.
void note_live(const session::PowerCheck& check, const graph::Hookup& hookup, SweepReport& report);

/// Which points are live, or what the board hangs on, and what to do before to `verb` again.
void write_refusal(std::ostream& out, const graph::Board& board, const SweepReport& report,
                   std::string_view verb);

/// Notes in the report's hookup on which lead a point was last.
void note_leads(const graph::Hookup& now, SweepReport& report);

/// "about 4 in 10"; of the only one "the only place".
std::string likelihood_text(double share, bool alone);
/// "the barrel of the hole, V4@top to V4@bottom".
std::string suspect_text(const graph::Board& board, const graph::OpenSuspect& suspect);

/// sweep/1, as boards/FORMAT.md describes it.
void write_json(std::ostream& out, const graph::Board& board, const SweepReport& report);

/// A line each, the likeliest first, of the rest how many.
void write_suspects(std::ostream& out, const graph::Board& board,
                    const std::vector<graph::OpenSuspect>& suspects);

/// One finding, as write_text() says it.
void write_finding(std::ostream& out, const graph::Board& board, const graph::Finding& finding);

/// For the person at the bench: findings first, then what to do next. Plain lines, no colour.
void write_text(std::ostream& out, const graph::Board& board, const SweepReport& report);

}  // namespace padwalk::tools
