// SPDX-License-Identifier: MIT
#include "graph/part_ohms.hpp"

#include <algorithm>
#include <array>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <optional>
#include <string_view>

#include "graph/network_change.hpp"
#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

// Common practice, no source: what parts of any age are taken to have.
constexpr double kTolerance = 0.05;
constexpr double kAgeing = 0.01;
constexpr double kTieOhm = 10;    // fuses of small ratings have several
constexpr double kCoilOhm = 100;  // chokes
/// A small diode has about 0.6 Mohm and more at 0.2 V (computed from 0.6 V at 1 mA and 115 mV a
/// decade); the path here goes through two.
constexpr double kJunctionOhm = 0.3e6;

/// Silicon diodes by type; from memory. Others may conduct at the test voltage.
bool is_silicon(std::string_view type) {
  constexpr std::array<std::string_view, 7> kBegin = {"1N4148", "1N4448", "1N914", "1N400",
                                                      "1N540",  "BAV2",   "BAS16"};
  return std::any_of(kBegin.begin(), kBegin.end(),
                     [&](std::string_view begin) { return type.substr(0, begin.size()) == begin; });
}

double tolerance_of(const Board& board, PartId part) {
  const std::string& stated = board.description().parts[index(part)].tolerance;
  return std::max(kTolerance, parse_value(stated, Unit::fraction).value_or(0)) + kAgeing;
}

}  // namespace

NetworkEdge range_of(const Board& board, const PartLink& link) {
  const auto edge = [](double low_ohm, double ohm, double high_ohm, bool known) {
    return NetworkEdge{0, 0, 1 / high_ohm, 1 / ohm, 1 / low_ohm, known, known};
  };
  constexpr double kClosed = 1 / kMostSiemens;
  constexpr double kAbsent = 1 / kLeastSiemens;
  const Part& part = board[link.part];
  switch (part.kind) {
    case PartKind::resistor:
    case PartKind::network:
      if (link.ohm && *link.ohm > kClosed) {
        const double tolerance = tolerance_of(board, link.part);
        return edge(*link.ohm * (1 - std::min(tolerance, 0.9)), *link.ohm,
                    *link.ohm * (1 + tolerance), true);
      }
      return link.ohm ? edge(kClosed, kClosed, kTieOhm, true)
                      : edge(kClosed, kAbsent, kAbsent, false);
    case PartKind::link:
    case PartKind::fuse:
    case PartKind::switch_:
      return edge(kClosed, kClosed, kTieOhm, true);
    case PartKind::inductor:
      return edge(kClosed, kClosed, kCoilOhm, true);
    case PartKind::diode:
      if (is_silicon(part.type)) {
        NetworkEdge junction = edge(kJunctionOhm, kAbsent, kAbsent, true);
        junction.may_change = false;
        return junction;
      }
      [[fallthrough]];
    default:
      return edge(kClosed, kAbsent, kAbsent, false);
  }
}

namespace {

constexpr std::array kCorners = {&NetworkEdge::least_siemens, &NetworkEdge::siemens,
                                 &NetworkEdge::most_siemens};

/// Nets that parts join.
struct Cluster {
  std::vector<NetworkEdge> edges;  // between nodes of the cluster
  std::size_t nodes = 0;
  std::vector<SolvedNetwork> corners;  // once asked about
  std::vector<bool> unsure;            // then: by pair of nodes, a * nodes + b; empty: none
};

ExpectedOhm between_nodes(std::span<const SolvedNetwork> corners, std::size_t a, std::size_t b) {
  const auto ohm = [&](std::size_t corner) {
    const double read = corners[corner].between(a, b);
    return read < kNothingOhm ? read : kOpenOhm;
  };
  return {ohm(1), ohm(2), ohm(0), true};
}

std::vector<SolvedNetwork> solve(std::size_t nodes, std::span<const NetworkEdge> edges) {
  std::vector<SolvedNetwork> corners;
  for (const auto corner : kCorners) {
    corners.emplace_back(nodes, edges, corner);
  }
  return corners;
}

bool all_known(const Cluster& cluster) {
  return std::all_of(cluster.edges.begin(), cluster.edges.end(),
                     [](const NetworkEdge& edge) { return edge.known; });
}

void solve_once(Cluster& cluster) {
  cluster.corners = solve(cluster.nodes, cluster.edges);
  if (all_known(cluster)) {
    return;
  }
  std::vector<NetworkReading> pairs;
  for (std::size_t a = 0; a < cluster.nodes; ++a) {
    for (std::size_t b = 0; b < cluster.nodes; ++b) {
      pairs.push_back({a, b == a ? (a + 1) % cluster.nodes : b, 0, 0, 0, 0});
    }
  }
  cluster.unsure = moved_by_unknown(cluster.nodes, cluster.edges, pairs);
}

}  // namespace

struct PartOhms::State {
  std::vector<PartLink> links;
  std::vector<std::uint32_t> cluster_of;  // by net
  std::vector<std::size_t> node_of;       // by net
  std::vector<Cluster> clusters;
};

PartOhms::PartOhms(const Board& board) : state_(std::make_unique<State>()) {
  State& state = *state_;
  const std::size_t nets = board.nets().size();
  state.links = board.part_links();
  boost::disjoint_sets_with_storage<> joined(nets);
  for (const PartLink& link : state.links) {
    joined.union_set(index(link.a), index(link.b));
  }
  std::map<std::size_t, std::uint32_t> number;
  for (std::size_t net = 0; net < nets; ++net) {
    const auto [at, fresh] =
        number.emplace(joined.find_set(net), static_cast<std::uint32_t>(number.size()));
    if (fresh) {
      state.clusters.emplace_back();
    }
    state.cluster_of.push_back(at->second);
    state.node_of.push_back(state.clusters[at->second].nodes++);
  }
  for (const PartLink& link : state.links) {
    if (link.a != link.b) {
      NetworkEdge edge = range_of(board, link);
      edge.u = state.node_of[index(link.a)];
      edge.v = state.node_of[index(link.b)];
      state.clusters[state.cluster_of[index(link.a)]].edges.push_back(edge);
    }
  }
}

PartOhms::~PartOhms() = default;
PartOhms::PartOhms(PartOhms&&) noexcept = default;
PartOhms& PartOhms::operator=(PartOhms&&) noexcept = default;

const std::vector<PartLink>& PartOhms::links() const {
  return state_->links;
}

ExpectedOhm PartOhms::between(std::span<const NetId> source, std::span<const NetId> sink) const {
  ExpectedOhm sum{0, 0, 0, true};                                          // in siemens so far
  std::map<std::uint32_t, std::array<std::vector<std::size_t>, 2>> asked;  // by cluster
  for (const std::size_t side : {0, 1}) {
    for (const NetId net : side == 0 ? source : sink) {
      asked[state_->cluster_of[index(net)]][side].push_back(state_->node_of[index(net)]);
    }
  }
  // Clusters lie in parallel.
  for (const auto& [number, nodes] : asked) {
    Cluster& cluster = state_->clusters[number];
    if (nodes[0].empty() || nodes[1].empty() || cluster.edges.empty()) {
      continue;
    }
    ExpectedOhm here;
    if (nodes[0].size() == 1 && nodes[1].size() == 1) {
      if (cluster.corners.empty()) {
        solve_once(cluster);
      }
      here = between_nodes(cluster.corners, nodes[0][0], nodes[1][0]);
      here.sure =
          cluster.unsure.empty() || !cluster.unsure[nodes[0][0] * cluster.nodes + nodes[1][0]];
    } else {
      std::vector<std::size_t> to(cluster.nodes);
      for (std::size_t node = 0; node < to.size(); ++node) {
        to[node] = node;
      }
      for (const std::vector<std::size_t>& tied : nodes) {
        for (const std::size_t node : tied) {
          to[node] = tied.front();
        }
      }
      std::vector<NetworkEdge> edges;
      for (NetworkEdge edge : cluster.edges) {
        edge.u = to[edge.u];
        edge.v = to[edge.v];
        if (edge.u != edge.v) {
          edges.push_back(edge);
        }
      }
      here = between_nodes(solve(cluster.nodes, edges), nodes[0][0], nodes[1][0]);
      here.sure = all_known(cluster);
    }
    sum.ohm += 1 / here.ohm;
    sum.low_ohm += 1 / here.low_ohm;
    sum.high_ohm += 1 / here.high_ohm;
    sum.sure = sum.sure && here.sure;
  }
  return {1 / sum.ohm, 1 / sum.low_ohm, 1 / sum.high_ohm, sum.sure};
}

}  // namespace padwalk::graph
