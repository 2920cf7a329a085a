// SPDX-License-Identifier: MIT
//
// The session against a simulated tester behind a pseudo-terminal: what it measures, and what it
// refuses. Faults of the line: session_faults_test.cpp.
#include "firmware-host/session/session.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>

#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "firmware-host/wire/messages.hpp"
#include "tests/support/small_circuit.hpp"

using namespace padwalk;
using session::Channel;
using session::Measurement;
using session::Purpose;
using session::Request;
using simulated::Circuit;
using simulated::kNoNode;

namespace {

using padwalk::test::kContactOhm;
using padwalk::test::network;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// The fixture of four resistors in a ring.
Circuit ring(double a_d_ohm) {
  return network(4, {{0, 1, 10e3}, {1, 2, 10e3}, {2, 3, 4.7e3}, {0, 3, a_d_ohm}});
}

std::vector<Channel> channels_of(const Circuit& circuit) {
  std::vector<Channel> channels(circuit.leads.size());
  std::iota(channels.begin(), channels.end(), Channel{1});
  return channels;
}

/// A simulated tester with a session that has checked the power of all channels.
struct CheckedTester {
  explicit CheckedTester(const Circuit& circuit, session::Options options = {})
      : tester(circuit, {}),
        port(transport::open_port(tester.port_name())),
        session(*port, options),
        check(session.power_check(channels_of(circuit))) {}

  Measurement between(Channel a, Channel b, Purpose purpose = Purpose::continuity) {
    const Request request{{a}, {b}, purpose, 0};
    return session.measure({&request, 1}).at(0);
  }

  simulated::SimulatedTester tester;
  std::unique_ptr<transport::ByteStream> port;
  session::Session session;
  session::PowerCheck check;
};

/// Half a code of sense and half a code of current, in ohms, at 0.2 V and the gains that fit.
/// Source: the reference tester: 1.1 V over 1024 codes at x1, force path 475 ohm a lead.
double converter_step_ohm(double ohm, double reference_ohm) {
  const auto half_step = [](double volt) {
    double gain = 1;
    for (const double candidate : {5.0, 50.0}) {
      if (volt * candidate < 0.74 * 2048 * 1.1 / 1024) {
        gain = candidate;
      }
    }
    return 1.1 / 1024 / gain / 2;
  };
  const double ampere = 0.2 / (ohm + reference_ohm + 2 * 475);
  return half_step(ohm * ampere) / ampere +
         ohm * half_step(reference_ohm * ampere) / (reference_ohm * ampere);
}

}  // namespace

TEST_CASE("a session knows what the tester can do", "[session]") {
  CheckedTester setup(network(5, {}));
  const session::Capabilities& can = setup.session.capabilities();
  CHECK(can.unit == "simulated");
  CHECK(can.firmware == "padwalk core 1.0");
  CHECK(can.channels == 5);
  CHECK(can.max_source == 5);
  CHECK(can.max_sink == 5);
  CHECK(can.program_bytes >= 1024);
  CHECK(can.five_volt);
}

TEST_CASE("readings through the wire are within the converter's step", "[session]") {
  SECTION("35 ohm and 100 kohm") {
    CheckedTester setup(network(4, {{0, 1, 35}, {2, 3, 100e3}}));
    const Measurement low = setup.between(1, 2);
    CHECK(std::abs(low.ohm - (35 + 2 * kContactOhm)) <= converter_step_ohm(35, 100));
    CHECK(converter_step_ohm(35, 100) < 0.15);
    CHECK(low.uncertainty_ohm > 0.1);
    CHECK(low.uncertainty_ohm < 0.5);
    const Measurement high = setup.between(3, 4);
    CHECK(std::abs(high.ohm - 100e3) <= converter_step_ohm(100e3, 10e3));
    CHECK(std::abs(high.ohm - 100e3) <= high.uncertainty_ohm);
    CHECK(converter_step_ohm(100e3, 10e3) < 200);
    CHECK(low.volt == 0.2);
  }
  SECTION("the ring fixture, and it changes when one resistor does") {
    // Source: exact rationals over 467, confirmed by a circuit simulator.
    const double known[6] = {7858.672, 11434.690, 11635.974, 7858.672, 10072.805, 4226.981};
    CheckedTester setup(ring(22e3));
    int pair = 0;
    for (Channel a = 1; a <= 4; ++a) {
      for (Channel b = static_cast<Channel>(a + 1); b <= 4; ++b) {
        CAPTURE(a, b);
        const Measurement measured = setup.between(a, b);
        CHECK(std::abs(measured.ohm - known[pair]) <= converter_step_ohm(known[pair], 100));
        CHECK(std::abs(measured.ohm - known[pair]) <= measured.uncertainty_ohm);
        ++pair;
      }
    }
    const double before = setup.between(1, 2).ohm;
    setup.tester.set_circuit(ring(18e3));
    const double expected = 1 / (1 / 10e3 + 1 / (10e3 + 4.7e3 + 18e3));
    const double after = setup.between(1, 2).ohm;
    CHECK(std::abs(after - expected) <= converter_step_ohm(expected, 100));
    CHECK(before - after > 2 * converter_step_ohm(expected, 100));
  }
}

TEST_CASE("a tenth of an ohm to megohms come out within their uncertainty", "[session]") {
  const double noise = GENERATE(0.0, 200e-6);
  const bool bare = GENERATE(false, true);
  const Purpose purpose = GENERATE(Purpose::continuity, Purpose::isolation);
  CAPTURE(noise, bare, purpose);
  const double top = bare && purpose == Purpose::isolation ? 10e6 : 100e3;
  Circuit circuit;
  circuit.electronics.noise_volt = noise;
  std::vector<double> ohms;
  for (double ohm = 0.1; ohm < 1.5 * top; ohm *= std::sqrt(10)) {
    ohms.push_back(ohm);
    circuit.resistors.push_back({circuit.nodes, circuit.nodes + 1, ohm});
    circuit.leads.push_back({circuit.nodes, kContactOhm});
    circuit.leads.push_back({circuit.nodes + 1, kContactOhm});
    circuit.nodes += 2;
  }
  session::Options options;
  options.bare_board = bare;
  CheckedTester setup(circuit, options);
  REQUIRE(setup.check.passed);
  for (std::size_t i = 0; i < ohms.size(); ++i) {
    CAPTURE(ohms[i]);
    const auto channel = static_cast<Channel>(2 * i + 1);
    const Measurement measured = setup.between(channel, static_cast<Channel>(channel + 1), purpose);
    CAPTURE(measured.ohm, measured.uncertainty_ohm);
    // Twice: the uncertainty is two sigma, and there are a hundred readings here.
    CHECK(std::abs(measured.ohm - ohms[i] - 2 * kContactOhm) <= 2 * measured.uncertainty_ohm);
    CHECK(measured.uncertainty_ohm < 0.35 + 0.2 * ohms[i]);
    CHECK_FALSE(measured.clipped);
  }
}

TEST_CASE("nothing between two points is infinite at each level", "[session]") {
  const bool bare = GENERATE(false, true);
  const double noise = GENERATE(0.0, 200e-6);
  Circuit circuit = network(8, {{0, 1, 0.1}, {2, 3, 0.1}});
  circuit.leads[6].node = kNoNode;
  circuit.leads[7].contact_ohm = simulated::kNoContactOhm;
  circuit.electronics.noise_volt = noise;
  session::Options options;
  options.bare_board = bare;
  CheckedTester setup(circuit, options);
  const std::vector<Request> requests = {{{1, 2}, {3, 4}, Purpose::isolation, 0},
                                         {{1}, {3}, Purpose::isolation, 0},
                                         {{1}, {7}, Purpose::continuity, 0},
                                         {{8}, {1}, Purpose::continuity, 0},
                                         {{5}, {6}, Purpose::continuity, 0}};
  for (const Measurement& measured : setup.session.measure(requests)) {
    CHECK(measured.ohm > (bare ? 1e9 : 5e6));
    CHECK(measured.uncertainty_ohm == 0);
  }
  CHECK(setup.session.measure(requests).at(0).volt == (bare ? 5 : 0.2));
}

TEST_CASE("a fault between two sets is read without the force path", "[session]") {
  // Nets of three points; the fault joins two points that are not the sensed ones.
  const double fault = GENERATE(0.4, 35.0, 700.0, 9e3, 120e3);
  const bool bare = GENERATE(false, true);
  CAPTURE(fault, bare);
  Circuit circuit = network(12, {{5, 8, fault}});
  for (int net = 0; net < 4; ++net) {
    circuit.resistors.push_back({3 * net, 3 * net + 1, 0.01});
    circuit.resistors.push_back({3 * net + 1, 3 * net + 2, 0.01});
  }
  session::Options options;
  options.bare_board = bare;
  CheckedTester setup(circuit, options);
  const std::vector<Request> requests = {
      {{1, 2, 3, 4, 5, 6}, {7, 8, 9, 10, 11, 12}, Purpose::isolation, 0},
      {{12, 9, 7}, {6}, Purpose::isolation, 0}};
  for (const Measurement& measured : setup.session.measure(requests)) {
    CAPTURE(measured.ohm, measured.uncertainty_ohm);
    CHECK(std::abs(measured.ohm - fault) <= measured.uncertainty_ohm);
    CHECK(measured.uncertainty_ohm < (fault < 1e3 ? 5.0 : 0.06 * fault));
  }
}

TEST_CASE("follow readings tell joined from apart, sharing a setting", "[session]") {
  // One supply net of 300 points, three small nets.
  Circuit circuit;
  const int sizes[] = {300, 3, 3, 3};
  std::vector<int> net_of;
  for (int net = 0; net < 4; ++net) {
    for (int k = 0; k < sizes[net]; ++k) {
      if (k > 0) {
        circuit.resistors.push_back({circuit.nodes - 1, circuit.nodes, 0.02});
      }
      circuit.leads.push_back({circuit.nodes++, kContactOhm});
      net_of.push_back(net);
    }
  }
  CheckedTester setup(circuit);
  const std::vector<Channel> source = {1, 304};  // of the big net and of the second small one
  std::vector<Request> requests;
  for (std::size_t i = 0; i < net_of.size(); ++i) {
    requests.push_back({source, {}, Purpose::follow, static_cast<Channel>(i + 1)});
  }
  const std::uint64_t before = setup.session.counters().settings;
  const std::vector<Measurement> measured = setup.session.measure(requests);
  CHECK(setup.session.counters().settings - before == 2);  // off and on
  for (std::size_t i = 0; i < net_of.size(); ++i) {
    CAPTURE(i);
    const bool driven = net_of[i] == net_of[0] || net_of[i] == net_of[303];
    CHECK(measured[i].ohm == (driven ? 0 : kInfinity));
  }
  const std::vector<Request> repeated = {requests[0], requests[1], requests[0], requests[5]};
  CHECK(setup.session.measure(repeated).size() == 4);
  CHECK(setup.session.counters().settings - before == 6);
}

TEST_CASE("a source on the board is refused before anything is driven", "[session]") {
  Circuit circuit = network(6, {{0, 1, 1}, {2, 3, 1}});
  std::vector<Channel> live;
  double volt = 0;
  const double sign = GENERATE(1.0, -1.0);
  SECTION("2.1 V behind 1 kohm against the instrument's ground") {
    volt = sign * 2.1;
    circuit.sources.push_back({0, kNoNode, volt, 1e3});
    live = {1, 2};
  }
  SECTION("between two floating nets") {
    volt = sign * 1.05;
    circuit.sources.push_back({0, 2, 2 * volt, 1e3});
    live = {1, 2, 3, 4};
  }
  SECTION("half a volt behind 5 Mohm") {
    volt = sign * 0.5 / 11;
    circuit.sources.push_back({0, kNoNode, sign * 0.5, 5e6});
    live = {1, 2};
  }
  SECTION("so much that no converter has a number for it") {
    volt = sign * 2.2;
    circuit.sources.push_back({4, kNoNode, sign * 15, 1e3});
    live = {5};
  }
  CheckedTester setup(circuit);
  CHECK_FALSE(setup.check.passed);
  CHECK(setup.check.limit_volt == 0.015);
  CHECK(setup.check.readings == 6);
  std::vector<Channel> found;
  for (const session::LiveChannel& channel : setup.check.live) {
    found.push_back(channel.channel);
    // The check reads at x1: half a code.
    CHECK(std::abs(channel.volt) == Approx(std::abs(volt)).epsilon(0.01).margin(0.6e-3));
    CHECK((channel.volt > 0) == ((volt > 0) == (channel.channel != 3 && channel.channel != 4)));
  }
  std::sort(found.begin(), found.end());
  CHECK(found == live);
  CHECK(setup.session.needs_power_check());
  CHECK_THROWS_AS(setup.between(1, 2), std::logic_error);
  CHECK(setup.tester.driven_settings() == 0);
}

TEST_CASE("noise, and a source below the limit, pass the power check", "[session]") {
  Circuit circuit = network(40, {});
  circuit.electronics.noise_volt = 1e-3;
  circuit.sources.push_back({0, 1, 0.012, 1e3});
  CheckedTester setup(circuit);
  CHECK(setup.check.passed);
  CHECK(setup.check.live.empty());
  CHECK_FALSE(setup.check.tied_ohm);
}

TEST_CASE("nothing is measured without a power check that covers it", "[session]") {
  const Circuit circuit = network(4, {{0, 1, 10}});
  simulated::SimulatedTester tester(circuit, {});
  const auto port = transport::open_port(tester.port_name());
  session::Session session(*port, {});
  const std::vector<Request> first = {{{1}, {2}, Purpose::continuity, 0}};
  CHECK(session.needs_power_check());
  CHECK_THROWS_AS(session.measure(first), std::logic_error);
  const std::vector<Channel> some = {1, 2, 3};
  REQUIRE(session.power_check(some).passed);
  CHECK_FALSE(session.needs_power_check());
  CHECK(session.measure(first).at(0).ohm == Approx(10.05).margin(0.2));
  SECTION("channels that were not checked, or do not exist") {
    for (const Request& request :
         {Request{{1}, {4}, Purpose::continuity, 0}, Request{{4}, {1}, Purpose::isolation, 0},
          Request{{1}, {}, Purpose::follow, 4}, Request{{1}, {}, Purpose::follow, 0},
          Request{{1}, {5}, Purpose::continuity, 0}}) {
      CHECK_THROWS_AS(session.measure({&request, 1}), std::logic_error);
    }
    const std::vector<Channel> beyond = {1, 5};
    CHECK_THROWS_AS(session.power_check(beyond), std::logic_error);
  }
  SECTION("leads that were moved") {
    session.leads_moved();
    CHECK(session.needs_power_check());
    CHECK_THROWS_AS(session.measure(first), std::logic_error);
    REQUIRE(session.power_check(some).passed);
    CHECK(session.measure(first).at(0).ohm == Approx(10.05).margin(0.2));
  }
  CHECK(session.measure({}).empty());
}

TEST_CASE("sets of 3000 channels travel in parts", "[session]") {
  Circuit circuit = network(3000, {{17, 2000, 22e3}});
  CheckedTester setup(circuit);
  REQUIRE(setup.check.passed);
  std::vector<Channel> even;
  std::vector<Channel> odd;
  std::vector<Channel> low;
  std::vector<Channel> high;
  for (Channel channel = 1; channel <= 3000; ++channel) {
    (channel % 2 == 0 ? even : odd).push_back(channel);
    (channel <= 1500 ? low : high).push_back(channel);
  }
  // Out of order a set has to travel as a list.
  std::shuffle(low.begin(), low.end(), std::mt19937(1));
  std::shuffle(high.begin(), high.end(), std::mt19937(2));
  const std::vector<Request> requests = {{even, odd, Purpose::isolation, 0},
                                         {low, high, Purpose::isolation, 0},
                                         {even, odd, Purpose::isolation, 0}};
  const std::vector<Measurement> measured = setup.session.measure(requests);
  for (const Measurement& each : measured) {
    CHECK(std::abs(each.ohm - 22e3) <= each.uncertainty_ohm);
  }
  CHECK(setup.session.counters().bytes_sent > 6000);
}

TEST_CASE("more readings than a program holds come in several, in order", "[session]") {
  // A chain: what the first point sees of the others grows by an ohm each.
  constexpr int kNodes = 150;
  Circuit circuit = network(kNodes, {});
  for (int node = 1; node < kNodes; ++node) {
    circuit.resistors.push_back({node - 1, node, 1});
  }
  CheckedTester setup(circuit);
  const std::uint64_t before = setup.session.counters().settings;
  std::vector<Request> requests;
  for (int k = 0; k < 6000; ++k) {
    requests.push_back({{1}, {static_cast<Channel>(2 + k % (kNodes - 1))}, Purpose::continuity, 0});
  }
  const std::vector<Measurement> measured = setup.session.measure(requests);
  REQUIRE(measured.size() == requests.size());
  std::size_t wrong = 0;
  for (int k = 0; k < 6000; ++k) {
    const double expected = 1 + k % (kNodes - 1) + 2 * kContactOhm;
    wrong += std::abs(measured[k].ohm - expected) > measured[k].uncertainty_ohm ? 1 : 0;
  }
  CHECK(wrong == 0);
  CHECK(setup.session.counters().settings - before == 5 * 6000);  // off, on; off, on, on
  CHECK(setup.session.counters().rounds == 1);
}

TEST_CASE("hosts may come and go at one tester", "[session]") {
  const Circuit circuit = network(2, {{0, 1, 35}});
  simulated::SimulatedTester tester(circuit, {});
  std::uint64_t driven = 0;
  std::uint64_t before = 0;
  for (int visit = 0; visit < 3; ++visit) {
    const auto port = transport::open_port(tester.port_name());
    session::Session session(*port, {});
    REQUIRE(session.power_check(channels_of(circuit)).passed);
    driven += tester.driven_settings() - before;  // of the check: is the board tied to anything
    before = tester.driven_settings() + 3;        // once, and twice to see that it rests
    const Request request{{1}, {2}, Purpose::continuity, 0};
    CHECK(session.measure({&request, 1}).at(0).ohm == Approx(35.05).margin(0.2));
  }
  CHECK(tester.driven_settings() == 3 * 3 + driven);
}

TEST_CASE("session and terminal count the same bytes", "[session]") {
  CheckedTester setup(ring(22e3));
  std::vector<Request> requests;
  for (int k = 0; k < 100; ++k) {
    requests.push_back({{1}, {static_cast<Channel>(2 + k % 3)}, Purpose::continuity, 0});
  }
  setup.session.measure(requests);
  // A repeated request has a second answer, which may be on its way still.
  std::uint64_t received = setup.session.counters().bytes_received;
  std::vector<std::uint8_t> rest(4096);
  for (;;) {
    const auto soon = std::chrono::steady_clock::now() + std::chrono::milliseconds(50);
    const transport::ReadResult read = setup.port->read(rest, soon);
    if (read.outcome != transport::ReadOutcome::bytes) {
      break;
    }
    received += read.count;
  }
  CHECK(setup.tester.bytes().to_tester == setup.session.counters().bytes_sent);
  CHECK(setup.tester.bytes().to_host == received);
  CHECK(received > 1000);
}
