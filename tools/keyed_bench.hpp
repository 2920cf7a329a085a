// SPDX-License-Identifier: MIT
//
// A simulated bench whose hands are a person's keys: what is asked for at the terminal is done
// there when Enter says so. To try a sweep by plan, slips included, without a board.
#pragma once

#include <map>
#include <optional>

#include "tools/simulated_bench.hpp"
#include "tools/terminal_person.hpp"

namespace padwalk::tools {

/// `slip` and Enter, where something is put on or touched: it is put on or touched wrongly.
class KeyedBench : public TerminalPerson {
 public:
  KeyedBench(std::ostream& out, const graph::Board& board, const graph::Fixtures& fixtures,
             std::atomic<bool>& stop, Lines& lines, SimulatedBench& bench)
      : TerminalPerson(out, board, fixtures, stop, lines),
        board_(board),
        fixtures_(fixtures),
        bench_(bench) {}

  void reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) override;
  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& now) override;
  Reached touch(const graph::Hookup& now) override;
  bool put_right(const graph::PlanMove& move, const graph::Slip& slip,
                 const graph::Hookup& now) override;
  bool touch_again(graph::NetId instead, const graph::Hookup& now) override;

 private:
  void put(const graph::Hookup& now);
  void slip(const graph::PlanMove& move);

  const graph::Board& board_;
  const graph::Fixtures& fixtures_;
  SimulatedBench& bench_;
  /// By channel, of leads that are not where they should be; nothing: on no metal.
  std::map<std::uint16_t, std::optional<graph::PointId>> wrong_;
};

}  // namespace padwalk::tools
