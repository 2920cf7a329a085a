// SPDX-License-Identifier: MIT
#include "tools/defects_parts.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <vector>

#include "graph/yaml_fields.hpp"
#include "tools/defect_fields.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PartId;
using graph::PartKind;
using graph::YamlFields;
using graph::YamlNode;

constexpr double kLifted = std::numeric_limits<double>::infinity();
constexpr PartKind kWithValue[] = {PartKind::resistor, PartKind::network,  PartKind::fuse,
                                   PartKind::link,     PartKind::inductor, PartKind::diode,
                                   PartKind::capacitor};

/// The part that the value of `key` names.
std::optional<PartId> part_named(const YamlFields& fields, std::string_view key,
                                 const Board& board) {
  const YamlNode& name = *fields.node().find(key);
  const auto text = fields.text(name, "the part");
  const auto part = text ? board.find_part(*text) : std::nullopt;
  if (text && !part) {
    fields.error(name, fmt::format("there is no part {} on this board", *text));
  }
  return part;
}

void read_stuck(const YamlFields& fields, const Board& board, PartId part, Defects& defects) {
  const YamlNode& node = *fields.node().find("stuck");
  std::vector<std::string_view> names;
  for (const auto& [name, joined] : board[part].positions) {
    names.emplace_back(name);
  }
  if (const auto position = fields.word_of(node, "stuck", names)) {
    defects.stuck_switches.push_back({part, *position});
  }
}

void read_worn_contact(const YamlFields& fields, const Board& board, PartId id, Defects& defects) {
  const graph::Part& part = board[id];
  const YamlNode& node = *fields.node().find("contact");
  const auto value = ohm_above_0(fields, "value", std::nullopt);
  std::vector<std::size_t> pins;
  if (!fields.is_list(node, "contact", "[1, 2]")) {
    return;
  }
  for (const YamlNode& item : node.items) {
    const auto name = fields.text(item, "a pin of contact");
    const auto pin = std::find_if(part.pins.begin(), part.pins.end(), [&](graph::PointId point) {
      return name && board[point].pin == *name;
    });
    if (pin != part.pins.end()) {
      pins.push_back(static_cast<std::size_t>(pin - part.pins.begin()));
    } else if (name) {
      fields.error(item, fmt::format("{} has no pin {}", part.name, *name));
      return;
    }
  }
  const auto joins = [&](const std::vector<std::size_t>& group) {
    for (std::size_t n = 1; n < group.size(); ++n) {
      if (std::minmax(group[n - 1], group[n]) == std::minmax(pins[0], pins[1])) {
        return true;
      }
    }
    return false;
  };
  if (pins.size() != 2) {
    fields.error(node, fmt::format("contact lists {} pins; expected 2", node.items.size()));
  } else if (std::none_of(part.positions.begin(), part.positions.end(), [&](const auto& position) {
               return std::any_of(position.second.begin(), position.second.end(), joins);
             })) {
    fields.error(
        node, fmt::format("{} joins pins {} and {} in no position; expected neighbours "
                          "in one of its groups",
                          part.name, board[part.pins[pins[0]]].pin, board[part.pins[pins[1]]].pin));
  } else if (value) {
    defects.worn_contacts.push_back({id, pins[0], pins[1], *value});
  }
}

}  // namespace

void read_part(const YamlNode& node, const Board& board, Defects& defects,
               graph::Diagnostics& diagnostics) {
  const YamlFields fields(node, "part", {"part", "value", "note"}, diagnostics);
  const auto part = part_named(fields, "part", board);
  const YamlNode* given = node.find("value");
  const bool is_open = given != nullptr && given->scalar == "open";
  const auto value = is_open ? std::optional(kLifted) : ohm_above_0(fields, "value", std::nullopt);
  if (!part) {
    return;
  }
  const PartKind kind = board[*part].kind;
  if (std::find(std::begin(kWithValue), std::end(kWithValue), kind) == std::end(kWithValue)) {
    fields.error(*node.find("part"),
                 fmt::format("{} is of kind {}; another value of it {}", board[*part].name,
                             graph::word_for(kind), kNotSimulated));
  } else if (value) {
    defects.part_values.push_back({*part, *value});
  }
}

void read_switch(const YamlNode& node, const Board& board, Defects& defects,
                 graph::Diagnostics& diagnostics) {
  const YamlNode simulated = without_unsimulated(node, "switch", {"bounce"}, diagnostics);
  const YamlFields fields(simulated, "switch", {"switch", "stuck", "contact", "value", "note"},
                          diagnostics);
  const auto part = part_named(fields, "switch", board);
  if (!part) {
    return;
  }
  if (board[*part].kind != graph::PartKind::switch_ || board[*part].positions.empty()) {
    fields.error(*fields.node().find("switch"),
                 fmt::format("{} is no switch with positions on this board", board[*part].name));
    return;
  }
  if (fields.has("stuck")) {
    read_stuck(fields, board, *part, defects);
  }
  if (fields.has("contact")) {
    read_worn_contact(fields, board, *part, defects);
  } else if (fields.has("value")) {
    required(fields, "contact", "[1, 2]");
  } else if (!fields.has("stuck") && simulated.entries.size() == node.entries.size()) {
    fields.error(node,
                 "nothing is wrong with it; expected stuck: POSITION or contact: [1, 2], "
                 "value: 40 ohm");
  }
}

}  // namespace padwalk::tools
