// SPDX-License-Identifier: MIT
#include "graph/conductor_shapes.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace padwalk::graph {

namespace {

Xy minus(Xy a, Xy b) {
  return {a.x - b.x, a.y - b.y};
}

double cross(Xy a, Xy b) {
  return a.x * b.y - a.y * b.x;
}

Xy turned(Xy at, double rad) {
  const double c = std::cos(rad);
  const double s = std::sin(rad);
  return {c * at.x - s * at.y, s * at.x + c * at.y};
}

/// Where the pad's box lies square, its centre at 0.
Xy in_box(const DrawnPad& pad, Xy point) {
  return turned(minus(point, pad.centre), -pad.turn_rad);
}

double to_box(Xy half, Xy at) {
  return std::hypot(std::max(0.0, std::abs(at.x) - half.x), std::max(0.0, std::abs(at.y) - half.y));
}

std::array<Xy, 4> corners(Xy half) {
  return {Xy{-half.x, -half.y}, Xy{half.x, -half.y}, Xy{half.x, half.y}, Xy{-half.x, half.y}};
}

/// Both in the box's own frame.
double to_box(Xy half, const DrawnSegment& segment) {
  double least = std::min(to_box(half, segment.a), to_box(half, segment.b));
  const std::array<Xy, 4> around = corners(half);
  for (std::size_t i = 0; i < around.size(); ++i) {
    least = std::min(least, closest(segment, around[i]).distance);
    const DrawnSegment edge{around[i], around[(i + 1) % around.size()]};
    if (crossing(segment, edge)) {
      return 0;
    }
  }
  return least;
}

}  // namespace

Xy point_on(const DrawnSegment& segment, double part) {
  if (part >= 1) {
    return segment.b;
  }
  return {segment.a.x + part * (segment.b.x - segment.a.x),
          segment.a.y + part * (segment.b.y - segment.a.y)};
}

double length_of(const DrawnSegment& segment) {
  return std::hypot(segment.b.x - segment.a.x, segment.b.y - segment.a.y);
}

OnSegment closest(const DrawnSegment& segment, Xy to) {
  const Xy along = minus(segment.b, segment.a);
  const Xy from = minus(to, segment.a);
  const double square = along.x * along.x + along.y * along.y;
  const double part =
      square == 0 ? 0 : std::clamp((from.x * along.x + from.y * along.y) / square, 0.0, 1.0);
  const Xy at = point_on(segment, part);
  return {part, std::hypot(at.x - to.x, at.y - to.y)};
}

std::optional<Crossing> crossing(const DrawnSegment& first, const DrawnSegment& second) {
  const Xy u = minus(first.b, first.a);
  const Xy v = minus(second.b, second.a);
  const Xy between = minus(second.a, first.a);
  const double area = cross(u, v);
  if (std::abs(area) <= 1e-12 * std::hypot(u.x, u.y) * std::hypot(v.x, v.y)) {
    return std::nullopt;
  }
  const Crossing found{cross(between, v) / area, cross(between, u) / area};
  const auto inside = [](double part) { return part >= 0 && part <= 1; };
  return inside(found.of_first) && inside(found.of_second) ? std::optional(found) : std::nullopt;
}

double distance_to(const DrawnPad& pad, Xy point) {
  return to_box(pad.half, in_box(pad, point)) - pad.radius;
}

double distance_to(const DrawnPad& pad, const DrawnSegment& segment) {
  return to_box(pad.half, {in_box(pad, segment.a), in_box(pad, segment.b)}) - pad.radius;
}

double distance_to(const DrawnPad& pad, const DrawnPad& other) {
  double least = std::min(distance_to(pad, other.centre), distance_to(other, pad.centre));
  const std::array<Xy, 4> around = corners(other.half);
  for (std::size_t i = 0; i < around.size(); ++i) {
    const auto on_board = [&](Xy corner) {
      const Xy at = turned(corner, other.turn_rad);
      return Xy{at.x + other.centre.x, at.y + other.centre.y};
    };
    const DrawnSegment edge{on_board(around[i]), on_board(around[(i + 1) % around.size()])};
    least = std::min(least, distance_to(pad, edge) - other.radius);
  }
  return least;
}

double reach_of(const DrawnPad& pad) {
  return std::hypot(pad.half.x, pad.half.y) + pad.radius;
}

}  // namespace padwalk::graph
