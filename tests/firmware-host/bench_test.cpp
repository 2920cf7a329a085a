// SPDX-License-Identifier: MIT
//
// The simulated bench against resistances known from elsewhere, and against a dense solution of the
// whole circuit, instrument included, in long double.
#include "firmware-host/simulated/bench.hpp"
#include "tests/support/log_uniform.hpp"
#include "tests/support/small_circuit.hpp"

#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace padwalk;
using simulated::Bench;
using simulated::Circuit;
using simulated::kNoNode;

namespace {

using padwalk::test::kContactOhm;
using padwalk::test::log_uniform;
using padwalk::test::network;

core::Setting drive(std::uint16_t source, std::uint16_t sink, std::uint8_t range = 1) {
  core::Setting setting;
  setting.source.add(source);
  setting.sink.add(sink);
  setting.level = wire::kRanges[range - 1].level;
  setting.range = range;
  return setting;
}

/// Ohms between two nodes, the two contacts taken off.
double ohms(Bench& bench, int a, int b) {
  const auto plus = static_cast<std::uint16_t>(a + 1);
  const auto minus = static_cast<std::uint16_t>(b + 1);
  bench.apply(drive(plus, minus));
  const double ampere = bench.reference_volt() / wire::kRanges[0].reference_ohm;
  return (bench.lead_volt(plus) - bench.lead_volt(minus)) / ampere - 2 * kContactOhm;
}

struct Known {
  int a;
  int b;
  double ohm;
};

void check_known(const Circuit& circuit, const std::vector<Known>& known) {
  Bench bench(circuit);
  for (const Known& pair : known) {
    CAPTURE(pair.a, pair.b);
    CHECK(ohms(bench, pair.a, pair.b) == Approx(pair.ohm).epsilon(1e-9));
    CHECK(ohms(bench, pair.b, pair.a) == Approx(pair.ohm).epsilon(1e-9));
  }
}

std::vector<Circuit::Resistor> complete_graph(int nodes) {
  std::vector<Circuit::Resistor> resistors;
  for (int a = 0; a < nodes; ++a) {
    for (int b = a + 1; b < nodes; ++b) {
      resistors.push_back({a, b, 1});
    }
  }
  return resistors;
}

}  // namespace

TEST_CASE("the bench gives the known resistances of small networks", "[simulated][bench]") {
  SECTION("a cube of 1 ohm; source: common textbook values, confirmed by a circuit simulator") {
    std::vector<Circuit::Resistor> edges;
    for (int corner = 0; corner < 8; ++corner) {
      for (int axis = 1; axis < 8; axis *= 2) {
        if ((corner & axis) == 0) {
          edges.push_back({corner, corner | axis, 1});
        }
      }
    }
    check_known(network(8, edges), {{0, 7, 5.0 / 6}, {0, 3, 3.0 / 4}, {0, 1, 7.0 / 12}});
  }
  SECTION("an unbalanced bridge; source: exact rationals, confirmed by a circuit simulator") {
    check_known(network(4, {{0, 1, 1}, {0, 2, 2}, {1, 3, 3}, {2, 3, 4}, {1, 2, 5}}),
                {{0, 3, 170.0 / 71},
                 {1, 2, 105.0 / 71},
                 {0, 1, 59.0 / 71},
                 {0, 2, 94.0 / 71},
                 {1, 3, 141.0 / 71},
                 {2, 3, 156.0 / 71}});
  }
  SECTION("a balanced bridge, whatever joins its middle; source: Wheatstone's balance") {
    for (const double middle : {1e-3, 1.0, 1e8}) {
      check_known(network(4, {{0, 1, 1}, {0, 2, 2}, {1, 3, 3}, {2, 3, 6}, {1, 2, middle}}),
                  {{0, 3, 8.0 / 3}});
    }
  }
  SECTION("ladders of m sections; source: quotients of Fibonacci numbers, F(2m+1)/F(2m)") {
    double low = 1;   // F(2m)
    double high = 2;  // F(2m + 1)
    for (int sections = 1; sections <= 10; ++sections) {
      // Node 0 is the far rail, node k the end of section k's series resistor, the last the input.
      std::vector<Circuit::Resistor> resistors;
      for (int k = 1; k <= sections; ++k) {
        resistors.push_back({k + 1, k, 1});
        resistors.push_back({k, 0, 1});
      }
      check_known(network(sections + 2, resistors), {{0, sections + 1, high / low}});
      low += high;
      high += low;
    }
  }
  SECTION("complete graphs, a ring, Petersen's graph; source: resistance distance, Klein, Randic") {
    check_known(network(5, complete_graph(5)), {{0, 1, 0.4}, {2, 4, 0.4}});
    std::vector<Circuit::Resistor> ring;
    std::vector<Circuit::Resistor> petersen;
    for (int k = 0; k < 7; ++k) {
      ring.push_back({k, (k + 1) % 7, 1});
    }
    check_known(network(7, ring), {{0, 1, 6.0 / 7}, {0, 2, 10.0 / 7}, {0, 3, 12.0 / 7}});
    for (int k = 0; k < 5; ++k) {
      petersen.push_back({k, (k + 1) % 5, 1});
      petersen.push_back({k, k + 5, 1});
      petersen.push_back({k + 5, (k + 2) % 5 + 5, 1});
    }
    check_known(network(10, petersen), {{0, 1, 0.6}, {0, 2, 0.8}, {5, 6, 0.8}, {5, 7, 0.6}});
  }
  SECTION("the ring fixture; source: exact rationals over 467") {
    check_known(network(4, {{0, 1, 10e3}, {1, 2, 10e3}, {2, 3, 4.7e3}, {0, 3, 22e3}}),
                {{0, 1, 3670000.0 / 467},
                 {1, 2, 3670000.0 / 467},
                 {0, 2, 5340000.0 / 467},
                 {0, 3, 5434000.0 / 467},
                 {1, 3, 4704000.0 / 467},
                 {2, 3, 1974000.0 / 467}});
  }
}

TEST_CASE("resistances over those of the edges sum to nodes less components",
          "[simulated][bench]") {
  // Source: Foster's theorem, 1949.
  for (const std::uint32_t seed : {1u, 2u, 3u, 4u, 5u}) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    std::vector<Circuit::Resistor> resistors;
    for (int node = 1; node < 30; ++node) {  // a tree, so that it is one component
      resistors.push_back({node, static_cast<int>(random() % node), log_uniform(random, 0.1, 1e4)});
    }
    for (int extra = 0; extra < 20; ++extra) {
      const int a = static_cast<int>(random() % 30);
      resistors.push_back(
          {a, (a + 1 + static_cast<int>(random() % 29)) % 30, log_uniform(random, 0.1, 1e4)});
    }
    Bench bench(network(30, resistors));
    double sum = 0;
    for (const Circuit::Resistor& resistor : resistors) {
      sum += ohms(bench, resistor.a, resistor.b) / resistor.ohm;
    }
    CHECK(sum == Approx(29).epsilon(1e-6));
  }
}

TEST_CASE("a short draws the range table's currents", "[simulated][bench]") {
  // Source: the reference tester's range table.
  Bench bench(network(2, {{0, 1, 1e-3}}));
  const double expected_ua[] = {190, 103, 18, 2, 50};
  for (std::uint8_t range = 1; range <= wire::kRangeCount; ++range) {
    CAPTURE(static_cast<int>(range));
    bench.apply(drive(1, 2, range));
    const double ua = 1e6 * bench.reference_volt() / wire::kRanges[range - 1].reference_ohm;
    CHECK(ua == Approx(expected_ua[range - 1]).epsilon(0.02));
  }
}

namespace {

/// The whole circuit as one dense system: nodes, leads, the sink bus; the source bus is given.
class Oracle {
 public:
  Oracle(const Circuit& circuit, const core::Setting& setting)
      : nodes_(circuit.nodes),
        size_(circuit.nodes + static_cast<int>(circuit.leads.size()) + 1),
        matrix_(Matrix::Zero(size_, size_)),
        right_(Vector::Zero(size_)) {
    for (int i = 0; i < size_; ++i) {
      matrix_(i, i) += 1e-16L;  // what nothing holds is at 0 V
    }
    for (const Circuit::Resistor& resistor : circuit.resistors) {
      join(resistor.a, resistor.b, resistor.ohm, 0);
    }
    for (const Circuit::Source& source : circuit.sources) {
      join(source.a, source.b, source.ohm, source.volt);
    }
    const double level = wire::kLevelMillivolt[static_cast<std::size_t>(setting.level)] * 1e-3;
    const double load = setting.load == wire::Load::ohm_1m ? 1e6 : 47e3;
    for (std::size_t i = 0; i < circuit.leads.size(); ++i) {
      const int lead = nodes_ + static_cast<int>(i);
      const auto channel = static_cast<std::uint16_t>(i + 1);
      if (circuit.leads[i].node != kNoNode && std::isfinite(circuit.leads[i].contact_ohm)) {
        join(lead, circuit.leads[i].node, circuit.leads[i].contact_ohm, 0);
      }
      if (setting.source.has(channel)) {
        join(lead, kNoNode, 475, level);
      }
      if (setting.sink.has(channel)) {
        join(lead, size_ - 1, 475, 0);
      }
      if (setting.loaded.has(channel)) {
        join(lead, kNoNode, load, 0);
      }
    }
    join(size_ - 1, kNoNode, wire::kRanges[setting.range - 1].reference_ohm, 0);
    volts_ = matrix_.fullPivLu().solve(right_);
  }

  double lead_volt(std::uint16_t channel) const {
    return static_cast<double>(volts_(nodes_ + channel - 1));
  }
  double reference_volt() const { return static_cast<double>(volts_(size_ - 1)); }

 private:
  using Matrix = Eigen::Matrix<long double, Eigen::Dynamic, Eigen::Dynamic>;
  using Vector = Eigen::Matrix<long double, Eigen::Dynamic, 1>;

  void join(int a, int b, long double ohm, long double volt) {
    const long double siemens = 1 / ohm;
    matrix_(a, a) += siemens;
    right_(a) += siemens * volt;
    if (b != kNoNode) {
      matrix_(b, b) += siemens;
      matrix_(a, b) -= siemens;
      matrix_(b, a) -= siemens;
      right_(b) -= siemens * volt;
    }
  }

  int nodes_;
  int size_;
  Matrix matrix_;
  Vector right_;
  Vector volts_;
};

Circuit random_circuit(std::mt19937& random) {
  const auto below = [&](int limit) { return static_cast<int>(random() % limit); };
  Circuit circuit;
  circuit.nodes = 1 + below(25);
  for (int k = below(40); k > 0; --k) {  // parallel ones, loops and self-loops come up
    circuit.resistors.push_back(
        {below(circuit.nodes), below(circuit.nodes), log_uniform(random, 1e-3, 1e8)});
  }
  for (int k = below(3); k > 0; --k) {
    const int a = below(circuit.nodes);
    const int b = random() % 2 == 0 ? kNoNode : below(circuit.nodes);
    if (a != b) {
      circuit.sources.push_back({a, b, 2.1 - random() % 5, log_uniform(random, 10, 1e6)});
    }
  }
  for (int k = 1 + below(20); k > 0; --k) {
    const int node = below(10) == 0 ? kNoNode : below(circuit.nodes);
    const double contact = below(10) == 0 ? simulated::kNoContactOhm : 0.01 + 0.1 * below(10);
    circuit.leads.push_back({node, contact});
  }
  return circuit;
}

core::Setting random_setting(std::mt19937& random, const Circuit& circuit) {
  core::Setting setting;
  setting.range = static_cast<std::uint8_t>(1 + random() % wire::kRangeCount);
  setting.level = random() % 4 == 0 ? wire::Level::off : wire::kRanges[setting.range - 1].level;
  setting.load = static_cast<wire::Load>(1 + random() % 2);
  const bool loads = random() % 2 == 0;
  for (std::uint16_t channel = 1; channel <= circuit.leads.size(); ++channel) {
    const auto what = random() % 4;
    if (what == 0) {
      setting.source.add(channel);
    } else if (what == 1) {
      setting.sink.add(channel);
    }
    if (loads && random() % 2 == 0) {
      setting.loaded.add(channel);
    }
  }
  return setting;
}

}  // namespace

TEST_CASE("sets, loads and cells on random circuits agree with a dense solution",
          "[simulated][bench]") {
  for (std::uint32_t seed = 1; seed <= 150; ++seed) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    const Circuit circuit = random_circuit(random);
    Bench bench(circuit);
    for (int k = 0; k < 3; ++k) {  // what one setting left behind is not in the next
      const core::Setting setting = random_setting(random, circuit);
      bench.apply(setting);
      const Oracle oracle(circuit, setting);
      CHECK(bench.reference_volt() == Approx(oracle.reference_volt()).epsilon(1e-5).margin(1e-7));
      for (std::uint16_t channel = 1; channel <= circuit.leads.size(); ++channel) {
        const simulated::Circuit::Lead& lead = circuit.leads[channel - 1];
        const bool held =
            setting.source.has(channel) || setting.sink.has(channel) || setting.loaded.has(channel);
        if (held || (lead.node != kNoNode && circuit.sources.empty())) {
          CAPTURE(k, channel);
          CHECK(bench.lead_volt(channel) ==
                Approx(oracle.lead_volt(channel)).epsilon(1e-5).margin(1e-7));
        }
      }
    }
  }
}

TEST_CASE("what no other potential touches carries no current at all", "[simulated][bench]") {
  Bench bench(network(4, {{0, 1, 1}, {2, 3, 1}}));
  bench.apply(drive(1, 3));
  CHECK(bench.reference_volt() == 0);
  CHECK(bench.lead_volt(2) == 0.2);
  CHECK(bench.lead_volt(4) == 0);
}

TEST_CASE("the loads make cells visible that the power check must find", "[simulated][bench]") {
  constexpr double kLimitVolt = 0.015;
  const double volt = GENERATE(0.5, -0.5);
  const int points = GENERATE(1, 4, 20);
  Circuit circuit;
  circuit.nodes = 2;
  core::Setting setting;
  setting.load = wire::Load::ohm_1m;
  for (int k = 0; k < 2 * points; ++k) {
    circuit.leads.push_back({k % 2, kContactOhm});
    setting.loaded.add(static_cast<std::uint16_t>(k + 1));
  }
  SECTION("0.5 V behind 10 Mohm over the points of the net") {
    circuit.sources.push_back({0, kNoNode, volt, 10e6 / points});
    Bench bench(circuit);
    bench.apply(setting);
    CHECK(bench.lead_volt(1) == Approx(volt / 11).epsilon(1e-5));
    CHECK(std::abs(bench.lead_volt(1)) > kLimitVolt);
    CHECK(bench.lead_volt(2) == 0);
  }
  SECTION("the same between two floating nets") {
    circuit.sources.push_back({0, 1, volt, 10e6 / points});
    Bench bench(circuit);
    bench.apply(setting);
    CHECK(bench.lead_volt(1) == Approx(volt / 12).epsilon(1e-5));
    CHECK(bench.lead_volt(2) == Approx(-volt / 12).epsilon(1e-5));
    CHECK(std::abs(bench.lead_volt(2)) > kLimitVolt);
  }
}

TEST_CASE("time goes on past every switching of a contact", "[simulated][bench]") {
  // A remainder of a period may be smaller than what the clock can count.
  std::mt19937 random(12);
  std::uniform_real_distribution<double> seconds(0.05, 0.5);
  for (int run = 0; run < 100; ++run) {
    const double every = std::round(seconds(random) * 1e6) * 1e-6;
    Circuit circuit = network(2, {});
    circuit.sources.push_back({0, kNoNode, 1, 1});
    circuit.resistors.push_back({0, 1, 1, every / 4, every});
    circuit.capacitors.push_back({1, kNoNode, 1e-9});
    Bench bench(circuit);
    bench.apply(core::Setting());
    for (int step = 0; step < 200; ++step) {
      bench.advance(0.0131);
    }
    CHECK(bench.lead_volt(2) == Approx(1).epsilon(1e-3));
  }
}
