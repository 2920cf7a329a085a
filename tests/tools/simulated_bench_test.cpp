// SPDX-License-Identifier: MIT
//
// Boards and their defects as circuits: what each part becomes, where each defect sits, how the
// instrument's errors are drawn. What the circuit then measures is tested in firmware-host.
#include "tools/simulated_bench.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using graph::Board;
using simulated::Circuit;
using tools::Defects;

constexpr double kSilicon = 2.52e-9;
constexpr double kGermanium = 200e-9;
constexpr double kSchottky = 1e-6;

Circuit circuit_of(const Board& board, const std::string& defects = "", bool reseated = false) {
  graph::Diagnostics diagnostics("d.yaml");
  const Defects read = tools::read_defects("padwalk: defects/1\n" + defects, board, diagnostics);
  diagnostics.throw_if_errors();
  return tools::make_circuit(board, read, graph::default_hookup(board), 64, reseated);
}

/// The node of a point's leg.
int node(const Board& board, const std::string& point) {
  return static_cast<int>(graph::index(board[*board.find_point(point)].held));
}

/// Ohms of all resistors between the legs of two points, in their order; infinite: kNoNode.
std::vector<double> ohms(const Board& board, const Circuit& circuit, const std::string& a,
                         const std::string& b) {
  std::vector<double> found;
  for (const Circuit::Resistor& one : circuit.resistors) {
    if (std::minmax({one.a, one.b}) == std::minmax({node(board, a), node(board, b)})) {
      found.push_back(one.ohm);
    }
  }
  return found;
}

/// Saturation currents of all junctions from one leg to another.
std::vector<double> junctions(const Board& board, const Circuit& circuit, const std::string& a,
                              const std::string& k) {
  std::vector<double> found;
  for (const Circuit::Junction& one : circuit.junctions) {
    if (one.anode == node(board, a) && one.cathode == node(board, k)) {
      found.push_back(one.saturation_ampere);
    }
  }
  return found;
}

using List = std::vector<double>;

const std::string kParts = R"(parts:
  R1: {kind: resistor, value: 4k7, package: axial 10 mm, xy: [0, 0]}
  RN1: {kind: network, value: 10k, package: SIP-3, xy: [10, 0]}
  RN2: {kind: network, value: 1k, type: isolated, package: SIP-4, xy: [20, 0]}
  C1: {kind: capacitor, value: 10u, package: radial 5 mm, xy: [30, 0]}
  C2: {kind: capacitor, package: radial 5 mm, xy: [40, 0]}
  D1: {kind: diode, type: 1N4148, package: axial 10 mm, xy: [50, 0]}
  D2: {kind: diode, type: point contact (Germanium), package: axial 10 mm, xy: [60, 0]}
  D3: {kind: diode, type: SCHOTTKY, pins: {A: [70, 0], K: [80, 0]}}
  D4: {kind: diode, pins: {K: [70, 5], A: [80, 5]}, note: pins are listed by name}
  Q1: {kind: transistor, package: row 3, xy: [90, 0]}
  Q2: {kind: transistor, type: PNP germanium, pins: {B: [90, 5], C: [92, 5], E: [94, 5]}}
  F1: {kind: fuse, value: 500 mA, package: axial 10 mm, xy: [100, 0]}
  L1: {kind: inductor, value: 10u, package: axial 10 mm, xy: [110, 0]}
  K1: {kind: relay, package: DIP-8, xy: [120, 0], positions: {rest: [[5, 6]], pulled: [[5, 7]]}}
  T1: {kind: transformer, package: row 4, xy: [130, 0]}
  P1: {kind: pot, value: 10k, package: row 3, xy: [140, 0]}
  S1: {kind: switch, package: row 4, xy: [150, 0], positions: {out: [[1, 2, 4]], in: [[2, 3]]}}
  X1: {kind: crystal, package: radial 5 mm, xy: [160, 0]}
)";

const std::string kChips = R"(parts:
  U1: {kind: ic, type: SN74LS04N, package: row 4, xy: [0, 0]}
  U2: {kind: ic, type: 74HC04, package: row 4, xy: [10, 0]}
  U3: {kind: ic, type: 74S04, package: row 4, xy: [20, 0], chip: pulled}
  U4: {kind: ic, type: LM358, package: row 4, xy: [30, 0]}
nets:
  GND: {role: ground, points: [U1.1, U2.1, U3.1]}
  VCC: {role: supply, points: [U1.4, U2.4, U3.4]}
  A: [U1.2, U2.2, U3.2]
)";

}  // namespace

TEST_CASE("each kind of part is what its file says", "[tools][simulated-bench]") {
  const Board board = test::small_board(kParts);
  const Circuit circuit = circuit_of(board);
  const auto ohm = [&](const char* a, const char* b) { return ohms(board, circuit, a, b); };
  const auto junction = [&](const char* a, const char* k) {
    return junctions(board, circuit, a, k);
  };
  CHECK(ohm("R1.1", "R1.2") == List{4700});
  CHECK(ohm("RN1.1", "RN1.2") == List{10e3});
  CHECK(ohm("RN1.1", "RN1.3") == List{10e3});
  CHECK(ohm("RN1.2", "RN1.3").empty());
  CHECK(ohm("RN2.1", "RN2.2") == List{1000});
  CHECK(ohm("RN2.3", "RN2.4") == List{1000});
  CHECK(ohm("RN2.1", "RN2.3").empty());
  CHECK(ohm("F1.1", "F1.2") == List{0.1});
  CHECK(ohm("L1.1", "L1.2") == List{3});
  CHECK(ohm("K1.1", "K1.2") == List{400});
  CHECK(ohm("K1.5", "K1.6").size() == 1);
  CHECK(ohm("K1.5", "K1.7").empty());
  CHECK(ohm("T1.1", "T1.2") == List{10});
  CHECK(ohm("T1.3", "T1.4") == List{10});
  CHECK(ohm("T1.2", "T1.3").empty());
  CHECK(ohm("P1.1", "P1.2") == List{5000});
  CHECK(ohm("P1.2", "P1.3") == List{5000});
  CHECK(ohm("S1.1", "S1.2") == List{0.07});
  CHECK(ohm("S1.2", "S1.4") == List{0.07});
  CHECK(ohm("S1.2", "S1.3").empty());
  CHECK(ohm("X1.1", "X1.2").empty());
  CHECK(ohm("C1.1", "C1.2").empty());
  CHECK(ohm("D1.1", "D1.2").empty());
  REQUIRE(circuit.capacitors.size() == 2);
  CHECK(circuit.capacitors[0].a == node(board, "C1.1"));
  CHECK(circuit.capacitors[0].b == node(board, "C1.2"));
  CHECK(circuit.capacitors[0].farad == 10e-6);
  CHECK(circuit.capacitors[1].farad == 100e-9);
  CHECK(junction("D1.1", "D1.2") == List{kSilicon});
  CHECK(junction("D2.1", "D2.2") == List{kGermanium});
  CHECK(junction("D3.A", "D3.K") == List{kSchottky});
  CHECK(junction("D4.A", "D4.K") == List{kSilicon});
  CHECK(junction("Q1.2", "Q1.1") == List{kSilicon});
  CHECK(junction("Q1.2", "Q1.3") == List{kSilicon});
  CHECK(junction("Q2.C", "Q2.B") == List{kGermanium});
  CHECK(junction("Q2.E", "Q2.B") == List{kGermanium});
  CHECK(circuit.junctions.size() == 8);
}

TEST_CASE("a junction conducts as its model says", "[tools][simulated-bench]") {
  // Volts over amperes of the whole at 0.2 V through 1 kohm, 27 C, nominal models (computed with a
  // general circuit simulator for this project).
  constexpr double kThermalVolt = 1.380649e-23 * 300.15 / 1.602176634e-19;
  const auto apparent_ohm = [&](const Circuit::Junction& junction) {
    double low = 0;
    double high = 0.2;
    for (int n = 0; n < 100; ++n) {
      const double volt = (low + high) / 2;
      const double ampere =
          junction.saturation_ampere * std::expm1(volt / (junction.emission * kThermalVolt));
      (ampere * 1000 + volt > 0.2 ? high : low) = volt;
    }
    return low / ((0.2 - low) / 1000);
  };
  const Board board = test::small_board(kParts);
  const Circuit circuit = circuit_of(board);
  CHECK(apparent_ohm(circuit.junctions[0]) == Approx(977e3).epsilon(0.01));
  CHECK(apparent_ohm(circuit.junctions[1]) == Approx(5.55e3).epsilon(0.01));
  CHECK(apparent_ohm(circuit.junctions[2]) == Approx(1.49e3).epsilon(0.01));
}

TEST_CASE("a part with a defect has other ohms", "[tools][simulated-bench]") {
  const Board board = test::small_board(kParts);
  const Circuit circuit = circuit_of(board, R"(defects:
  - {part: R1, value: 47k}
  - {part: RN1, value: 3k3}
  - {part: RN2, value: open}
  - {part: C1, value: 3 ohm}
  - {part: C2, value: open}
  - {part: D1, value: 0.5 ohm}
  - {part: D2, value: open}
  - {part: F1, value: open}
  - {part: L1, value: 90 ohm}
  - {switch: S1, stuck: in, contact: [3, 2], value: 40 ohm}
)");
  const auto ohm = [&](const char* a, const char* b) { return ohms(board, circuit, a, b); };
  CHECK(ohm("R1.1", "R1.2") == List{47e3});
  CHECK(ohm("RN1.1", "RN1.2") == List{3300});
  CHECK(ohm("RN1.1", "RN1.3") == List{3300});
  CHECK(ohm("RN2.1", "RN2.2").empty());
  CHECK(ohm("RN2.3", "RN2.4").empty());
  CHECK(ohm("C1.1", "C1.2") == List{3});
  CHECK(circuit.capacitors.size() == 1);
  CHECK(ohm("D1.1", "D1.2") == List{0.5});
  CHECK(junctions(board, circuit, "D1.1", "D1.2") == List{kSilicon});
  CHECK(junctions(board, circuit, "D2.1", "D2.2").empty());
  CHECK(ohm("F1.1", "F1.2").empty());
  CHECK(ohm("L1.1", "L1.2") == List{90});
  CHECK(ohm("S1.1", "S1.2").empty());
  CHECK(ohm("S1.2", "S1.3") == List{40});
}

TEST_CASE("a chip has a clamp to each rail at each signal pin", "[tools][simulated-bench]") {
  const Board board = test::small_board(kChips);
  const Circuit circuit = circuit_of(board);
  const auto junction = [&](const char* a, const char* k) {
    return junctions(board, circuit, a, k);
  };
  for (const char* pin : {"U1.2", "U1.3"}) {  // one in a net, one in none
    CHECK(junction("U1.1", pin) == List{kSchottky});
    CHECK(junction(pin, "U1.4") == List{kSilicon});
  }
  CHECK(junction("U2.1", "U2.2") == List{kSilicon});
  CHECK(junction("U2.3", "U2.4") == List{kSilicon});
  CHECK(circuit.junctions.size() == 8);  // none of the pulled chip, none of the one without rails
  CHECK(circuit_of(test::small_board("state: bare\n" + kChips)).junctions.empty());
}

TEST_CASE("families whose inputs have Schottky clamps are told by their type",
          "[tools][simulated-bench]") {
  for (const auto& [type, ampere] :
       std::vector<std::pair<std::string, double>>{{"74LS138", kSchottky},
                                                   {"74S04", kSchottky},
                                                   {"SN54ALS00", kSchottky},
                                                   {"74AS00", kSchottky},
                                                   {"74F245", kSchottky},
                                                   {"7404", kSilicon},
                                                   {"74HC138", kSilicon},
                                                   {"74HCT04", kSilicon},
                                                   {"74L98", kSilicon},
                                                   {"Z84C00", kSilicon}}) {
    INFO(type);
    const Board board = test::small_board("parts:\n  U1: {kind: ic, type: " + type +
                                          ", package: row 2, xy: [0, 0]}\n"
                                          "nets:\n  GND: {role: ground, points: [U1.1]}\n");
    CHECK(junctions(board, circuit_of(board), "U1.1", "U1.2") == List{ampere});
  }
}

TEST_CASE("sources, earth and what comes and goes sit where the file says",
          "[tools][simulated-bench]") {
  const Board board = test::small_board(R"(points:
  V1: {xy: [0, 0], via: [top, bottom], access: clip}
  TP1: {xy: [5, 0], side: bottom}
  TP2: {xy: [9, 0], side: bottom}
nets:
  A: {route: [{side: bottom, chain: [V1@bottom, TP1]}]}
  B: [TP2]
)");
  const Circuit circuit = circuit_of(board, R"(defects:
  - {intermittent: [V1@top, V1@bottom], open for: 8 ms, every: 250 ms}
  - {voltage: [TP1, TP2], value: 9 V, hertz: 50, behind: 100 ohm}
  - {voltage: [TP1, TP2], value: 3 V, through: Schottky}
  - {voltage: [TP1, TP2], value: -3 V, through: silicon}
  - {earthed: TP2, value: 2 ohm}
)");
  const Circuit whole = circuit_of(board);
  REQUIRE(whole.resistors.size() == 2);
  REQUIRE(circuit.resistors.size() == 3);
  const auto barrel = std::find_if(circuit.resistors.begin(), circuit.resistors.end(),
                                   [](const Circuit::Resistor& one) { return one.every_s > 0; });
  REQUIRE(barrel != circuit.resistors.end());
  CHECK(std::minmax({barrel->a, barrel->b}) ==
        std::minmax({node(board, "V1@top"), node(board, "V1@bottom")}));
  CHECK(barrel->ohm == 0.0012);  // of a whole barrel
  CHECK(barrel->open_s == 0.008);
  CHECK(barrel->every_s == 0.25);
  CHECK(circuit.resistors.back().a == node(board, "TP2"));
  CHECK(circuit.resistors.back().b == simulated::kNoNode);
  CHECK(circuit.resistors.back().ohm == 2);
  REQUIRE(circuit.sources.size() == 3);
  CHECK(circuit.sources[0].a == node(board, "TP1"));
  CHECK(circuit.sources[0].b == node(board, "TP2"));
  CHECK(circuit.sources[0].volt == Approx(9 * std::numbers::sqrt2));
  CHECK(circuit.sources[0].hertz == 50);
  CHECK(circuit.nodes == whole.nodes + 2);
  REQUIRE(circuit.junctions.size() == 2);
  CHECK(circuit.sources[1].volt == 3);
  CHECK(circuit.junctions[0].anode == circuit.sources[1].a);
  CHECK(circuit.junctions[0].cathode == node(board, "TP1"));
  CHECK(circuit.junctions[0].saturation_ampere == kSchottky);
  CHECK(circuit.junctions[1].anode == node(board, "TP1"));
  CHECK(circuit.junctions[1].cathode == circuit.sources[2].a);
}

TEST_CASE("errors of the instrument are drawn within their limits and stay",
          "[tools][simulated-bench]") {
  const Board board = test::small_board("points: {TP1: {}}\n");
  const simulated::Electronics ideal = circuit_of(board).electronics;
  CHECK(ideal.gain_error == std::array<double, 3>{});
  CHECK(ideal.reference_error == std::array<double, 5>{});
  const Circuit circuit = circuit_of(board, "bench: reference\n");
  const simulated::Electronics& drawn = circuit.electronics;
  for (const double error : drawn.gain_error) {
    CHECK(error != 0);
    CHECK(std::abs(error) <= 0.001);
  }
  for (const double error : drawn.reference_error) {
    CHECK(error != 0);
    CHECK(std::abs(error) <= 0.001);
  }
  CHECK(drawn.noise_volt == 200e-6);
  CHECK(drawn.offset_volt == 100e-6);
  CHECK(drawn.switch_spread_ohm == 0.5);
  CHECK(drawn.leak_ampere == 1e-9);
  CHECK(drawn.lead_farad == 100e-12);
  CHECK(drawn.hum_volt == 0.1);
  CHECK(drawn.hum_hertz == 50);
  CHECK(circuit.lead_spread_ohm == 0.025);
  // The same unit after a re-seat; another one with another seed.
  const Circuit reseated = circuit_of(board, "bench: reference\n", true);
  CHECK(reseated.electronics.gain_error == drawn.gain_error);
  CHECK(reseated.electronics.reference_error == drawn.reference_error);
  const Circuit other = circuit_of(board, "bench: {like: reference, random: 2}\n");
  CHECK(other.electronics.gain_error != drawn.gain_error);
}
