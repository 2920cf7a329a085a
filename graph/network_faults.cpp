// SPDX-License-Identifier: MIT
#include "graph/network_faults.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <tuple>
#include <utility>

#include "graph/network_change.hpp"

namespace padwalk::graph {

namespace {

constexpr double kOpenPath = std::numeric_limits<double>::infinity();
constexpr std::size_t kFewFaults = 3;  // more are taken only from many readings
constexpr std::size_t kMostFaults = 6;
constexpr std::size_t kReadingsEach = 8;  // for each fault beyond the few
constexpr std::size_t kBeam = 12;         // states that are carried to the next number of changes
constexpr std::size_t kShortlist = 60;    // candidates of a state that are judged by all readings
constexpr std::size_t kSample = 64;       // readings that make the shortlist
constexpr int kRefits = 6;

/// What is taken as true: some changes, and the network with them.
struct State {
  std::vector<std::pair<std::size_t, double>> changes;  // candidate, siemens
  Corners corners;
  std::vector<std::size_t> off;  // readings still outside
  std::size_t disturbed = 0;     // of them, those that were as expected before
  double excess = 0;             // how far the readings are off, in factors
};

class Search {
 public:
  Search(std::size_t nodes, std::span<const NetworkEdge> edges,
         std::span<const NetworkReading> readings, double least_leak_siemens)
      : readings_(readings) {
    base_.corners = {{nodes, edges, &NetworkEdge::least_siemens},
                     {nodes, edges, &NetworkEdge::siemens},
                     {nodes, edges, &NetworkEdge::most_siemens}};
    was_off_.assign(readings.size(), false);
    judge(base_);
    for (const std::size_t reading : base_.off) {
      was_off_[reading] = true;
    }
    if (!base_.off.empty()) {
      add_candidates(edges, least_leak_siemens);
    }
  }

  NetworkFaults run() {
    NetworkFaults result;
    result.off = base_.off;
    if (base_.off.empty()) {
      return result;
    }
    const State found = smallest_explanation();
    result.unexplained = found.off;
    describe(found, result);
    return result;
  }

 private:
  void add_candidates(std::span<const NetworkEdge> edges, double least_leak_siemens) {
    std::map<std::pair<std::size_t, std::size_t>, int> beside;  // edges that may change
    for (std::size_t i = 0; i < edges.size(); ++i) {
      const NetworkEdge& edge = edges[i];
      if (edge.may_change) {
        ++beside[std::minmax(edge.u, edge.v)];
        candidates_.push_back({edge.u,
                               edge.v,
                               i,
                               {held_siemens(edge.least_siemens), held_siemens(edge.siemens),
                                held_siemens(edge.most_siemens)}});
      }
    }
    std::set<std::size_t> touched;
    for (const std::size_t reading : base_.off) {
      touched.insert({readings_[reading].a, readings_[reading].b});
    }
    for (auto u = touched.begin(); u != touched.end(); ++u) {
      for (auto v = std::next(u); v != touched.end(); ++v) {
        const auto direct = beside.find({*u, *v});
        // A leak beside a single resistor cannot be told from a lower value of it.
        if (direct == beside.end() || direct->second > 1) {
          candidates_.push_back({*u, *v, std::nullopt, {0, 0, 0}});
        }
      }
    }
    least_leak_ = least_leak_siemens;
  }

  void judge(State& state) const {
    state.off.clear();
    state.disturbed = 0;
    state.excess = 0;
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      const NetworkReading& one = readings_[i];
      if (!agrees(state.corners, one)) {
        state.off.push_back(i);
        state.disturbed += was_off_[i] ? 0 : 1;
        const double at_least = state.corners[most].between(one.a, one.b);
        const double at_most = state.corners[least].between(one.a, one.b);
        state.excess += std::log(std::max(at_least / one.high_ohm, one.low_ohm / at_most));
      }
    }
  }

  /// All readings, those that are off first: most candidates fail at the first few.
  std::vector<std::size_t> off_first(const State& state) const {
    std::vector<std::size_t> order = state.off;
    std::vector<bool> is_off(readings_.size(), false);
    for (const std::size_t reading : state.off) {
      is_off[reading] = true;
    }
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      if (!is_off[i]) {
        order.push_back(i);
      }
    }
    return order;
  }

  State with(const State& state, std::size_t candidate, double siemens) const {
    State next = state;
    const ChangeCandidate& one = candidates_[candidate];
    for (const Corner corner : {least, usual, most}) {
      next.corners[corner].change(one.u, one.v, held_siemens(siemens) - one.was[corner]);
    }
    next.changes.emplace_back(candidate, siemens);
    judge(next);
    return next;
  }

  State without(const State& state, std::size_t change) const {
    State rest = base_;
    for (std::size_t i = 0; i < state.changes.size(); ++i) {
      if (i != change) {
        rest = with(rest, state.changes[i].first, state.changes[i].second);
      }
    }
    return rest;
  }

  NetworkChange change_of(std::size_t candidate, double siemens, const SiemensInterval& within,
                          double misfit) const {
    const ChangeCandidate& one = candidates_[candidate];
    const auto ohm = [&](Corner corner) {
      const double between = base_.corners[corner].between(one.u, one.v);
      return between > kNothingOhm ? kOpenPath : between;
    };
    return {one.u,      one.v,       one.edge, siemens,
            within.low, within.high, misfit,   {ohm(usual), ohm(most), ohm(least)}};
  }

  bool has(const State& state, std::size_t candidate) const {
    return std::any_of(state.changes.begin(), state.changes.end(),
                       [&](const auto& change) { return change.first == candidate; });
  }

  bool counted(std::size_t candidate, double siemens) const {
    return candidates_[candidate].edge || siemens >= least_leak_;
  }

  /// All single changes that make the readings whole from here, best first.
  std::vector<std::pair<std::size_t, NetworkChange>> completions(const State& state) const {
    const std::vector<std::size_t> order = off_first(state);
    std::vector<std::pair<std::size_t, NetworkChange>> found;
    for (std::size_t i = 0; i < candidates_.size(); ++i) {
      if (has(state, i)) {
        continue;
      }
      const SiemensInterval interval =
          agreeing_sizes(state.corners, candidates_[i], readings_, order);
      if (!interval.empty()) {
        const auto [siemens, misfit] = fit_size(state.corners, candidates_[i], readings_, interval);
        found.emplace_back(i, change_of(i, siemens, interval, misfit));
      }
    }
    std::stable_sort(found.begin(), found.end(), [&](const auto& a, const auto& b) {
      const bool a_counts = counted(a.first, a.second.siemens);
      const bool b_counts = counted(b.first, b.second.siemens);
      return a_counts != b_counts ? a_counts : a.second.misfit < b.second.misfit;
    });
    return found;
  }

  /// The most promising next states from here.
  std::vector<State> extensions(const State& state) const {
    std::vector<std::size_t> sample;
    const std::size_t step = std::max<std::size_t>(1, state.off.size() / kSample);
    for (std::size_t i = 0; i < state.off.size(); i += step) {
      sample.push_back(state.off[i]);
    }
    std::vector<std::pair<std::size_t, std::size_t>> ranked;  // off, candidate
    for (std::size_t i = 0; i < candidates_.size(); ++i) {
      if (!has(state, i)) {
        const std::size_t off = best_sizes(state.corners, candidates_[i], readings_, sample).off;
        if (off < sample.size()) {
          ranked.emplace_back(off, i);
        }
      }
    }
    std::sort(ranked.begin(), ranked.end());
    ranked.resize(std::min(ranked.size(), kShortlist));
    const std::vector<std::size_t> order = off_first(state);
    std::vector<State> next;
    for (auto& [off, candidate] : ranked) {
      const BestSizes scored = best_sizes(state.corners, candidates_[candidate], readings_, order);
      if (scored.off < state.off.size()) {
        next.push_back(
            with(state, candidate,
                 fit_size(state.corners, candidates_[candidate], readings_, scored.sizes).siemens));
      }
    }
    // One open of several parallel parts may bring no reading back, and still be one of them.
    for (std::size_t i = 0; i < candidates_.size(); ++i) {
      if (candidates_[i].edge && !has(state, i)) {
        State open = with(state, i, 0);
        if (open.disturbed <= state.disturbed && open.off.size() <= state.off.size() &&
            open.excess < state.excess) {
          next.push_back(std::move(open));
        }
      }
    }
    std::stable_sort(next.begin(), next.end(), better);
    return distinct(std::move(next));
  }

  /// The sizes of all changes again, one after the other, as long as fewer readings are off.
  State refitted(State state) const {
    for (int i = 0; i < kRefits && !state.off.empty(); ++i) {
      const std::size_t turn = static_cast<std::size_t>(i) % state.changes.size();
      const std::size_t candidate = state.changes[turn].first;
      const State rest = without(state, turn);
      const BestSizes scored =
          best_sizes(rest.corners, candidates_[candidate], readings_, off_first(rest));
      State again =
          with(rest, candidate,
               fit_size(rest.corners, candidates_[candidate], readings_, scored.sizes).siemens);
      if (again.off.size() <= state.off.size()) {
        state = std::move(again);
      }
    }
    return state;
  }

  static bool better(const State& a, const State& b) {
    return std::make_tuple(a.off.size(), a.disturbed, a.excess) <
           std::make_tuple(b.off.size(), b.disturbed, b.excess);
  }

  State smallest_explanation() const {
    std::vector<State> beam = {base_};
    State best = base_;
    const std::size_t ceiling =
        std::clamp(base_.off.size() / kReadingsEach, kFewFaults, kMostFaults);
    for (std::size_t changes = 1; changes <= ceiling; ++changes) {
      std::optional<std::pair<State, double>> whole;
      for (const State& state : beam) {
        const auto found = completions(state);
        if (!found.empty() && (!whole || found.front().second.misfit < whole->second)) {
          whole = {with(state, found.front().first, found.front().second.siemens),
                   found.front().second.misfit};
        }
      }
      if (whole) {
        whole->first.off.clear();  // the fitted size may leave one at the edge of its interval
        return whole->first;
      }
      std::vector<State> next;
      for (const State& state : beam) {
        for (State& extension : extensions(state)) {
          next.push_back(std::move(extension));
        }
      }
      std::stable_sort(next.begin(), next.end(), better);
      next = distinct(std::move(next));
      if (changes > 1) {
        for (State& state : next) {
          state = refitted(std::move(state));
        }
        std::stable_sort(next.begin(), next.end(), better);
      }
      for (const State& state : next) {
        if (state.disturbed == 0 && state.off.size() < best.off.size()) {
          best = state;
        }
      }
      if (best.off.empty()) {
        return best;
      }
      beam = std::move(next);
    }
    return best;
  }

  /// The first kBeam states with different sets of changes.
  static std::vector<State> distinct(std::vector<State> states) {
    std::set<std::set<std::size_t>> seen;
    std::vector<State> kept;
    for (State& state : states) {
      std::set<std::size_t> which;
      for (const auto& change : state.changes) {
        which.insert(change.first);
      }
      if (kept.size() < kBeam && seen.insert(which).second) {
        kept.push_back(std::move(state));
      }
    }
    return kept;
  }

  void describe(const State& found, NetworkFaults& result) const {
    std::vector<State> rests;
    std::vector<bool> claimed(readings_.size(), false);
    for (const std::size_t reading : found.off) {
      claimed[reading] = true;
    }
    for (std::size_t i = 0; i < found.changes.size(); ++i) {
      rests.push_back(without(found, i));
      NetworkFault fault;
      const std::size_t candidate = found.changes[i].first;
      bool chosen_listed = false;
      for (const auto& [other, way] : completions(rests.back())) {
        chosen_listed = chosen_listed || other == candidate;
        fault.ways.insert(other == candidate ? fault.ways.begin() : fault.ways.end(), way);
      }
      if (!chosen_listed) {  // readings are left over, or its size is at the edge
        const double siemens = found.changes[i].second;
        fault.ways.insert(fault.ways.begin(), change_of(candidate, siemens, {siemens, siemens}, 0));
      }
      for (const std::size_t reading : rests.back().off) {
        if (was_off_[reading] && !claimed[reading]) {
          fault.explains.push_back(reading);
        }
      }
      result.faults.push_back(std::move(fault));
    }
    // Readings that several changes would each bring back belong to the first that does.
    for (const NetworkFault& fault : result.faults) {
      for (const std::size_t reading : fault.explains) {
        claimed[reading] = true;
      }
    }
    for (const std::size_t reading : result.off) {
      for (std::size_t i = 0; i < found.changes.size() && !claimed[reading]; ++i) {
        const State alone = with(base_, found.changes[i].first, found.changes[i].second);
        if (i + 1 == found.changes.size() || agrees(alone.corners, readings_[reading])) {
          result.faults[i].explains.push_back(reading);
          claimed[reading] = true;
        }
      }
    }
    std::vector<NetworkFault> counting;
    for (std::size_t i = 0; i < result.faults.size(); ++i) {
      if (counted(found.changes[i].first, result.faults[i].ways.front().siemens)) {
        std::sort(result.faults[i].explains.begin(), result.faults[i].explains.end());
        counting.push_back(std::move(result.faults[i]));
      }
    }
    result.faults = std::move(counting);
  }

  std::span<const NetworkReading> readings_;
  State base_;
  std::vector<bool> was_off_;
  std::vector<ChangeCandidate> candidates_;
  double least_leak_ = 0;
};

}  // namespace

NetworkFaults find_network_faults(std::size_t nodes, std::span<const NetworkEdge> edges,
                                  std::span<const NetworkReading> readings,
                                  double least_leak_siemens) {
  return Search(nodes, edges, readings, least_leak_siemens).run();
}

}  // namespace padwalk::graph
