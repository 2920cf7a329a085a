// SPDX-License-Identifier: MIT
#include "graph/typed_points.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace padwalk::graph {

namespace {

bool same_letter(char a, char b) {
  const auto upper = [](char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  };
  return upper(a) == upper(b);
}

bool begins_so(std::string_view name, std::string_view begin) {
  return name.size() >= begin.size() &&
         std::equal(begin.begin(), begin.end(), name.begin(), same_letter);
}

/// The last dot outside {}. npos: none.
std::size_t dot_of(std::string_view word) {
  std::size_t dot = std::string_view::npos;
  int depth = 0;
  for (std::size_t i = 0; i < word.size(); ++i) {
    depth += word[i] == '{' ? 1 : word[i] == '}' ? -1 : 0;
    dot = word[i] == '.' && depth == 0 ? i : dot;
  }
  return dot;
}

}  // namespace

std::string some_of(const std::vector<std::string>& names, std::size_t most) {
  const auto shown = static_cast<std::ptrdiff_t>(std::min(most, names.size()));
  std::string text = fmt::format("{}", fmt::join(names.begin(), names.begin() + shown, ", "));
  return names.size() > most ? fmt::format("{} and {} more", text, names.size() - most) : text;
}

std::optional<PartId> TypedPoints::part(std::string_view name) const {
  if (const auto exact = board_.find_part(name)) {
    return exact;
  }
  std::optional<PartId> found;
  for (std::uint32_t i = 0; i < board_.parts().size(); ++i) {
    const std::string& its = board_.parts()[i].name;
    if (its.size() == name.size() && begins_so(its, name)) {
      if (found) {
        return std::nullopt;
      }
      found = PartId{i};
    }
  }
  return found;
}

std::vector<PointId> TypedPoints::ids(std::string_view name) const {
  if (const auto point = board_.find_point(name)) {
    return {*point};
  }
  std::vector<PointId> sides;
  for (const PointDescription& point : board_.description().points) {
    if (point.name == name) {
      for (const Side side : point.via) {
        if (const auto id = board_.find_point(fmt::format("{}@{}", name, side_name(side)))) {
          sides.push_back(*id);
        }
      }
    }
  }
  return sides;
}

NetId TypedPoints::net_of(std::string_view point) const {
  for (const PointId id : ids(point)) {
    const NetId net = board_[id].net;
    if (net != kNoNet && board_[net].listed) {
      return net;
    }
  }
  return kNoNet;
}

std::string TypedPoints::pins_in_words(PartId part) const {
  const Part& its = board_[part];
  if (its.pins.empty()) {
    return fmt::format("{} has no pins", its.name);
  }
  const std::string& first = board_[its.pins.front()].pin;
  return its.pins.size() == 1 ? fmt::format("{} has one pin, {}", its.name, first)
                              : fmt::format("{} has {} pins, {} to {}", its.name, its.pins.size(),
                                            first, board_[its.pins.back()].pin);
}

std::vector<std::string> TypedPoints::nets_like(std::string_view begin) const {
  std::vector<std::string> names;
  for (const NetDescription& net : board_.description().nets) {
    if (begins_so(net.name, begin)) {
      names.push_back(net.name);
    }
  }
  return names;
}

std::vector<std::string> TypedPoints::parts_like(std::string_view begin) const {
  std::vector<std::string> names;
  for (const PartDescription& part : board_.description().parts) {
    if (begins_so(part.name, begin)) {
      names.push_back(part.name);
    }
  }
  return names;
}

std::optional<PinUses> TypedPoints::uses(PartId part) const {
  const Part& its = board_[part];
  const auto uses = its.kind == PartKind::ic ? pin_uses(its.type) : std::nullopt;
  return uses && uses->size() == its.pins.size() ? uses : std::nullopt;
}

std::optional<PinUse> TypedPoints::use(std::string_view point) const {
  const auto id = board_.find_point(point);
  if (!id || board_[*id].part == kNoPart) {
    return std::nullopt;
  }
  const PartId part = board_[*id].part;
  const auto uses = this->uses(part);
  const std::vector<PointId>& pins = board_[part].pins;
  const auto at = std::find(pins.begin(), pins.end(), *id);
  return uses && at != pins.end() ? std::optional(static_cast<PinUse>(
                                        (*uses)[static_cast<std::size_t>(at - pins.begin())]))
                                  : std::nullopt;
}

std::optional<PointsByPin> TypedPoints::points(const std::string& word, BadWord& bad) const {
  if (is_point(word)) {
    return PointsByPin{{word}};
  }
  const std::size_t dot = dot_of(word);
  const auto names = typed_parts(std::string_view(word).substr(0, dot), bad);
  if (!names) {
    return std::nullopt;
  }
  if (dot == std::string::npos) {
    PointsByPin points;
    for (const std::string& name : *names) {
      if (const auto part = this->part(name); part && !is_point(name)) {
        bad.text = fmt::format("{} is a part; say which pin: {}", board_[*part].name,
                               pins_in_words(*part));
        return std::nullopt;
      }
      if (!is_point(name)) {
        const std::vector<std::string> like = parts_like(name);
        bad.text = like.empty()
                       ? fmt::format("there is no point {}", name)
                       : fmt::format("there is no point {}; a pin of {}?", name, some_of(like));
        return std::nullopt;
      }
      points.push_back({name});
    }
    return points;
  }
  std::string_view pins = std::string_view(word).substr(dot + 1);
  if (pins.size() > 1 && pins.front() == '{' && pins.back() == '}') {
    pins = pins.substr(1, pins.size() - 2);
  }
  const auto pin_names =
      pins.empty() ? std::optional<std::vector<std::string>>({""}) : typed_list(pins, bad);
  if (!pin_names) {
    return std::nullopt;
  }
  std::vector<PartId> parts;
  for (const std::string& name : *names) {
    const auto part = this->part(name);
    if (!part) {
      const std::vector<std::string> like = parts_like(name);
      const char* const more = names->size() > 1 ? ", of those in this word" : "";
      bad.text = like.empty() ? fmt::format("there is no part {}{}", name, more)
                              : fmt::format("there is no part {}{}; it could be {}", name, more,
                                            some_of(like));
      return std::nullopt;
    }
    parts.push_back(*part);
  }
  PointsByPin points;
  for (const std::string& pin : *pin_names) {
    points.emplace_back();
    for (const PartId part : parts) {
      std::string point = fmt::format("{}.{}", board_[part].name, pin);
      if (!board_.find_point(point)) {
        bad.text = pin.empty() ? fmt::format("{} lacks a pin: {}", word, pins_in_words(part))
                               : fmt::format("{}; there is no pin {}", pins_in_words(part), pin);
        return std::nullopt;
      }
      points.back().push_back(std::move(point));
    }
  }
  return points;
}

}  // namespace padwalk::graph
