// SPDX-License-Identifier: MIT
//
// The power check: what must be refused before anything is driven, what must pass, and whether the
// board is connected to anything else.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <random>
#include <set>

#include "tests/firmware-host/in_memory_tester.hpp"

using namespace padwalk;
using session::Channel;
using session::LiveKind;
using session::PowerCheck;
using simulated::Circuit;
using simulated::kNoNode;
using tests::InMemoryTester;

namespace {

constexpr double kLeadOhm = 0.025;

/// What a power check of all channels said, and whether it drove anything.
struct Outcome {
  PowerCheck check;
  std::uint64_t driven = 0;

  std::set<Channel> channels() const {
    std::set<Channel> all;
    for (const session::LiveChannel& live : check.live) {
      all.insert(live.channel);
    }
    return all;
  }
  bool all(LiveKind kind) const {
    return std::all_of(check.live.begin(), check.live.end(),
                       [&](const session::LiveChannel& live) { return live.kind == kind; });
  }
};

std::vector<Channel> all_channels(const Circuit& circuit) {
  std::vector<Channel> channels(circuit.leads.size());
  std::iota(channels.begin(), channels.end(), Channel{1});
  return channels;
}

Outcome look(
    const Circuit& circuit, const session::Options& options = {},
    const std::function<void(tests::HandClockHal&)>& limit = [](auto&) {}) {
  InMemoryTester tester(circuit, limit);
  session::Session session(tester, options);
  Outcome outcome;
  outcome.check = session.power_check(all_channels(circuit));
  outcome.driven = tester.hal().driven_settings();
  CHECK(session.needs_power_check() == !outcome.check.passed);
  return outcome;
}

/// A net of so many leads. Returns its first node; leads follow each other.
int add_net(Circuit& circuit, int leads) {
  const int first = circuit.nodes;
  for (int k = 0; k < leads; ++k) {
    if (k > 0) {
      circuit.resistors.push_back({circuit.nodes - 1, circuit.nodes, 0.05});
    }
    circuit.leads.push_back({circuit.nodes++, kLeadOhm});
  }
  return first;
}

Circuit nets(const std::vector<int>& leads) {
  Circuit circuit;
  for (const int count : leads) {
    add_net(circuit, count);
  }
  return circuit;
}

class Random {
 public:
  explicit Random(std::uint32_t seed) : engine_(seed) {}
  int whole(int low, int high) { return std::uniform_int_distribution<int>(low, high)(engine_); }
  double log_between(double low, double high) {
    return low * std::pow(high / low, std::uniform_real_distribution<double>(0.0, 1.0)(engine_));
  }
  double sign() { return whole(0, 1) == 0 ? -1 : 1; }
  double mains() { return whole(0, 1) == 0 ? 50 : 60; }

 private:
  std::mt19937 engine_;
};

/// A board of a few nets, parts between some of them; the first two nets have none.
struct PoweredBoard {
  Circuit circuit;
  std::vector<int> node;   // of each net
  std::vector<int> leads;  // on it
};

PoweredBoard random_board(Random& random) {
  PoweredBoard board;
  const int count = random.whole(3, 10);
  for (int net = 0; net < count; ++net) {
    board.leads.push_back(random.whole(1, 6));
    board.node.push_back(add_net(board.circuit, board.leads.back()));
  }
  for (int part = random.whole(0, 8); part > 0 && count > 3; --part) {
    const int a = board.node[random.whole(2, count - 1)];
    const int b = board.node[random.whole(2, count - 1)];
    if (a != b) {
      board.circuit.resistors.push_back({a, b, random.log_between(1e3, 1e6)});
    }
  }
  board.circuit.electronics.noise_volt = random.whole(0, 1) * 200e-6;
  board.circuit.random = static_cast<std::uint32_t>(random.whole(1, 1 << 30));
  return board;
}

/// Puts one of the sources of rule 7 on a board. Returns what it should be called.
std::set<LiveKind> add_source(PoweredBoard& board, Random& random) {
  Circuit& circuit = board.circuit;
  const int last = static_cast<int>(board.node.size()) - 1;
  const int any = random.whole(0, last);
  const int other = (any + random.whole(1, last)) % (last + 1);
  const double volt = random.sign() * random.log_between(0.1, 15);
  switch (random.whole(0, 6)) {
    case 0:  // a cell, a charged capacitor
      circuit.sources.push_back({board.node[any], kNoNode, volt, random.log_between(0.1, 100)});
      return {LiveKind::source};
    case 1:  // between two nets that float
      circuit.sources.push_back(
          {board.node[any], board.node[other], volt, random.log_between(0.1, 100)});
      return {LiveKind::source};
    case 2:  // half a volt behind 10 Mohm / n, n loads on its net
      circuit.sources.push_back({board.node[0], kNoNode, random.sign() * random.log_between(0.5, 1),
                                 10e6 / board.leads[0]});
      return {LiveKind::weak_source};
    case 3:  // the same between two nets
      circuit.sources.push_back({board.node[0], board.node[1], random.sign() * 0.5,
                                 10e6 / std::max(board.leads[0], board.leads[1])});
      return {LiveKind::weak_source};
    case 4: {  // behind a silicon diode, either way round
      const int behind = circuit.nodes++;
      const bool up = random.whole(0, 1) == 0;
      circuit.junctions.push_back(
          {up ? behind : board.node[any], up ? board.node[any] : behind, 2e-9, 1.8});
      circuit.sources.push_back(
          {behind, kNoNode, (up ? 1 : -1) * random.log_between(1, 15), random.log_between(1, 1e3)});
      return {LiveKind::source};
    }
    case 5:  // 9 V AC against 0 V
      circuit.sources.push_back({board.node[any], kNoNode, 9 * std::sqrt(2.0),
                                 random.log_between(1, 1e3), random.mains()});
      return {LiveKind::alternating};
    default:  // and floating
      circuit.sources.push_back({board.node[any], board.node[other], 9 * std::sqrt(2.0),
                                 random.log_between(1, 1e3), random.mains()});
      return {LiveKind::alternating};
  }
}

}  // namespace

TEST_CASE("one lead more is looked at alone, and what passed before may be driven on",
          "[session][power]") {
  Circuit circuit = nets({2, 2, 1});
  InMemoryTester tester(circuit, [](auto&) {});
  session::Session session(tester, {});
  const std::vector<Channel> held = {1, 2, 3, 4};
  const std::vector<Channel> tip = {5};
  REQUIRE(session.power_check(held).passed);
  session::Request request;
  request.source = {1};
  request.sink = {5};
  request.purpose = session::Purpose::isolation;
  CHECK_THROWS_AS(session.measure({&request, 1}), std::logic_error);  // nobody looked at lead 5
  const PowerCheck check = session.power_check_more(tip);
  CHECK(check.passed);
  CHECK(check.readings == 1);
  CHECK(std::isinf(session.measure({&request, 1}).front().ohm));
  request.source = {1};
  request.sink = {2};
  request.purpose = session::Purpose::continuity;
  CHECK(session.measure({&request, 1}).front().ohm < 1);

  // The tip on something live: nothing may be driven, of the others neither.
  circuit.sources.push_back({circuit.nodes - 1, 0, 2, 100});
  tester.hal().set_circuit(circuit);
  const PowerCheck live = session.power_check_more(tip);
  CHECK(!live.passed);
  REQUIRE(live.live.size() == 1);
  CHECK(live.live.front().channel == 5);

  // After leads were moved all of them are looked at.
  circuit.sources.clear();
  tester.hal().set_circuit(circuit);
  session.leads_moved();
  CHECK(session.power_check_more(tip).readings == 5);
}

TEST_CASE("rule 7: 500 live boards are refused, and nothing is driven before",
          "[session][power][slow]") {
  for (std::uint32_t seed = 1; seed <= 500; ++seed) {
    CAPTURE(seed);
    Random random(seed);
    PoweredBoard board = random_board(random);
    const std::set<LiveKind> kinds = add_source(board, random);
    if (random.whole(0, 2) == 0) {  // hum on top changes nothing
      board.circuit.electronics.hum_volt = random.log_between(0.02, 0.3);
      board.circuit.electronics.hum_hertz = random.mains();
    }
    const Outcome outcome = look(board.circuit);
    CHECK_FALSE(outcome.check.passed);
    CHECK(outcome.driven == 0);
    REQUIRE_FALSE(outcome.check.live.empty());
    CHECK(kinds.count(outcome.check.live.front().kind) == 1);
    CHECK_FALSE(outcome.check.tied_ohm);
  }
}

TEST_CASE("rule 7: hum alone refuses none of 200 boards", "[session][power]") {
  for (std::uint32_t seed = 1; seed <= 200; ++seed) {
    CAPTURE(seed);
    Random random(seed);
    PoweredBoard board = random_board(random);
    const double hum = random.log_between(0.02, 0.5);
    board.circuit.electronics.hum_volt = hum;
    board.circuit.electronics.hum_hertz = random.mains();
    const Outcome outcome = look(board.circuit);
    CAPTURE(hum, outcome.check.hum_volt);
    CHECK(outcome.check.passed);
    CHECK(outcome.check.live.empty());
    CHECK(outcome.check.hum_volt == Approx(hum).epsilon(0.1));
  }
}

TEST_CASE("rule 7: half a volt behind 10 Mohm / n is a weak source at each n, of both signs",
          "[session][power]") {
  for (const int n : {1, 2, 5, 12, 40}) {
    for (const double sign : {1.0, -1.0}) {
      CAPTURE(n, sign);
      Circuit circuit = nets({n, 3, 7});
      circuit.sources.push_back({0, kNoNode, sign * 0.5, 10e6 / n});
      const Outcome outcome = look(circuit);
      CHECK_FALSE(outcome.check.passed);
      CHECK(outcome.driven == 0);
      CHECK(outcome.channels().size() == static_cast<std::size_t>(n));
      CHECK(*outcome.channels().begin() == 1);
      CHECK(outcome.all(LiveKind::weak_source));
      // 1 Mohm / n against 10 Mohm / n; half a code at x1.
      CHECK(outcome.check.live.front().volt == Approx(sign * 0.5 / 11).margin(0.6e-3));
      CHECK(outcome.check.live.front().rms_volt < 1e-3);
    }
  }
}

TEST_CASE("rule 7: a floating source shows on both its nets, and one against the other",
          "[session][power]") {
  Circuit circuit = nets({2, 2, 3});
  SECTION("3 V") {
    circuit.sources.push_back({0, 2, 3, 100});
    const Outcome outcome = look(circuit);
    CHECK(outcome.channels() == std::set<Channel>{1, 2, 3, 4});
    CHECK(outcome.all(LiveKind::source));
    for (const session::LiveChannel& live : outcome.check.live) {
      CHECK(live.volt == Approx(live.channel <= 2 ? 1.5 : -1.5).margin(2e-3));
    }
  }
  SECTION("24 mV, of which each net has less than the limit") {
    circuit.sources.push_back({0, 2, 0.024, 100});
    const Outcome outcome = look(circuit);
    CHECK_FALSE(outcome.check.passed);
    CHECK(outcome.driven == 0);
    CHECK(outcome.channels() == std::set<Channel>{1, 2, 3, 4});
  }
  SECTION("12 mV pass") {
    circuit.sources.push_back({0, 2, 0.012, 100});
    CHECK(look(circuit).check.passed);
  }
}

TEST_CASE("rule 7: 9 V AC is refused whatever its phase and however many channels there are",
          "[session][power]") {
  for (const int leads : {1, 9, 28, 65, 150}) {
    for (const double hertz : {50.0, 60.0}) {
      for (const double ohm : {10.0, 10e3, 100e3}) {
        CAPTURE(leads, hertz, ohm);
        Circuit circuit = nets({leads, 2});
        circuit.sources.push_back({0, kNoNode, 9 * std::sqrt(2.0), ohm / leads, hertz});
        const Outcome outcome = look(circuit);
        CHECK_FALSE(outcome.check.passed);
        CHECK(outcome.driven == 0);
        CHECK(outcome.channels().size() == static_cast<std::size_t>(leads));
        CHECK(outcome.all(LiveKind::alternating));
      }
    }
  }
  // Small enough for a number.
  Circuit circuit = nets({3, 2});
  circuit.sources.push_back({0, kNoNode, 0.5 * std::sqrt(2.0), 50, 60});
  const Outcome outcome = look(circuit);
  REQUIRE(outcome.channels() == std::set<Channel>{1, 2, 3});
  CHECK(outcome.check.live.front().rms_volt == Approx(0.5).epsilon(0.03));
  CHECK(std::abs(outcome.check.live.front().volt) < 0.02);
}

TEST_CASE("rule 7: hum that is over range with 1 Mohm passes, a source that is does not",
          "[session][power]") {
  // 10 bits of 1.07 mV: +-0.55 V.
  const auto narrow = [](tests::HandClockHal& hal) { hal.converter_bits = 10; };
  Circuit circuit = nets({3, 4, 2});
  SECTION("hum") {
    circuit.electronics.hum_volt = 0.6;
    circuit.electronics.hum_hertz = GENERATE(50, 60);
    const Outcome outcome = look(circuit, {}, narrow);
    CHECK(outcome.check.passed);
    CHECK(outcome.check.hum_volt == Approx(0.6).epsilon(0.1));
  }
  SECTION("a cell, said by its volts with 47 kohm") {
    circuit.sources.push_back({0, kNoNode, -3, 100e3});
    const Outcome outcome = look(circuit, {}, narrow);
    CHECK(outcome.driven == 0);
    CHECK(outcome.channels() == std::set<Channel>{1, 2, 3});
    CHECK(outcome.all(LiveKind::source));
    CHECK(outcome.check.live.front().volt ==
          Approx(-3 * (47e3 / 3) / (47e3 / 3 + 100e3)).epsilon(0.01));
  }
  SECTION("9 V behind so much that 47 kohm leave little of it") {
    circuit.sources.push_back({0, kNoNode, 9, 10e6});
    const Outcome outcome = look(circuit, {}, narrow);
    CHECK(outcome.driven == 0);
    CHECK(outcome.channels() == std::set<Channel>{1, 2, 3});
  }
  SECTION("9 V AC") {
    circuit.sources.push_back({0, kNoNode, 9, 10, 60});
    const Outcome outcome = look(circuit, {}, narrow);
    CHECK(outcome.driven == 0);
    CHECK(outcome.channels() == std::set<Channel>{1, 2, 3});
  }
}

TEST_CASE("rule 7: the limit can be raised, up to 150 mV", "[session][power]") {
  Circuit circuit = nets({2, 3});
  circuit.sources.push_back({0, 2, 0.06, 1e3});
  CHECK_FALSE(look(circuit).check.passed);
  session::Options options;
  options.power_limit_volt = 0.1;
  const PowerCheck check = look(circuit, options).check;
  CHECK(check.passed);
  CHECK(check.limit_volt == 0.1);
  circuit.sources[0].volt = 0.3;
  CHECK_FALSE(look(circuit, options).check.passed);
  for (const double wrong : {0.0, -0.01, 0.16, std::nan("")}) {
    options.power_limit_volt = wrong;
    CHECK_THROWS_AS(look(circuit, options), std::logic_error);
  }
}

TEST_CASE("rule 7: hum does not spoil the estimate of the noise", "[session][power]") {
  // The noise is told by what a reading is unsure of, in a range where noise is most of it.
  const auto uncertainty = [](double noise, double hum) {
    Circuit circuit = nets({1, 1, 1, 1, 1, 1});
    circuit.resistors.push_back({0, 1, 90e3});
    circuit.electronics.noise_volt = noise;
    circuit.electronics.hum_volt = hum;
    InMemoryTester tester(circuit);
    session::Session session(tester, {});
    REQUIRE(session.power_check(all_channels(circuit)).passed);
    const session::Request request{{1}, {2}, session::Purpose::isolation, 0};
    return session.measure({&request, 1}).at(0).uncertainty_ohm;
  };
  for (const double noise : {20e-6, 500e-6}) {
    const double quiet = uncertainty(noise, 0);
    const double humming = uncertainty(noise, 0.3);
    CAPTURE(noise, quiet, humming);
    CHECK(humming < 1.5 * quiet);
    CHECK(humming > quiet / 1.5);
  }
  CHECK(uncertainty(500e-6, 0) > uncertainty(20e-6, 0));
}

TEST_CASE("rule 7: what a measurement left in capacitors is drained, not called a source",
          "[session][power]") {
  Circuit circuit = nets({3, 4, 2, 1});
  circuit.capacitors.push_back({0, 3, 100e-6});
  circuit.capacitors.push_back({7, 9, 1e-6});
  InMemoryTester tester(circuit);
  session::Session session(tester, {});
  REQUIRE(session.power_check(all_channels(circuit)).passed);
  const std::vector<session::Request> requests = {{{1}, {4}, session::Purpose::continuity, 0},
                                                  {{8}, {10}, session::Purpose::continuity, 0}};
  for (int k = 0; k < 20; ++k) {  // until they hold what they take
    session.measure(requests);
  }
  tester.be_silent(1500);
  CHECK(session.measure(requests).size() == 2);
  CHECK(session.power_check(all_channels(circuit)).passed);
}

TEST_CASE("rule 7: small testers check the same in more programs", "[session][power]") {
  struct Size {
    std::uint16_t bytes;
    std::uint16_t results;
  };
  for (const Size& size : {Size{768, 64}, Size{384, 64}, Size{120, 17}, Size{120, 5}}) {
    CAPTURE(size.bytes, size.results);
    Circuit circuit = nets({5, 9, 6});
    circuit.sources.push_back({5, kNoNode, -0.7, 1e3});
    InMemoryTester tester(circuit);
    tester.on_reply = [&](std::size_t, const tests::Bytes& frame) {
      return std::vector<tests::Bytes>{
          tests::changed<wire::Ability>(frame, [&](wire::Ability& ability) {
            ability.program_bytes = size.bytes;
            ability.program_results = size.results;
          })};
    };
    session::Session session(tester, {});
    const PowerCheck check = session.power_check(all_channels(circuit));
    CHECK_FALSE(check.passed);
    CHECK(check.readings == 20);
    REQUIRE(check.live.size() == 9);
    for (const session::LiveChannel& live : check.live) {
      CHECK(live.channel >= 6);
      CHECK(live.channel <= 14);
      CHECK(live.volt == Approx(-0.7).margin(0.01));
    }
  }
}

TEST_CASE("rule 9: a board that is connected to the computer or to earth is noticed",
          "[session][power]") {
  const double ohm = GENERATE(0.01, 3.0, 120.0, 2e3, 6e3);
  CAPTURE(ohm);
  Circuit circuit = nets({3, 2, 12});
  circuit.resistors.push_back({0, 3, 33e3});
  circuit.electronics.noise_volt = 100e-6;
  // Nothing but a resistor to the instrument's ground.
  const auto tie = [&](int node) { circuit.sources.push_back({node, kNoNode, 0, ohm}); };
  const auto simple = [](tests::HandClockHal& hal) { hal.max_source = 1; };
  SECTION("by one net") {
    tie(0);
    const Outcome outcome = look(circuit);
    CHECK_FALSE(outcome.check.passed);
    CHECK(outcome.check.live.empty());
    REQUIRE(outcome.check.tied_ohm);
    CHECK(*outcome.check.tied_ohm == Approx(ohm).epsilon(0.1).margin(1));
  }
  SECTION("by one net, to a tester without sets") {
    tie(0);
    const Outcome outcome = look(circuit, {}, simple);
    REQUIRE(outcome.check.tied_ohm);
    CHECK(*outcome.check.tied_ohm == Approx(ohm).epsilon(0.1).margin(1));
  }
  SECTION("by two nets") {
    tie(0);
    tie(3);
    const Outcome outcome = look(circuit);
    REQUIRE(outcome.check.tied_ohm);
    CHECK(*outcome.check.tied_ohm <= ohm + 1);
  }
  SECTION("with big capacitors on it") {
    tie(0);
    circuit.capacitors.push_back({0, kNoNode, 220e-6});
    const Outcome outcome = look(circuit);
    REQUIRE(outcome.check.tied_ohm);
    CHECK(*outcome.check.tied_ohm == Approx(ohm).epsilon(0.15).margin(1));
  }
  SECTION("while measuring") {
    InMemoryTester tester(circuit);
    session::Session session(tester, {});
    REQUIRE(session.power_check(all_channels(circuit)).passed);
    tie(4);
    tester.hal().set_circuit(circuit);
    tester.be_silent(1500);
    const session::Request request{{1}, {2}, session::Purpose::continuity, 0};
    CHECK_THROWS_WITH(
        session.measure({&request, 1}),
        "the board is connected to the computer or to earth: unplug it, and begin again");
    CHECK(session.needs_power_check());
  }
}

TEST_CASE("rule 9: what is not connected to anything is not called so", "[session][power]") {
  Circuit circuit = nets({3, 2, 12, 1});
  circuit.resistors.push_back({0, 3, 33e3});
  circuit.leads.push_back({kNoNode, 0.025});
  circuit.leads.push_back({0, simulated::kNoContactOhm});
  circuit.electronics.noise_volt = 100e-6;
  const auto limit = [&](std::uint16_t most) {
    return [most](tests::HandClockHal& hal) { hal.max_source = most; };
  };
  SECTION("nothing at all") {}
  SECTION("100 kohm") {
    circuit.sources.push_back({0, kNoNode, 0, 100e3});
  }
  SECTION("100 uF to ground") {
    circuit.capacitors.push_back({0, kNoNode, 100e-6});
  }
  SECTION("4700 uF to ground, by one lead") {
    circuit.capacitors.push_back({17, kNoNode, 4700e-6});
  }
  SECTION("100 uF between nets") {
    circuit.capacitors.push_back({0, 3, 100e-6});
  }
  SECTION("a weak source between nets") {
    circuit.sources.push_back({0, 3, 0.012, 1});
  }
  for (const std::uint16_t most : {std::uint16_t{0xFFFF}, std::uint16_t{5}, std::uint16_t{1}}) {
    CAPTURE(most);
    const Outcome outcome = look(circuit, {}, limit(most));
    CHECK(outcome.check.passed);
    CHECK_FALSE(outcome.check.tied_ohm);
    CHECK(outcome.driven > 0);
  }
}
