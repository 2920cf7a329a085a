// SPDX-License-Identifier: MIT
#include "graph/part_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string>

#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

struct KindLetters {
  std::string_view letters;
  PartKind kind;
};

// Source: IEEE Std 315, from memory; IC, RN, RP, LED, CN, SK, VR and RV: common practice.
constexpr KindLetters kKindLetters[] = {
    {"U", PartKind::ic},        {"IC", PartKind::ic},         {"R", PartKind::resistor},
    {"RN", PartKind::network},  {"RP", PartKind::network},    {"C", PartKind::capacitor},
    {"L", PartKind::inductor},  {"D", PartKind::diode},       {"CR", PartKind::diode},
    {"LED", PartKind::diode},   {"Q", PartKind::transistor},  {"S", PartKind::switch_},
    {"SW", PartKind::switch_},  {"F", PartKind::fuse},        {"J", PartKind::connector},
    {"P", PartKind::connector}, {"CN", PartKind::connector},  {"SK", PartKind::connector},
    {"K", PartKind::relay},     {"T", PartKind::transformer}, {"Y", PartKind::crystal},
    {"X", PartKind::crystal},   {"VR", PartKind::pot},        {"RV", PartKind::pot},
    {"DS", PartKind::lamp},     {"LP", PartKind::lamp},       {"W", PartKind::link},
    {"M", PartKind::meter}};

std::string_view blanks_off(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t\n");
  const std::size_t last = text.find_last_not_of(" \t\n");
  return first == std::string_view::npos ? "" : text.substr(first, last - first + 1);
}

/// What lies between commas outside brackets.
std::vector<std::string_view> list_items(std::string_view list) {
  std::vector<std::string_view> items;
  int depth = 0;
  std::size_t begin = 0;
  for (std::size_t i = 0; i <= list.size(); ++i) {
    if (i == list.size() || (list[i] == ',' && depth == 0)) {
      items.push_back(blanks_off(list.substr(begin, i - begin)));
      begin = i + 1;
    } else {
      depth += list[i] == '(' ? 1 : list[i] == ')' ? -1 : 0;
    }
  }
  if (!items.empty() && items.back().empty()) {
    items.pop_back();  // a comma at the end
  }
  return items;
}

bool is_plain_name(std::string_view name) {
  return !name.empty() && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-' || c == '+';
  });
}

PartKind kind_of(std::string_view name) {
  const std::size_t end = name.find_first_of("0123456789");
  std::string letters(name.substr(0, end));
  std::transform(letters.begin(), letters.end(), letters.begin(), [](char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  });
  const auto found = std::find_if(std::begin(kKindLetters), std::end(kKindLetters),
                                  [&](const KindLetters& row) { return row.letters == letters; });
  return found == std::end(kKindLetters) ? PartKind::other : found->kind;
}

std::optional<Unit> unit_of(PartKind kind) {
  switch (kind) {
    case PartKind::resistor:
    case PartKind::network:
    case PartKind::pot:
      return Unit::ohm;
    case PartKind::capacitor:
      return Unit::farad;
    case PartKind::inductor:
      return Unit::henry;
    default:
      return std::nullopt;
  }
}

}  // namespace

void read_part_list(std::string_view list, BoardDescription& to, Diagnostics& diagnostics) {
  for (const std::string_view item : list_items(list)) {
    const auto bad = [&](std::string_view what) {
      diagnostics.error({}, fmt::format("\"{}\" {}; write a part as U4 DIP-16 (74LS138) or "
                                        "R7 axial 10 mm",
                                        item, what));
    };
    PartDescription part;
    const std::size_t space = std::min(item.find(' '), item.size());
    part.name = item.substr(0, space);
    std::string_view rest = blanks_off(item.substr(space));
    if (!is_plain_name(part.name)) {
      bad("does not begin with a name");
      continue;
    }
    part.kind = kind_of(part.name);
    if (const std::size_t open = rest.find('('); open != std::string_view::npos) {
      const std::string_view printed = blanks_off(rest.substr(open + 1));
      if (printed.size() < 2 || printed.find(')') != printed.size() - 1) {
        bad("has brackets that hold nothing or do not end it");
        continue;
      }
      const std::string said(blanks_off(printed.substr(0, printed.size() - 1)));
      const std::optional<Unit> unit = unit_of(part.kind);
      (unit && parse_value(said, *unit) ? part.value : part.type) = said;
      rest = blanks_off(rest.substr(0, open));
    }
    if (rest.empty()) {
      bad("has no package behind its name");
      continue;
    }
    part.package = rest;
    to.parts.push_back(std::move(part));
  }
}

void read_point_list(std::string_view list, BoardDescription& to, Diagnostics& diagnostics) {
  for (const std::string_view item : list_items(list)) {
    if (!is_plain_name(item)) {
      diagnostics.error({}, fmt::format("\"{}\" is no name of a point; expected TP1 and such, with "
                                        "commas between; pins come with their part",
                                        item));
      continue;
    }
    PointDescription point;
    point.name = item;
    to.points.push_back(std::move(point));
  }
}

}  // namespace padwalk::graph
