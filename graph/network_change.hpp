// SPDX-License-Identifier: MIT
//
// One change in a network of resistors that are known within ranges: what it does to every reading,
// and which sizes of it agree with them. The sums behind network_faults.hpp; not for callers
// outside the analysis.
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "graph/network_faults.hpp"

namespace padwalk::graph {

/// More ohms than a tester can tell from none.
inline constexpr double kNothingOhm = 1e8;

/// A conductance that the sums can hold.
double held_siemens(double siemens);

/// All resistances of a network: the inverse of its Laplacian with node 0 grounded. Parts of the
/// network with nothing between them are joined by kLeastSiemens.
class SolvedNetwork {
 public:
  /// `siemens`: which conductance of each edge. Cost: nodes^3.
  SolvedNetwork(std::size_t nodes, std::span<const NetworkEdge> edges,
                double NetworkEdge::*siemens);

  /// Volts between u and v while 1 A flows from a to b. Cost: constant.
  double transfer(std::size_t a, std::size_t b, std::size_t u, std::size_t v) const {
    return inverse_(at(a), at(u)) - inverse_(at(a), at(v)) - inverse_(at(b), at(u)) +
           inverse_(at(b), at(v));
  }
  /// Units: ohm.
  double between(std::size_t a, std::size_t b) const { return transfer(a, b, a, b); }

  /// Adds a conductance, which may be negative. Cost: nodes^2.
  void change(std::size_t u, std::size_t v, double siemens);

 private:
  static Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

  Eigen::MatrixXd inverse_;
};

/// Which conductance of all edges: resistance never rises with one (Rayleigh), so no network within
/// the ranges reads more than `least` and less than `most`.
enum Corner : std::size_t { least, usual, most };
using Corners = std::vector<SolvedNetwork>;  // by Corner

/// Some network within the ranges agrees with this reading.
bool agrees(const Corners& corners, const NetworkReading& reading);

/// Sizes of a change. Units: siemens; empty where low > high.
struct SiemensInterval {
  double low = 0;
  double high = kMostSiemens;
  bool empty() const { return low > high; }
  void meet(const SiemensInterval& other) {
    low = std::max(low, other.low);
    high = std::min(high, other.high);
  }
};

/// A change of unknown size: what the conductance between u and v was in each corner.
struct ChangeCandidate {
  std::size_t u = 0;
  std::size_t v = 0;
  std::optional<std::size_t> edge;  ///< nothing: a leak
  std::array<double, 3> was = {0, 0, 0};
};

/// The sizes with which all readings of `order` agree. Cost: readings up to the first that leaves
/// nothing, so the hardest should come first.
SiemensInterval agreeing_sizes(const Corners& corners, const ChangeCandidate& one,
                               std::span<const NetworkReading> readings,
                               std::span<const std::size_t> order);

struct BestSizes {
  SiemensInterval sizes;
  std::size_t off = 0;  ///< readings that do not agree
};

/// The sizes with which most readings of `order` agree. Cost: n log n readings.
BestSizes best_sizes(const Corners& corners, const ChangeCandidate& one,
                     std::span<const NetworkReading> readings, std::span<const std::size_t> order);

struct FittedSize {
  double siemens = 0;
  double misfit = 0;  ///< sum of squared deviations over their variances
};

/// Best size in the interval by least squares. An edge that may be gone is gone: an open explains
/// more than some high value.
FittedSize fit_size(const Corners& corners, const ChangeCandidate& one,
                    std::span<const NetworkReading> readings, SiemensInterval within);

/// Which readings depend on edges that are not `known`: nobody can say what they should be.
/// Shape: one a reading. Cost: nodes^3.
std::vector<bool> moved_by_unknown(std::size_t nodes, std::span<const NetworkEdge> edges,
                                   std::span<const NetworkReading> readings);

}  // namespace padwalk::graph
