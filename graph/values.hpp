// SPDX-License-Identifier: MIT
//
// Numbers with units as people at a bench write them: "4k7", "0R47", "100n", "0.4 mm", "5%",
// "4700 ohm", "0.3 inch". The unit is part of the value, never of the key; `m` is not `M`.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace padwalk::graph {

/// What kind of quantity a text is expected to be, and so which units it may carry.
enum class Unit { ohm, farad, henry, metre, millimetre, volt, ampere, second, degree, fraction };

/// Reads a value in the unit named (ohm, F, H, m, mm, V, A, s, degree, 1). Letters of IEC 60062
/// stand for the decimal point ("4k7", "0R47", "4n7"). A bare number is taken only where `unit` is
/// degree. Lengths take mm, cm, m, um, inch, in, mil. Errors: nothing for what cannot be read.
/// Source: IEC 60062 (letter and digit code for values).
std::optional<double> parse_value(std::string_view text, Unit unit);

/// "4k7", "470R", "2M2": the nearest preferred value, if it lies within `share` of it and
/// `uncertainty_ohm` of `ohm`, which is above 0; else `ohm` in three digits. Units: ohm.
/// Source: IEC 60063 (series E24), IEC 60062 (letters).
std::string preferred_ohm_text(double ohm, double uncertainty_ohm, double share);

}  // namespace padwalk::graph
