// SPDX-License-Identifier: MIT
//
// One line as it is read off a paper schematic, held against the board that is known so far: what
// it adds, or one sentence on why it is not taken. Writes nothing: board_splice.hpp does.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "graph/board.hpp"
#include "graph/board_splice.hpp"

namespace padwalk::graph {

/// What became of a line.
struct EntryAnswer {
  enum class Kind : std::uint8_t {
    nothing,   ///< it is empty, or a remark: "# sheet 2"
    told,      ///< a question about the board, answered in `text`
    taken,     ///< `additions` are what it says, `text` sums them up
    doubtful,  ///< likelier a slip; taken with a "!" behind it
    refused    ///< a slip
  };
  Kind kind = Kind::nothing;
  std::string text;  ///< one line
  BoardAdditions additions;
};

/// Understands one line:
///   U2 DIP-16 74138         a part; U10-U17 DIP-14 7400: alike ones
///   TP1 pad                 a test pad
///   CLK U2.7 U9.3 R7.1      points of a net, new or not; U1.{2,5-8}, U10-U17.14: several pins
///   D[0:7] U1.{33-26} U5.{2,5,6,9,12,15,16,19}    a bus, pin by pin
/// and, alone, the name of a part or a net: what is known of it.
/// Errors: data, see Kind. Cost: linear in the board.
EntryAnswer enter_line(std::string_view line, const Board& board);

/// What the types of new chips say about their supply pins.
struct SupplyOffer {
  std::string text;  ///< "U2 74138: pin 8 GND, pin 16 VCC"
  BoardAdditions additions;
};

/// For the parts in `taken`, of which `board` knows by now. Nothing: no known chip among them.
std::optional<SupplyOffer> offer_supplies(const BoardAdditions& taken, const Board& board);

}  // namespace padwalk::graph
