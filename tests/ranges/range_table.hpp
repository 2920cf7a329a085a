// SPDX-License-Identifier: MIT
//
// The range table that the reference tester is specified with, and the same computed from the front
// end's figures, for the test and for the program that prints it.
#pragma once

#include <array>
#include <cmath>
#include <limits>

#include "firmware-host/session/ranges.hpp"

namespace padwalk::tests {

inline constexpr std::array<double, 10> kTableOhms = {0.1, 1,   10,  100, 1e3,
                                                      1e4, 1e5, 1e6, 2e6, 1e7};

/// One range as specified: short current in A, ohms a code, and the relative uncertainty (k = 2) of
/// each value of kTableOhms; 0 where the table is silent.
/// Source: the reference tester's specification, which was computed or simulated with a general
/// circuit simulator, no hardware measured (C).
struct SpecifiedRange {
  double short_ampere;
  double ohm_per_code;
  std::array<double, 10> share;
};
inline constexpr std::array<SpecifiedRange, 5> kSpecified = {{
    {190e-6, 0.11, {1.0, 0.10, 0.011, 0.003, 0.004, 0.009, 0.08, 0.77, 0, 0}},
    {103e-6, 0.21, {1.6, 0.16, 0.016, 0.004, 0.004, 0.005, 0.03, 0.29, 0.58, 0}},
    {18e-6, 1.2, {0, 0.80, 0.08, 0.009, 0.005, 0.007, 0.03, 0.28, 0.56, 0}},
    {2e-6, 11, {0, 0, 0.73, 0.08, 0.03, 0.03, 0.06, 0.31, 0.59, 0}},
    {50e-6, 100, {0, 0, 0, 0, 0, 0.007, 0.004, 0.014, 0.027, 0.11}},
}};
/// Computed uncertainty may be so many times the specified one.
inline constexpr double kMostShare = 1.5;

/// What the reference tester says it can do, as far as ranges go.
inline wire::Ability reference_ability() {
  wire::Ability ability;
  ability.channels = 128;
  ability.levels = 7;
  ability.ranges = 31;
  ability.gains = 15;
  ability.converter_bits = 12;
  ability.low_step_nv = 1'074'219;  // 1.1 V over 1024
  ability.high_step_nv = 5'000'000;
  return ability;
}

}  // namespace padwalk::tests
