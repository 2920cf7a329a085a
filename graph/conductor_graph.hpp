// SPDX-License-Identifier: MIT
//
// The drawn copper of one net: straight conductors on layers and the pads that they may meet, in;
// which pads and forks are joined by how much copper, out. Two things touch where their metal
// overlaps. Pure geometry: knows no names and no file.
// Units: mm.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// A conductor with round ends. Its ends may coincide: a dot.
struct DrawnSegment {
  Xy a;
  Xy b;
  double width = 0;  ///< 0: unknown, taken as next to nothing
  int layer = 1;
};

/// The metal of a pad or a plated hole, the same on each of its layers: a box of these half sides,
/// turned counter-clockwise, and all that is within `radius` of it.
struct DrawnPad {
  Xy centre;
  Xy half;
  double radius = 0;
  double turn_rad = 0;
  int first_layer = 1;
  int last_layer = 1;
};

/// What the copper joins. Nodes 0 to pads - 1 are the pads, the forks follow.
struct ConductorGraph {
  /// Copper meets copper away from any pad.
  struct Fork {
    Xy at;
    int layer = 1;
  };
  /// Copper between two nodes without a fork on its way.
  struct Track {
    std::size_t a = 0;
    std::size_t b = 0;
    int layer = 1;
    double length = 0;   ///< along the conductors; 0 where two pads overlap
    double width = 0;    ///< of a uniform track of as many ohms; 0: unknown
    Xy bend;             ///< some place on its way
    double to_bend = 0;  ///< from `a`, along the conductors
  };
  std::vector<Fork> forks;
  std::vector<Track> tracks;
  std::size_t blind_ends = 0;  ///< of conductors that reach neither pad nor copper; left out
};

/// How much work a file may still cause; hostile text must not cost hours. Units: pairs looked at.
struct ConductorWork {
  std::size_t left = 0;
};

/// Copper that leads to no pad is left out. Forks closer to each other than the copper is wide are
/// one, and so are conductors drawn over each other. Nothing is returned where there are more than
/// `most_forks` forks, as in a hatched area, or `work` runs out.
/// Cost: n log n, and what overlaps.
std::optional<ConductorGraph> join_conductors(std::span<const DrawnSegment> segments,
                                              std::span<const DrawnPad> pads,
                                              std::size_t most_forks, ConductorWork& work);

}  // namespace padwalk::graph
