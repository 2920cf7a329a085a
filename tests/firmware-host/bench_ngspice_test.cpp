// SPDX-License-Identifier: MIT
//
// The simulated bench against ngspice on random circuits: at rest with junctions and sources, and
// over time with capacitors. One run of ngspice for each, the circuits side by side.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <random>
#include <string>

#include "firmware-host/simulated/bench.hpp"
#include "tests/support/log_uniform.hpp"
#include "tests/support/ngspice.hpp"

namespace {

using padwalk::test::log_uniform;
using namespace padwalk;
using simulated::Circuit;
using simulated::kNoNode;

constexpr int kCircuits = 100;
constexpr std::array kTimes = {0.1e-3, 0.5e-3, 2e-3, 8e-3, 30e-3};

struct Kind {
  double saturation_ampere;
  double emission;
};
/// A small silicon diode, germanium-like, Schottky-like; models of common simulators, from memory.
constexpr std::array<Kind, 3> kKinds = {{{2.52e-9, 1.752}, {200e-9, 1.3}, {1e-6, 1.05}}};

/// A tree of resistors with some more, all nodes reachable; leads on the first and the last.
Circuit random_circuit(std::mt19937& random, bool capacitors) {
  Circuit circuit;
  circuit.nodes = 4 + static_cast<int>(random() % 8);
  const auto any = [&] {
    return static_cast<int>(random() % static_cast<unsigned>(circuit.nodes));
  };
  const auto other = [&](int node) {
    return (node + 1 + static_cast<int>(random() % static_cast<unsigned>(circuit.nodes - 1))) %
           circuit.nodes;
  };
  for (int node = 1; node < circuit.nodes; ++node) {
    circuit.resistors.push_back({node, static_cast<int>(random() % static_cast<unsigned>(node)),
                                 log_uniform(random, 5, 100e3)});
  }
  for (int i = 0; i < 3; ++i) {
    const int a = any();
    circuit.resistors.push_back({a, other(a), log_uniform(random, 0.1, 20e3)});
  }
  for (int i = 0; i < 4; ++i) {
    const int a = any();
    const Kind& kind = kKinds[random() % kKinds.size()];
    circuit.junctions.push_back({a, other(a), kind.saturation_ampere, kind.emission});
  }
  for (int i = 0; capacitors && i < 3; ++i) {
    const int a = any();
    circuit.capacitors.push_back(
        {a, random() % 3 == 0 ? kNoNode : other(a), log_uniform(random, 20e-9, 20e-6)});
  }
  if (!capacitors && random() % 2 == 0) {
    circuit.sources.push_back({any(), kNoNode,
                               std::uniform_real_distribution<double>(-3, 3)(random),
                               log_uniform(random, 100, 100e3)});
  }
  circuit.leads = {{0, 0.025}, {circuit.nodes - 1, 0.025}};
  return circuit;
}

/// The same as ngspice reads it, with the instrument's path: source, force paths, reference.
std::string deck_of(const Circuit& circuit, const std::string& mark, double reference_ohm) {
  std::string deck;
  int count = 0;
  const auto node = [&](int n) {
    return n == kNoNode ? std::string("0") : mark + std::to_string(n);
  };
  const auto line = [&](char letter, const std::string& a, const std::string& b,
                        const std::string& rest) {
    deck += letter + mark + std::to_string(count++) + " " + a + " " + b + " " + rest + "\n";
  };
  const auto text = [](double value) {
    char number[40];
    std::snprintf(number, sizeof number, "%.17g", value);
    return std::string(number);
  };
  for (const auto& one : circuit.resistors) {
    line('R', node(one.a), node(one.b), text(one.ohm));
  }
  for (const auto& one : circuit.capacitors) {
    line('C', node(one.a), node(one.b), text(one.farad) + " IC=0");
  }
  for (const auto& one : circuit.junctions) {
    const std::string model = mark + "m" + std::to_string(count);
    line('D', node(one.anode), node(one.cathode), model);
    deck += ".model " + model + " D(IS=" + text(one.saturation_ampere) +
            " N=" + text(one.emission) + ")\n";
  }
  for (const auto& one : circuit.sources) {
    const std::string inner = mark + "i" + std::to_string(count);
    line('V', inner, "0", "DC " + text(one.volt));
    line('R', inner, node(one.a), text(one.ohm));
  }
  line('V', mark + "s", "0", "DC 0.2");
  const double force = simulated::kForcePathOhm + simulated::kSwitchOhm;
  line('R', mark + "s", mark + "lead1", text(force));
  line('R', mark + "lead1", node(circuit.leads[0].node), text(circuit.leads[0].contact_ohm));
  line('R', node(circuit.leads[1].node), mark + "lead2", text(circuit.leads[1].contact_ohm));
  line('R', mark + "lead2", mark + "bus", text(force));
  line('R', mark + "bus", "0", text(reference_ohm));
  return deck;
}

core::Setting drive(std::uint8_t range) {
  core::Setting setting;
  setting.source.add(1);
  setting.sink.add(2);
  setting.level = wire::Level::low;
  setting.range = range;
  return setting;
}

/// 1 % or 1 mV.
void check(double found, double wanted) {
  CHECK(found == Approx(wanted).epsilon(0.01).margin(1e-3));
}

}  // namespace

TEST_CASE("100 random circuits with junctions rest where ngspice has them",
          "[simulated][ngspice]") {
  std::mt19937 random(39);
  std::string deck;
  std::vector<std::string> wanted;
  std::vector<double> found;
  for (int n = 0; n < kCircuits; ++n) {
    const std::uint8_t range = static_cast<std::uint8_t>(1 + n % 4);
    const Circuit circuit = random_circuit(random, false);
    const std::string mark = "c" + std::to_string(n) + "_";
    deck += deck_of(circuit, mark, wire::kRanges[range - 1].reference_ohm);
    simulated::Bench bench(circuit);
    bench.apply(drive(range));
    for (const char* place : {"lead1", "lead2", "bus"}) {
      wanted.push_back("v(" + mark + place + ")");
    }
    found.insert(found.end(), {bench.lead_volt(1), bench.lead_volt(2), bench.reference_volt()});
  }
  const std::vector<double> volts = test::ngspice(deck, "op", wanted);
  for (std::size_t i = 0; i < found.size(); ++i) {
    INFO(wanted[i]);
    check(found[i], volts[i]);
  }
}

TEST_CASE("100 random circuits fill as ngspice has them fill", "[simulated][ngspice]") {
  std::mt19937 random(40);
  std::string deck;
  std::string analysis = "tran 20u 31m 0 20u uic";
  std::vector<std::string> wanted;
  std::vector<double> found;
  for (int n = 0; n < kCircuits; ++n) {
    const Circuit circuit = random_circuit(random, true);
    const std::string mark = "c" + std::to_string(n) + "_";
    deck += deck_of(circuit, mark, wire::kRanges[0].reference_ohm);
    simulated::Bench bench(circuit);
    bench.apply(drive(1));
    double now = 0;
    for (std::size_t t = 0; t < kTimes.size(); ++t) {
      bench.advance(kTimes[t] - now);
      now = kTimes[t];
      for (const char* place : {"lead1", "lead2", "bus"}) {
        const std::string name = mark + place + "_" + std::to_string(t);
        char at[32];
        std::snprintf(at, sizeof at, "%g", kTimes[t]);
        analysis += "\nmeas tran " + name + " find v(" + mark + place + ") at=" + at;
        wanted.push_back(name);
      }
      found.insert(found.end(), {bench.lead_volt(1), bench.lead_volt(2), bench.reference_volt()});
    }
  }
  const std::vector<double> volts = test::ngspice(deck, analysis, wanted);
  for (std::size_t i = 0; i < found.size(); ++i) {
    INFO(wanted[i]);
    check(found[i], volts[i]);
  }
}
