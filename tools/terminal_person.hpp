// SPDX-License-Identifier: MIT
//
// The person at a terminal: asked line by line what a sweep needs hands for.
#pragma once

#include <atomic>
#include <optional>
#include <ostream>

#include "tools/bench_plan.hpp"
#include "tools/follow_plan.hpp"
#include "tools/input_lines.hpp"
#include "tools/sound.hpp"

namespace padwalk::tools {

/// What the person typed last is kept for whoever derives from it.
class TerminalPerson : public Person, public Hands {
 public:
  /// `stop` is set where the terminal is closed instead of a move or a touch. All outlive this.
  TerminalPerson(std::ostream& out, const graph::Board& board, const graph::Fixtures& bench,
                 std::atomic<bool>& stop, Lines& lines)
      : out_(out),
        board_(board),
        bench_(bench),
        steps_(out, board, bench),
        stop_(stop),
        lines_(lines) {}

  /// From now on a touch is heard by itself where the tip conducts to anything that is held, and
  /// Enter is for the others; a tone says when the tip may go on.
  void listen(session::Session& session, Sound& sound) {
    session_ = &session;
    sound_ = &sound;
  }

  void reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) override;
  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& now) override;
  Reached touch(const graph::Hookup& now) override;
  bool put_right(const graph::PlanMove& move, const graph::Slip& slip,
                 const graph::Hookup& now) override;
  bool touch_again(graph::NetId instead, const graph::Hookup& now) override;

 protected:
  const std::string& said() const { return said_; }

 private:
  std::string answer();
  std::optional<std::size_t> ask_which(const graph::PlanStep& step,
                                       const std::vector<std::size_t>& misfits);
  std::optional<Reached> hears(const graph::Hookup& now);

  std::ostream& out_;
  const graph::Board& board_;
  const graph::Fixtures& bench_;
  StepWriter steps_;
  std::atomic<bool>& stop_;
  bool told_ = false;             ///< what to press at a touch
  bool told_of_misfits_ = false;  ///< and at a move
  std::string said_;
  Lines& lines_;
  session::Session* session_ = nullptr;  ///< none: nothing is heard
  Sound* sound_ = nullptr;
};

}  // namespace padwalk::tools
