// SPDX-License-Identifier: MIT
//
// The order in which a person moves loose leads over things of which each two must be together
// once: either all, or only neighbours. Least time by seconds a lead and seconds a hookup. Knows no
// board. Source: own; bounds and counts are asserted in tests/graph/loose_plan_test.cpp.
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "graph/coverings.hpp"

namespace padwalk::graph {

/// What a person takes. Units: s.
struct HandTimes {
  double lead_s = 6;     ///< to put one lead on
  double hookup_s = 10;  ///< to look whether all sit right, before each sweep
};

/// Hookups in the order in which they are made; what two neighbours have in common stays on.
struct LoosePlan {
  Blocks hookups;

  /// Leads put on: all of the first, then what is new.
  std::size_t clips() const;
  double seconds(const HandTimes& times) const;
};

/// No order of hookups of k leads that brings all pairs of v things together takes fewer leads, as
/// a new lead meets at most k - 1 others. Shape: 2 <= k <= v.
std::size_t fewest_clips_bound(std::size_t v, std::size_t k);

/// Orders hookups so that much stays on: nearest next, then exchanges.
LoosePlan order_by_overlap(Blocks hookups);

/// k - moving leads held while `moving` others pass over all that is left; then the next are held.
/// Shape: 1 <= moving <= k / 2; 2 <= k.
LoosePlan hold_and_pass(std::size_t v, std::size_t k, std::size_t moving);

/// The quickest of all that are known here. Shape: 2 <= k.
/// Cost: grows with the square of the number of hookups.
LoosePlan plan_all_pairs(std::size_t v, std::size_t k, const HandTimes& times);

/// One lead put on, for a pass along the board. `point`: the how-manieth of its net; 0 comes first.
struct PassMove {
  std::uint32_t net = 0;
  std::size_t point = 0;
  bool held = false;                    ///< it stays on; else it was only touched
  bool again = false;                   ///< it was taken off too early, for want of leads
  std::vector<std::uint32_t> released;  ///< nets whose lead comes off before
};

struct Pass {
  std::vector<PassMove> moves;
  std::size_t leads = 0;  ///< most that are held at once, beside the one that moves

  std::size_t again() const;
};

/// Takes nets in the order of their numbers: the first point of a net is held until its last
/// neighbour has come, its other points are touched by one more lead, and released. Each point once
/// where `max_leads` suffice; else the net that is needed latest comes off, and is touched again.
/// Shape: `points`: how many each net has, at least 1; `neighbours`: pairs of nets. `max_leads`
/// >= 1.
Pass pass_neighbours(std::span<const std::size_t> points,
                     std::span<const std::pair<std::uint32_t, std::uint32_t>> neighbours,
                     std::size_t max_leads);

}  // namespace padwalk::graph
