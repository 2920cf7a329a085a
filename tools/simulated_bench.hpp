// SPDX-License-Identifier: MIT
//
// A board and its defects as the circuit that a simulated tester measures, and the simulated person
// who re-seats its leads. Physics of the copper in, ohms out; no verdicts.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>

#include "firmware-host/simulated/simulated_tester.hpp"
#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "tools/defects.hpp"
#include "tools/follow_plan.hpp"

namespace padwalk::tools {

/// The circuit of `board` with `defects`, its leads on `hookup`. Units: ohm, volt.
/// `reseated`: leads whose silence a re-seat cures touch again.
simulated::Circuit make_circuit(const graph::Board& board, const Defects& defects,
                                const graph::Hookup& hookup, std::uint16_t channels, bool reseated);

/// Channels of a simulated tester: as asked, else what the hookup needs, rounded up to 16.
std::uint16_t simulated_channels(const graph::Hookup& hookup, std::uint16_t asked);

/// A simulated tester on a simulated board, and the person beside it.
class SimulatedBench : public Person, public Hands {
 public:
  /// `defects_file` empty: a healthy board. Errors: graph::BadFile for the defects file.
  SimulatedBench(const graph::Board& board, const std::string& defects_file,
                 const graph::Hookup& hookup, std::uint16_t channels,
                 BoardThen then = BoardThen::found);

  std::string port_name() const { return tester_->port_name(); }
  void reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) override;
  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& now) override;
  Reached touch(const graph::Hookup& now) override;
  /// This person makes no slips.
  bool put_right(const graph::PlanMove&, const graph::Slip&, const graph::Hookup&) override {
    return false;
  }
  bool touch_again(graph::NetId, const graph::Hookup&) override { return false; }
  /// Presses the simulated tester's button.
  void press_button() { tester_->press_button(); }
  /// All leads at once, as a person does who is not told which.
  void reseat_all();
  /// Puts a switch there and holds it; no lead moves. Errors: std::out_of_range for a position that
  /// it does not have.
  void put_switch(graph::PartId part, std::size_t position);
  /// Bends the board, or lets it go; no lead moves.
  void flex(bool bent);
  /// The same, but what its contacts do on the way is what the next setting sees, kMovesS after it
  /// begins; then rest_switch().
  void move_switch(graph::PartId part, std::size_t position, bool makes_first);
  /// It is where it was moved to, and has come to rest.
  void rest_switch(graph::PartId part);

 private:
  void make_again();

  const graph::Board& board_;
  graph::Hookup hookup_;
  Defects defects_;
  Defects flexed_;
  std::uint16_t channels_;
  bool reseated_ = false;
  bool bent_ = false;
  std::map<std::pair<graph::PartId, std::size_t>, std::size_t> put_;  ///< how often it was there
  std::optional<simulated::SimulatedTester> tester_;
};

}  // namespace padwalk::tools
