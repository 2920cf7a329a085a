// SPDX-License-Identifier: MIT
//
// What should lie between two points or nets and what was measured there, as plain data, with its
// judgement and its two writers. The writers ask nothing of anybody.
#pragma once

#include <array>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/copper_ohms.hpp"
#include "graph/hookup.hpp"
#include "graph/part_ohms.hpp"
#include "graph/verdict.hpp"
#include "tools/options.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

/// One of the two that the person named.
struct OhmsEnd {
  std::string name;
  graph::PointId point = graph::kNoPoint;  ///< where a lead goes; kNoPoint: a net without such
  graph::NetId net = graph::kNoNet;
};

struct OhmsReport {
  std::string board_file;
  std::array<OhmsEnd, 2> ends;
  graph::Limits limits;

  // What it should be. Units: ohm.
  graph::ExpectedOhm expected;
  std::vector<graph::CopperShare> copper;  ///< of two points of one net
  std::vector<graph::PartWay> parts;       ///< of two nets
  std::vector<graph::PartWay> unsure;      ///< parts of unknown ohms that matter

  // What it is.
  bool asked_to_measure = false;
  std::string port;
  graph::Hookup hookup;
  bool refused = false;
  std::vector<LivePoint> live;     ///< what was live, strongest first
  std::optional<double> tied_ohm;  ///< the board hangs on the computer or on earth through so much
  double power_limit_volt = 0;
  std::optional<session::Measurement> measured;

  bool same_net() const { return ends[0].net != graph::kNoNet && ends[0].net == ends[1].net; }
  /// What a reading is held against: the most of copper, the least of what should not conduct; 0
  /// for parts, which have a range.
  double limit_ohm(const graph::Board& board) const;
  /// Whether `measured` fits; nothing where that cannot be told. `why`: one clause that says so.
  std::optional<bool> agrees(const graph::Board& board, std::string& why) const;
  ExitStatus status(const graph::Board& board) const;
};

/// Fills in what should lie between the two ends.
void expect_ohms(const graph::Board& board, const graph::CopperOhms& copper, OhmsReport& report);

/// ohms/1, as boards/FORMAT.md describes it.
void write_ohms_json(std::ostream& out, const graph::Board& board, const graph::CopperOhms& copper,
                     const OhmsReport& report);
/// For the person at the bench. Plain lines, no colour.
void write_ohms_text(std::ostream& out, const graph::Board& board, const graph::CopperOhms& copper,
                     const OhmsReport& report);

}  // namespace padwalk::tools
