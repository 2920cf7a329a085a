// SPDX-License-Identifier: MIT
//
// defects/1 files: what is wrong with a simulated board. Names are resolved against the board, so
// that the bench needs no names. The format is in boards/FORMAT.md.
#pragma once

#include <cstdint>
#include <limits>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::tools {

/// What is wrong with a board, and how good its bench is. Units: ohm, volt.
struct Defects {
  /// `open`: no copper any more. `high resistance`: that many ohms instead.
  struct Cut {
    graph::SegmentId segment{};
    double ohm = std::numeric_limits<double>::infinity();
  };
  /// `split`: these points of a net of unknown way are cut off from the rest, together.
  struct Split {
    graph::NetId net = graph::kNoNet;
    std::vector<graph::PointId> off;
  };
  /// `short` and `leakage`.
  struct Bridge {
    graph::PlaceId a = graph::kNoPlace;
    graph::PlaceId b = graph::kNoPlace;
    double ohm = 0.1;
  };
  /// `voltage`, from b up to a.
  struct Source {
    graph::PlaceId a = graph::kNoPlace;
    graph::PlaceId b = graph::kNoPlace;
    double volt = 0;
    double ohm = 1;
  };
  struct PartValue {
    graph::PartId part = graph::kNoPart;
    double ohm = 0;
  };
  struct NoContact {
    graph::PointId point = graph::kNoPoint;
    bool stays = false;  ///< a re-seat does not cure it
  };

  std::vector<Cut> cuts;
  std::vector<Split> splits;
  std::vector<Bridge> bridges;
  std::vector<Source> sources;
  std::vector<PartValue> part_values;
  std::vector<NoContact> no_contacts;
  double contact_ohm = 0.025;  ///< bench: every lead
  double noise_volt = 0;       ///< bench: 1 sigma
  std::uint32_t random = 1;    ///< bench: seed
};

/// Reads a defects/1 text. Errors: every mistake goes to `diagnostics` with its place: a name that
/// the board lacks, a segment that is none, what is not simulated by this version.
Defects read_defects(std::string_view text, const graph::Board& board,
                     graph::Diagnostics& diagnostics);

}  // namespace padwalk::tools
