// SPDX-License-Identifier: MIT
#include "graph/next_touch.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <map>
#include <utility>

namespace padwalk::graph {

namespace {

constexpr std::size_t kMostHypotheses = 2000;
constexpr double kNoInformation = 1e-9;  // bits

/// Bits that an answer is worth whose outcomes have these weights.
double entropy(const std::vector<std::pair<std::size_t, double>>& outcomes) {
  double sum = 0;
  for (const auto& [answer, weight] : outcomes) {
    sum += weight;
  }
  double bits = 0;
  for (const auto& [answer, weight] : outcomes) {
    bits -= weight > 0 ? weight / sum * std::log2(weight / sum) : 0;
  }
  return bits;
}

}  // namespace

TouchAdvisor::TouchAdvisor(const Board& board, const LocalNet& net, const OpenCase& open,
                           const TouchTimes& times, Side up)
    : board_(board), net_(net), times_(times), up_(up) {
  for (std::size_t v = 0; v < net.place.size(); ++v) {
    const bool not_reached = std::find(open.not_reached.begin(), open.not_reached.end(),
                                       net.place[v]) != open.not_reached.end();
    touchable_.push_back(net.place[v] != kNoPlace && !net.in_piece[v] && !not_reached &&
                         board[net.place[v]].access != Access::none);
  }
}

bool TouchAdvisor::reached_from(std::size_t vertex, Side side) const {
  if (!touchable_[vertex]) {
    return false;
  }
  const Side at = board_[net_.place[vertex]].side;
  return times_.turn == 0 || at == side || (at != Side::top && at != Side::bottom);
}

std::map<std::size_t, int> TouchAdvisor::touches_from(
    Side side, const std::vector<int>& suspects, const std::vector<std::size_t>& component) const {
  std::map<std::size_t, int> touch_of;
  for (std::size_t v = 0; v < component.size(); ++v) {
    if (reached_from(v, side)) {
      touch_of.emplace(component[v], static_cast<int>(v));
    }
  }
  for (const int e : suspects) {
    for (const int end : {net_.known.edges[at(e)].a, net_.known.edges[at(e)].b}) {
      if (reached_from(at(end), side)) {
        touch_of[component[at(end)]] = end;
      }
    }
  }
  return touch_of;
}

/// The suspects as they follow each other from one piece to the other. `component` tells the
/// stretches of good copper between them apart.
std::vector<TouchAdvisor::InRow> TouchAdvisor::row_order(
    const std::vector<int>& suspects, const std::vector<std::size_t>& component) const {
  std::map<std::size_t, std::array<int, 2>> beside;  // a stretch lies between two suspects
  for (const int e : suspects) {
    for (const int end : {net_.known.edges[at(e)].a, net_.known.edges[at(e)].b}) {
      const auto [entry, is_new] = beside.try_emplace(component[at(end)], std::array{e, e});
      if (!is_new) {
        entry->second[1] = e;
      }
    }
  }
  const auto outer = std::find_if(beside.begin(), beside.end(), [](const auto& entry) {
    return entry.second[0] == entry.second[1];
  });
  assert(outer != beside.end());
  std::size_t stretch = outer->first;
  std::vector<InRow> row;
  int last = -1;
  while (row.size() < suspects.size()) {
    const std::array<int, 2>& edges = beside.at(stretch);
    last = edges[0] == last ? edges[1] : edges[0];
    const LocalRoute::Edge& edge = net_.known.edges[at(last)];
    stretch = component[at(edge.a)] == stretch ? component[at(edge.b)] : component[at(edge.a)];
    row.push_back({last, stretch});
  }
  return row;
}

std::optional<PlaceId> TouchAdvisor::in_a_row(const std::vector<Hypothesis>& suspects) const {
  std::vector<int> edges;
  for (const Hypothesis& suspect : suspects) {
    assert(suspect.causes.size() == 1);
    edges.push_back(suspect.causes.front());
  }
  const std::vector<std::size_t> component = components_without(net_.known, edges);
  const std::map<std::size_t, int> from_top = touches_from(Side::top, edges, component);
  const std::map<std::size_t, int> from_bottom = touches_from(Side::bottom, edges, component);
  const std::vector<InRow> row = row_order(edges, component);
  std::vector<double> weights;
  std::vector<RowBoundary> boundaries = {{}};
  for (const InRow& suspect : row) {
    weights.push_back(net_.known.edges[at(suspect.edge)].weight);
    boundaries.push_back(
        {from_top.count(suspect.behind) != 0, from_bottom.count(suspect.behind) != 0});
  }
  const RowPlan plan = plan_row(weights, boundaries, times_, up_);
  if (plan.first_cut < 0) {
    return std::nullopt;
  }
  const auto& touch_of = plan.side == Side::bottom ? from_bottom : from_top;
  return net_.place[at(touch_of.at(row[at(plan.first_cut) - 1].behind))];
}

/// What a touch of each vertex would say: which pieces it conducts to.
std::vector<std::size_t> TouchAdvisor::answers(const Hypothesis& hypothesis) const {
  std::vector<int> edges;
  for (const int cause : hypothesis.causes) {
    if (at(cause) < net_.known.edges.size()) {  // ways are not part of the known copper
      edges.push_back(cause);
    }
  }
  const std::vector<std::size_t> component = components_without(net_.known, edges);
  // A component answers by the first and the last piece that it holds: one piece or none, but where
  // more breaks are needed than this hypothesis has.
  const std::size_t base = net_.pieces.size() + 1;
  std::vector<std::size_t> answer(component.size(), 0);
  for (std::size_t p = 0; p < net_.pieces.size(); ++p) {
    for (const int v : net_.pieces[p]) {
      std::size_t& known = answer[component[at(v)]];
      known = known == 0 ? (p + 1) * base + p + 1 : known / base * base + p + 1;
    }
  }
  std::vector<std::size_t> by_vertex;
  for (const std::size_t root : component) {
    by_vertex.push_back(answer[root]);
  }
  return by_vertex;
}

std::optional<PlaceId> TouchAdvisor::most_informative(std::vector<Hypothesis> hypotheses) const {
  std::stable_sort(hypotheses.begin(), hypotheses.end(),
                   [](const Hypothesis& a, const Hypothesis& b) { return a.weight > b.weight; });
  hypotheses.resize(std::min(hypotheses.size(), kMostHypotheses));
  std::vector<std::vector<std::pair<std::size_t, double>>> outcomes(touchable_.size());
  for (const Hypothesis& hypothesis : hypotheses) {
    const std::vector<std::size_t> answer = answers(hypothesis);
    for (std::size_t v = 0; v < touchable_.size(); ++v) {
      if (!touchable_[v]) {
        continue;
      }
      const auto same =
          std::find_if(outcomes[v].begin(), outcomes[v].end(),
                       [&](const auto& outcome) { return outcome.first == answer[v]; });
      if (same == outcomes[v].end()) {
        outcomes[v].emplace_back(answer[v], hypothesis.weight);
      } else {
        same->second += hypothesis.weight;
      }
    }
  }
  std::optional<PlaceId> best;
  double most = 0;
  for (std::size_t v = 0; v < outcomes.size(); ++v) {
    const double bits = entropy(outcomes[v]);
    const double time = times_.touch + (reached_from(v, up_) ? 0 : times_.turn);
    if (bits > kNoInformation && bits / time > most + kNoInformation) {
      most = bits / time;
      best = net_.place[v];
    }
  }
  return best;
}

}  // namespace padwalk::graph
