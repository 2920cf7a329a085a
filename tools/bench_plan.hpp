// SPDX-License-Identifier: MIT
//
// A plan as the command line asks for it, and its steps in words. Measures nothing.
#pragma once

#include <ostream>
#include <span>
#include <string>

#include "graph/plan.hpp"
#include "graph/slips.hpp"
#include "tools/options.hpp"

namespace padwalk::tools {

/// What the bench owns. `path` empty: a usual bench. Errors: graph::BadFile.
graph::Fixtures load_fixtures(const std::string& path);

/// Errors: UsageError where a fixture of `path` has a wire on a channel that the tester lacks.
void refuse_missing_channels(const graph::Fixtures& bench, const std::string& path,
                             const std::string& port, std::uint16_t channels);

/// What the plan is to settle. `file` is the board's, for errors: UsageError.
graph::PlanGoal goal_for(const graph::Board& board, const std::string& file,
                         const PlanChoice& choice);

/// "61 s", "2 min 5 s".
std::string minutes_text(double seconds);

/// One line: which leads go on which points, where all are attached at once.
void write_hookup(std::ostream& out, const graph::Board& board, const graph::Hookup& hookup);

/// One line: hookups, moves, touches, turns, minutes.
void write_cost(std::ostream& out, const graph::Board& board, const graph::Fixtures& bench,
                const graph::Plan& plan);

/// "turn the board: solder side up", a line.
void write_turn(std::ostream& out, graph::Side up);

/// "clip-16 on U3, notch to the left".
std::string move_text(const graph::Board& board, const graph::Fixtures& bench,
                      const graph::PlanMove& move);

/// "clip-16 on U3 sits backwards: turn it".
std::string slip_text(const graph::Board& board, const graph::Fixtures& bench,
                      const graph::PlanMove& move, const graph::Slip& slip);

/// Says what goes where, a line each. Follows the board as it is turned.
class StepWriter {
 public:
  StepWriter(std::ostream& out, const graph::Board& board, const graph::Fixtures& bench)
      : out_(out), board_(board), bench_(bench) {}

  void write_moves(const graph::PlanStep& step);
  /// Many on a line; a turn of the board between them has its own.
  void write_touches(std::span<const graph::PointId> touches);
  /// One, without the end of its line.
  void write_touch(graph::PointId touch);

 private:
  void turn_to(graph::Side side);
  void write_line(std::string touches);

  std::ostream& out_;
  const graph::Board& board_;
  const graph::Fixtures& bench_;
  graph::SideUp up_;
};

}  // namespace padwalk::tools
