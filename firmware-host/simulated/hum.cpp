// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/hum.hpp"

#include <cassert>
#include <cmath>

namespace padwalk::simulated {

namespace {

/// Pick-up is given as what a lone lead shows across this load.
constexpr double kLoadOhm = 1e6;
constexpr double kLeastSiemens = 1e-9;  // insulation; keeps a floating net below a thousand volts

}  // namespace

// With x + jy the volts, G the conductances and B the susceptances, the real and the imaginary half
// of (G + jB)(x + jy) = i make one symmetric system, [G -B; -B -G] [x; y] = [i; 0], which is
// quasi-definite and so has a Cholesky factorisation in any order.
Hum::Hum(int nodes, const Electronics& electronics)
    : angular_(2 * M_PI * electronics.hum_hertz),
      lead_ampere_(electronics.hum_volt / kLoadOhm),
      size_(nodes + 1) {}

void Hum::begin() {
  entries_.clear();
  ampere_.setZero(size_);
  for (int node = 0; node < size_; ++node) {
    entry(node, node, kLeastSiemens, 0);
  }
}

/// Lower half: the imaginary half lies below the real one.
void Hum::entry(int row, int column, double siemens, double susceptance) {
  if (row >= column) {
    entries_.emplace_back(row, column, siemens);
    entries_.emplace_back(size_ + row, size_ + column, -siemens);
  }
  entries_.emplace_back(size_ + row, column, -susceptance);
}

void Hum::add(int a, int b, double siemens, double farad) {
  const double susceptance = angular_ * farad;
  if (a == b) {
    return;
  }
  for (const int node : {a, b}) {
    if (node >= 0) {
      entry(node, node, siemens, susceptance);
    }
  }
  if (a >= 0 && b >= 0) {
    entry(a, b, -siemens, -susceptance);
    entry(b, a, -siemens, -susceptance);
  }
}

void Hum::solve() {
  const bool first = lower_.nonZeros() == 0;
  lower_.resize(2 * size_, 2 * size_);
  lower_.setFromTriplets(entries_.begin(), entries_.end());
  Eigen::VectorXd volts = Eigen::VectorXd::Zero(2 * size_);
  volts.head(size_) = ampere_;
  if (first) {
    solver_.analyze(lower_);
  }
  [[maybe_unused]] const bool solved = solver_.factorize(lower_);
  assert(solved);
  solver_.solve(volts);
  volts_.clear();
  for (int node = 0; node < size_; ++node) {
    volts_.emplace_back(volts[node], volts[size_ + node]);
  }
}

double Hum::now(Phasor phasor, double seconds) const {
  return std::sqrt(2.0) * std::imag(phasor * std::polar(1.0, angular_ * seconds));
}

}  // namespace padwalk::simulated
