// SPDX-License-Identifier: MIT
#include "graph/filling.hpp"

#include <cmath>

#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

/// A smaller one is full in time by way of anything that is read at 0.2 V.
constexpr double kLeastFarad = 1e-6;
constexpr double kUnknownFarad = 1e-3;
/// So long a reading waits.
constexpr double kWaitedSeconds = 2;
/// Tolerances of the parts on the way.
constexpr double kMargin = 1.2;

}  // namespace

Filling::Filling(const Board& board) : parts_(board.nets().size()), filled_(board.nets().size()) {
  if (!board.assembled()) {
    return;
  }
  for (const PartLink& link : board.part_links()) {
    if (link.ohm) {
      parts_.add(index(link.a), index(link.b), *link.ohm);
      filled_.add(index(link.a), index(link.b), *link.ohm);
    }
  }
  for (std::size_t i = 0; i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    if (part.kind != PartKind::capacitor || part.pins.size() != 2) {
      continue;
    }
    const NetId a = board[part.pins[0]].net;
    const NetId b = board[part.pins[1]].net;
    const double farad =
        parse_value(board.description().parts[i].value, Unit::farad).value_or(kUnknownFarad);
    if (a != kNoNet && b != kNoNet && a != b && farad >= kLeastFarad) {
      filled_.add(index(a), index(b), 0);
      farad_ += farad;
    }
  }
}

double Filling::siemens(NetId a, NetId b) const {
  if (farad_ == 0) {
    return 0;
  }
  const double with = 1 / filled_.between(index(a), index(b));
  const double beside = with - 1 / parts_.between(index(a), index(b));
  return std::isfinite(beside) && farad_ > kWaitedSeconds * beside ? kMargin * beside : 0;
}

}  // namespace padwalk::graph
