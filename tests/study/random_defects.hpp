// SPDX-License-Identifier: MIT
//
// Defects that a board is given, drawn at random with a margin to every limit of a verdict, and the
// true values of its parts within their tolerances. Whether a sweep can see them is for the oracle
// to say.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "tests/study/draws.hpp"
#include "tools/defects.hpp"

namespace padwalk::study {

enum class DefectKind : std::uint8_t {
  open,             ///< one segment cut
  split,            ///< a net of unknown way in two
  short_circuit,    ///< 0.1 to 5 ohm
  high_resistance,  ///< 5 to 500 ohm in a segment
  leakage,          ///< 200 ohm to 8 kohm; on a bare board up to 1 Mohm
  part,             ///< off by a factor of 3 and more, open, or shorted
  no_contact,       ///< a lead that does not touch, before a re-seat or after it too
  intermittent      ///< a segment that opens at times
};
inline constexpr std::size_t kDefectKinds = 8;

/// "open", "split", "short", "high", "leakage", "part", "contact", "intermittent".
std::string_view defect_kind_name(DefectKind kind);

/// One defect. Which members mean something follows from the kind. Units: ohm.
struct Planted {
  DefectKind kind = DefectKind::open;
  graph::SegmentId segment{};
  graph::NetId net = graph::kNoNet;  ///< of a segment, a split or a point
  std::vector<graph::PointId> off;
  graph::PlaceId a = graph::kNoPlace;
  graph::PlaceId b = graph::kNoPlace;
  graph::PartId part = graph::kNoPart;
  graph::PointId point = graph::kNoPoint;
  bool stays = false;
  double ohm = 0;
  double open_s = 0;
  double every_s = 0;
};

/// Draws up to `count` defects of `kinds`; fewer where the board has nothing to break.
std::vector<Planted> random_defects(Draws& draws, const graph::Board& board,
                                    std::span<const DefectKind> kinds, std::size_t count);

/// True values of the parts whose tolerance allows another one than printed. Units: ohm.
std::vector<tools::Defects::PartValue> random_part_values(Draws& draws, const graph::Board& board);

/// These defects and the true values of parts (a planted one goes before); an ideal bench.
tools::Defects make_defects(std::span<const Planted> planted,
                            std::span<const tools::Defects::PartValue> values);

}  // namespace padwalk::study
