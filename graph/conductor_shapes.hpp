// SPDX-License-Identifier: MIT
//
// Distances between straight conductors and pads, in the plane. For conductor_graph alone.
// Units: mm.
#pragma once

#include <optional>

#include "graph/conductor_graph.hpp"

namespace padwalk::graph {

/// A place on a segment: 0 at its `a`, 1 at its `b`; and how far from what was asked about.
struct OnSegment {
  double part = 0;
  double distance = 0;
};

Xy point_on(const DrawnSegment& segment, double part);
double length_of(const DrawnSegment& segment);

/// The place of a segment closest to a point.
OnSegment closest(const DrawnSegment& segment, Xy to);

/// Where two centre lines cross or touch: the parts of both. Nothing for parallel ones.
struct Crossing {
  double of_first = 0;
  double of_second = 0;
};
std::optional<Crossing> crossing(const DrawnSegment& first, const DrawnSegment& second);

/// From the metal of a pad; 0 or less inside.
double distance_to(const DrawnPad& pad, Xy point);
double distance_to(const DrawnPad& pad, const DrawnSegment& segment);
double distance_to(const DrawnPad& pad, const DrawnPad& other);

/// No metal of the pad is farther from its centre.
double reach_of(const DrawnPad& pad);

}  // namespace padwalk::graph
