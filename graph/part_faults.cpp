// SPDX-License-Identifier: MIT
#include "graph/part_faults.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <string>

#include "graph/network_change.hpp"
#include "graph/network_faults.hpp"
#include "graph/part_ohms.hpp"
#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

// Common practice, no source.
constexpr double kTieOhm = 10;      // fuses of small ratings have several
constexpr double kCoilOhm = 100;    // chokes
constexpr double kCopperOhm = 0.5;  // copper and contacts beside the parts
/// A small silicon diode has about 0.6 Mohm and more at 0.2 V (computed from 0.6 V at 1 mA and
/// 115 mV a decade).
constexpr double kJunctionOhm = 0.3e6;
/// What one pin of a chip may let through: two clamps, and a Schottky one leaks some microamperes
/// backwards (0.2 V over 1 uA, computed from the model of a small one).
constexpr double kPinOhm = 0.1e6;
/// Added to what a reading may be at most: closed parts are held at 10 mohm each, not at none.
constexpr double kClosedOhm = 0.1;
constexpr double kSeenUpToOhm = 500e3;   // at 0.2 V more cannot be told from nothing
constexpr double kCurrentLikeOhm = 1e4;  // above, the error is one of current
constexpr double kSigmas = 3;
constexpr double kLeastLeakShare = 0.4;  // of a leak's siemens that must be sure

double tolerance_of(const Board& board, PartId part) {
  const std::string& stated = board.description().parts[index(part)].tolerance;
  return std::max(PartOhms::kLeastTolerance, parse_value(stated, Unit::fraction).value_or(0)) +
         PartOhms::kDrift;
}

/// The range of one link as an edge; u and v are set by the caller.
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
      if (junction_of(part.type) == Junction::silicon) {
        NetworkEdge junction = edge(kJunctionOhm, kAbsent, kAbsent, true);
        junction.may_change = false;
        return junction;
      }
      [[fallthrough]];
    default:
      return edge(kClosed, kAbsent, kAbsent, false);
  }
}

/// What the truth can be, given this reading.
NetworkReading bounds_of(const PairReading& reading) {
  NetworkReading bounds;
  bounds.ohm = reading.ohm;
  bounds.high_ohm = kOpenOhm;
  if (!std::isfinite(reading.ohm)) {
    bounds.low_ohm = reading.broken ? 0 : kSeenUpToOhm;
    return bounds;
  }
  bounds.sigma_ohm = reading.uncertainty_ohm / 2;
  const double margin = kSigmas * bounds.sigma_ohm;
  if (!std::isfinite(margin)) {
    bounds.ohm = kOpenOhm;  // says nothing
    return bounds;
  }
  const bool current_like = reading.ohm >= kCurrentLikeOhm;
  const double low_ohm =
      current_like ? reading.ohm / (1 + margin / reading.ohm) : reading.ohm - margin;
  bounds.low_ohm = std::min(low_ohm, kSeenUpToOhm) - kCopperOhm - reading.tied_ohm;
  if (!reading.settled) {
    bounds.ohm = kOpenOhm;
  } else if (!current_like) {
    bounds.high_ohm = std::max(reading.ohm + margin, 0.0) + kClosedOhm;
  } else if (margin < reading.ohm) {
    bounds.high_ohm = reading.ohm / (1 - margin / reading.ohm);
  }
  bounds.high_ohm += reading.uneven_ohm + reading.tied_ohm;
  const double least_siemens = 1 / bounds.high_ohm - reading.stray_siemens;
  bounds.high_ohm = least_siemens > 0 ? 1 / least_siemens : kOpenOhm;
  if (reading.broken) {
    bounds.low_ohm = 0;  // by Rayleigh's monotonicity the whole net reads no higher
  }
  return bounds;
}

using NetPair = std::pair<NetId, NetId>;

NetPair nets_of(const PairReading& reading) {
  return {reading.a, reading.b};
}

/// One cluster of nets as an abstract network, and the way back.
struct Cluster {
  std::vector<std::vector<NetId>> nets;  // by node; empty: the common node of all junctions
  std::vector<NetworkEdge> edges;
  std::vector<PartLink> links;  // of the first edges
  std::vector<NetworkReading> readings;
  std::vector<PairReading> pairs;  // of the readings
};

std::size_t semiconductor_pins(const Board& board, const std::vector<NetId>& nets) {
  std::size_t count = 0;
  for (const NetId net : nets) {
    for (const PointId point : board[net].points) {
      const PartId id = board[point].part;
      if (id != kNoPart && board[id].chip != ChipState::pulled) {
        const PartKind kind = board[id].kind;
        count += kind == PartKind::ic || kind == PartKind::transistor;
      }
    }
  }
  return count;
}

/// Inputs and transistors let some current pass between any of their nets, at most.
void add_junctions(const Board& board, Cluster& cluster) {
  if (!board.assembled()) {
    return;
  }
  const std::size_t common = cluster.nets.size();
  for (std::size_t node = 0; node < common; ++node) {
    const std::size_t pins = semiconductor_pins(board, cluster.nets[node]);
    if (pins > 0) {
      NetworkEdge edge{node, common};
      edge.most_siemens = static_cast<double>(pins) / kPinOhm;
      edge.may_change = false;
      cluster.edges.push_back(edge);
    }
  }
  cluster.nets.resize(common + (cluster.edges.size() > cluster.links.size() ? 1 : 0));
}

/// The clusters that the readings are about; readings inside one conductor are left out.
std::vector<Cluster> clusters_of(const Board& board, const Limits& limits,
                                 std::span<const PairReading> readings,
                                 std::span<const NetPair> shorted) {
  const std::size_t nets = board.nets().size();
  const std::vector<PartLink> links = board.part_links();
  boost::disjoint_sets_with_storage<> conductors(nets);
  for (const auto& [a, b] : shorted) {
    conductors.union_set(index(a), index(b));
  }
  boost::disjoint_sets_with_storage<> by_parts(nets);
  for (std::size_t net = 0; net < nets; ++net) {
    by_parts.union_set(net, conductors.find_set(net));
  }
  for (const PartLink& link : links) {
    by_parts.union_set(index(link.a), index(link.b));
  }
  boost::disjoint_sets_with_storage<> joined = by_parts;
  for (const PairReading& reading : readings) {
    if (bounds_of(reading).high_ohm <= limits.isolation_ohm) {
      joined.union_set(index(reading.a), index(reading.b));
    }
  }
  std::map<std::size_t, std::size_t> cluster_of;  // by representative
  std::vector<Cluster> clusters;
  for (const PairReading& reading : readings) {
    const std::size_t a = joined.find_set(index(reading.a));
    if (a == joined.find_set(index(reading.b)) && !std::isnan(reading.ohm) &&
        conductors.find_set(index(reading.a)) != conductors.find_set(index(reading.b)) &&
        cluster_of.try_emplace(a, clusters.size()).second) {
      clusters.emplace_back();
    }
  }
  std::map<std::size_t, std::size_t> node_of;  // by conductor
  for (std::size_t net = 0; net < nets; ++net) {
    const auto cluster = cluster_of.find(joined.find_set(net));
    if (cluster != cluster_of.end()) {
      auto& nodes = clusters[cluster->second].nets;
      const auto [node, is_new] = node_of.try_emplace(conductors.find_set(net), nodes.size());
      if (is_new) {
        nodes.emplace_back();
      }
      nodes[node->second].push_back(NetId{static_cast<std::uint32_t>(net)});
    }
  }
  for (const PartLink& link : links) {
    const auto cluster = cluster_of.find(joined.find_set(index(link.a)));
    const std::size_t a = conductors.find_set(index(link.a));
    const std::size_t b = conductors.find_set(index(link.b));
    if (cluster != cluster_of.end() && a != b) {
      NetworkEdge edge = range_of(board, link);
      edge.u = node_of[a];
      edge.v = node_of[b];
      clusters[cluster->second].edges.push_back(edge);
      clusters[cluster->second].links.push_back(link);
    }
  }
  for (const PairReading& reading : readings) {
    const std::size_t a = conductors.find_set(index(reading.a));
    const std::size_t b = conductors.find_set(index(reading.b));
    const std::size_t group = joined.find_set(index(reading.a));
    if (a != b && !std::isnan(reading.ohm) && group == joined.find_set(index(reading.b))) {
      NetworkReading bounds = bounds_of(reading);
      bounds.a = node_of[a];
      bounds.b = node_of[b];
      if (bounds.high_ohm > limits.isolation_ohm &&
          by_parts.find_set(index(reading.a)) != by_parts.find_set(index(reading.b))) {
        bounds.high_ohm = kOpenOhm;  // good for nets with nothing between them
      }
      clusters[cluster_of[group]].readings.push_back(bounds);
      clusters[cluster_of[group]].pairs.push_back(reading);
    }
  }
  for (Cluster& cluster : clusters) {
    add_junctions(board, cluster);
  }
  return clusters;
}

/// Takes the readings that unknown parts move out of the cluster.
void set_apart_unsure(Cluster& cluster, PairVerdicts& verdicts) {
  const std::vector<bool> unsure =
      moved_by_unknown(cluster.nets.size(), cluster.edges, cluster.readings);
  std::size_t kept = 0;
  for (std::size_t i = 0; i < unsure.size(); ++i) {
    if (unsure[i]) {
      verdicts.unsure.push_back(nets_of(cluster.pairs[i]));
    } else {
      cluster.readings[kept] = cluster.readings[i];
      cluster.pairs[kept++] = cluster.pairs[i];
    }
  }
  cluster.readings.resize(kept);
  cluster.pairs.resize(kept);
}

double ohm_of(double siemens) {
  return siemens <= 2 * kLeastSiemens ? kOpenOhm : 1 / siemens;
}

/// Half of the range that a change may have; infinite where its upper end is open.
double half_range(const NetworkChange& way) {
  return ohm_of(way.siemens) == kOpenOhm
             ? 0
             : (ohm_of(way.least_siemens) - ohm_of(way.most_siemens)) / 2;
}

/// Beside other faults a change may be known so badly that it is none: a part that may be good, a
/// leak that may be far less.
bool accuses(const Cluster& cluster, const NetworkChange& way) {
  if (way.edge) {
    const NetworkEdge& edge = cluster.edges[*way.edge];
    return way.most_siemens < edge.least_siemens || way.least_siemens > edge.most_siemens;
  }
  return way.least_siemens > kLeastLeakShare * way.siemens;
}

/// A pair that was read, if any: else the first net of each conductor.
NetPair named_pair(const Cluster& cluster, std::size_t u, std::size_t v) {
  for (std::size_t i = 0; i < cluster.readings.size(); ++i) {
    const NetworkReading& reading = cluster.readings[i];
    if (std::minmax(reading.a, reading.b) == std::minmax(u, v)) {
      return nets_of(cluster.pairs[i]);
    }
  }
  return {cluster.nets[u].front(), cluster.nets[v].front()};
}

PartFault to_part_fault(const Cluster& cluster, const NetworkFault& fault) {
  PartFault result;
  const auto beside = [&](const NetworkChange& way) {
    return std::count_if(cluster.edges.begin(), cluster.edges.end(), [&](const NetworkEdge& edge) {
      return edge.may_change && std::minmax(edge.u, edge.v) == std::minmax(way.u, way.v);
    });
  };
  const auto too_low = [&](const NetworkChange& way) {
    return way.edge && way.siemens > cluster.edges[*way.edge].most_siemens;
  };
  NetworkChange best = fault.ways.front();
  if (too_low(best) && beside(best) > 1) {
    // One of several parallel parts that reads low is less likely than a leak beside them.
    const auto leak =
        std::find_if(fault.ways.begin(), fault.ways.end(), [&](const NetworkChange& way) {
          return !way.edge && std::minmax(way.u, way.v) == std::minmax(best.u, best.v);
        });
    best = leak == fault.ways.end() ? best : *leak;
  }
  result.kind = best.edge ? FindingKind::part : FindingKind::leakage;
  result.ohm = ohm_of(best.siemens);
  result.uncertainty_ohm = half_range(best);
  result.expected_ohm = best.expected.ohm;
  result.expected_low_ohm = best.expected.low_ohm;
  result.expected_high_ohm = best.expected.high_ohm;
  if (best.edge) {
    const PartLink& link = cluster.links[*best.edge];
    result.part = link.part;
    result.candidates = {link.part};
    std::tie(result.a, result.b) = std::pair(link.a, link.b);
    if (too_low(best)) {
      result.or_leaks.emplace_back(link.a, link.b);
    }
  } else {
    std::tie(result.a, result.b) = named_pair(cluster, best.u, best.v);
  }
  for (const NetworkChange& way : fault.ways) {
    if (way.edge) {
      const PartId part = cluster.links[*way.edge].part;
      if (std::find(result.candidates.begin(), result.candidates.end(), part) ==
          result.candidates.end()) {
        result.candidates.push_back(part);
      }
    } else if (best.edge || way.u != best.u || way.v != best.v) {
      result.or_leaks.push_back(named_pair(cluster, way.u, way.v));
    }
  }
  for (const std::size_t reading : fault.explains) {
    result.explains.push_back(nets_of(cluster.pairs[reading]));
  }
  result.measured_ohm = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t i = 0; i < cluster.readings.size(); ++i) {
    const NetworkReading& reading = cluster.readings[i];
    if (std::minmax(reading.a, reading.b) == std::minmax(best.u, best.v)) {
      result.measured_ohm = cluster.pairs[i].ohm;
    }
  }
  return result;
}

}  // namespace

PairVerdicts explain_pairs(const Board& board, const Limits& limits,
                           std::span<const PairReading> readings,
                           std::span<const std::pair<NetId, NetId>> shorted) {
  PairVerdicts verdicts;
  for (Cluster& cluster : clusters_of(board, limits, readings, shorted)) {
    set_apart_unsure(cluster, verdicts);
    const NetworkFaults found = find_network_faults(cluster.nets.size(), cluster.edges,
                                                    cluster.readings, 1 / limits.isolation_ohm);
    for (const NetworkFault& fault : found.faults) {
      if (std::any_of(fault.ways.begin(), fault.ways.end(),
                      [&](const NetworkChange& way) { return accuses(cluster, way); })) {
        verdicts.faults.push_back(to_part_fault(cluster, fault));
        continue;
      }
      for (const std::size_t reading : fault.explains) {
        verdicts.unexplained.push_back(nets_of(cluster.pairs[reading]));
      }
    }
    for (const std::size_t reading : found.unexplained) {
      verdicts.unexplained.push_back(nets_of(cluster.pairs[reading]));
    }
  }
  return verdicts;
}

}  // namespace padwalk::graph
