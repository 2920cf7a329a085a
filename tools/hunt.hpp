// SPDX-License-Identifier: MIT
//
// The hunt for breaks with the tip: one lead holds each piece of a net, the tip is one lead more,
// or two that are joined where both bite metal. Joins graph::Pinpoint, the session and whoever
// holds the tip; reads and writes no file.
#pragma once

#include <ostream>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/hookup.hpp"
#include "graph/pinpoint.hpp"
#include "graph/plan.hpp"
#include "graph/verdict.hpp"
#include "tools/record.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/slide.hpp"

namespace padwalk::tools {

/// One broken net, and how far its break is pinned down.
struct Target {
  std::string id;  ///< of the sweep's finding
  graph::NetId net = graph::kNoNet;
  std::vector<graph::PointId> held;  ///< one of each piece
  graph::Pinpoint pinpoint;
  std::size_t touches = 0;
  std::vector<SlideVia> vias{};  ///< found on the way
  bool crossed = false;          ///< while sliding both sides were heard

  /// Where the leads are: channel 1, 2, … on its pieces.
  graph::Hookup leads() const;
};

class Hunt {
 public:
  /// Asks on `out`; `bench` null: a real one. `lines`: what a person at the terminal answers; null:
  /// the simulated one does. `needles`: channels of the tip, 1 or 2. `record`: who keeps what
  /// is heard. All outlive this.
  Hunt(session::Session& session, const graph::Board& board, SimulatedBench* bench, Lines* lines,
       std::size_t needles, Sound& sound, Record& record, std::ostream& out)
      : session_(session),
        board_(board),
        bench_(bench),
        lines_(lines),
        needles_(needles),
        sound_(sound),
        record_(record),
        out_(out),
        good_(graph::good_limit(board, graph::limits_for(board))) {}

  /// All that this side of the board can tell, then the other side. False: the person stopped, or
  /// the board is live, see live(). What was heard stays in the targets whatever happens. Errors:
  /// session::TesterError.
  bool run(std::vector<Target>& targets);
  /// The power check that did not pass, and what was attached then.
  const std::optional<session::PowerCheck>& live() const { return live_; }
  const graph::Hookup& attached() const { return attached_; }
  /// That were measured, of all targets.
  std::size_t touches() const { return touches_; }

 private:
  enum class Said { there, later, cannot_reach, stop };
  /// What a touch told.
  struct Touch {
    std::vector<std::size_t> pieces;  ///< that the tip conducted to
    bool metal = false;               ///< proven by two needles
  };

  bool hunt(Target& target);
  bool hold(const Target& target);
  bool slide(Target& target);
  Said touch(graph::PlaceId place, bool again);
  bool listen(Target& target, Touch& heard);
  void say(const Target& target, const Touch& heard);
  bool at_rest(const session::PowerCheck& check);
  std::string answer();

  session::Session& session_;
  const graph::Board& board_;
  SimulatedBench* bench_;
  Lines* lines_;
  std::size_t needles_;
  Sound& sound_;
  Record& record_;
  std::ostream& out_;
  graph::OhmLimit good_;
  graph::SideUp up_;
  graph::Hookup attached_;
  std::size_t touches_ = 0;
  std::optional<session::PowerCheck> live_;
};

}  // namespace padwalk::tools
