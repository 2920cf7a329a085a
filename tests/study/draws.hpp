// SPDX-License-Identifier: MIT
//
// Random draws that are the same on every machine: the standard fixes what std::mt19937_64 yields,
// but not what its distributions make of that. Not for noise, which the simulated bench draws.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <random>
#include <span>
#include <utility>
#include <vector>

namespace padwalk::study {

class Draws {
 public:
  /// An independent stream for each pair of seed and stream number.
  Draws(std::uint64_t seed, std::uint64_t stream) : engine_(mix(seed + mix(stream + 1))) {}

  /// A whole number below `n`, which is above 0.
  std::size_t below(std::size_t n) {
    const std::uint64_t whole = UINT64_MAX / n * n;
    std::uint64_t drawn = engine_();
    while (drawn >= whole) {
      drawn = engine_();
    }
    return static_cast<std::size_t>(drawn % n);
  }
  /// From `low` to `high`, both included.
  std::size_t from_to(std::size_t low, std::size_t high) { return low + below(high - low + 1); }
  /// In [0, 1).
  double real() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }
  double between(double low, double high) { return low + (high - low) * real(); }
  /// Every decade is as likely, to three digits: the last bits of pow() differ between machines.
  double decades(double low, double high) {
    const double drawn = low * std::pow(high / low, real());
    const double digit = std::pow(10, std::floor(std::log10(drawn)) - 2);
    return std::round(drawn / digit) * digit;
  }
  bool chance(double probability) { return real() < probability; }

  template <typename Container>
  auto& pick(Container& container) {
    return container[below(std::size(container))];
  }
  /// An index, each as likely as its weight says.
  std::size_t weighted(std::span<const double> weights) {
    double sum = 0;
    for (const double weight : weights) {
      sum += weight;
    }
    double left = sum * real();
    for (std::size_t i = 0; i + 1 < weights.size(); ++i) {
      left -= weights[i];
      if (left < 0) {
        return i;
      }
    }
    return weights.size() - 1;
  }
  template <typename T>
  void shuffle(std::vector<T>& items) {
    for (std::size_t i = items.size(); i > 1; --i) {
      std::swap(items[i - 1], items[below(i)]);
    }
  }

 private:
  /// Spreads near numbers far apart. Source: the finaliser of SplitMix64 (Steele, Lea and Flood,
  /// OOPSLA 2014).
  static std::uint64_t mix(std::uint64_t z) {
    z += 0x9e3779b97f4a7c15;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
    z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
    return z ^ (z >> 31);
  }

  std::mt19937_64 engine_;
};

}  // namespace padwalk::study
