// SPDX-License-Identifier: MIT
#include "graph/network_change.hpp"

#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <limits>
#include <utility>

namespace padwalk::graph {

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kSlack = 1e-6;      // relative, for rounding
constexpr double kInfluence = 1e-3;  // relative, of an unknown edge on a reading
constexpr double kUnmoved = 1e-10;   // of R R_uv: below, a change does not move a reading

/// How much conductance to add so that the reading has `ohm`: infinite where no amount lowers it
/// so far, nothing where it does not move.
std::optional<double> to_reach(const SolvedNetwork& solved, const ChangeCandidate& one, double own,
                               const NetworkReading& reading, double ohm) {
  const double now = solved.between(reading.a, reading.b);
  const double phi = solved.transfer(reading.a, reading.b, one.u, one.v);
  if (phi * phi <= kUnmoved * now * own) {
    return std::nullopt;
  }
  const double less = now - ohm;
  const double rest = phi * phi - less * own;
  return rest <= 0 ? kInfinity : less / rest;
}

struct Own {
  double at_least;
  double at_most;
};
Own own_ohm(const Corners& corners, const ChangeCandidate& one) {
  return {corners[least].between(one.u, one.v), corners[most].between(one.u, one.v)};
}

/// The conductances of the candidate with which this reading is as expected.
SiemensInterval allowed(const Corners& corners, const ChangeCandidate& one, const Own& own,
                        const NetworkReading& reading) {
  SiemensInterval interval;
  constexpr SiemensInterval kNothing{1, 0};
  if (std::isfinite(reading.high_ohm)) {
    const double top = reading.high_ohm * (1 + kSlack);
    const auto x = to_reach(corners[most], one, own.at_most, reading, top);
    if (!x) {
      if (corners[most].between(reading.a, reading.b) > top) {
        return kNothing;
      }
    } else {
      interval.low = std::max(0.0, one.was[most] + *x);
    }
  }
  const double bottom = reading.low_ohm * (1 - kSlack);
  if (bottom > 0) {
    const auto x = to_reach(corners[least], one, own.at_least, reading, bottom);
    if (!x) {
      if (corners[least].between(reading.a, reading.b) < bottom) {
        return kNothing;
      }
    } else {
      interval.high = std::min(interval.high, one.was[least] + *x);
    }
  }
  return interval;
}

}  // namespace

double held_siemens(double siemens) {
  return std::clamp(siemens, kLeastSiemens, kMostSiemens);
}

SolvedNetwork::SolvedNetwork(std::size_t nodes, std::span<const NetworkEdge> edges,
                             double NetworkEdge::*siemens) {
  Eigen::MatrixXd laplacian = Eigen::MatrixXd::Zero(at(nodes), at(nodes));
  const auto add = [&](std::size_t u, std::size_t v, double value) {
    laplacian(at(u), at(u)) += value;
    laplacian(at(v), at(v)) += value;
    laplacian(at(u), at(v)) -= value;
    laplacian(at(v), at(u)) -= value;
  };
  boost::disjoint_sets_with_storage<> joined(nodes);
  for (const NetworkEdge& edge : edges) {
    add(edge.u, edge.v, held_siemens(edge.*siemens));
    joined.union_set(edge.u, edge.v);
  }
  for (std::size_t node = 1; node < nodes; ++node) {  // so that nothing is apart
    if (joined.find_set(node) != joined.find_set(std::size_t{0})) {
      add(0, node, kLeastSiemens);
      joined.union_set(std::size_t{0}, node);
    }
  }
  inverse_ = Eigen::MatrixXd::Zero(at(nodes), at(nodes));
  const Eigen::Index n = at(nodes) - 1;
  if (n > 0) {
    inverse_.bottomRightCorner(n, n) =
        laplacian.bottomRightCorner(n, n).llt().solve(Eigen::MatrixXd::Identity(n, n));
  }
}

void SolvedNetwork::change(std::size_t u, std::size_t v, double siemens) {
  const Eigen::VectorXd volts = inverse_.col(at(u)) - inverse_.col(at(v));
  const double own = volts(at(u)) - volts(at(v));
  inverse_.noalias() -= siemens / (1 + siemens * own) * volts * volts.transpose();
}

bool agrees(const Corners& corners, const NetworkReading& one) {
  return corners[most].between(one.a, one.b) <= one.high_ohm * (1 + kSlack) &&
         corners[least].between(one.a, one.b) >= one.low_ohm * (1 - kSlack);
}

SiemensInterval agreeing_sizes(const Corners& corners, const ChangeCandidate& one,
                               std::span<const NetworkReading> readings,
                               std::span<const std::size_t> order) {
  const Own own = own_ohm(corners, one);
  SiemensInterval all;
  for (const std::size_t reading : order) {
    all.meet(allowed(corners, one, own, readings[reading]));
    if (all.empty()) {
      break;
    }
  }
  return all;
}

BestSizes best_sizes(const Corners& corners, const ChangeCandidate& one,
                     std::span<const NetworkReading> readings, std::span<const std::size_t> order) {
  const Own own = own_ohm(corners, one);
  std::vector<std::pair<double, int>> events;  // begins before ends at the same place
  for (const std::size_t reading : order) {
    const SiemensInterval interval = allowed(corners, one, own, readings[reading]);
    if (!interval.empty()) {
      events.emplace_back(interval.low, -1);
      events.emplace_back(interval.high, 1);
    }
  }
  std::sort(events.begin(), events.end());
  BestSizes best{{0, 0}, order.size()};
  std::size_t open = 0;
  std::size_t most_open = 0;
  for (std::size_t i = 0; i < events.size(); ++i) {
    if (events[i].second > 0) {
      --open;
    } else if (++open > most_open) {
      most_open = open;
      best = {{events[i].first, events[i + 1].first}, order.size() - open};
    }
  }
  return best;
}

// In t = x / (1 + x R_uv) each reading is linear, so the best t is a quotient of sums.
FittedSize fit_size(const Corners& corners, const ChangeCandidate& one,
                    std::span<const NetworkReading> readings, SiemensInterval within) {
  if (within.low <= 2 * kLeastSiemens) {
    within.low = 0;  // gone for good: what explains it is an open, not some high value
    if (one.edge) {
      within.high = 0;
    }
  }
  std::array<double, 3> own{};
  for (const Corner corner : {least, usual, most}) {
    own[corner] = corners[corner].between(one.u, one.v);
  }
  const auto moved = [&](Corner corner, double siemens, const NetworkReading& reading) {
    const double x = held_siemens(siemens) - one.was[corner];
    const double phi = corners[corner].transfer(reading.a, reading.b, one.u, one.v);
    return corners[corner].between(reading.a, reading.b) - x * phi * phi / (1 + x * own[corner]);
  };
  double siemens = std::isfinite(within.high)
                       ? std::max(within.low, std::sqrt(within.low * within.high))
                       : within.low;
  double misfit = 0;
  for (int pass = 0; pass < 3; ++pass) {
    double above = 0;
    double below = 0;
    misfit = 0;
    for (const NetworkReading& reading : readings) {
      const double now = moved(usual, siemens, reading);
      const double spread = moved(least, siemens, reading) - moved(most, siemens, reading);
      if (!std::isfinite(reading.ohm) || now > kNothingOhm || spread > kNothingOhm) {
        continue;
      }
      const double sigma = reading.sigma_ohm + spread / 6 + 1e-3 * reading.ohm + 1e-6;
      const double weight = 1 / (sigma * sigma);
      const double phi = corners[usual].transfer(reading.a, reading.b, one.u, one.v);
      const double before = corners[usual].between(reading.a, reading.b);
      above += weight * phi * phi * (before - reading.ohm);
      below += weight * phi * phi * phi * phi;
      misfit += weight * (now - reading.ohm) * (now - reading.ohm);
    }
    if (pass == 2 || below <= 0) {
      break;
    }
    const double t = above / below;
    const double x = t * own[usual] < 1 ? t / (1 - t * own[usual]) : kMostSiemens;
    siemens = std::clamp(one.was[usual] + x, within.low, within.high);
  }
  return {siemens, misfit};
}

std::vector<bool> moved_by_unknown(std::size_t nodes, std::span<const NetworkEdge> edges,
                                   std::span<const NetworkReading> readings) {
  std::vector<bool> moved(readings.size(), false);
  std::vector<NetworkEdge> closed(edges.begin(), edges.end());
  bool any = false;
  for (NetworkEdge& edge : closed) {
    if (!edge.known) {
      edge.siemens = kLeastSiemens;
      any = true;
    }
  }
  if (!any) {
    return moved;
  }
  const SolvedNetwork without(nodes, closed, &NetworkEdge::siemens);
  for (NetworkEdge& edge : closed) {
    if (!edge.known) {
      edge.siemens = kMostSiemens;
    }
  }
  const SolvedNetwork with(nodes, closed, &NetworkEdge::siemens);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const double high = without.between(readings[i].a, readings[i].b);
    moved[i] = with.between(readings[i].a, readings[i].b) < high * (1 - kInfluence);
  }
  return moved;
}

}  // namespace padwalk::graph
