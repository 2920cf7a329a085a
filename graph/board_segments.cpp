// SPDX-License-Identifier: MIT
//
// Places and the segments between them: pads, legs, barrels, traces, and the copper of unknown way.
#include <fmt/format.h>

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <set>

#include "graph/board_builder.hpp"

namespace padwalk::graph {

void BoardBuilder::settle_pads() {
  split_pads_.assign(board_.points_.size(), false);
  copper_.resize(board_.points_.size());
  for (std::size_t i = 0; i < board_.points_.size(); ++i) {
    split_pads_[i] = is_through_pin(PointId{static_cast<std::uint32_t>(i)}) && copper_[i][0] &&
                     !copper_[i][1] && file_.layers > 1;
  }
}

Side BoardBuilder::solder_side(PointId point) const {
  return opposite(board_[board_[point].part].side);
}

void BoardBuilder::add_places() {
  const auto add = [&](PointId id, PlaceKind kind, Side side, Access access) {
    Point& point = board_.points_[index(id)];
    if (point.places == 0) {
      point.first = next_id<PlaceId>(board_.places_.size());
    }
    ++point.places;
    if (point.access == Access::none) {
      access = Access::none;
    }
    board_.places_.push_back({id, point.net, kind, side, access});
    return next_id<PlaceId>(board_.places_.size() - 1);
  };
  for (std::size_t i = 0; i < board_.points_.size(); ++i) {
    const PointId id{static_cast<std::uint32_t>(i)};
    Point& point = board_.points_[i];
    if (point.part == kNoPart) {
      point.held = add(id, PlaceKind::point, surface_[i], point.access);
      continue;
    }
    const bool chip_in = board_.assembled() && board_[point.part].chip != ChipState::pulled;
    const bool socket = board_.assembled() && board_[point.part].chip != ChipState::soldered;
    PlaceId pad_place = kNoPlace;
    if (surface_[i] != Side::unknown) {
      pad_place = add(id, PlaceKind::pad, surface_[i], Access::tip);
    } else if (!split_pads_[i]) {
      pad_place =
          add(id, PlaceKind::pad, file_.layers == 1 ? Side::bottom : Side::unknown, Access::tip);
    } else {
      for (const PlaceKind kind : {PlaceKind::bottom, PlaceKind::top}) {
        const bool on_solder_side = side_of(kind) == solder_side(id);
        const PlaceId place =
            add(id, kind, side_of(kind),
                on_solder_side || !board_.assembled() ? Access::tip : Access::none);
        if (on_solder_side) {
          pad_place = place;
        }
      }
    }
    if (socket) {
      add(id, PlaceKind::socket, board_[point.part].side, chip_in ? Access::none : Access::tip);
    }
    point.held = pad_place;
    if (chip_in) {
      point.held = add(id, PlaceKind::leg, board_[point.part].side, Access::tip);
    }
    if (point.access == Access::clip) {
      board_.places_[index(point.held)].access = Access::clip;
    }
  }
  board_.graph_ = RouteGraph(board_.places_.size());
}

PlaceId BoardBuilder::pad(PointId id, Side side) const {
  const Point& point = board_[id];
  if (split_pads_[index(id)]) {  // bottom first, top second
    return PlaceId{static_cast<std::uint32_t>(index(point.first) + (side == Side::top ? 1 : 0))};
  }
  return point.first;
}

PlaceId BoardBuilder::solder_pad(PointId id) const {
  return split_pads_[index(id)] ? pad(id, solder_side(id)) : board_[id].first;
}

void BoardBuilder::add_segment(PlaceId a, PlaceId b, SegmentKind kind, Side side, NetId net,
                               PointId member) {
  Segment segment{a, b, kind, side, net, member, std::nullopt, std::nullopt};
  const auto xy = [&](PlaceId place) {
    const PointId point = board_[place].point;
    return point == kNoPoint ? std::nullopt : board_[point].xy;
  };
  if ((kind == SegmentKind::trace || kind == SegmentKind::wire) && xy(a) && xy(b)) {
    segment.length_mm = distance_mm(*xy(a), *xy(b));
  }
  const SegmentId id = next_id<SegmentId>(board_.segments_.size());
  board_.segments_.push_back(segment);
  boost::add_edge(index(a), index(b), id, board_.graph_);
  if (net != kNoNet) {
    board_.nets_[index(net)].segments.push_back(id);
  }
}

void BoardBuilder::add_inner_segments(PointId id) {
  const Point& point = board_[id];
  PlaceId below = solder_pad(id);
  if (split_pads_[index(id)]) {
    add_segment(pad(id, Side::bottom), pad(id, Side::top), SegmentKind::barrel, Side::unknown,
                point.net);
  }
  for (std::size_t i = 0; i < point.places; ++i) {
    const PlaceId place{static_cast<std::uint32_t>(index(point.first) + i)};
    const PlaceKind kind = board_[place].kind;
    if (kind != PlaceKind::socket && kind != PlaceKind::leg) {
      continue;
    }
    const bool in_socket = board_[below].kind == PlaceKind::socket;
    add_segment(below, place, in_socket ? SegmentKind::contact : SegmentKind::joint, Side::unknown,
                point.net);
    below = place;
  }
}

void BoardBuilder::add_segments() {
  std::vector<std::vector<const Link*>> links(board_.nets_.size());
  for (const Link& link : links_) {
    links[index(link.net)].push_back(&link);
  }
  std::vector<std::size_t> rank(board_.places_.size()), unit(board_.places_.size());
  boost::disjoint_sets units(rank.data(), unit.data());
  for (std::size_t i = 0; i < board_.places_.size(); ++i) {
    units.make_set(i);
  }
  for (std::size_t n = 0; n < board_.nets_.size(); ++n) {
    const NetId net{static_cast<std::uint32_t>(n)};
    add_known_segments(net, links[n]);
    for (const SegmentId id : board_.nets_[n].segments) {
      units.union_set(index(board_[id].a), index(board_[id].b));
    }
    add_unknown_ways(net, [&](PlaceId place) { return units.find_set(index(place)); });
  }
  for (std::size_t i = 0; i < board_.points_.size(); ++i) {
    const PointId point{static_cast<std::uint32_t>(i)};
    if (board_[point].net == kNoNet && board_[point].part != kNoPart) {
      add_inner_segments(point);
    }
  }
}

void BoardBuilder::add_known_segments(NetId net, const std::vector<const Link*>& links) {
  const std::vector<PointId> points = board_[net].points;
  for (const PointId point : points) {
    if (board_[point].part != kNoPart) {
      add_inner_segments(point);
    }
  }
  for (const PointId point : points) {
    const std::string& name = board_[point].name;
    const auto via = vias_.find(name.substr(0, name.rfind('@')));
    if (board_[point].part == kNoPart && via != vias_.end() && via->second.sides[0] == point) {
      const std::vector<PointId>& sides = via->second.sides;
      for (std::size_t i = 1; i < sides.size(); ++i) {
        add_segment(board_[sides[i - 1]].first, board_[sides[i]].first, SegmentKind::barrel,
                    Side::unknown, net);
      }
    }
  }
  std::set<std::pair<PlaceId, PlaceId>> seen;
  for (const Link* link : links) {
    const PlaceId a = pad(link->a, link->side);
    const PlaceId b = pad(link->b, link->side);
    first_copper_.emplace(index(net), a);
    if (seen.insert(std::minmax(a, b)).second) {
      add_segment(a, b, SegmentKind::trace, link->side, net);
    } else if (!has_copper_entry(link->a, link->b)) {
      diagnostics_.warning(
          file_.nets[index(net)].mark,
          fmt::format("net \"{}\": copper from {} to {} is named twice and taken as one track; if "
                      "there are two, say count: 2",
                      board_[net].name, board_[link->a].name, board_[link->b].name));
    }
  }
}

void BoardBuilder::add_unknown_ways(NetId net, const std::function<std::size_t(PlaceId)>& unit_of) {
  const std::vector<PointId> points = board_[net].points;
  std::set<std::size_t> units;
  for (const PointId point : points) {
    units.insert(unit_of(board_[point].first));
  }
  if (units.size() < 2) {
    return;
  }
  PlaceId hub = kNoPlace;
  if (board_[net].has_route) {
    const auto copper = first_copper_.find(index(net));
    hub = copper == first_copper_.end() ? solder_pad(points.front()) : copper->second;
    units.erase(unit_of(hub));
  } else {
    hub = next_id<PlaceId>(board_.places_.size());
    board_.places_.push_back({kNoPoint, net, PlaceKind::hub, Side::unknown, Access::none});
    boost::add_vertex(board_.graph_);
  }
  for (const PointId point : points) {
    if (units.erase(unit_of(board_[point].first)) > 0) {
      add_segment(solder_pad(point), hub, SegmentKind::unknown_way, Side::unknown, net, point);
    }
  }
}

bool BoardBuilder::has_copper_entry(PointId a, PointId b) const {
  const auto names = [&](const Reference& reference, PointId point) {
    const std::string& name = board_[point].name;
    return reference.name == name ||
           reference.name.substr(0, reference.name.rfind('@')) == name.substr(0, name.rfind('@'));
  };
  return std::any_of(file_.copper.begin(), file_.copper.end(),
                     [&](const CopperDescription& copper) {
                       return (names(copper.between[0], a) && names(copper.between[1], b)) ||
                              (names(copper.between[0], b) && names(copper.between[1], a));
                     });
}

void BoardBuilder::read_wires() {
  for (std::size_t number = 0; number < file_.wires.size(); ++number) {
    const WireDescription& wire = file_.wires[number];
    std::vector<PlaceId> ends;
    for (const Reference& reference : wire.between) {
      if (reference.name.empty()) {
        break;  // the reader said it
      }
      const std::vector<PlaceId> found = board_.find_solder_places(reference.name);
      if (found.size() == 1) {
        ends.push_back(found.front());
        continue;
      }
      diagnostics_.error(
          reference.mark,
          found.empty() ? fmt::format("wire {}: there is no point {}", wire.name, reference.name)
                        : fmt::format("wire {}: {} has several sides; expected one, such as {}",
                                      wire.name, reference.name, board_.place_name(found.front())));
    }
    if (ends.size() < 2) {
      continue;
    }
    const NetId net = board_[ends[0]].net;
    if (net == kNoNet || board_[ends[1]].net != net) {
      diagnostics_.error(
          wire.mark,
          fmt::format("wire {} runs from {} to {}, which are not in one net; put "
                      "what it joins into one net",
                      wire.name, board_.place_name(ends[0]), board_.place_name(ends[1])));
    } else if (ends[0] == ends[1]) {
      diagnostics_.error(wire.mark, fmt::format("wire {} ends where it begins, at {}", wire.name,
                                                board_.place_name(ends[0])));
    } else {
      add_segment(ends[0], ends[1], SegmentKind::wire, Side::unknown, net);
      Segment& segment = board_.segments_.back();
      segment.wire = number;
      if (wire.length_mm) {
        segment.length_mm = wire.length_mm;
      }
    }
  }
}

void BoardBuilder::read_copper() {
  std::map<SegmentId, int> tracks;
  for (const CopperDescription& copper : file_.copper) {
    std::vector<SegmentId> traces =
        board_.find_segments(copper.between[0].name, copper.between[1].name);
    traces.erase(
        std::remove_if(traces.begin(), traces.end(),
                       [&](SegmentId id) { return board_[id].kind != SegmentKind::trace; }),
        traces.end());
    if (traces.empty()) {
      diagnostics_.error(copper.between[0].mark,
                         fmt::format("no net's route has copper from {} to {}",
                                     copper.between[0].name, copper.between[1].name));
      continue;
    }
    const SegmentId id = traces.front();
    int extra = copper.count - 1 + (tracks[id] > 0 ? 1 : 0);
    tracks[id] += copper.count;
    if (copper.length_mm) {
      board_.segments_[index(id)].length_mm = copper.length_mm;
    }
    for (; extra > 0; --extra) {
      const Segment first = board_[id];
      add_segment(first.a, first.b, SegmentKind::trace, first.side, first.net);
      board_.segments_.back().length_mm = copper.length_mm ? copper.length_mm : first.length_mm;
    }
  }
}

void BoardBuilder::read_neighbours() {
  std::set<std::pair<NetId, NetId>> pairs;
  const auto find = [&](const std::string& name, Mark mark) {
    const auto net = board_.find_net(name);
    if (!net) {
      diagnostics_.error(mark, fmt::format("neighbours: there is no net \"{}\"", name));
    }
    return net;
  };
  for (const NeighbourDescription& description : file_.neighbours) {
    const auto net = find(description.name, description.mark);
    for (const Reference& reference : description.nets) {
      const auto other = find(reference.name, reference.mark);
      if (net && other && *net == *other) {
        diagnostics_.error(
            reference.mark,
            fmt::format("neighbours: net \"{}\" is its own neighbour", reference.name));
      } else if (net && other) {
        pairs.insert(std::minmax(*net, *other));
      }
    }
  }
  board_.neighbours_.assign(pairs.begin(), pairs.end());
}

}  // namespace padwalk::graph
