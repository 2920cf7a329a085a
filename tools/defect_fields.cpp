// SPDX-License-Identifier: MIT
#include "tools/defect_fields.hpp"

#include <algorithm>

namespace padwalk::tools {

using graph::Unit;
using graph::YamlFields;
using graph::YamlNode;

const YamlNode* required(const YamlFields& fields, std::string_view key, std::string_view example) {
  const YamlNode* node = fields.node().find(key);
  if (node == nullptr) {
    fields.error(fields.node(), fmt::format("{0} is missing; expected {0}: {1}", key, example));
  }
  return node;
}

std::optional<double> ohm_above_0(const YamlFields& fields, std::string_view key,
                                  std::optional<double> usual) {
  const YamlNode* node = fields.node().find(key);
  if (node == nullptr) {
    if (!usual) {
      required(fields, key, "120k or 35 ohm");
    }
    return usual;
  }
  auto found = fields.value(*node, key, Unit::ohm, "120k or 35 ohm");
  if (found && *found <= 0) {
    fields.error(*node, fmt::format("{} is 0; expected more, such as 0.1 ohm", key));
    found.reset();
  }
  return found;
}

std::optional<double> duration(const YamlFields& fields, std::string_view key,
                               std::string_view example) {
  const YamlNode* node = required(fields, key, example);
  if (node == nullptr) {
    return std::nullopt;
  }
  auto found = fields.value(*node, key, Unit::second, example);
  if (found && *found <= 0) {
    fields.error(*node, fmt::format("{} is 0; expected more, such as {}", key, example));
    found.reset();
  }
  return found;
}

YamlNode without_unsimulated(const YamlNode& node, std::string_view what,
                             std::initializer_list<std::string_view> keys,
                             graph::Diagnostics& diagnostics) {
  YamlNode rest = node;
  rest.entries.clear();
  for (const graph::YamlEntry& entry : node.entries) {
    if (std::find(keys.begin(), keys.end(), entry.key.scalar) == keys.end()) {
      rest.entries.push_back(entry);
    } else {
      diagnostics.error(entry.key.mark,
                        fmt::format("{}: {} {}", what, entry.key.scalar, kNotSimulated));
    }
  }
  return rest;
}

}  // namespace padwalk::tools
