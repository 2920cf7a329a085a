// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cassert>

#include "graph/suspects.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kMostPlanned = 200;  // groups in a row; above: greedy
constexpr double kSameCost = 1e-12;        // as a share of the summed weights

/// Groups of suspects that no touch can tell apart, in a row.
struct Groups {
  std::vector<double> sum = {0};      ///< of the weights in front of each group; last: of all
  std::vector<int> start;             ///< first suspect of each group
  std::vector<RowBoundary> boundary;  ///< in front of each group
};

RowPlan plan_best(const Groups& groups, const TouchTimes& times, Side up) {
  const std::size_t n = groups.start.size();
  struct Stretch {
    double cost = 0;
    int worst = 0;
    std::size_t cut = 0;
    std::size_t side = 0;  // 1: bottom
  };
  using Row = std::vector<std::array<Stretch, 2>>;  // by the side that is up
  std::vector<Row> best(n + 1, Row(n + 1));
  const double same = groups.sum.back() * kSameCost;
  for (std::size_t length = 2; length <= n; ++length) {
    for (std::size_t i = 0; i + length <= n; ++i) {
      const std::size_t j = i + length;
      for (const std::size_t from : {0, 1}) {
        Stretch& stretch = best[i][j][from];
        for (std::size_t k = i + 1; k < j; ++k) {
          for (const std::size_t to : {from, 1 - from}) {
            if (!(to == 0 ? groups.boundary[k].top : groups.boundary[k].bottom)) {
              continue;
            }
            const double touch = times.touch + (to == from ? 0 : times.turn);
            const double cost =
                touch * (groups.sum[j] - groups.sum[i]) + best[i][k][to].cost + best[k][j][to].cost;
            const int worst = 1 + std::max(best[i][k][to].worst, best[k][j][to].worst);
            if (stretch.cut == 0 || cost < stretch.cost - same * times.touch ||
                (cost <= stretch.cost + same * times.touch && worst < stretch.worst)) {
              stretch = {cost, worst, k, to};
            }
          }
        }
      }
    }
  }
  const Stretch& all = best[0][n][up == Side::bottom ? 1 : 0];
  return {all.cost, all.worst, groups.start[all.cut], all.side == 0 ? Side::top : Side::bottom};
}

RowPlan plan_balanced(const Groups& groups) {
  struct Stretch {
    std::size_t begin;
    std::size_t end;
    int touches;
  };
  const std::vector<double>& sum = groups.sum;
  RowPlan plan;
  std::vector<Stretch> open = {{0, groups.start.size(), 0}};
  while (!open.empty()) {
    const auto [i, j, touches] = open.back();
    open.pop_back();
    plan.worst = std::max(plan.worst, touches);
    if (j - i == 1) {
      continue;
    }
    const double middle = (sum[i] + sum[j]) / 2;
    auto k =
        static_cast<std::size_t>(std::lower_bound(sum.begin() + static_cast<long>(i) + 1,
                                                  sum.begin() + static_cast<long>(j) - 1, middle) -
                                 sum.begin());
    if (k > i + 1 && middle - sum[k - 1] < sum[k] - middle) {
      --k;
    }
    if (plan.first_cut < 0) {
      plan.first_cut = groups.start[k];
    }
    plan.mean_cost += sum[j] - sum[i];
    open.push_back({i, k, touches + 1});
    open.push_back({k, j, touches + 1});
  }
  return plan;
}

}  // namespace

RowPlan plan_row(std::span<const double> weights, std::span<const RowBoundary> boundaries,
                 const TouchTimes& times, Side up) {
  assert(boundaries.size() == weights.size() + 1);
  Groups groups;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (i == 0 || boundaries[i].top || boundaries[i].bottom) {
      groups.start.push_back(static_cast<int>(i));
      groups.boundary.push_back(boundaries[i]);
      groups.sum.push_back(groups.sum.back());
    }
    groups.sum.back() += weights[i];
  }
  if (groups.start.size() < 2) {
    return {};
  }
  RowPlan plan =
      groups.start.size() <= kMostPlanned ? plan_best(groups, times, up) : plan_balanced(groups);
  plan.mean_cost = groups.sum.back() > 0 ? plan.mean_cost / groups.sum.back() : 0;
  return plan;
}

RowPlan plan_row(std::span<const double> weights, const std::vector<bool>& touchable) {
  std::vector<RowBoundary> boundaries;
  for (const bool can : touchable) {
    boundaries.push_back({can, can});
  }
  return plan_row(weights, boundaries, {}, Side::top);
}

}  // namespace padwalk::graph
