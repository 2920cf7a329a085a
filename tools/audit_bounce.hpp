// SPDX-License-Identifier: MIT
//
// What the contacts of a switch do while it moves, made of what a watch told: bounce, and which of
// two throws comes first. Knows no tester and no screen.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "firmware-host/session/watching.hpp"
#include "graph/switch_table.hpp"

namespace padwalk::tools {

/// Contacts chatter for a few milliseconds; more is worn or dirty. Common practice, no source.
/// Unit: second.
inline constexpr double kMostBounceS = 10e-3;

/// What is watched of a switch at one time.
struct SwitchWatch {
  std::size_t common = 0;           ///< a terminal
  std::vector<std::size_t> throws;  ///< the others that it ever conducts to; ascending
};

/// One for each pole, the terminal in most contacts being its common.
std::vector<SwitchWatch> watches_of(std::size_t terminals,
                                    const std::vector<graph::JoinedTerminals>& positions);

/// Of one contact, over all moves that were heard. Unit: second, to one gap of the watch.
struct ContactBounce {
  std::size_t a = 0;  ///< a < b
  std::size_t b = 0;
  std::size_t closings = 0;
  std::size_t openings = 0;
  double closing_s = 0;  ///< from the first time that it closed to the last, the longest
  double opening_s = 0;
};

struct SwitchMoves {
  std::vector<ContactBounce> contacts;  ///< by terminals; those that were heard to move
  std::size_t makes_first = 0;          ///< moves in which one throw closed before another opened
  std::size_t breaks_first = 0;
  double gap_s = 0;  ///< what is shorter may not be heard
};

/// Adds one move: `changes` of the throws of `watched`, in order.
void add_move(const SwitchWatch& watched, const std::vector<session::WatchChange>& changes,
              double gap_s, SwitchMoves& moves);

}  // namespace padwalk::tools
