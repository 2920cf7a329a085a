// SPDX-License-Identifier: MIT
//
// Ohms of networks of resistors: textbook networks with exact answers, laws that hold for every
// network, changes of one resistor, and resistors eleven decades apart. Exact values are rational
// numbers worked out apart from this code; against a circuit simulator: resistance_ngspice_test.
#include "graph/resistance.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <stdexcept>

#include "tests/support/random_network.hpp"

namespace {

using namespace padwalk;
using graph::ResistiveNetwork;
using test::NetworkEdge;

ResistiveNetwork make(std::size_t nodes, const std::vector<NetworkEdge>& edges) {
  return test::RandomNetwork{nodes, edges}.build();
}

bool near(double value, double wanted, double relative = 1e-9) {
  INFO(value << " for " << wanted);
  return std::abs(value - wanted) <= relative * std::abs(wanted);
}

/// The same by eliminating node after node (star to mesh), which only adds what is above 0 and so
/// keeps every digit, in long double.
double eliminated(const test::RandomNetwork& network, std::size_t a, std::size_t b) {
  std::vector<std::vector<long double>> siemens(network.nodes,
                                                std::vector<long double>(network.nodes, 0));
  for (const NetworkEdge& edge : network.edges) {
    siemens[edge.a][edge.b] += 1 / static_cast<long double>(edge.ohm);
    siemens[edge.b][edge.a] += 1 / static_cast<long double>(edge.ohm);
  }
  for (std::size_t k = 0; k < network.nodes; ++k) {
    if (k == a || k == b) {
      continue;
    }
    long double sum = 0;
    for (const long double one : siemens[k]) {
      sum += one;
    }
    for (std::size_t i = 0; sum > 0 && i < network.nodes; ++i) {
      for (std::size_t j = 0; j < network.nodes; ++j) {
        if (i != j && i != k && j != k) {
          siemens[i][j] += siemens[i][k] * siemens[k][j] / sum;
        }
      }
    }
    for (std::size_t i = 0; i < network.nodes; ++i) {
      siemens[i][k] = siemens[k][i] = 0;
    }
  }
  return static_cast<double>(1 / siemens[a][b]);
}

const std::vector<NetworkEdge> kBridge = {{0, 1, 1}, {0, 2, 2}, {1, 3, 3}, {2, 3, 4}, {1, 2, 5}};

}  // namespace

TEST_CASE("the cube of 1 ohm: 5/6 across, 3/4 over a face, 7/12 along an edge") {
  const ResistiveNetwork cube = make(8, {{0, 1, 1},
                                         {0, 2, 1},
                                         {0, 4, 1},
                                         {1, 3, 1},
                                         {1, 5, 1},
                                         {2, 3, 1},
                                         {2, 6, 1},
                                         {3, 7, 1},
                                         {4, 5, 1},
                                         {4, 6, 1},
                                         {5, 7, 1},
                                         {6, 7, 1}});
  CHECK(near(cube.between(0, 7), 5.0 / 6));
  CHECK(near(cube.between(0, 3), 3.0 / 4));
  CHECK(near(cube.between(0, 1), 7.0 / 12));
}

TEST_CASE("bridges: unbalanced with all its pairs, balanced with any resistor across") {
  const ResistiveNetwork bridge = make(4, kBridge);
  CHECK(near(bridge.between(0, 3), 170.0 / 71));
  CHECK(near(bridge.between(1, 2), 105.0 / 71));
  CHECK(near(bridge.between(0, 1), 59.0 / 71));
  CHECK(near(bridge.between(0, 2), 94.0 / 71));
  CHECK(near(bridge.between(1, 3), 141.0 / 71));
  CHECK(near(bridge.between(2, 3), 156.0 / 71));
  for (const double across : {1e-3, 5.0, 1e8}) {
    CHECK(near(make(4, {{0, 1, 1}, {0, 2, 2}, {1, 3, 3}, {2, 3, 6}, {1, 2, across}}).between(0, 3),
               8.0 / 3));
  }
}

TEST_CASE("the ladder of 1 ohm: F(2m+1)/F(2m) after m sections") {
  std::vector<double> fibonacci = {0, 1};
  while (fibonacci.size() < 84) {
    fibonacci.push_back(fibonacci.back() + fibonacci[fibonacci.size() - 2]);
  }
  CHECK(fibonacci[21] / fibonacci[20] == 10946.0 / 6765);
  for (std::size_t m = 1; m <= 40; ++m) {
    std::vector<NetworkEdge> edges;  // node 0 is the common rail
    for (std::size_t section = 1; section <= m; ++section) {
      edges.push_back({section, section + 1, 1});
      edges.push_back({section + 1, 0, 1});
    }
    CHECK(near(make(m + 2, edges).between(1, 0), fibonacci[2 * m + 1] / fibonacci[2 * m]));
  }
}

TEST_CASE("complete, cyclic, Petersen and bipartite networks of 1 ohm") {
  for (std::size_t n = 2; n <= 12; ++n) {
    std::vector<NetworkEdge> complete;
    std::vector<NetworkEdge> cycle;
    for (std::size_t i = 0; i < n; ++i) {
      cycle.push_back({i, (i + 1) % n, 1});
      for (std::size_t j = 0; j < i; ++j) {
        complete.push_back({j, i, 1});
      }
    }
    CHECK(near(make(n, complete).between(0, n - 1), 2.0 / static_cast<double>(n)));
    for (std::size_t k = 1; k < n; ++k) {
      CHECK(near(make(n, cycle).between(0, k),
                 static_cast<double>(k * (n - k)) / static_cast<double>(n)));
    }
  }
  std::vector<NetworkEdge> petersen;
  std::vector<NetworkEdge> three_three;
  for (std::size_t i = 0; i < 5; ++i) {
    petersen.push_back({i, (i + 1) % 5, 1});
    petersen.push_back({i, i + 5, 1});
    petersen.push_back({i + 5, (i + 2) % 5 + 5, 1});
  }
  for (std::size_t i = 0; i < 9; ++i) {
    three_three.push_back({i / 3, 3 + i % 3, 1});
  }
  CHECK(near(make(10, petersen).between(0, 1), 3.0 / 5));
  CHECK(near(make(10, petersen).between(0, 2), 4.0 / 5));
  CHECK(near(make(10, petersen).between(0, 7), 4.0 / 5));
  CHECK(near(make(6, three_three).between(0, 3), 5.0 / 9));
  CHECK(near(make(6, three_three).between(0, 1), 2.0 / 3));
}

TEST_CASE("a ring of four resistors has six values, none of them a resistor's") {
  const ResistiveNetwork ring = make(4, {{0, 1, 10e3}, {1, 2, 10e3}, {2, 3, 4.7e3}, {0, 3, 22e3}});
  CHECK(near(ring.between(0, 1), 3670000.0 / 467));
  CHECK(near(ring.between(1, 2), 3670000.0 / 467));
  CHECK(near(ring.between(0, 2), 5340000.0 / 467));
  CHECK(near(ring.between(0, 3), 5434000.0 / 467));
  CHECK(near(ring.between(1, 3), 4704000.0 / 467));
  CHECK(near(ring.between(2, 3), 1974000.0 / 467));
}

TEST_CASE("what is apart, what is one node, and what cannot be") {
  ResistiveNetwork network(6);
  network.add(0, 1, 100);
  network.add(2, 3, 50);
  network.add(3, 4, 0);
  network.add(1, 2, INFINITY);
  CHECK(network.size() == 4);
  CHECK(network.between(0, 0) == 0);
  CHECK(network.between(3, 4) == 0);
  CHECK(near(network.between(2, 4), 50));
  CHECK(std::isinf(network.between(0, 2)));
  CHECK(std::isinf(network.between(5, 0)));
  network.add(1, 4, 7);  // after a question
  CHECK(near(network.between(0, 2), 157));
  CHECK_THROWS_AS(network.add(0, 1, -1), std::invalid_argument);
  CHECK_THROWS_AS(network.add(0, 1, NAN), std::invalid_argument);
  CHECK_THROWS_AS(network.add(0, 6, 1), std::invalid_argument);
  CHECK_THROWS_AS(network.between(0, 6), std::invalid_argument);
}

TEST_CASE("groups are tied together") {
  using Nodes = std::vector<ResistiveNetwork::Node>;
  // Ten pull-ups of 4.7 kohm to one rail, read together: 470 ohm.
  ResistiveNetwork pulls(14);
  Nodes lines;
  for (std::size_t i = 1; i <= 10; ++i) {
    pulls.add(0, i, 4700);
    lines.push_back(i);
  }
  pulls.add(11, 12, 1);
  CHECK(near(pulls.between(Nodes{0}, lines), 470));
  CHECK(near(pulls.between(lines, Nodes{0, 13}), 470));
  CHECK(pulls.between(lines, Nodes{3, 0}) == 0);
  CHECK(std::isinf(pulls.between(lines, Nodes{11, 12, 13})));
  CHECK(std::isinf(pulls.between(lines, Nodes{})));
  const ResistiveNetwork bridge = make(4, kBridge);
  // 0 and 3 tied: 1 || 3 ohm to 1, 2 || 4 to 2, 5 between: to 1 alone 0.75 || (5 + 4/3).
  CHECK(near(bridge.between(Nodes{0, 3}, Nodes{1}), 1 / (1 / 0.75 + 1 / (5 + 4.0 / 3))));
  CHECK(near(bridge.between(Nodes{0, 3}, Nodes{1, 2}), 1 / (1 + 0.5 + 1 / 3.0 + 0.25)));
  std::mt19937 random(11);
  for (int trial = 0; trial < 100; ++trial) {
    const test::RandomNetwork network = test::random_network(random, 20, -3, 6);
    if (network.nodes < 5) {
      continue;
    }
    test::RandomNetwork tied = network;
    tied.edges.push_back({0, 1, 0});
    tied.edges.push_back({2, 3, 0});
    tied.edges.push_back({3, 4, 0});
    CHECK(near(network.build().between(Nodes{0, 1}, Nodes{2, 3, 4}), tied.build().between(1, 4)));
  }
}

TEST_CASE("laws that hold for every network") {
  std::mt19937 random(5);
  for (int trial = 0; trial < 200; ++trial) {
    test::RandomNetwork plain = test::random_network(random, 30, -2, 5);
    // Half of them in two components.
    const std::size_t components = trial % 2 == 0 ? 1 : 2;
    if (components == 2) {
      const std::size_t first = plain.nodes;
      const test::RandomNetwork other = test::random_network(random, 30, -2, 5);
      plain.nodes += other.nodes;
      for (const NetworkEdge& edge : other.edges) {
        plain.edges.push_back({edge.a + first, edge.b + first, edge.ohm});
      }
    }
    const ResistiveNetwork network = plain.build();
    double foster = 0;
    for (const NetworkEdge& edge : plain.edges) {
      foster += network.between(edge.a, edge.b) / edge.ohm;
    }
    CHECK(near(foster, static_cast<double>(plain.nodes - components)));

    const auto node = [&] {
      return std::uniform_int_distribution<std::size_t>(0, plain.nodes - 1)(random);
    };
    for (int pair = 0; pair < 10; ++pair) {
      const std::size_t a = node();
      const std::size_t b = node();
      const std::size_t c = node();
      const double ohm = network.between(a, b);
      CHECK((ohm == network.between(b, a) || near(ohm, network.between(b, a), 1e-12)));
      CHECK(network.between(a, c) + network.between(c, b) >= ohm * (1 - 1e-12));
      if (std::isinf(ohm)) {
        continue;
      }
      // What all resistors turn to heat is the whole (Tellegen).
      const ResistiveNetwork::Flow flow = network.flow(a, b);
      double heat = 0;
      for (std::size_t i = 0; i < network.size(); ++i) {
        heat += network.share(flow, i);
      }
      CHECK((a == b || near(heat, ohm)));
      CHECK(network.volt(flow, a, b) == Approx(ohm).epsilon(1e-12));
      // No resistor taken away makes any pair lower (Rayleigh).
      test::RandomNetwork fewer = plain;
      fewer.edges.erase(fewer.edges.begin() +
                        static_cast<std::ptrdiff_t>(std::uniform_int_distribution<std::size_t>(
                            0, fewer.edges.size() - 1)(random)));
      CHECK(fewer.build().between(a, b) >= ohm * (1 - 1e-12));
    }
  }
}

TEST_CASE("one change of a bridge, by the rank-one formula") {
  const ResistiveNetwork bridge = make(4, kBridge);
  const ResistiveNetwork::Flow across = bridge.flow(0, 3);
  CHECK(near(across.ohm, 170.0 / 71));
  CHECK(near(bridge.volt(across, 1, 2), 10.0 / 71));
  CHECK(near(bridge.between_with(0, 3, {1, 2, -1.0 / 5}), 12.0 / 5));   // the 5 ohm gone
  CHECK(near(bridge.between_with(0, 3, {1, 2, INFINITY}), 50.0 / 21));  // 1 and 2 shorted
  CHECK(near(bridge.between_with(0, 3, {1, 2, 0}), 170.0 / 71));
  CHECK(near(bridge.between_with(across, bridge.flow(2, 1), {2, 1, -1.0 / 5}), 12.0 / 5));
}

TEST_CASE("one change of any network equals the changed network solved") {
  std::mt19937 random(23);
  for (int trial = 0; trial < 400; ++trial) {
    const test::RandomNetwork plain = test::random_network(random, 25, -3, 8);
    const ResistiveNetwork network = plain.build();
    const auto node = [&] {
      return std::uniform_int_distribution<std::size_t>(0, plain.nodes - 1)(random);
    };
    const std::size_t a = node();
    const std::size_t b = node();
    const std::size_t u = node();
    const std::size_t v = node();
    if (a == b || u == v) {
      continue;
    }
    for (const double ohm : {0.0, 1e-3, 1.0, 47e3, 1e8}) {
      test::RandomNetwork more = plain;
      more.edges.push_back({u, v, ohm});
      CHECK(near(network.between_with(a, b, {u, v, 1 / ohm}), more.build().between(a, b)));
    }
    const std::size_t gone =
        std::uniform_int_distribution<std::size_t>(0, plain.edges.size() - 1)(random);
    test::RandomNetwork fewer = plain;
    fewer.edges.erase(fewer.edges.begin() + static_cast<std::ptrdiff_t>(gone));
    const NetworkEdge& edge = plain.edges[gone];
    const double without = network.between_with(a, b, {edge.a, edge.b, -1 / edge.ohm});
    const double wanted = fewer.build().between(a, b);
    CHECK((std::isinf(wanted) ? std::isinf(without) : near(without, wanted)));
  }
}

TEST_CASE("a change can join what was apart, and not take away what is not there") {
  ResistiveNetwork network(5);
  network.add(0, 1, 10);
  network.add(2, 3, 20);
  CHECK(near(network.between_with(0, 3, {1, 2, 1.0 / 5}), 35));
  CHECK(near(network.between_with(0, 3, {1, 2, INFINITY}), 30));
  CHECK(std::isinf(network.between_with(0, 3, {1, 4, 1})));
  CHECK(near(network.between_with(0, 1, {2, 3, 1}), 10));
  CHECK(std::isinf(network.between_with(0, 1, {0, 1, -1.0 / 10})));
  CHECK_THROWS_AS(network.between_with(0, 1, {0, 1, -1.0 / 5}), std::invalid_argument);
}

TEST_CASE("1 milliohm and 100 Mohm in one network keep their digits") {
  // Two heaps of closed copper, each a ring of milliohms, joined by 100 Mohm.
  ResistiveNetwork network(8);
  for (std::size_t i = 0; i < 4; ++i) {
    network.add(i, (i + 1) % 4, 1e-3);
    network.add(4 + i, 4 + (i + 1) % 4, 1e-3);
  }
  network.add(1, 6, 1e8);
  CHECK(near(network.between(0, 2), 1e-3));
  CHECK(near(network.between(4, 5), 0.75e-3));
  CHECK(near(network.between(1, 6), 1e8));
  CHECK(near(network.between(0, 7), 1e8 + 1.5e-3));
  CHECK(near(network.between_with(0, 2, {1, 2, -1e3}), 2e-3));
  CHECK(near(network.between_with(0, 6, {1, 6, INFINITY}), 0.75e-3));

  std::mt19937 random(3);
  for (int trial = 0; trial < 300; ++trial) {
    test::RandomNetwork plain = test::random_network(random, 25, -3, 8);
    for (NetworkEdge& edge : plain.edges) {  // mostly the two ends of the scale
      edge.ohm = trial % 3 == 0
                     ? edge.ohm
                     : (edge.ohm < 300 ? 1e-3 : 1e8) * (1 + 0.1 * edge.ohm / (1 + edge.ohm));
    }
    const ResistiveNetwork network_of_both = plain.build();
    for (std::size_t b = 1; b < plain.nodes; ++b) {
      CHECK(near(network_of_both.between(b - 1, b), eliminated(plain, b - 1, b)));
    }
  }
}

TEST_CASE("a mesh of equal resistors is symmetric and obeys Foster") {
  constexpr std::size_t kSide = 20;
  ResistiveNetwork mesh(kSide * kSide);
  for (std::size_t y = 0; y < kSide; ++y) {
    for (std::size_t x = 0; x < kSide; ++x) {
      if (x + 1 < kSide) {
        mesh.add(y * kSide + x, y * kSide + x + 1, 1);
      }
      if (y + 1 < kSide) {
        mesh.add(y * kSide + x, (y + 1) * kSide + x, 1);
      }
    }
  }
  const double corner = mesh.between(0, kSide * kSide - 1);
  CHECK(near(corner, mesh.between(kSide - 1, kSide * (kSide - 1))));
  double foster = 0;
  for (std::size_t y = 0; y < kSide; ++y) {
    for (std::size_t x = 0; x + 1 < kSide; ++x) {
      foster += 2 * mesh.between(y * kSide + x, y * kSide + x + 1);  // rows and columns alike
    }
  }
  CHECK(near(foster, kSide * kSide - 1));
}
