// SPDX-License-Identifier: MIT
//
// A walk over the board: what is clipped stays on, the tip touches anything, and its net is shown,
// sounded and spoken at once. A touch whose point the person has told is read like a lead of a
// sweep. Joins the session, the measuring loop and the screen; forms no findings.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tools/input_lines.hpp"
#include "tools/measure.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/sound.hpp"

namespace padwalk::tools {

/// What is clipped, net by net: on an assembled board ground first and then supplies, which have
/// capacitors. A point in no net is a group of its own.
session::Held held_by(const graph::Board& board, const graph::Hookup& clipped);

/// One touch. Units: ohm.
struct WalkTouch {
  Answer answer = Answer::nothing;
  std::optional<graph::PointId> point;    ///< that the person told
  graph::NetId net = graph::kNoNet;       ///< that the tip conducts to
  graph::PointId lead = graph::kNoPoint;  ///< by which lead
  double ohm = 0;
  double uncertainty_ohm = 0;  ///< k = 2
  bool evidence = false;       ///< read as a lead of a sweep is, and kept
};

class Walk {
 public:
  /// `measuring`: its person is asked about what is clipped. `tip`: one channel, or two needles
  /// that touch the same metal. `bench`: null with a real board, else it touches what is typed. All
  /// outlive this.
  Walk(const Measuring& measuring, const graph::Hookup& clipped, std::vector<session::Channel> tip,
       SimulatedBench* bench, Lines& lines, Sound& sound, std::ostream& out, std::size_t columns,
       SweepReport& report);

  /// Sweeps what is clipped, then follows the tip until the lines end, the person stops, the board
  /// comes alive or the tester fails, which the report says.
  void run();
  const std::vector<WalkTouch>& touches() const { return touches_; }

 private:
  bool round();
  bool follow(const std::string& line);
  bool contact();
  bool hear();
  WalkTouch touch_of(const session::Heard& heard) const;
  bool insist();
  bool read_lead(WalkTouch& touch, bool asked_twice);
  bool read_ohms(WalkTouch& touch);
  void show(const WalkTouch& touch);
  void show_sure(const WalkTouch& touch);
  bool at_rest(const session::PowerCheck& check);
  bool has_lead(graph::PointId point) const;
  graph::Hookup with_tip(graph::PointId point) const;

  const Measuring& measuring_;
  const graph::Board& board_;
  session::Session& session_;
  graph::Hookup clipped_;
  std::vector<session::Channel> tip_;
  SimulatedBench* bench_;
  Lines& lines_;
  Sound& sound_;
  std::ostream& out_;
  std::size_t columns_;
  SweepReport& report_;
  session::Held held_;
  std::vector<WalkTouch> touches_;
  std::optional<graph::PointId> point_;    ///< told to be touched next
  graph::NetId expected_ = graph::kNoNet;  ///< the net of it, or one told by itself
  bool armed_ = false;                     ///< the tip was off since the point was told
  bool on_ = false;                        ///< the tip has contact
  std::optional<std::size_t> group_;       ///< that it is on then
  std::size_t misses_ = 0;                 ///< rounds without contact in a row
  std::size_t unnamed_ = 0;                ///< rounds with contact and without a name in a row
  std::size_t rounds_ = 0;                 ///< since the last line
  std::size_t silences_ = 0;               ///< answers 'nothing' for the point told
};

}  // namespace padwalk::tools
