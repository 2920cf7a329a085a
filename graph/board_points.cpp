// SPDX-License-Identifier: MIT
//
// Points: the pins of parts with their places, test pads, the sides of a via.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "graph/board_builder.hpp"
#include "graph/packages.hpp"
#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

/// Orders "2" before "10", numbers before words, "1" before "1~2".
bool pin_before(const std::string& a, const std::string& b) {
  const auto key = [](const std::string& pin) {
    const bool number = !pin.empty() && pin.size() < 9 && std::isdigit(pin[0]) != 0;
    return std::make_tuple(!number, number ? std::stol(pin) : 0L, pin);
  };
  return key(a) < key(b);
}

std::optional<double> direct_ohm(const PartDescription& part) {
  if (part.kind == PartKind::link || part.kind == PartKind::fuse) {
    return 0.0;
  }
  if (part.kind == PartKind::resistor || part.kind == PartKind::network) {
    return parse_value(part.value, Unit::ohm);
  }
  return std::nullopt;
}

}  // namespace

void BoardBuilder::build() {
  add_parts();
  add_points();
  add_nets();
  add_unlisted_vias();
  settle_pads();
  if (diagnostics_.errors().empty()) {
    add_places();
    add_segments();
    read_wires();
    read_copper();
    read_neighbours();
  }
}

PointId BoardBuilder::add_point(Point point, Mark mark) {
  const PointId id = next_id<PointId>(board_.points_.size());
  if (!board_.point_by_name_.emplace(point.name, id).second) {
    diagnostics_.error(mark, fmt::format("there are two points named {}", point.name));
  }
  board_.points_.push_back(std::move(point));
  surface_.push_back(Side::unknown);
  return id;
}

void BoardBuilder::add_parts() {
  for (const PartDescription& description : file_.parts) {
    const PartId id = next_id<PartId>(board_.parts_.size());
    if (!board_.part_by_name_.emplace(description.name, id).second) {
      diagnostics_.error(description.mark,
                         fmt::format("there are two parts named {}", description.name));
    }
    Part part;
    part.name = description.name;
    part.kind = description.kind;
    part.type = description.type;
    part.ohm = direct_ohm(description);
    part.side = description.side;
    part.chip = description.chip;
    board_.parts_.push_back(std::move(part));
    add_pins(description, id);
    add_positions(description, id);
  }
}

void BoardBuilder::add_pins(const PartDescription& part, PartId id) {
  struct Pin {
    std::string name;
    std::optional<Xy> xy;
    Side side = Side::unknown;  // of a surface pad
    const PinDescription* said = nullptr;
  };
  std::vector<Pin> pins;
  std::map<std::string, const PinDescription*> said;
  for (const PinDescription& pin : part.pins) {
    if (!said.emplace(pin.name, &pin).second) {
      diagnostics_.error(pin.mark, fmt::format("part {} has two pins {}", part.name, pin.name));
    }
  }
  if (part.package.empty()) {
    for (const PinDescription& pin : part.pins) {
      pins.push_back({pin.name, pin.xy, pin.side, &pin});
    }
    if (pins.empty()) {
      diagnostics_.error(part.mark, fmt::format("part {} has neither a package nor pins; write "
                                                "package: DIP-14 or pins: {{1: [x, y], …}}",
                                                part.name));
    }
  } else {
    BadPackage bad;
    const std::optional<Package> package = find_package(part.package, bad);
    if (!package) {
      diagnostics_.error(part.mark, fmt::format("part {}: {}", part.name, bad.text));
      return;
    }
    for (const PackagePin& pin : package->pins) {
      std::optional<Xy> xy;
      if (part.xy) {
        xy = place_pin(*part.xy, part.rotation, part.side, pin.offset);
      }
      const auto found = said.find(pin.name);
      const PinDescription* own = found == said.end() ? nullptr : found->second;
      pins.push_back({pin.name, own && own->xy ? own->xy : xy,
                      !package->surface ? Side::unknown
                      : pin.far_side    ? opposite(part.side)
                                        : part.side,
                      own});
      said.erase(pin.name);
    }
    for (const auto& [name, pin] : said) {
      diagnostics_.error(pin->mark, fmt::format("part {} lists pin {}; package {} has {} pins",
                                                part.name, name, part.package, pins.size()));
    }
  }
  std::stable_sort(pins.begin(), pins.end(),
                   [](const Pin& a, const Pin& b) { return pin_before(a.name, b.name); });
  for (const Pin& pin : pins) {
    Point point;
    point.name = part.name + "." + pin.name;
    point.part = id;
    point.pin = pin.name;
    point.xy = pin.xy;
    if (part.access) {
      point.access = *part.access;
    }
    if (pin.said != nullptr) {
      point.pad = pin.said->pad;
      point.access = pin.said->access.value_or(point.access);
    }
    const PointId point_id = add_point(std::move(point), part.mark);
    surface_.back() = pin.side;
    board_.parts_.back().pins.push_back(point_id);
  }
}

void BoardBuilder::add_positions(const PartDescription& description, PartId id) {
  Part& part = board_.parts_[index(id)];
  for (const SwitchPosition& position : description.positions) {
    std::vector<std::vector<std::size_t>> groups;
    for (const std::vector<std::string>& joined : position.joined) {
      std::vector<std::size_t> group;
      for (const std::string& pin : joined) {
        const auto at = std::find_if(part.pins.begin(), part.pins.end(), [&](PointId point) {
          return board_.points_[index(point)].pin == pin;
        });
        if (at == part.pins.end()) {
          diagnostics_.error(description.mark,
                             fmt::format("part {}, position {}: there is no pin {}", part.name,
                                         position.name, pin));
        } else {
          group.push_back(static_cast<std::size_t>(at - part.pins.begin()));
        }
      }
      groups.push_back(std::move(group));
    }
    part.positions.emplace_back(position.name, std::move(groups));
  }
}

void BoardBuilder::add_points() {
  for (const PointDescription& description : file_.points) {
    Point point;
    point.name = description.name;
    point.xy = description.xy;
    point.pad = description.pad;
    point.drive_never = description.drive_never;
    if (description.via.empty()) {
      if (!description.access.empty()) {
        point.access = description.access.front();
      }
      add_point(std::move(point), description.mark);
      surface_.back() = description.side;
      continue;
    }
    const std::set<Side> sides(description.via.begin(), description.via.end());
    if (sides.size() < 2 || sides.size() != description.via.size()) {
      diagnostics_.error(description.mark, fmt::format("via {} needs two different sides or more, "
                                                       "as in via: [top, bottom]",
                                                       description.name));
      continue;
    }
    Via via;
    for (std::size_t i = 0; i < description.via.size(); ++i) {
      Point end = point;
      const Side side = description.via[i];
      end.name = description.name + "@" + side_name(side);
      end.access = side >= Side::inner1 ? Access::none : Access::tip;
      if (!description.access.empty()) {
        end.access = description.access[std::min(i, description.access.size() - 1)];
      }
      via.sides.push_back(add_point(std::move(end), description.mark));
      surface_.back() = side;
    }
    if (board_.point_by_name_.count(description.name) != 0 ||
        !vias_.emplace(description.name, via).second) {
      diagnostics_.error(description.mark,
                         fmt::format("there are two points named {}", description.name));
    }
  }
}

}  // namespace padwalk::graph
