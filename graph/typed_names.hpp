// SPDX-License-Identifier: MIT
//
// Names as a schematic writes them: lists and ranges of pins, chips and bus lines, and what a name
// by itself says. Knows no board: what is there, net_entry.hpp looks up.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// A list or a range may make so many names.
inline constexpr std::size_t kMostTypedNames = 256;

/// A line that says something which is wrong by itself: one clause.
struct BadWord {
  std::string text;
};

/// The words of a line: spaces, tabs and commas lie between them, but for those in {} and [].
/// Errors: nothing and `bad` for a bracket that is not closed.
std::optional<std::vector<std::string>> typed_words(std::string_view line, BadWord& bad);

/// "2,5,6", "33-26", "1-4,9": numbers up or down; anything else is one name ("A,B,C").
/// Errors: nothing and `bad` for an empty name or more than kMostTypedNames.
std::optional<std::vector<std::string>> typed_list(std::string_view list, BadWord& bad);

/// The names of chips or parts: "U2", "U10-U17", "U10-17", "U{1,3,5-7}". Errors: as above.
std::optional<std::vector<std::string>> typed_parts(std::string_view word, BadWord& bad);

/// The nets of a bus in the order in which they are written: "D[0:7]", "D[7:0]", "/A[8..15]",
/// "A[0-3]*". Empty: no bus, a net of that name. Errors: as above.
std::optional<std::vector<std::string>> typed_bus(std::string_view word, BadWord& bad);

/// Whether one may be a slip for the other: the same but for case, or, from three letters on, for
/// one letter more, less or other, or for two neighbours swapped. Digits and marks (/, ~, *, _, +)
/// mean what they say: names that differ in those do not count.
bool one_letter_apart(std::string_view a, std::string_view b);

/// What nets of such a name are: GND, 0V, AGND, VSS; VCC, VDD, +5V, -12V, +5; else a signal.
/// Source: common practice.
NetRole role_by_name(std::string_view net);

}  // namespace padwalk::graph
