// SPDX-License-Identifier: MIT
#include "graph/part_yaml.hpp"

#include <unordered_set>

#include "graph/packages.hpp"
#include "graph/yaml_fields.hpp"

namespace padwalk::graph {

namespace {

constexpr double kMaxRotation = 360;

struct Quantity {
  Unit unit;
  std::string_view example;
};

/// What the `value:` of a part of that kind is; nothing where it is free text.
std::optional<Quantity> quantity_of(PartKind kind) {
  switch (kind) {
    case PartKind::resistor:
    case PartKind::network:
    case PartKind::pot:
      return Quantity{Unit::ohm, "4k7 or 4700 ohm"};
    case PartKind::capacitor:
      return Quantity{Unit::farad, "100n or 4.7 uF"};
    case PartKind::inductor:
      return Quantity{Unit::henry, "10u or 2.2 mH"};
    default:
      return std::nullopt;
  }
}

void check_value(const YamlFields& part, PartKind kind) {
  const YamlNode* value = part.node().find("value");
  const auto quantity = quantity_of(kind);
  if (value != nullptr && value->kind == YamlNode::Kind::scalar && quantity) {
    part.value(*value, "value", quantity->unit, quantity->example);
  }
}

void check_package(const YamlFields& part, const std::string& package) {
  BadPackage bad;
  if (!package.empty() && !find_package(package, bad)) {
    part.error(*part.node().find("package"), bad.text);
  }
}

PinDescription read_pin(const YamlFields& part, const YamlNode& key, const YamlNode& node) {
  PinDescription pin;
  pin.name = key.scalar;
  pin.mark = key.mark;
  const std::string what = part.what() + ", pin " + pin.name;
  if (node.kind == YamlNode::Kind::sequence) {
    pin.xy = YamlValues(what, part.diagnostics()).xy(node, "its position");
    return pin;
  }
  const YamlFields fields(node, what, {"xy", "side", "access", "pad", "note"}, part.diagnostics());
  fields.read_xy("xy", pin.xy);
  fields.read_side("side", pin.side);
  fields.read_word<std::optional<Access>, Access>("access", pin.access);
  fields.read_xy("pad", pin.pad);
  fields.read_text("note", pin.note);
  return pin;
}

void read_pins(const YamlFields& part, std::vector<PinDescription>& pins) {
  const YamlNode* node = part.node().find("pins");
  if (node == nullptr) {
    return;
  }
  if (node->kind != YamlNode::Kind::map) {
    part.error(*node, "pins is not a map; expected pins: {1: [x, y], 2: {xy: [x, y], side: top}}");
    return;
  }
  std::unordered_set<std::string_view> seen;
  for (const auto& [key, value] : node->entries) {
    if (part.text(key, "the name of a pin")) {
      PinDescription pin = read_pin(part, key, value);
      if (seen.insert(key.scalar).second) {
        pins.push_back(std::move(pin));
      }
    }
  }
}

std::vector<std::vector<std::string>> read_joined(const YamlFields& part, const YamlNode& node) {
  constexpr std::string_view kExample = "[[1, 2]], or [] where no pins are joined";
  std::vector<std::vector<std::string>> joined;
  if (!part.is_list(node, "a position", kExample)) {
    return joined;
  }
  for (const YamlNode& group : node.items) {
    if (!part.is_list(group, "a position", kExample)) {
      continue;
    }
    std::vector<std::string> pins;
    for (const YamlNode& pin : group.items) {
      if (auto name = part.text(pin, "a pin of a position")) {
        pins.push_back(std::move(*name));
      }
    }
    if (group.items.size() < 2) {
      part.error(group, "a position joins one pin with nothing; expected two pins or more");
    }
    joined.push_back(std::move(pins));
  }
  return joined;
}

void read_positions(const YamlFields& part, std::vector<SwitchPosition>& positions) {
  const YamlNode* node = part.node().find("positions");
  if (node == nullptr) {
    return;
  }
  if (node->kind != YamlNode::Kind::map) {
    part.error(*node, "positions is not a map; expected positions: {out: [[1, 2]], in: [[2, 3]]}");
    return;
  }
  for (const auto& [key, value] : node->entries) {
    if (part.text(key, "the name of a position")) {
      positions.push_back({key.scalar, read_joined(part, value)});
    }
  }
}

}  // namespace

PartDescription read_part(const std::string& name, const YamlNode& node, Diagnostics& diagnostics) {
  const YamlFields fields(node, "part " + name,
                          {"kind", "type", "value", "tolerance", "package", "xy", "rotation",
                           "side", "chip", "pins", "positions", "momentary", "access", "note"},
                          diagnostics);
  PartDescription part;
  fields.read_word("kind", part.kind);
  fields.read_text("type", part.type);
  fields.read_text("value", part.value);
  check_value(fields, part.kind);
  fields.read_text("tolerance", part.tolerance);
  if (!part.tolerance.empty()) {
    fields.value(*node.find("tolerance"), "tolerance", Unit::fraction, "5%");
  }
  fields.read_text("package", part.package);
  check_package(fields, part.package);
  fields.read_xy("xy", part.xy);
  fields.read("rotation", part.rotation, [&](const YamlNode& value) {
    auto degrees = fields.value(value, "rotation", Unit::degree, "90 (degrees)");
    if (degrees && (*degrees < -kMaxRotation || *degrees > kMaxRotation)) {
      fields.error(value, fmt::format("rotation is {}; expected -360 to 360 degrees", *degrees));
      degrees.reset();
    }
    return degrees;
  });
  fields.read_side("side", part.side);
  if (part.side != Side::top && part.side != Side::bottom) {
    fields.error(*node.find("side"), "a part sits on top or bottom");
  }
  fields.read_word("chip", part.chip);
  read_pins(fields, part.pins);
  read_positions(fields, part.positions);
  fields.read_flag("momentary", part.momentary);
  fields.read_word<std::optional<Access>, Access>("access", part.access);
  fields.read_text("note", part.note);
  return part;
}

}  // namespace padwalk::graph
