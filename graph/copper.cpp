// SPDX-License-Identifier: MIT
#include "graph/copper.hpp"

#include <cmath>
#include <numbers>

namespace padwalk::graph {

namespace {

constexpr double kMmPerMetre = 1e3;
constexpr double kFoilGramPerSquareMetre = 305.15;  // of 1 oz a square foot
constexpr double kFoilGramPerCubicCm = 8.89;        // electrodeposited foil

}  // namespace

double copper_ohm_metre(double celsius) {
  return kCopperOhmMetre * (1 + kCopperPerKelvin * (celsius - 20));
}

double foil_mm(double ounces) {
  return ounces * kFoilGramPerSquareMetre / kFoilGramPerCubicCm * 1e-3;  // g/m2 by g/cm3 is um
}

double sheet_ohm(double foil_mm, double ohm_metre) {
  return ohm_metre * kMmPerMetre / foil_mm;
}

double trace_ohm(double length_mm, double width_mm, double foil_mm, double ohm_metre) {
  return sheet_ohm(foil_mm, ohm_metre) * length_mm / width_mm;
}

double barrel_ohm(double length_mm, double diameter_mm, Hole which, double wall_mm,
                  double ohm_metre) {
  const double middle_mm = which == Hole::bore ? diameter_mm + wall_mm : diameter_mm - wall_mm;
  return thin_barrel_ohm(length_mm, middle_mm, wall_mm, ohm_metre);
}

double thin_barrel_ohm(double length_mm, double diameter_mm, double wall_mm, double ohm_metre) {
  return ohm_metre * kMmPerMetre * length_mm / (std::numbers::pi * diameter_mm * wall_mm);
}

double awg_mm(int gauge) {
  return 0.127 * std::pow(92.0, (36 - gauge) / 39.0);
}

double awg_ohm_per_km(int gauge, double ohm_metre) {
  const double diameter_mm = awg_mm(gauge);
  return ohm_metre * kMmPerMetre * 1e6 / (std::numbers::pi / 4 * diameter_mm * diameter_mm);
}

}  // namespace padwalk::graph
