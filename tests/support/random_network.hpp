// SPDX-License-Identifier: MIT
//
// Random networks of resistors for tests, as plain lists.
#pragma once

#include <cmath>
#include <cstddef>
#include <random>
#include <vector>

#include "graph/resistance.hpp"

namespace padwalk::test {

struct NetworkEdge {
  std::size_t a = 0;
  std::size_t b = 0;
  double ohm = 0;
};

struct RandomNetwork {
  std::size_t nodes = 0;
  std::vector<NetworkEdge> edges;

  graph::ResistiveNetwork build() const {
    graph::ResistiveNetwork network(nodes);
    for (const NetworkEdge& edge : edges) {
      network.add(edge.a, edge.b, edge.ohm);
    }
    return network;
  }
};

/// A connected network of 2 to `most_nodes` nodes with up to twice as many resistors beside its
/// tree, some of them parallel; ohms spread evenly by decades from 10^low to 10^high.
inline RandomNetwork random_network(std::mt19937& random, std::size_t most_nodes, double low,
                                    double high) {
  const auto below = [&](std::size_t end) {
    return std::uniform_int_distribution<std::size_t>(0, end - 1)(random);
  };
  const auto ohm = [&] {
    return std::pow(10.0, std::uniform_real_distribution<double>(low, high)(random));
  };
  RandomNetwork network;
  network.nodes = 2 + below(most_nodes - 1);
  for (std::size_t node = 1; node < network.nodes; ++node) {
    network.edges.push_back({below(node), node, ohm()});
  }
  for (std::size_t extra = below(2 * network.nodes); extra > 0; --extra) {
    const std::size_t a = below(network.nodes);
    const std::size_t b = below(network.nodes);
    if (a != b) {
      network.edges.push_back({a, b, ohm()});
    }
  }
  return network;
}

}  // namespace padwalk::test
