// SPDX-License-Identifier: MIT
//
// Ohms of copper by formula: traces, plated holes, wires. Pure numbers with their sources; what a
// board has of it, and what must be assumed, is in copper_ohms.hpp.
// Units: lengths in mm, resistivity in ohm m, temperature in degrees Celsius.
#pragma once

namespace padwalk::graph {

/// Annealed copper at 20 C, 100 % IACS. Source: IEC 60028, last digit from memory; a public page
/// has 1.72e-8 to 1.724e-8 (qsl.net/wb6tpu/si-list6/0906.html).
inline constexpr double kCopperOhmMetre = 1.7241e-8;
/// Rise of resistivity by kelvin, from 20 C. Source: the same page.
inline constexpr double kCopperPerKelvin = 0.00393;
/// Tin-lead solder Sn63Pb37. Source: alasir.com, solder alloys.
inline constexpr double kSolderOhmMetre = 0.145e-6;

/// Resistivity of copper at a temperature.
double copper_ohm_metre(double celsius);

/// Thickness of foil that is sold by weight, ounces a square foot: 305.15 g/m2 over 8.89 g/cm3.
/// 1 oz is 34.3 um, in the trade often called 35 um (Bogatin, pcdandf.com 2007).
double foil_mm(double ounces);

/// A square of foil, whatever its size, from edge to edge.
double sheet_ohm(double foil_mm, double ohm_metre = kCopperOhmMetre);

/// A trace of constant width; its corners and the pads at its ends are not counted.
double trace_ohm(double length_mm, double width_mm, double foil_mm,
                 double ohm_metre = kCopperOhmMetre);

/// Which diameter a hole is known by: as it was drilled, or the bore that plating left.
enum class Hole : unsigned char { drilled, bore };

/// The wall of a plated hole from end to end, as the ring of metal that it is.
double barrel_ohm(double length_mm, double diameter_mm, Hole which, double wall_mm,
                  double ohm_metre = kCopperOhmMetre);
/// The common short cut for a wall that is thin beside the hole: rho H / (pi D t).
double thin_barrel_ohm(double length_mm, double diameter_mm, double wall_mm,
                       double ohm_metre = kCopperOhmMetre);

/// Diameter of a solid wire by its American wire gauge: 0.127 mm x 92^((36 - n) / 39). Source: the
/// rule of ASTM B258, from memory. Gauge 0000 is -3.
double awg_mm(int gauge);
/// Ohms of 1 km of it. Printed tables (NBS Handbook 100) differ by up to 0.7 %.
double awg_ohm_per_km(int gauge, double ohm_metre = kCopperOhmMetre);

}  // namespace padwalk::graph
