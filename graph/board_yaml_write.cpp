// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>

#include "graph/board_yaml.hpp"
#include "graph/yaml_text.hpp"

namespace padwalk::graph {

namespace {

std::string in_list(const std::vector<std::string>& items) {
  return fmt::format("[{}]", fmt::join(items, ", "));
}

std::string in_map(const std::vector<std::string>& fields) {
  return fmt::format("{{{}}}", fmt::join(fields, ", "));
}

std::string to_text(Xy xy) {
  return fmt::format("[{}, {}]", xy.x, xy.y);
}

std::string names(const std::vector<Reference>& references) {
  std::vector<std::string> items;
  for (const Reference& reference : references) {
    items.push_back(yaml_text(reference.name));
  }
  return in_list(items);
}

/// The fields of one flow map; what is at its default is left out.
class Fields {
 public:
  void add(std::string_view key, const std::string& text) {
    fields_.push_back(fmt::format("{}: {}", key, text));
  }
  void add_text(std::string_view key, const std::string& text) {
    if (!text.empty()) {
      add(key, yaml_text(text));
    }
  }
  void add_xy(std::string_view key, const std::optional<Xy>& xy) {
    if (xy) {
      add(key, to_text(*xy));
    }
  }
  template <typename Enum>
  void add_word(std::string_view key, Enum value, Enum usual) {
    if (value != usual) {
      add(key, std::string(word_for(value)));
    }
  }
  void add_side(Side side, Side usual) {
    if (side != usual) {
      add("side", side_name(side));
    }
  }
  std::string text() const { return in_map(fields_); }

 private:
  std::vector<std::string> fields_;
};

std::string pin_to_text(const PinDescription& pin) {
  const bool only_xy = pin.xy && pin.side == Side::unknown && !pin.access && !pin.pad;
  if (only_xy && pin.note.empty()) {
    return to_text(*pin.xy);
  }
  Fields fields;
  fields.add_xy("xy", pin.xy);
  fields.add_side(pin.side, Side::unknown);
  if (pin.access) {
    fields.add("access", std::string(word_for(*pin.access)));
  }
  fields.add_xy("pad", pin.pad);
  fields.add_text("note", pin.note);
  return fields.text();
}

std::string positions_to_text(const std::vector<SwitchPosition>& positions) {
  Fields fields;
  for (const SwitchPosition& position : positions) {
    std::vector<std::string> groups;
    for (const std::vector<std::string>& joined : position.joined) {
      std::vector<std::string> pins;
      for (const std::string& pin : joined) {
        pins.push_back(yaml_pin(pin));
      }
      groups.push_back(in_list(pins));
    }
    fields.add(yaml_text(position.name), in_list(groups));
  }
  return fields.text();
}

std::string part_to_text(const PartDescription& part) {
  Fields fields;
  fields.add_word("kind", part.kind, PartKind::other);
  fields.add_text("type", part.type);
  fields.add_text("value", part.value);
  fields.add_text("tolerance", part.tolerance);
  fields.add_text("package", part.package);
  fields.add_xy("xy", part.xy);
  if (part.rotation != 0) {
    fields.add("rotation", fmt::format("{}", part.rotation));
  }
  fields.add_side(part.side, Side::top);
  fields.add_word("chip", part.chip, ChipState::soldered);
  if (!part.pins.empty()) {
    Fields pins;
    for (const PinDescription& pin : part.pins) {
      pins.add(yaml_pin(pin.name), pin_to_text(pin));
    }
    fields.add("pins", pins.text());
  }
  if (!part.positions.empty()) {
    fields.add("positions", positions_to_text(part.positions));
  }
  if (part.momentary) {
    fields.add("momentary", "true");
  }
  if (part.access) {
    fields.add("access", std::string(word_for(*part.access)));
  }
  fields.add_text("note", part.note);
  return fields.text();
}

std::string point_to_text(const PointDescription& point) {
  Fields fields;
  fields.add_xy("xy", point.xy);
  fields.add_side(point.side, Side::unknown);
  if (!point.via.empty()) {
    std::vector<std::string> sides;
    std::transform(point.via.begin(), point.via.end(), std::back_inserter(sides), side_name);
    fields.add("via", in_list(sides));
  }
  if (point.access.size() == 1) {
    fields.add("access", std::string(word_for(point.access.front())));
  } else if (!point.access.empty()) {
    std::vector<std::string> words;
    for (const Access access : point.access) {
      words.emplace_back(word_for(access));
    }
    fields.add("access", in_list(words));
  }
  fields.add_xy("pad", point.pad);
  if (point.drive_never) {
    fields.add("drive", "never");
  }
  fields.add_text("note", point.note);
  return fields.text();
}

std::string net_to_text(const NetDescription& net) {
  const bool has_more = net.role != NetRole::signal || net.drive_never || !net.note.empty();
  if (net.route.empty() && !has_more) {
    return names(net.members);
  }
  Fields fields;
  fields.add_word("role", net.role, NetRole::signal);
  if (!net.route.empty()) {
    std::vector<std::string> chains;
    for (const ChainDescription& chain : net.route) {
      Fields with_side;
      with_side.add_side(chain.side, Side::unknown);
      with_side.add("chain", names(chain.points));
      chains.push_back(chain.side == Side::unknown ? names(chain.points) : with_side.text());
    }
    fields.add("route", in_list(chains));
  }
  if (!net.members.empty()) {
    fields.add(net.route.empty() ? "points" : "also", names(net.members));
  }
  if (net.drive_never) {
    fields.add("drive", "never");
  }
  fields.add_text("note", net.note);
  return fields.text();
}

std::string copper_to_text(const CopperDescription& copper) {
  Fields fields;
  fields.add("between", names({copper.between[0], copper.between[1]}));
  if (copper.width_mm) {
    fields.add("width", fmt::format("{} mm", *copper.width_mm));
  }
  if (copper.length_mm) {
    fields.add("length", fmt::format("{} mm", *copper.length_mm));
  }
  if (copper.count != 1) {
    fields.add("count", fmt::format("{}", copper.count));
  }
  fields.add_text("name", copper.name);
  fields.add_text("note", copper.note);
  return fields.text();
}

std::string wire_to_text(const WireDescription& wire) {
  Fields fields;
  fields.add("between", names({wire.between[0], wire.between[1]}));
  if (wire.gauge) {
    fields.add("gauge", fmt::format("{}", *wire.gauge));
  }
  if (wire.length_mm) {
    fields.add("length", fmt::format("{} mm", *wire.length_mm));
  }
  fields.add_text("note", wire.note);
  return fields.text();
}

std::string neighbours_to_text(const NeighbourDescription& neighbours) {
  return names(neighbours.nets);
}

std::string region_to_text(const RegionDescription& region) {
  std::vector<std::string> corners;
  std::transform(region.polygon.begin(), region.polygon.end(), std::back_inserter(corners),
                 to_text);
  Fields fields;
  fields.add_side(region.side, Side::unknown);
  fields.add("polygon", in_list(corners));
  if (region.suspicion != 1) {
    fields.add("suspicion", fmt::format("{}", region.suspicion));
  }
  fields.add_text("note", region.note);
  return fields.text();
}

template <typename Thing>
void append_named(std::string& to, std::string_view key, const std::vector<Thing>& things,
                  std::string (*text)(const Thing&)) {
  if (things.empty()) {
    return;
  }
  to += fmt::format("{}:\n", key);
  for (const Thing& thing : things) {
    to += fmt::format("  {}: {}\n", yaml_text(thing.name), text(thing));
  }
}

}  // namespace

std::string write_entry(const PartDescription& part) {
  return part_to_text(part);
}

std::string write_entry(const PointDescription& point) {
  return point_to_text(point);
}

std::string write_entry(const NetDescription& net) {
  return net_to_text(net);
}

std::string write_entry(const WireDescription& wire) {
  return wire_to_text(wire);
}

std::string write_board(const BoardDescription& board) {
  std::string text = "padwalk: board/1\n";
  const auto line = [&](std::string_view key, const std::string& value) {
    text += fmt::format("{}: {}\n", key, value);
  };
  if (!board.name.empty()) {
    line("name", yaml_text(board.name));
  }
  line("state", std::string(word_for(board.state)));
  line("layers", fmt::format("{}", board.layers));
  if (board.isolation_ohm) {
    line("limits", fmt::format("{{isolation: {} ohm}}", *board.isolation_ohm));
  } else if (!board.limit_class.empty()) {
    line("limits", fmt::format("{{class: {}}}", yaml_text(board.limit_class)));
  }
  if (!board.note.empty()) {
    line("note", yaml_text(board.note));
  }
  append_named(text, "parts", board.parts, part_to_text);
  append_named(text, "points", board.points, point_to_text);
  append_named(text, "nets", board.nets, net_to_text);
  append_named(text, "wires", board.wires, wire_to_text);
  if (!board.copper.empty()) {
    text += "copper:\n";
    for (const CopperDescription& copper : board.copper) {
      text += fmt::format("  - {}\n", copper_to_text(copper));
    }
  }
  append_named(text, "regions", board.regions, region_to_text);
  append_named(text, "neighbours", board.neighbours, neighbours_to_text);
  return text;
}

}  // namespace padwalk::graph
