// SPDX-License-Identifier: MIT
#include "graph/board.hpp"

#include <algorithm>
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <set>

#include "graph/board_builder.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::graph {

namespace {

constexpr int kMaxSide = static_cast<int>(Side::inner1) + 15;

std::string_view place_kind_suffix(PlaceKind kind) {
  switch (kind) {
    case PlaceKind::pad:
      return "pad";
    case PlaceKind::top:
      return "top";
    case PlaceKind::bottom:
      return "bottom";
    case PlaceKind::socket:
      return "socket";
    case PlaceKind::leg:
      return "leg";
    case PlaceKind::point:
    case PlaceKind::hub:
      break;
  }
  return "";
}

template <typename Id>
std::optional<Id> find(const std::unordered_map<std::string, Id>& map, std::string_view name) {
  const auto found = map.find(std::string(name));
  return found == map.end() ? std::nullopt : std::optional(found->second);
}

bool on_side(Side place, Side region) {
  return place == Side::unknown || region == Side::unknown || place == region;
}

bool inside(const RegionDescription& region, Xy at) {
  namespace bg = boost::geometry;
  using Position = bg::model::d2::point_xy<double>;
  bg::model::polygon<Position> polygon;
  for (const Xy& corner : region.polygon) {
    bg::append(polygon.outer(), Position(corner.x, corner.y));
  }
  bg::correct(polygon);
  return bg::covered_by(Position(at.x, at.y), polygon);
}

}  // namespace

std::string_view segment_kind_name(SegmentKind kind) {
  switch (kind) {
    case SegmentKind::trace:
      return "trace";
    case SegmentKind::barrel:
      return "barrel";
    case SegmentKind::joint:
      return "joint";
    case SegmentKind::contact:
      return "contact";
    case SegmentKind::wire:
      return "wire";
    case SegmentKind::unknown_way:
      return "unknown way";
  }
  return "";
}

Board::Board(BoardDescription description, Diagnostics& diagnostics)
    : description_(std::move(description)) {
  BoardBuilder(*this, diagnostics).build();
  diagnostics.throw_if_errors();
}

std::string Board::place_name(PlaceId id) const {
  const Place& place = (*this)[id];
  if (place.kind == PlaceKind::hub) {
    return (*this)[place.net].name + " (way unknown)";
  }
  const Point& point = (*this)[place.point];
  if (point.places == 1) {
    return point.name;
  }
  return point.name + "@" + std::string(place_kind_suffix(place.kind));
}

std::optional<PointId> Board::find_point(std::string_view name) const {
  return find(point_by_name_, name);
}

std::optional<NetId> Board::find_net(std::string_view name) const {
  return find(net_by_name_, name);
}

std::optional<PartId> Board::find_part(std::string_view name) const {
  return find(part_by_name_, name);
}

std::vector<PlaceId> Board::find_places(std::string_view name) const {
  std::vector<PlaceId> found;
  const auto add_pads = [&](PointId id, std::string_view suffix) {
    const Point& point = (*this)[id];
    for (std::size_t i = 0; i < point.places; ++i) {
      const PlaceId place{static_cast<std::uint32_t>(index(point.first) + i)};
      const PlaceKind kind = (*this)[place].kind;
      const bool is_pad = kind != PlaceKind::leg && kind != PlaceKind::socket;
      const bool wanted = suffix.empty() ? is_pad
                          : kind == PlaceKind::pad
                              ? suffix == "pad" || suffix == "top" || suffix == "bottom"
                              : suffix == place_kind_suffix(kind);
      if (wanted) {
        found.push_back(place);
      }
    }
  };
  if (const auto point = find_point(name)) {
    add_pads(*point, "");
    return found;
  }
  for (int side = static_cast<int>(Side::top); side <= kMaxSide; ++side) {  // a bare via
    if (const auto point =
            find_point(std::string(name) + "@" + side_name(static_cast<Side>(side)))) {
      add_pads(*point, "");
    }
  }
  const std::size_t at = name.rfind('@');
  if (found.empty() && at != std::string_view::npos) {
    if (const auto point = find_point(name.substr(0, at))) {
      add_pads(*point, name.substr(at + 1));
    }
  }
  return found;
}

std::vector<PlaceId> Board::find_solder_places(std::string_view name) const {
  std::vector<PlaceId> found = find_places(name);
  if (found.size() > 1 && find_point(name)) {  // its two pads, bottom first
    const Side part_side = (*this)[(*this)[(*this)[found.front()].point].part].side;
    found = {part_side == Side::bottom ? found.back() : found.front()};
  }
  return found;
}

std::vector<SegmentId> Board::find_segments(std::string_view a, std::string_view b) const {
  std::vector<SegmentId> found;
  const std::vector<PlaceId> to = find_places(b);
  for (const PlaceId from : find_places(a)) {
    for (const auto edge : boost::make_iterator_range(boost::out_edges(index(from), graph_))) {
      const PlaceId other{static_cast<std::uint32_t>(boost::target(edge, graph_))};
      if (std::find(to.begin(), to.end(), other) != to.end()) {
        found.push_back(graph_[edge]);
      }
    }
  }
  std::sort(found.begin(), found.end());
  found.erase(std::unique(found.begin(), found.end()), found.end());
  return found;
}

double Board::suspicion(PlaceId id) const {
  const Place& place = (*this)[id];
  double factor = 1;
  if (place.point == kNoPoint || !(*this)[place.point].xy) {
    return factor;
  }
  for (const RegionDescription& region : description_.regions) {
    if (on_side(place.side, region.side) && inside(region, *(*this)[place.point].xy)) {
      factor = std::max(factor, region.suspicion);
    }
  }
  return factor;
}

double Board::suspicion(SegmentId id) const {
  return std::max(suspicion((*this)[id].a), suspicion((*this)[id].b));
}

std::optional<std::vector<NetId>> Board::nets_in(std::string_view name) const {
  const auto region = std::find_if(description_.regions.begin(), description_.regions.end(),
                                   [&](const RegionDescription& one) { return one.name == name; });
  if (region == description_.regions.end()) {
    return std::nullopt;
  }
  std::set<NetId> nets;
  for (const Place& place : places_) {
    if (place.net != kNoNet && place.point != kNoPoint && (*this)[place.point].xy &&
        on_side(place.side, region->side) && inside(*region, *(*this)[place.point].xy)) {
      nets.insert(place.net);
    }
  }
  return std::vector(nets.begin(), nets.end());
}

std::vector<PartLink> Board::part_links() const {
  std::vector<PartLink> links;
  if (!assembled()) {
    return links;
  }
  for (std::size_t i = 0; i < parts_.size(); ++i) {
    const Part& part = parts_[i];
    const auto link = [&](std::size_t a, std::size_t b, std::optional<double> ohm) {
      if (a >= part.pins.size() || b >= part.pins.size()) {
        return;
      }
      const NetId net_a = (*this)[part.pins[a]].net;
      const NetId net_b = (*this)[part.pins[b]].net;
      if (net_a != kNoNet && net_b != kNoNet && net_a != net_b) {
        links.push_back({PartId{static_cast<std::uint32_t>(i)}, net_a, net_b, ohm});
      }
    };
    if (part.chip == ChipState::pulled) {
      continue;
    }
    switch (part.kind) {
      case PartKind::resistor:
      case PartKind::diode:
        link(0, 1, part.ohm);
        break;
      case PartKind::network:  // all resistors from the common pin 1, or side by side
        for (std::size_t pin = 1; pin < part.pins.size(); ++pin) {
          if (part.type.find("isolated") == std::string::npos) {
            link(0, pin, part.ohm);
          } else if (pin % 2 == 1) {
            link(pin - 1, pin, part.ohm);
          }
        }
        break;
      case PartKind::inductor:
      case PartKind::fuse:
      case PartKind::link:
      case PartKind::lamp:
      case PartKind::meter:
      case PartKind::transformer:
      case PartKind::relay:
      case PartKind::pot:  // may be next to nothing between any two of its pins
        for (std::size_t pin = 1; pin < part.pins.size(); ++pin) {
          link(pin - 1, pin, 0.0);
        }
        break;
      case PartKind::switch_:
        if (!part.positions.empty()) {
          for (const std::vector<std::size_t>& joined : part.positions.front().second) {
            for (std::size_t pin = 1; pin < joined.size(); ++pin) {
              link(joined[pin - 1], joined[pin], 0.0);
            }
          }
        }
        break;
      case PartKind::capacitor:
      case PartKind::transistor:
      case PartKind::ic:
      case PartKind::connector:
      case PartKind::crystal:
      case PartKind::other:
        break;
    }
  }
  return links;
}

}  // namespace padwalk::graph
