// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/hum.hpp"

#include <cmath>

namespace padwalk::simulated {

namespace {

/// Pick-up is given as what a lone lead shows across this load.
constexpr double kLoadOhm = 1e6;
constexpr double kLeastSiemens = 1e-9;  // insulation; keeps a floating net below a thousand volts

}  // namespace

Hum::Hum(int nodes, const Electronics& electronics)
    : angular_(2 * M_PI * electronics.hum_hertz),
      lead_ampere_(electronics.hum_volt / kLoadOhm),
      ampere_(Eigen::VectorXcd::Zero(nodes + 1)) {
  for (int node = 0; node <= nodes; ++node) {
    entries_.emplace_back(node, node, Phasor(kLeastSiemens));
  }
}

void Hum::add(int a, int b, double siemens, double farad) {
  const Phasor admittance(siemens, angular_ * farad);
  if (a == b) {
    return;
  }
  for (const int node : {a, b}) {
    if (node >= 0) {
      entries_.emplace_back(node, node, admittance);
    }
  }
  if (a >= 0 && b >= 0) {
    entries_.emplace_back(a, b, -admittance);
    entries_.emplace_back(b, a, -admittance);
  }
}

void Hum::solve() {
  Eigen::SparseMatrix<Phasor> matrix(ampere_.size(), ampere_.size());
  matrix.setFromTriplets(entries_.begin(), entries_.end());
  Eigen::SparseLU<Eigen::SparseMatrix<Phasor>> solver(matrix);
  volts_ = solver.solve(ampere_);
}

double Hum::now(Phasor phasor, double seconds) const {
  return std::sqrt(2.0) * std::imag(phasor * std::polar(1.0, angular_ * seconds));
}

}  // namespace padwalk::simulated
