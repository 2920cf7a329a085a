// SPDX-License-Identifier: MIT
//
// What the pins of common logic, memory and linear chips are for. One table; from memory of public
// data sheets, as its rows say.
#pragma once

#include <optional>
#include <string_view>

namespace padwalk::graph {

/// What a pin does. The letters of the table.
enum class PinUse : char {
  input = 'I',
  output = 'O',          ///< drives both ways, always
  three_state = 'T',     ///< drives at times, or goes both ways
  open_collector = 'C',  ///< pulls low alone
  supply = 'V',
  ground = 'G',  ///< of an amplifier: the negative supply
  other = 'X'    ///< not connected, analog, a programming voltage
};

/// One letter a pin, pin 1 first: "IIOIIOGOIIOIIV".
using PinUses = std::string_view;

/// The pins of a chip by what is printed on it: "SN74LS138N", "74HC138", "CD4060B", "LM358".
/// Nothing: not in the table.
std::optional<PinUses> pin_uses(std::string_view type);

}  // namespace padwalk::graph
