// SPDX-License-Identifier: MIT
//
// A tip on anything while the rest stays clipped: it is named by the net that copper joins it to,
// and by no other, whatever parts lie between.
#include <catch2/catch.hpp>
#include <optional>
#include <random>

#include "firmware-host/session/session.hpp"
#include "tests/firmware-host/in_memory_tester.hpp"
#include "tests/firmware-host/pair_tester.hpp"
#include "tests/support/small_circuit.hpp"

using namespace padwalk;
using session::Channel;
using session::Heard;
using session::Held;

namespace {

/// Nets as nodes 0 to n - 1, each with a lead; one node more, which no lead is on; the tip last.
struct Board {
  explicit Board(int nets, std::vector<simulated::Circuit::Resistor> parts) {
    circuit = test::network(nets + 1, std::move(parts));
    circuit.leads.back() = {};
    held.groups.resize(static_cast<std::size_t>(nets));
    for (int net = 0; net < nets; ++net) {
      held.groups[static_cast<std::size_t>(net)] = {static_cast<Channel>(net + 1)};
      channels.push_back(static_cast<Channel>(net + 1));
    }
    tip = static_cast<Channel>(nets + 1);
  }
  simulated::Circuit tip_on(int node) const {
    simulated::Circuit touched = circuit;
    touched.leads.back() = {node, test::kContactOhm};
    return touched;
  }
  simulated::Circuit circuit;
  Held held;
  std::vector<Channel> channels;
  Channel tip = 0;
};

struct Walk {
  explicit Walk(const Board& with) : board(with), tester(board.tip_on(simulated::kNoNode)) {
    session.emplace(tester, session::Options());
    REQUIRE(session->power_check(board.channels).passed);
  }
  bool touches(int node) {
    tester.hal().set_circuit(board.tip_on(node));
    return session->touches(board.tip, board.held);
  }
  Heard name() { return session->name(board.tip, board.held); }

  const Board& board;
  tests::InMemoryTester tester;
  std::optional<session::Session> session;
};

}  // namespace

TEST_CASE("a tip is named by the net that it is on, whatever parts lie between nets",
          "[session][listening]") {
  std::mt19937 random(5);
  for (int round = 0; round < 25; ++round) {
    const int nets = std::uniform_int_distribution(1, 40)(random);
    std::vector<simulated::Circuit::Resistor> parts;
    std::uniform_int_distribution any_net(0, nets - 1);
    std::uniform_real_distribution decades(0.3, 5.0);  // 2 ohm to 100 kohm
    for (int part = std::uniform_int_distribution(0, nets)(random); part > 0; --part) {
      const int a = any_net(random);
      const int b = any_net(random);
      if (a != b) {
        parts.push_back({a, b, std::pow(10, decades(random))});
      }
    }
    Board board(nets, std::move(parts));
    board.held.ground = round % 3 != 0;
    board.held.apart = board.held.ground ? std::min<std::size_t>(board.held.groups.size(), 2) : 0;
    Walk walk(board);
    CHECK_FALSE(walk.touches(simulated::kNoNode));
    CHECK_FALSE(walk.touches(nets));  // copper that no lead is on
    for (int net = 0; net < nets; ++net) {
      CAPTURE(round, nets, net);
      REQUIRE(walk.touches(net));
      const Heard heard = walk.name();
      CHECK(heard.at_rest);
      REQUIRE(heard.group);
      CHECK(*heard.group == static_cast<std::size_t>(net));
      CHECK(std::abs(heard.ohm - 2 * test::kContactOhm) <= heard.uncertainty_ohm);
    }
  }
}

TEST_CASE("what only a part leads to is touched, and has no name", "[session][listening]") {
  for (const double ohm : {20.0, 90.0, 110.0, 4.7e3, 50e3}) {
    CAPTURE(ohm);
    Board board(5, {{5, 3, ohm}});  // from net 3 to the copper without a lead
    Walk walk(board);
    REQUIRE(walk.touches(5));
    const Heard heard = walk.name();
    CHECK(heard.at_rest);
    CHECK_FALSE(heard.group);
  }
}

TEST_CASE("the tip is named by each piece of a broken net", "[session][listening]") {
  Board board(6, {});
  board.held.groups = {{1}, {2, 5}, {3, 6}, {4}};  // nets 1 and 2 are in two pieces each
  Walk walk(board);
  for (const int node : {0, 1, 2, 3, 4, 5}) {
    CAPTURE(node);
    REQUIRE(walk.touches(node));
    const Heard heard = walk.name();
    REQUIRE(heard.group);
    CHECK(*heard.group == static_cast<std::size_t>(node < 4 ? node : node - 3));
    CHECK(heard.lead == node + 1);
  }
}

TEST_CASE("what drives the tip is driven against by no more than 2 uA", "[session][listening]") {
  for (const double volt : {-0.5, 0.5, 5.0}) {
    CAPTURE(volt);
    tests::PairTester tester;
    session::Session session(tester, session::Options());
    const Channel held_channel = 2;
    REQUIRE(session.power_check({&held_channel, 1}).passed);
    tester.hal.emf_volt = volt;
    tester.hal.emf_ohm = 100e3;
    tester.hal.driven_ranges.clear();
    Held held;
    held.groups = {{2}};
    session.touches(1, held);
    CHECK_FALSE(session.name(1, held).at_rest);
    for (const std::uint8_t range : tester.hal.driven_ranges) {
      CHECK(range == 4);
    }
  }
}

TEST_CASE("nothing is listened to without a power check of what is held", "[session][listening]") {
  Board board(3, {});
  tests::InMemoryTester tester(board.tip_on(0));
  session::Session session(tester, session::Options());
  CHECK_THROWS_AS(session.touches(board.tip, board.held), std::logic_error);
  REQUIRE(session.power_check(board.channels).passed);
  CHECK(session.touches(board.tip, board.held));
  session.leads_moved();
  CHECK_THROWS_AS(session.touches(board.tip, board.held), std::logic_error);
}
