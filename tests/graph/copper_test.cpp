// SPDX-License-Identifier: MIT
//
// Ohms of copper against published figures. Beside each: a public page, "from memory", or
// "computed" from the inputs that stand there.
#include "graph/copper.hpp"

#include <catch2/catch.hpp>
#include <cmath>

namespace {

using namespace padwalk::graph;

/// Within half a unit of the last digit printed.
bool rounds_to(double value, double printed, double last_digit) {
  INFO(value << " for " << printed);
  return std::abs(value - printed) <= last_digit / 2 * (1 + 1e-9);
}

constexpr double kPageOhmMetre = 1.72e-8;  // what the calculators' pages take

}  // namespace

TEST_CASE("copper itself: resistivity at 20 C, and what warmth adds") {
  // Public page qsl.net/wb6tpu/si-list6/0906.html: 1.72e-8 to 1.724e-8 ohm m, 0.00393 /K. The last
  // digit of 1.7241e-8 is from memory of IEC 60028.
  CHECK(kCopperOhmMetre >= 1.72e-8);
  CHECK(rounds_to(kCopperOhmMetre, 1.724e-8, 0.001e-8));
  CHECK(kCopperPerKelvin == 0.00393);
  CHECK(copper_ohm_metre(20) == kCopperOhmMetre);
  CHECK(copper_ohm_metre(45) == Approx(1.09825 * 1.7241e-8).epsilon(1e-9));  // computed: 25 K
  CHECK(copper_ohm_metre(-5) == Approx(0.90175 * 1.7241e-8).epsilon(1e-9));  // computed: -25 K
}

TEST_CASE("foil by weight, and a square of it") {
  // Computed: 305.15 g/m2 over 8.89 g/cm3. Public page: Bogatin, pcdandf.com 2007, 1 oz is about
  // 34 um and half a milliohm a square.
  CHECK(rounds_to(foil_mm(1) * 1e3, 34.3, 0.1));
  CHECK(foil_mm(2) == 2 * foil_mm(1));
  // Computed: 1 oz 0.49 to 0.50 mohm (35 and 34.3 um), half 0.985, 2 oz 0.246 at 35 um an ounce.
  CHECK(rounds_to(sheet_ohm(0.035) * 1e3, 0.493, 0.001));
  CHECK(rounds_to(sheet_ohm(foil_mm(1)) * 1e3, 0.502, 0.001));
  CHECK(rounds_to(sheet_ohm(0.035 / 2) * 1e3, 0.985, 0.001));
  CHECK(rounds_to(sheet_ohm(0.035 * 2) * 1e3, 0.246, 0.001));
}

TEST_CASE("a trace: 100 mm by 0.5 mm by 35 um is 98.3 mohm") {
  // Public page: hypercode.alexisbouchez.com, trace resistance; computed agrees.
  CHECK(rounds_to(trace_ohm(100, 0.5, 0.035, kPageOhmMetre) * 1e3, 98.3, 0.1));
  CHECK(trace_ohm(0.5, 0.5, 0.035) == Approx(sheet_ohm(0.035)).epsilon(1e-12));
  CHECK(trace_ohm(200, 1, 0.035) == Approx(trace_ohm(100, 0.5, 0.035)).epsilon(1e-12));
}

TEST_CASE("a via 1.6 mm long, 0.3 mm, 25 um of wall, by three ways to count") {
  // Public page: hypercode.alexisbouchez.com, via resistance, 1.17 mohm; computed agrees.
  CHECK(rounds_to(thin_barrel_ohm(1.6, 0.3, 0.025, kPageOhmMetre) * 1e3, 1.17, 0.01));
  // Computed, the ring of metal: bore 0.30, and hole drilled 0.30 so bore 0.25.
  CHECK(rounds_to(barrel_ohm(1.6, 0.30, Hole::bore, 0.025) * 1e3, 1.08, 0.01));
  CHECK(rounds_to(barrel_ohm(1.6, 0.30, Hole::drilled, 0.025) * 1e3, 1.28, 0.01));
  CHECK(barrel_ohm(1.6, 0.25, Hole::bore, 0.025) ==
        Approx(barrel_ohm(1.6, 0.30, Hole::drilled, 0.025)).epsilon(1e-12));
  // Computed: the ring is the difference of two discs.
  const double area_mm2 = 3.14159265358979 / 4 * (0.35 * 0.35 - 0.30 * 0.30);
  CHECK(barrel_ohm(1.6, 0.30, Hole::bore, 0.025) ==
        Approx(kCopperOhmMetre * 1e3 * 1.6 / area_mm2).epsilon(1e-9));
}

TEST_CASE("solder of tin and lead has 0.145 uohm m") {
  CHECK(kSolderOhmMetre == Approx(0.145e-6));  // public page: alasir.com, solder alloys
}

TEST_CASE("wire by gauge: diameter and ohms a kilometre") {
  CHECK(awg_mm(36) == Approx(0.127));   // the rule's own anchors, ASTM B258 from memory:
  CHECK(awg_mm(-3) == Approx(11.684));  // 0.005 inch and 0.46 inch
  // Computed from 1.7241e-8 ohm m and the rule.
  struct Row {
    int gauge;
    double ohm_per_km;
    double last_digit;
  };
  for (const Row& row : {Row{20, 33.3, 0.1}, Row{22, 53.0, 0.1}, Row{24, 84.2, 0.1},
                         Row{26, 133.9, 0.1}, Row{28, 212.9, 0.1}, Row{30, 338.55, 0.01},
                         Row{32, 538.3, 0.1}, Row{34, 856.0, 0.1}, Row{36, 1361, 1}}) {
    INFO("AWG " << row.gauge);
    CHECK(rounds_to(awg_ohm_per_km(row.gauge), row.ohm_per_km, row.last_digit));
  }
}
