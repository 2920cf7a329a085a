// SPDX-License-Identifier: MIT
//
// What broke on earlier boards of the same type, as likelihood of what is broken on this one. Knows
// no job: somebody counts.
#pragma once

#include <cstddef>
#include <map>

#include "graph/suspects.hpp"

namespace padwalk::graph {

/// Breaks of earlier boards by segment of this one. A job that left several segments apart gives
/// each a share.
struct BreakHistory {
  std::size_t jobs = 0;  ///< that told of a break
  std::map<SegmentId, double> breaks{};
};

/// As many breaks as a segment's base weight stands for: of a segment that should never have broken
/// so far, one break gives (3 + 1) / 3 times the weight, three twice, thirty eleven times.
inline constexpr double kPriorBreaks = 3;
/// What is left at least of the likelihood of each suspect that the history does not speak for:
/// half of it, so that something new costs about one bit, which is about one touch, more.
inline constexpr double kLeastShareLeft = 0.5;
/// So many touches later at most is a break found that the history does not speak for.
inline constexpr std::size_t kMostTouchesLater = 1;

/// How many times likelier than its base weight says a segment is: (a + n) / (a + N w / W), with a
/// the prior count, n its own breaks, N those of all segments, w its base weight and W that of the
/// board. That is the mean of theta where this segment breaks theta w / W of the times, theta
/// having a gamma distribution of mean 1 and shape a before the first break, and breaks come as a
/// Poisson process (the gamma is conjugate to it). 1 without history.
double history_factor(const Board& board, const BreakHistory& history, SegmentId segment);

/// Weighs the segments of an open by history for all that follows, touches too: sets
/// `open.factors`. With P the shares of the suspects by base weight and Q by base weight and
/// history_factor(), it is R = l Q + (1 - l) P, with the largest l up to 1 that leaves R at least
/// kLeastShareLeft of P everywhere. Where one break of known way is hunted among at most 40
/// suspects, the hunt for each is gone through in the head, with `times`; l is halved up to three
/// times, and then 0, as long as one that the history does not speak for would be found more than
/// kMostTouchesLater later. Nothing changes where the history names none of the suspects. Cost:
/// that of find_open_suspects(); of the hunts some hundred times that.
void sharpen(const Board& board, const BreakHistory& history, OpenCase& open,
             const TouchTimes& times = {});

}  // namespace padwalk::graph
