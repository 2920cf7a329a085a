// SPDX-License-Identifier: MIT
#include "graph/yaml_fields.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace padwalk::graph {

namespace {

constexpr double kMaxPosition_mm = 100'000;
constexpr std::size_t kMaxShown = 40;

/// What a node is, for a complaint; long texts are cut.
std::string shown(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::null:
      return "nothing";
    case YamlNode::Kind::sequence:
      return "a list";
    case YamlNode::Kind::map:
      return "a map";
    case YamlNode::Kind::scalar:
      break;
  }
  if (node.scalar.size() <= kMaxShown) {
    return "\"" + node.scalar + "\"";
  }
  std::size_t end = kMaxShown;
  while (end > 0 && (static_cast<unsigned char>(node.scalar[end]) & 0xc0) == 0x80) {
    --end;  // not within a character
  }
  return "\"" + node.scalar.substr(0, end) + "…\"";
}

template <typename Number>
std::optional<Number> parse_number(std::string_view text) {
  if (!text.empty() && text.front() == '+') {
    text.remove_prefix(1);
    if (!text.empty() && text.front() == '-') {
      return std::nullopt;
    }
  }
  Number number{};
  const char* const last = text.data() + text.size();
  const auto [end, error] = std::from_chars(text.data(), last, number);
  return error == std::errc() && end == last ? std::optional(number) : std::nullopt;
}

}  // namespace

void YamlValues::error(const YamlNode& node, const std::string& text) const {
  diagnostics_->error(node.mark, what_.empty() ? text : what_ + ": " + text);
}

std::optional<std::string> YamlValues::text(const YamlNode& node, std::string_view key) const {
  if (node.kind != YamlNode::Kind::scalar || node.scalar.empty()) {
    const bool is_empty = node.kind == YamlNode::Kind::scalar;
    error(node, fmt::format("{} is {}; expected a word or a text", key,
                            is_empty ? "empty" : shown(node)));
    return std::nullopt;
  }
  return node.scalar;
}

std::optional<double> YamlValues::number(const YamlNode& node, std::string_view key, double low,
                                         double high) const {
  const auto found = node.kind == YamlNode::Kind::scalar ? parse_number<double>(node.scalar)
                                                         : std::optional<double>();
  if (!found || !std::isfinite(*found) || *found < low || *found > high) {
    error(node,
          fmt::format("{} is {}; expected a number from {} to {}", key, shown(node), low, high));
    return std::nullopt;
  }
  return found;
}

std::optional<int> YamlValues::whole(const YamlNode& node, std::string_view key, int low,
                                     int high) const {
  const auto found =
      node.kind == YamlNode::Kind::scalar ? parse_number<int>(node.scalar) : std::optional<int>();
  if (!found || *found < low || *found > high) {
    error(node, fmt::format("{} is {}; expected a whole number from {} to {}", key, shown(node),
                            low, high));
    return std::nullopt;
  }
  return found;
}

std::optional<double> YamlValues::value(const YamlNode& node, std::string_view key, Unit unit,
                                        std::string_view example) const {
  const auto found = node.kind == YamlNode::Kind::scalar ? parse_value(node.scalar, unit)
                                                         : std::optional<double>();
  if (!found) {
    error(node, fmt::format("{} is {}; expected a value such as {}", key, shown(node), example));
  }
  return found;
}

std::optional<bool> YamlValues::flag(const YamlNode& node, std::string_view key) const {
  static constexpr std::string_view kWords[] = {"false", "true", "no", "yes"};
  const auto found = word_of(node, key, kWords);
  return found ? std::optional(*found % 2 == 1) : std::nullopt;
}

std::optional<Side> YamlValues::side(const YamlNode& node, std::string_view key) const {
  const auto found =
      node.kind == YamlNode::Kind::scalar ? find_side(node.scalar) : std::optional<Side>();
  if (!found) {
    error(node,
          fmt::format("{} is {}; expected one of top, bottom, inner1 … inner14", key, shown(node)));
  }
  return found;
}

std::optional<Xy> YamlValues::xy(const YamlNode& node, std::string_view key) const {
  if (node.kind != YamlNode::Kind::sequence || node.items.size() != 2) {
    error(node, fmt::format("{} is {}; expected two numbers in mm, [x, y]", key,
                            node.kind == YamlNode::Kind::sequence
                                ? fmt::format("a list of {}", node.items.size())
                                : shown(node)));
    return std::nullopt;
  }
  const auto x = number(node.items[0], key, -kMaxPosition_mm, kMaxPosition_mm);
  const auto y = number(node.items[1], key, -kMaxPosition_mm, kMaxPosition_mm);
  return x && y ? std::optional(Xy{*x, *y}) : std::nullopt;
}

std::optional<Reference> YamlValues::reference(const YamlNode& node, std::string_view key) const {
  if (node.kind != YamlNode::Kind::scalar || node.scalar.empty()) {
    error(node, fmt::format("{} holds {}; expected the name of a point, such as U2.7 or TP3", key,
                            node.kind == YamlNode::Kind::scalar ? "an empty name" : shown(node)));
    return std::nullopt;
  }
  return Reference{node.scalar, node.mark};
}

std::vector<Reference> YamlValues::references(const YamlNode& node, std::string_view key,
                                              std::size_t size) const {
  std::vector<Reference> all;
  if (!is_list(node, key, size == 2 ? "[U2.7, TP3]" : "[U2.7, TP3, …]")) {
    return all;
  }
  for (const YamlNode& item : node.items) {
    if (auto name = reference(item, key)) {
      all.push_back(std::move(*name));
    }
  }
  if (size != 0 && node.items.size() != size) {
    error(node, fmt::format("{} lists {} points; expected {}", key, node.items.size(), size));
    all.clear();
  } else if (size != 0 && all.size() != size) {
    all.clear();
  }
  return all;
}

std::optional<std::size_t> YamlValues::word_of(const YamlNode& node, std::string_view key,
                                               std::span<const std::string_view> words) const {
  const auto found = std::find(words.begin(), words.end(), node.scalar);
  if (node.kind != YamlNode::Kind::scalar || found == words.end()) {
    error(node, fmt::format("{} is {}; expected one of {}", key, shown(node), list_words(words)));
    return std::nullopt;
  }
  return static_cast<std::size_t>(found - words.begin());
}

bool YamlValues::is_list(const YamlNode& node, std::string_view key,
                         std::string_view example) const {
  if (node.kind != YamlNode::Kind::sequence) {
    error(node, fmt::format("{} is {}; expected a list, {}", key, shown(node), example));
    return false;
  }
  return true;
}

YamlFields::YamlFields(const YamlNode& node, std::string what,
                       std::initializer_list<std::string_view> known, Diagnostics& diagnostics)
    : YamlValues(std::move(what), diagnostics), node_(node) {
  if (node.kind != YamlNode::Kind::map && node.kind != YamlNode::Kind::null) {
    error(node, fmt::format("found {}; expected a map with some of the keys {}", shown(node),
                            list_words(known)));
  }
  for (const auto& [key, value] : node.entries) {
    if (std::find(known.begin(), known.end(), key.scalar) == known.end()) {
      error(key, fmt::format("the key {} is not known; expected one of {}", shown(key),
                             list_words(known)));
    }
  }
}

void YamlFields::read_text(std::string_view key, std::string& to) const {
  read(key, to, [&](const YamlNode& node) { return text(node, key); });
}

void YamlFields::read_side(std::string_view key, Side& to) const {
  read(key, to, [&](const YamlNode& node) { return side(node, key); });
}

void YamlFields::read_xy(std::string_view key, std::optional<Xy>& to) const {
  read(key, to, [&](const YamlNode& node) { return xy(node, key); });
}

void YamlFields::read_flag(std::string_view key, bool& to) const {
  read(key, to, [&](const YamlNode& node) { return flag(node, key); });
}

void YamlFields::read_drive(bool& never) const {
  static constexpr std::string_view kWords[] = {"never"};
  if (const YamlNode* node = this->node().find("drive")) {
    never = word_of(*node, "drive", kWords).has_value();
  }
}

}  // namespace padwalk::graph
