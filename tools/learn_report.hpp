// SPDX-License-Identifier: MIT
//
// What learning a board came to, as plain data, and its two writers.
#pragma once

#include <ostream>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "graph/learn_scan.hpp"
#include "graph/learned_board.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

struct LearnReport {
  /// Who measured, what the power check saw and how it went; of a sweep it has no more.
  SweepReport sweep;
  double joined_ohm = 0;  ///< copper has no more
  double link_ohm = 0;    ///< what conducts less is not said

  std::vector<std::vector<graph::PointId>> pieces;  ///< of all points that had a lead
  std::vector<graph::LearnedPair> between;
  std::set<graph::PointId> heard;      ///< conducted to something: metal was touched
  std::vector<graph::PointId> silent;  ///< the others of these: joined to nothing, or not touched
  bool asked = false;                  ///< somebody re-seated these
  std::vector<std::pair<graph::PointId, graph::PointId>> never_together;
  std::vector<graph::PointId> no_lead;  ///< must not be driven, or nothing holds on them

  std::size_t follow_settings = 0;
  std::size_t follow_readings = 0;
  std::size_t current_readings = 0;

  graph::LearnedNets nets;
  std::string output;

  bool to_the_end() const { return !sweep.refused && !sweep.interrupted && sweep.failure.empty(); }
  ExitStatus status() const;
};

/// learn/1, as boards/FORMAT.md describes it.
void write_learn_json(std::ostream& out, const graph::Board& board, const LearnReport& report);
/// For the person at the bench.
void write_learn_text(std::ostream& out, const graph::Board& board, const LearnReport& report);

/// What cannot be known of a board from readings at 0.2 V, in sentences.
std::vector<std::string> not_learned(const graph::Board& board, const LearnReport& report);

}  // namespace padwalk::tools
