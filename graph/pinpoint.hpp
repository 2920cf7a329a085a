// SPDX-License-Identifier: MIT
//
// One open net, pinned down touch by touch. Knows no tester and no person.
#pragma once

#include <optional>
#include <vector>

#include "graph/suspects.hpp"

namespace padwalk::graph {

class Pinpoint {
 public:
  /// `board` must outlive this.
  Pinpoint(const Board& board, OpenCase open, const TouchTimes& times)
      : board_(board), open_(std::move(open)), times_(times) {
    look(Side::top);
  }

  /// The place to touch where this side of the board lies up; none: no touch tells more.
  std::optional<PlaceId> next(Side up);
  /// The tip on `place` conducted to these of pieces(). To none: without a proof that the tip was
  /// on metal that says nothing, and the place is not asked for again.
  void heard(PlaceId place, const std::vector<std::size_t>& conducted_to, bool metal_proven);
  void cannot_reach(PlaceId place);
  /// Not now: asked for again when nothing else is left. Twice: as if it could not be reached.
  void later(PlaceId place);

  const std::vector<std::vector<PlaceId>>& pieces() const { return open_.pieces; }
  const OpenSuspects& suspects() const { return now_; }
  /// A touch there joined pieces that are apart without it: the break is under the tip.
  std::optional<PlaceId> closed_at() const { return closed_at_; }

 private:
  void look(Side up);

  const Board& board_;
  OpenCase open_;
  std::vector<PlaceId> postponed_;  ///< for now as if they could not be reached
  std::vector<PlaceId> again_;      ///< were, and are asked for a second time
  TouchTimes times_;
  OpenSuspects now_;
  std::optional<PlaceId> closed_at_;
};

}  // namespace padwalk::graph
