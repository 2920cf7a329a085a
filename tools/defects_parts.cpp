// SPDX-License-Identifier: MIT
#include "tools/defects_parts.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <tuple>
#include <utility>
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

/// Two pins of the part that are listed under `key`. Errors: a complaint, and nothing.
std::optional<std::pair<std::size_t, std::size_t>> two_pins(const YamlFields& fields,
                                                            std::string_view key,
                                                            const Board& board,
                                                            const graph::Part& part) {
  const YamlNode& node = *fields.node().find(key);
  std::vector<std::size_t> pins;
  if (!fields.is_list(node, key, "[1, 2]")) {
    return std::nullopt;
  }
  for (const YamlNode& item : node.items) {
    const auto name = fields.text(item, fmt::format("a pin of {}", key));
    const auto pin = std::find_if(part.pins.begin(), part.pins.end(), [&](graph::PointId point) {
      return name && board[point].pin == *name;
    });
    if (pin != part.pins.end()) {
      pins.push_back(static_cast<std::size_t>(pin - part.pins.begin()));
    } else if (name) {
      fields.error(item, fmt::format("{} has no pin {}", part.name, *name));
      return std::nullopt;
    }
  }
  if (pins.size() != 2) {
    fields.error(node, fmt::format("{} lists {} pins; expected 2", key, node.items.size()));
    return std::nullopt;
  }
  return std::pair(pins[0], pins[1]);
}

void read_worn_contact(const YamlFields& fields, const Board& board, PartId id, Defects& defects) {
  const graph::Part& part = board[id];
  const bool varies = fields.has("spread") || fields.has("fails every");
  Defects::WornContact worn;
  worn.part = id;
  const YamlNode* given = fields.node().find("value");
  const auto value =
      given != nullptr && given->scalar == "open"
          ? std::optional(kLifted)
          : ohm_above_0(fields, "value", varies ? std::optional(kClosedSwitchOhm) : std::nullopt);
  if (fields.has("spread")) {
    worn.spread_ohm = ohm_above_0(fields, "spread", std::nullopt).value_or(0);
  }
  fields.read("fails every", worn.fails_every, [&](const YamlNode& node) {
    const auto times = fields.whole(node, "fails every", 2, 1000000);
    return times ? std::optional(static_cast<std::size_t>(*times)) : std::nullopt;
  });
  const auto pins = two_pins(fields, "contact", board, part);
  if (!pins) {
    return;
  }
  const auto joins = [&](const std::vector<std::size_t>& group) {
    for (std::size_t n = 1; n < group.size(); ++n) {
      if (std::minmax(group[n - 1], group[n]) == std::minmax(pins->first, pins->second)) {
        return true;
      }
    }
    return false;
  };
  if (std::none_of(part.positions.begin(), part.positions.end(), [&](const auto& position) {
        return std::any_of(position.second.begin(), position.second.end(), joins);
      })) {
    fields.error(*fields.node().find("contact"),
                 fmt::format("{} joins pins {} and {} in no position; expected neighbours "
                             "in one of its groups",
                             part.name, board[part.pins[pins->first]].pin,
                             board[part.pins[pins->second]].pin));
  } else if (value) {
    std::tie(worn.a, worn.b) = *pins;
    worn.ohm = *value;
    defects.worn_contacts.push_back(worn);
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
  const YamlFields fields(node, "switch",
                          {"switch", "stuck", "contact", "value", "spread", "fails every",
                           "exchanged", "bounce", "note"},
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
  if (fields.has("exchanged")) {
    if (const auto pins = two_pins(fields, "exchanged", board, board[*part])) {
      defects.exchanged_pins.push_back({*part, pins->first, pins->second});
    }
  }
  if (fields.has("bounce")) {
    if (const auto seconds = duration(fields, "bounce", "6 ms")) {
      defects.bouncing_switches.push_back({*part, *seconds});
    }
  }
  if (fields.has("contact")) {
    read_worn_contact(fields, board, *part, defects);
  } else if (fields.has("value") || fields.has("spread") || fields.has("fails every")) {
    required(fields, "contact", "[1, 2]");
  } else if (!fields.has("stuck") && !fields.has("exchanged") && !fields.has("bounce")) {
    fields.error(node,
                 "nothing is wrong with it; expected stuck: POSITION or contact: [1, 2], "
                 "value: 40 ohm");
  }
}

}  // namespace padwalk::tools
