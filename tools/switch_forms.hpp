// SPDX-License-Identifier: MIT
//
// A switch of a trade form as a part with positions, for a simulated bench without a board file.
#pragma once

#include <cstddef>
#include <string>

#include "graph/board_description.hpp"

namespace padwalk::tools {

/// What may be given, for help and complaints.
inline constexpr const char* kSwitchForms =
    "A, B, C, D, K or reversing, with a number of poles ('2C', '1A+1B'), 'rotary 1x6' (poles x "
    "throws), 'bank 4' (interlocked change-overs); then 'momentary' or 'latching' where wanted";

/// Part S1 with terminals 1 to `terminals`, in a row. A and B take two terminals a pole; C, D and
/// K three, the common in the middle; a rotary pole its common, then its throws; reversing four.
/// A, B, C and D spring back unless 'latching' is said, the others stay. What is left over is on
/// nothing. Errors: UsageError for another form, or too few terminals.
graph::PartDescription switch_of_form(const std::string& form, std::size_t terminals);

}  // namespace padwalk::tools
