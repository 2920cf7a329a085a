// SPDX-License-Identifier: MIT
//
// What a watch saw, as plain data, and its two writers. The writers ask nothing of anybody.
#pragma once

#include <ostream>
#include <string>
#include <vector>

#include "firmware-host/session/watching.hpp"
#include "tools/interruptions.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

/// What one round over everything showed that the one before did not.
struct RoundChange {
  double at_s = 0;
  graph::NetId net = graph::kNoNet;  ///< that came apart or together; none: nets that were joined
  std::string what;                  ///< "net A: TP3 left U6.3"
};

/// Units: second on the tester's clock since the watch began; ohm.
struct WatchReport {
  SweepReport run;      ///< tester, hookup, power check, failure, and the findings
  double wanted_s = 0;  ///< 0: until stopped
  bool stopped = false;

  // everything, round by round
  std::size_t rounds = 0;
  double round_s = 0;               ///< the longest
  double rounds_s = 0;              ///< all of them
  std::vector<std::string> before;  ///< what was apart or joined from the start
  std::vector<RoundChange> changes;

  // one net
  graph::NetId net = graph::kNoNet;
  graph::PointId driven = graph::kNoPoint;
  std::vector<graph::PointId> watched;      ///< against it, ascending
  std::vector<graph::PointId> two_leads;    ///< of all these
  std::vector<graph::PointId> not_watched;  ///< one more would drown in noise
  session::WatchSight sight;
  double held_s = 0;
  double gap_s = 0;
  std::size_t edges = 0;
  std::size_t lost = 0;      ///< changes of which the line lost all word
  std::size_t silences = 0;  ///< times that the tester opened its switches meanwhile
  std::vector<Interruption> events;
  std::size_t more_events = 0;  ///< that are counted only

  /// An interruption of the held net that is longer was seen for certain.
  double shortest_certain_s() const { return gap_s + sight.rise_s; }
  std::size_t interruptions() const { return events.size() + more_events; }
  ExitStatus status() const;
};

/// Makes of the events what a sweep makes of pieces: findings with suspects, in `run`.
void judge_watch(const graph::Board& board, WatchReport& report);

/// "1.23 ms", "0:02.1", "U1.16 and TP3 left U6.3".
std::string span_text(double seconds);
std::string clock_text(double seconds);
std::string left_text(const graph::Board& board, const WatchReport& report,
                      const Interruption& event);

/// watch/1, as boards/FORMAT.md describes it.
void write_watch_json(std::ostream& out, const graph::Board& board, const WatchReport& report);
/// For the person at the bench: findings first. Plain lines, no colour.
void write_watch_text(std::ostream& out, const graph::Board& board, const WatchReport& report);

}  // namespace padwalk::tools
