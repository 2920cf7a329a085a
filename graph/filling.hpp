// SPDX-License-Identifier: MIT
//
// Capacitors that fill by way of parts for longer than a reading waits: it stands still then, and
// is lower than the parts alone. Not for what fills in time: the session waits for that.
#pragma once

#include "graph/board.hpp"
#include "graph/resistance.hpp"

namespace padwalk::graph {

class Filling {
 public:
  explicit Filling(const Board& board);

  /// What may flow beside the parts between two nets into capacitors, however long a reading waits;
  /// 0 where they are full in time.
  double siemens(NetId a, NetId b) const;

 private:
  double farad_ = 0;  ///< of all capacitors that may matter
  ResistiveNetwork parts_;
  ResistiveNetwork filled_;  ///< the capacitors closed
};

}  // namespace padwalk::graph
