// SPDX-License-Identifier: MIT
//
// Mains pick-up: an alternating current into every lead's node, all in phase, and what voltages it
// makes at the present setting. One complex solution a setting instead of many steps in time;
// junctions count with their slope at rest.
#pragma once

#include <complex>
#include <vector>

#include "firmware-host/simulated/circuit.hpp"
#include "firmware-host/simulated/factorization.hpp"

namespace padwalk::simulated {

class Hum {
 public:
  using Phasor = std::complex<double>;

  /// Nodes are 0 to `nodes` - 1, and `nodes` itself is the sink bus.
  Hum(int nodes, const Electronics& electronics);

  /// Before each setting; what is then added joins the same pairs as before, be it with nothing.
  void begin();
  /// From node to node; kNoNode is 0 V. Units: siemens, farad.
  void add(int a, int b, double siemens, double farad = 0);
  /// A lead picks up here.
  void lead_on(int node) { ampere_[node] += lead_ampere_; }
  void solve();

  Phasor at(int node) const {
    return node < 0 ? Phasor(0) : volts_[static_cast<std::size_t>(node)];
  }
  /// Of a phasor, at that time. Units: volt, second.
  double now(Phasor phasor, double seconds) const;

 private:
  double angular_;
  double lead_ampere_;
  void entry(int row, int column, double siemens, double susceptance);

  int size_;
  std::vector<Eigen::Triplet<double>> entries_;
  Eigen::VectorXd ampere_;  ///< in phase
  Matrix lower_;
  Factorization solver_;  ///< analysed once
  std::vector<Phasor> volts_;
};

}  // namespace padwalk::simulated
