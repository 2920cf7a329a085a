// SPDX-License-Identifier: MIT
//
// 200 random networks of resistors against ngspice, all in one run of it: 1 A into each, and the
// volts that it finds are the ohms.
#include <catch2/catch.hpp>
#include <string>

#include "graph/resistance.hpp"
#include "tests/support/ngspice.hpp"
#include "tests/support/random_network.hpp"

TEST_CASE("200 random networks have the ohms that ngspice finds") {
  using namespace padwalk;
  constexpr std::size_t kNetworks = 200;
  constexpr std::size_t kNodes = 60;
  std::mt19937 random(200);
  std::string deck;
  std::vector<std::string> wanted;
  std::vector<double> ohms;
  for (std::size_t n = 0; n < kNetworks; ++n) {
    const test::RandomNetwork network = test::random_network(random, kNodes, -1, 6);
    // Into the last node, out of the first, which is the simulator's 0 V.
    const auto name = [&](std::size_t node) {
      return node == 0 ? std::string("0") : "n" + std::to_string(n) + "_" + std::to_string(node);
    };
    for (std::size_t i = 0; i < network.edges.size(); ++i) {
      const test::NetworkEdge& edge = network.edges[i];
      char ohm[40];
      std::snprintf(ohm, sizeof ohm, "%.17g", edge.ohm);
      deck += "R" + std::to_string(n) + "_" + std::to_string(i) + " " + name(edge.a) + " " +
              name(edge.b) + " " + ohm + "\n";
    }
    deck += "I" + std::to_string(n) + " 0 " + name(network.nodes - 1) + " DC 1\n";
    wanted.push_back("v(" + name(network.nodes - 1) + ")");
    ohms.push_back(network.build().between(0, network.nodes - 1));
  }
  const std::vector<double> found = test::ngspice(deck, "op", wanted);
  for (std::size_t n = 0; n < kNetworks; ++n) {
    INFO("network " << n);
    CHECK(ohms[n] == Approx(found[n]).epsilon(1e-6).margin(0));
  }
}
