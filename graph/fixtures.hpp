// SPDX-License-Identifier: MIT
//
// What a bench owns to bring leads to a board, from a fixtures/1 file: clips for chips, plugs,
// grabbers, the tip. Which of them fits on which part, and which channel then sits on which pin.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/hookup.hpp"

namespace padwalk::graph {

enum class FixtureKind : std::uint8_t {
  chip_clip,  ///< two rows of legs over a DIP
  plug,       ///< into a connector of one package
  grabber,    ///< each of its channels holds one pin or pad
  tip         ///< held by hand; two channels are two needles
};

struct Fixture {
  std::string name;
  FixtureKind kind = FixtureKind::tip;
  std::size_t pins = 0;                 ///< of a chip clip
  double row_mm = 0;                    ///< of a chip clip: from row to row
  std::string package;                  ///< of a plug
  std::vector<std::uint16_t> channels;  ///< in the order of its pins, from 1
  double move_s = 0;                    ///< to put it somewhere; a grabber: each of its channels
  // Found at the bench, where no file can say it: it does not fit there.
  std::vector<PartId> not_on;
  std::vector<PointId> not_at;  ///< of a grabber
};

struct Fixtures {
  std::vector<Fixture> fixtures;
  double turn_s = 15;     ///< to turn the board over
  double confirm_s = 10;  ///< to look whether all sits right, before each sweep

  /// The hand-held one; none: nullptr.
  const Fixture* tip() const;
  /// The highest channel that one of them has a wire to; 0: there are none.
  std::uint16_t highest_channel() const;
};

/// Reads a fixtures/1 file. Errors: every mistake goes to `diagnostics`; a text that is no such
/// file throws BadFile.
Fixtures read_fixtures(std::string_view text, Diagnostics& diagnostics);

/// A clip or a plug on a part: the leads that it brings; a clip that is larger than the chip sits
/// flush at pin 1. Nothing where it does not fit, and then `why` is a few words: "wider", "no
/// room". Points that must never be driven get no lead.
std::optional<std::vector<Lead>> leads_on(const Board& board, const Fixture& fixture, PartId part,
                                          std::string& why);

}  // namespace padwalk::graph
