// SPDX-License-Identifier: MIT
#include "graph/suspects.hpp"

#include <algorithm>
#include <boost/graph/edmonds_karp_max_flow.hpp>
#include <boost/graph/filtered_graph.hpp>
#include <boost/graph/strong_components.hpp>
#include <cassert>
#include <cmath>
#include <utility>

namespace padwalk::graph {

namespace {

constexpr int kNoVertex = -1;
constexpr std::size_t kMostSets = 100000;  // of two breaks; a long ring has millions

/// Depth-first walks over a route with one edge left out. Bridges come from a walk of our own:
/// boost::biconnected_components takes one of two parallel edges for a bridge.
class Walk {
 public:
  explicit Walk(const LocalRoute& route) : first_(static_cast<std::size_t>(route.vertices) + 1) {
    for (const LocalRoute::Edge& edge : route.edges) {
      assert(edge.a != edge.b);
      ++first_[at(edge.a) + 1];
      ++first_[at(edge.b) + 1];
    }
    for (std::size_t v = 1; v < first_.size(); ++v) {
      first_[v] += first_[v - 1];
    }
    arcs_.resize(route.edges.size() * 2);
    std::vector<std::size_t> next(first_.begin(), first_.end() - 1);
    for (std::size_t e = 0; e < route.edges.size(); ++e) {
      const auto [a, b, weight] = route.edges[e];
      arcs_[next[at(a)]++] = {b, static_cast<int>(e)};
      arcs_[next[at(b)]++] = {a, static_cast<int>(e)};
    }
    const auto vertices = static_cast<std::size_t>(route.vertices);
    component.resize(vertices);
    parent.resize(vertices);
    parent_edge.resize(vertices);
    rank_.resize(vertices);
    low_.resize(vertices);
  }

  /// Walks the whole route without edge `left_out`. Cost: O(V + E).
  void run(int left_out) {
    std::fill(component.begin(), component.end(), kNoVertex);
    order.clear();
    components = 0;
    for (std::size_t v = 0; v < component.size(); ++v) {
      if (component[v] == kNoVertex) {
        run_from(static_cast<int>(v), left_out);
        ++components;
      }
    }
  }

  bool has_parent(int v) const { return parent[at(v)] != kNoVertex; }
  /// The edge to v's parent is the only way between v's subtree and the rest.
  bool is_bridge(int v) const { return low_[at(v)] > rank_[at(parent[at(v)])]; }
  /// v's parent is the only way between v's subtree and the rest.
  bool is_cut_off_by_parent(int v) const { return low_[at(v)] >= rank_[at(parent[at(v)])]; }

  static std::size_t at(int v) { return static_cast<std::size_t>(v); }

  std::vector<int> component, parent, parent_edge;
  std::vector<int> order;  ///< vertices, parents first
  int components = 0;

 private:
  struct Arc {
    int to;
    int edge;
  };

  void enter(int v, int from, int edge) {
    component[at(v)] = components;
    parent[at(v)] = from;
    parent_edge[at(v)] = edge;
    rank_[at(v)] = low_[at(v)] = static_cast<int>(order.size());
    order.push_back(v);
    stack_.emplace_back(v, first_[at(v)]);
  }

  void run_from(int root, int left_out) {
    enter(root, kNoVertex, kNoVertex);
    while (!stack_.empty()) {
      const int v = stack_.back().first;
      const std::size_t next = stack_.back().second++;
      if (next == first_[at(v) + 1]) {
        stack_.pop_back();
        if (has_parent(v)) {
          int& low = low_[at(parent[at(v)])];
          low = std::min(low, low_[at(v)]);
        }
        continue;
      }
      const Arc arc = arcs_[next];
      if (arc.edge == left_out || arc.edge == parent_edge[at(v)]) {
        continue;
      }
      if (component[at(arc.to)] == kNoVertex) {
        enter(arc.to, v, arc.edge);
      } else {
        low_[at(v)] = std::min(low_[at(v)], rank_[at(arc.to)]);
      }
    }
  }

  std::vector<std::size_t> first_;
  std::vector<Arc> arcs_;
  std::vector<int> rank_, low_;
  std::vector<std::pair<int, std::size_t>> stack_;
};

class Explainer {
 public:
  Explainer(const LocalRoute& route, const std::vector<std::vector<int>>& classes)
      : route_(route),
        classes_(classes),
        walk_(route),
        inside_(static_cast<std::size_t>(route.vertices)),
        outside_(static_cast<std::size_t>(route.vertices)) {}

  Explanation explain() {
    Explanation result;
    walk_.run(kNoVertex);
    const int missing = missing_parts();
    result.contradiction = missing == kNoVertex || (missing > 0 && two_need_one_vertex());
    if (result.contradiction || missing == 0) {
      return result;
    }
    result.breaks = 1;
    for (const int edge : missing == 1 ? single_breaks() : std::vector<int>{}) {
      result.sets.push_back({edge});
    }
    if (result.sets.empty() && missing <= 2) {  // an edge parts one component at the most
      result.breaks = 2;
      result.sets = double_breaks();
    }
    if (result.sets.empty()) {
      result.breaks = 3;
      result.sets.push_back(isolating_cuts());
    }
    return result;
  }

 private:
  static std::size_t at(int v) { return Walk::at(v); }

  /// How many partings are still missing until no two classes share a component; kNoVertex where a
  /// class is not connected any more.
  int missing_parts() {
    first_class_.assign(at(walk_.components), kNoVertex);
    int missing = 0;
    for (std::size_t c = 0; c < classes_.size(); ++c) {
      const int component = walk_.component[at(classes_[c].front())];
      for (const int v : classes_[c]) {
        if (walk_.component[at(v)] != component) {
          return kNoVertex;
        }
      }
      int& first = first_class_[at(component)];
      if (first == kNoVertex) {
        first = static_cast<int>(c);
      } else {
        ++missing;
        mixed_ = {static_cast<std::size_t>(first), c};
      }
    }
    return missing;
  }

  /// Number of vertices of a class in the subtree of each vertex.
  void count(const std::vector<int>& one_class, std::vector<std::size_t>& counts) const {
    std::fill(counts.begin(), counts.end(), 0);
    for (const int v : one_class) {
      ++counts[at(v)];
    }
    for (auto v = walk_.order.rbegin(); v != walk_.order.rend(); ++v) {
      if (walk_.has_parent(*v)) {
        counts[at(walk_.parent[at(*v)])] += counts[at(*v)];
      }
    }
  }

  /// Where exactly one parting is missing: the bridges that do it.
  std::vector<int> single_breaks() {
    const std::vector<int>& one = classes_[mixed_.first];
    const std::vector<int>& other = classes_[mixed_.second];
    count(one, inside_);
    count(other, outside_);
    std::vector<int> edges;
    for (const int v : walk_.order) {
      const bool parts = (inside_[at(v)] == one.size() && outside_[at(v)] == 0) ||
                         (inside_[at(v)] == 0 && outside_[at(v)] == other.size());
      if (parts && walk_.has_parent(v) && walk_.is_bridge(v)) {
        edges.push_back(walk_.parent_edge[at(v)]);
      }
    }
    std::sort(edges.begin(), edges.end());
    return edges;
  }

  std::vector<std::vector<int>> double_breaks() {
    std::vector<std::vector<int>> sets;
    for (int edge = 0; at(edge) < route_.edges.size(); ++edge) {
      walk_.run(edge);
      if (missing_parts() != 1) {
        continue;
      }
      for (const int second : single_breaks()) {
        if (second > edge && sets.size() < kMostSets) {
          sets.push_back({edge, second});
        }
      }
    }
    return sets;
  }

  /// A class needs a vertex that it holds, or that all ways between two of its members pass.
  /// Complete on trees; on loops it may overlook that two classes cannot both stay connected.
  bool two_need_one_vertex() {
    std::vector<int> needed_by(at(route_.vertices), kNoVertex);
    bool twice = false;
    const auto need = [&](int v, int by) {
      twice = twice || (needed_by[at(v)] != kNoVertex && needed_by[at(v)] != by);
      needed_by[at(v)] = by;
    };
    for (std::size_t c = 0; c < classes_.size(); ++c) {
      const int by = static_cast<int>(c);
      count(classes_[c], inside_);
      for (const int v : classes_[c]) {
        need(v, by);
      }
      for (const int v : walk_.order) {
        if (walk_.has_parent(v) && walk_.is_cut_off_by_parent(v) && inside_[at(v)] > 0 &&
            inside_[at(v)] < classes_[c].size()) {
          need(walk_.parent[at(v)], by);
        }
      }
    }
    return twice;
  }

  /// The edges that lie in a smallest cut of some class from all others.
  /// Source: Picard & Queyranne 1980: those whose ends are in different strongly connected
  /// components of the residual graph of a largest flow.
  std::vector<int> isolating_cuts() const {
    std::vector<bool> used(route_.edges.size(), false);
    for (std::size_t c = 0; c < classes_.size(); ++c) {
      add_smallest_cuts(c, used);
    }
    std::vector<int> edges;
    for (std::size_t e = 0; e < used.size(); ++e) {
      if (used[e]) {
        edges.push_back(static_cast<int>(e));
      }
    }
    return edges;
  }

  void add_smallest_cuts(std::size_t one_class, std::vector<bool>& used) const;

  const LocalRoute& route_;
  const std::vector<std::vector<int>>& classes_;
  Walk walk_;
  std::vector<std::size_t> inside_, outside_;
  std::vector<int> first_class_;  ///< by component
  std::pair<std::size_t, std::size_t> mixed_;
};

using FlowTraits = boost::adjacency_list_traits<boost::vecS, boost::vecS, boost::directedS>;
using FlowGraph = boost::adjacency_list<
    boost::vecS, boost::vecS, boost::directedS, boost::no_property,
    boost::property<
        boost::edge_capacity_t, long,
        boost::property<boost::edge_residual_capacity_t, long,
                        boost::property<boost::edge_reverse_t, FlowTraits::edge_descriptor>>>>;

struct HasResidual {
  const FlowGraph* graph = nullptr;
  bool operator()(const FlowTraits::edge_descriptor& arc) const {
    return boost::get(boost::edge_residual_capacity, *graph, arc) > 0;
  }
};

void add_arcs(FlowGraph& graph, std::size_t a, std::size_t b, long forth, long back) {
  const auto arc = boost::add_edge(a, b, graph).first;
  const auto reverse = boost::add_edge(b, a, graph).first;
  boost::put(boost::edge_capacity, graph, arc, forth);
  boost::put(boost::edge_capacity, graph, reverse, back);
  boost::put(boost::edge_reverse, graph, arc, reverse);
  boost::put(boost::edge_reverse, graph, reverse, arc);
}

void Explainer::add_smallest_cuts(std::size_t one_class, std::vector<bool>& used) const {
  const std::size_t source = at(route_.vertices);
  const std::size_t sink = source + 1;
  const long unlimited = static_cast<long>(route_.edges.size()) + 1;
  FlowGraph graph(sink + 1);
  for (const LocalRoute::Edge& edge : route_.edges) {
    add_arcs(graph, at(edge.a), at(edge.b), 1, 1);
  }
  for (std::size_t c = 0; c < classes_.size(); ++c) {
    for (const int v : classes_[c]) {
      if (c == one_class) {
        add_arcs(graph, source, at(v), unlimited, 0);
      } else {
        add_arcs(graph, at(v), sink, unlimited, 0);
      }
    }
  }
  // Flows are as small as the cuts, so augmenting one path after another is near linear here.
  boost::edmonds_karp_max_flow(graph, source, sink);
  const boost::filtered_graph<FlowGraph, HasResidual> residual(graph, HasResidual{&graph});
  std::vector<std::size_t> strong(sink + 1);
  boost::strong_components(residual, boost::make_iterator_property_map(
                                         strong.begin(), boost::get(boost::vertex_index, graph)));
  for (std::size_t e = 0; e < route_.edges.size(); ++e) {
    used[e] = used[e] || strong[at(route_.edges[e].a)] != strong[at(route_.edges[e].b)];
  }
}

}  // namespace

Explanation explain(const LocalRoute& route, const std::vector<std::vector<int>>& classes) {
  return Explainer(route, classes).explain();
}

}  // namespace padwalk::graph
