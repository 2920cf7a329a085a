// SPDX-License-Identifier: MIT
//
// Values spread evenly by decades.
#pragma once

#include <cmath>
#include <random>

namespace padwalk::test {

inline double log_uniform(std::mt19937& random, double low, double high) {
  return std::exp(std::uniform_real_distribution<double>(std::log(low), std::log(high))(random));
}

}  // namespace padwalk::test
