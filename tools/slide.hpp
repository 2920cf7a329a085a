// SPDX-License-Identifier: MIT
//
// The tip slides along copper whose way the board file does not know: a high tone on one side of
// the break, a low one on the other; vias that are found on the way are named. Needs leads on the
// pieces and a power check of them; writes no file.
#pragma once

#include <optional>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "tools/input_lines.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/sound.hpp"

namespace padwalk::tools {

/// A via that the person found under the tip.
struct SlideVia {
  std::string name;
  std::optional<graph::Xy> xy;
  std::size_t piece = 0;  ///< that the tip conducted to there
};

/// "V7", "V7 12.5 40.1": a name that a point may have, and where it is, in mm. Anything else:
/// nothing.
std::optional<SlideVia> read_slide_via(std::string_view line);

class Slide {
 public:
  /// `leads`: one on each piece, in their order, two at least. `tip`: its channel. `bench` null: a
  /// real one; else a point's name puts the tip there. All outlive this.
  Slide(session::Session& session, const graph::Board& board, const graph::Hookup& leads,
        session::Channel tip, SimulatedBench* bench, Lines& lines, Sound& sound, std::ostream& out);

  /// Until the person is done. False: the terminal was closed, or the board came alive. Errors:
  /// session::TesterError.
  bool run();
  const std::vector<SlideVia>& vias() const { return vias_; }
  /// Both sides were heard.
  bool crossed() const { return crossed_; }
  const std::optional<session::PowerCheck>& live() const { return live_; }

 private:
  bool listen();
  void follow(const std::string& line);
  const std::string& name_of(std::size_t piece) const;

  session::Session& session_;
  const graph::Board& board_;
  const graph::Hookup& leads_;
  session::Channel tip_;
  SimulatedBench* bench_;
  Lines& lines_;
  Sound& sound_;
  std::ostream& out_;
  session::Held held_;
  std::optional<std::size_t> now_;   ///< the piece that is heard; none: silence
  std::optional<std::size_t> last_;  ///< that was heard last
  int misses_ = 0;                   ///< rounds since something was heard
  bool crossed_ = false;
  std::vector<SlideVia> vias_;
  std::optional<session::PowerCheck> live_;
};

}  // namespace padwalk::tools
