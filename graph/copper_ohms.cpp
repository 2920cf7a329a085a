// SPDX-License-Identifier: MIT
#include "graph/copper_ohms.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>

#include "graph/copper.hpp"

namespace padwalk::graph {

namespace {

/// The usual value, and the edges of what a sound board may have: `low` gives few ohms.
struct Range {
  double usual;
  double low;
  double high;
};

// Common practice of old boards, no source: 1 oz foil, from half an ounce to 2 oz; widths; holes.
constexpr Range kFoilMm = {CopperOhms::kFoilMm, 0.070, 0.018};
constexpr Range kSignalWidthMm = {0.5, 1.5, 0.2};
constexpr Range kSupplyWidthMm = {1.5, 10, 0.4};
constexpr Range kEtching = {1, 1.2, 0.8};  // of a width that the file says
constexpr Range kBoreMm = {0.8, 1.2, 0.25};
constexpr Range kWallMm = {0.025, 0.050, 0.015};
constexpr double kBoardMm = 1.6;
// Traces in two directions at right angles are 4/pi times the straight line on average (computed);
// twice it is a long way round.
constexpr Range kBends = {1.27, 1, 2};
constexpr Range kUnknownMm = {50, 0, 300};  // no positions in the file; no source
// A joint with the leg behind it; no source. A contact: new ones have 15 to 100 mohm (a slide
// switch maker's page), good gold ones less.
constexpr Range kJointOhm = {1e-3, 0.1e-3, 10e-3};
constexpr Range kContactOhm = {30e-3, 5e-3, 100e-3};
// 30 AWG is the usual bench jumper; no source.
constexpr int kWireGauge = 30;
constexpr int kThickWireGauge = 22;
constexpr int kThinWireGauge = 32;
constexpr Range kCelsius = {20, 10, 35};

/// A part below this share of the whole is not worth a line.
constexpr double kTooSmall = 1e-6;

template <typename Formula>
CopperOhm by_range(Formula ohm) {
  return {ohm(&Range::usual), ohm(&Range::low), ohm(&Range::high)};
}

CopperOhm trace(const Range& length_mm, const Range& width_mm) {
  return by_range([&](double Range::*edge) {
    return trace_ohm(length_mm.*edge, width_mm.*edge, kFoilMm.*edge,
                     copper_ohm_metre(kCelsius.*edge));
  });
}

CopperOhm barrel() {
  return by_range([&](double Range::*edge) {
    return barrel_ohm(kBoardMm, kBoreMm.*edge, Hole::bore, kWallMm.*edge,
                      copper_ohm_metre(kCelsius.*edge));
  });
}

CopperOhm wire(const Range& length_mm, std::optional<int> gauge) {
  const auto ohm = [&](double Range::*edge, int usual) {
    return length_mm.*edge * 1e-6 *
           awg_ohm_per_km(gauge.value_or(usual), copper_ohm_metre(kCelsius.*edge));
  };
  return {ohm(&Range::usual, kWireGauge), ohm(&Range::low, kThickWireGauge),
          ohm(&Range::high, kThinWireGauge)};
}

std::optional<Xy> position(const Board& board, PlaceId place) {
  const PointId point = board[place].point;
  return point == kNoPoint ? std::nullopt : board[point].xy;
}

/// Length of the shortest tree of straight lines over all of them (Prim).
double tree_mm(const std::vector<Xy>& all) {
  std::vector<double> reach(all.size(), INFINITY);
  std::vector<bool> taken(all.size(), false);
  double sum = 0;
  for (std::size_t step = 0; step < all.size(); ++step) {
    std::size_t next = all.size();
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (!taken[i] && (next == all.size() || reach[i] < reach[next])) {
        next = i;
      }
    }
    taken[next] = true;
    sum += step == 0 ? 0 : reach[next];
    for (std::size_t i = 0; i < all.size(); ++i) {
      reach[i] = std::min(reach[i], distance_mm(all[next], all[i]));
    }
  }
  return sum;
}

/// Where the copper of a net of unknown way is taken to meet, and how long all of it may be.
struct UnknownWay {
  std::optional<Xy> middle;  ///< of a net without any route
  std::optional<double> longest_mm;
};

UnknownWay unknown_way(const Board& board, const Net& net) {
  std::vector<Xy> all;
  for (const PointId point : net.points) {
    if (board[point].xy) {
      all.push_back(*board[point].xy);
    }
  }
  UnknownWay way;
  if (all.size() < 2) {
    return way;
  }
  Xy middle;
  for (const Xy& xy : all) {
    middle.x += xy.x / static_cast<double>(all.size());
    middle.y += xy.y / static_cast<double>(all.size());
  }
  way.middle = middle;
  // At worst the copper visits every other member on its way.
  way.longest_mm = tree_mm(all) * kBends.high;
  return way;
}

/// Width and length where the file says them.
struct Said {
  std::optional<double> width_mm;
  std::optional<double> length_mm;
};

/// Entries of `copper` belong to the tracks of their pair in order, as many each as they count.
std::map<SegmentId, Said> said_by_file(const Board& board) {
  std::map<SegmentId, Said> said;
  std::map<SegmentId, std::size_t> next;
  for (const CopperDescription& copper : board.description().copper) {
    std::vector<SegmentId> traces =
        board.find_segments(copper.between[0].name, copper.between[1].name);
    std::erase_if(traces, [&](SegmentId id) { return board[id].kind != SegmentKind::trace; });
    if (traces.empty()) {
      continue;
    }
    const Segment& first = board[traces.front()];
    std::erase_if(traces, [&](SegmentId id) {
      return std::minmax(board[id].a, board[id].b) != std::minmax(first.a, first.b);
    });
    std::size_t& from = next[traces.front()];
    for (int track = 0; track < copper.count && from < traces.size(); ++track, ++from) {
      said[traces[from]] = {copper.width_mm, copper.length_mm};
    }
  }
  return said;
}

}  // namespace

CopperOhms::CopperOhms(const Board& board) : board_(board), nets_(board.nets().size()) {
  measure_segments();
  places_in_.assign(board.nets().size(), 0);
  for (const Place& place : board.places()) {
    node_.push_back(place.net == kNoNet ? 0 : places_in_[index(place.net)]++);
  }
  boost::disjoint_sets_with_storage<> units(board.places().size());
  for (const Segment& segment : board.segments()) {
    if (segment.kind != SegmentKind::unknown_way) {
      units.union_set(index(segment.a), index(segment.b));
    }
  }
  for (std::size_t place = 0; place < board.places().size(); ++place) {
    unit_.push_back(units.find_set(place));
  }
}

void CopperOhms::measure_segments() {
  const std::map<SegmentId, Said> said = said_by_file(board_);
  std::map<NetId, UnknownWay> ways;
  for (std::size_t i = 0; i < board_.segments().size(); ++i) {
    const Segment& segment = board_.segments()[i];
    SegmentOhm one;
    Range width = kSignalWidthMm;
    if (segment.net != kNoNet && board_[segment.net].role != NetRole::signal) {
      width = kSupplyWidthMm;
    }
    Range length = kUnknownMm;
    one.length_from = LengthFrom::guess;
    if (segment.length_mm) {
      length = {kBends.usual * *segment.length_mm, kBends.low * *segment.length_mm,
                kBends.high * *segment.length_mm};
      one.length_from = LengthFrom::straight;
    }
    const auto known = said.find(SegmentId{static_cast<std::uint32_t>(i)});
    if (known != said.end() && known->second.width_mm) {
      const double mm = *known->second.width_mm;
      width = {kEtching.usual * mm, kEtching.low * mm, kEtching.high * mm};
      one.width_known = true;
    }
    if (known != said.end() && known->second.length_mm) {
      length = {*known->second.length_mm, *known->second.length_mm, *known->second.length_mm};
      one.length_from = LengthFrom::file;
    }
    switch (segment.kind) {
      case SegmentKind::trace:
        one.ohm = trace(length, width);
        break;
      case SegmentKind::wire: {
        const WireDescription& said_wire = board_.description().wires[*segment.wire];
        if (said_wire.length_mm) {
          length = {*said_wire.length_mm, *said_wire.length_mm, *said_wire.length_mm};
          one.length_from = LengthFrom::file;
        }
        one.ohm = wire(length, said_wire.gauge);
        break;
      }
      case SegmentKind::unknown_way: {
        auto way = ways.find(segment.net);
        if (way == ways.end()) {
          way = ways.emplace(segment.net, unknown_way(board_, board_[segment.net])).first;
        }
        // Two such segments lie between two members where they meet in a hub of no place.
        const bool hub = board_[segment.b].kind == PlaceKind::hub;
        const double half = hub ? 0.5 : 1;
        length = {kUnknownMm.usual * half, 0, kUnknownMm.high * half};
        const std::optional<Xy> from = board_[segment.member].xy;
        const std::optional<Xy> to = hub ? way->second.middle : position(board_, segment.b);
        if (from && to && way->second.longest_mm) {
          length = {kBends.usual * distance_mm(*from, *to), 0, *way->second.longest_mm * half};
          one.length_from = LengthFrom::straight;
        }
        one.ohm = trace(length, width);
        break;
      }
      case SegmentKind::barrel:
        one.ohm = barrel();
        break;
      case SegmentKind::joint:
        one.ohm = {kJointOhm.usual, kJointOhm.low, kJointOhm.high};
        break;
      case SegmentKind::contact:
        one.ohm = {kContactOhm.usual, kContactOhm.low, kContactOhm.high};
        break;
    }
    if (segment.kind == SegmentKind::trace || segment.kind == SegmentKind::unknown_way) {
      one.width_mm = width.usual;
    }
    if (one.width_mm > 0 || segment.kind == SegmentKind::wire) {
      one.length_mm = length.usual;
    } else {
      one.length_from = LengthFrom::nothing;
    }
    segments_.push_back(one);
  }
}

ResistiveNetwork::Node CopperOhms::node(PointId point) const {
  return node_[index(board_[point].held)];
}

const CopperOhms::NetCopper* CopperOhms::net_of(PointId a, PointId b) const {
  const NetId net = board_[a].net;
  if (net == kNoNet || board_[b].net != net) {
    return nullptr;
  }
  std::unique_ptr<NetCopper>& copper = nets_[index(net)];
  if (!copper) {
    const std::size_t nodes = places_in_[index(net)];
    copper = std::make_unique<NetCopper>(
        NetCopper{ResistiveNetwork(nodes), ResistiveNetwork(nodes), ResistiveNetwork(nodes)});
    for (const SegmentId id : board_[net].segments) {
      const ResistiveNetwork::Node from = node_[index(board_[id].a)];
      const ResistiveNetwork::Node to = node_[index(board_[id].b)];
      copper->usual.add(from, to, (*this)[id].ohm.ohm);
      copper->low.add(from, to, (*this)[id].ohm.low_ohm);
      copper->high.add(from, to, (*this)[id].ohm.high_ohm);
    }
  }
  return copper.get();
}

double CopperOhms::between(PointId a, PointId b) const {
  if (a == b) {
    return 0;
  }
  const NetCopper* copper = net_of(a, b);
  return copper == nullptr ? kOpenOhm : copper->usual.between(node(a), node(b));
}

CopperOhm CopperOhms::estimate(PointId a, PointId b) const {
  if (a == b) {
    return {};
  }
  const NetCopper* copper = net_of(a, b);
  if (copper == nullptr) {
    return {kOpenOhm, kOpenOhm, kOpenOhm};
  }
  // Copper of unknown way may end anywhere on the other's, so nothing is sure to lie between.
  const bool known = unit_[index(board_[a].held)] == unit_[index(board_[b].held)];
  return {copper->usual.between(node(a), node(b)),
          known ? copper->low.between(node(a), node(b)) : 0,
          copper->high.between(node(a), node(b))};
}

std::vector<CopperShare> CopperOhms::consists_of(PointId a, PointId b) const {
  std::vector<CopperShare> shares;
  const NetCopper* copper = net_of(a, b);
  if (copper == nullptr || a == b) {
    return shares;
  }
  const ResistiveNetwork::Flow flow = copper->usual.flow(node(a), node(b));
  const std::vector<SegmentId>& segments = board_[board_[a].net].segments;
  for (std::size_t i = 0; i < segments.size(); ++i) {
    const double part = copper->usual.share(flow, i);
    if (part > kTooSmall * flow.ohm) {
      shares.push_back({segments[i], part});
    }
  }
  std::stable_sort(shares.begin(), shares.end(), [](const CopperShare& x, const CopperShare& y) {
    return x.part_ohm > y.part_ohm;
  });
  return shares;
}

}  // namespace padwalk::graph
