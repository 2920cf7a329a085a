// SPDX-License-Identifier: MIT
//
// Nets: what their names mean, who belongs to whom, and on which side each stretch of copper runs.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "graph/board_builder.hpp"

namespace padwalk::graph {

namespace {

std::optional<PlaceKind> pad_kind(std::string_view suffix) {
  static const std::map<std::string_view, PlaceKind> kinds = {{"pad", PlaceKind::pad},
                                                              {"top", PlaceKind::top},
                                                              {"bottom", PlaceKind::bottom},
                                                              {"leg", PlaceKind::leg},
                                                              {"socket", PlaceKind::socket}};
  const auto found = kinds.find(suffix);
  return found == kinds.end() ? std::nullopt : std::optional(found->second);
}

}  // namespace

std::optional<BoardBuilder::Element> BoardBuilder::resolve(const Reference& reference,
                                                           const std::string& where) {
  Element element;
  element.reference = &reference;
  if (const auto point = board_.find_point(reference.name)) {
    element.point = *point;
    return element;
  }
  const auto via = vias_.find(reference.name);
  if (via != vias_.end()) {
    element.via = &via->second;
    return element;
  }
  const std::size_t at = reference.name.rfind('@');
  if (at != std::string::npos) {
    const auto point = board_.find_point(reference.name.substr(0, at));
    const auto kind = pad_kind(std::string_view(reference.name).substr(at + 1));
    if (point && kind && is_through_pin(*point)) {
      if (*kind == PlaceKind::leg || *kind == PlaceKind::socket) {
        diagnostics_.error(reference.mark,
                           fmt::format("{} lists {}; copper runs to pads: write {}", where,
                                       reference.name, reference.name.substr(0, at)));
        return std::nullopt;
      }
      element.point = *point;
      element.kind = kind;
      return element;
    }
  }
  const std::size_t dot = reference.name.find('.');
  const auto part = board_.find_part(reference.name.substr(0, dot));
  if (dot != std::string::npos && part) {
    const PartDescription& description = file_.parts[index(*part)];
    diagnostics_.error(
        reference.mark,
        description.package.empty()
            ? fmt::format("{} lists {}; part {} has no such pin among its {}", where,
                          reference.name, description.name, board_[*part].pins.size())
            : fmt::format("{} lists {}; package {} has {} pins", where, reference.name,
                          description.package, board_[*part].pins.size()));
  } else {
    diagnostics_.error(reference.mark,
                       fmt::format("{} lists {}; there is no such part or point in this file",
                                   where, reference.name));
  }
  return std::nullopt;
}

bool BoardBuilder::is_through_pin(PointId point) const {
  return board_[point].part != kNoPart && surface_[index(point)] == Side::unknown;
}

void BoardBuilder::claim_point(NetId net, PointId id, const Reference& reference) {
  Point& point = board_.points_[index(id)];
  point_marks_.resize(board_.points_.size());
  if (point.net == kNoNet) {
    point.net = net;
    point_marks_[index(id)] = reference.mark;
    board_.nets_[index(net)].points.push_back(id);
  } else if (point.net != net) {
    const Mark first = point_marks_[index(id)];
    diagnostics_.error(
        reference.mark,
        fmt::format("net \"{}\" lists {}, which net \"{}\" has already in line {}; "
                    "a point belongs to one net",
                    board_[net].name, point.name, board_[point.net].name, first.line));
  }
}

void BoardBuilder::claim(NetId net, const Element& element) {
  if (element.via != nullptr) {
    for (const PointId side : element.via->sides) {
      claim_point(net, side, *element.reference);
    }
    return;
  }
  claim_point(net, element.point, *element.reference);
  const std::string& name = board_[element.point].name;
  const auto via = vias_.find(name.substr(0, name.rfind('@')));
  if (board_[element.point].part == kNoPart && via != vias_.end()) {  // one side brings the other
    for (const PointId side : via->second.sides) {
      claim_point(net, side, *element.reference);
    }
  }
}

void BoardBuilder::add_nets() {
  copper_.resize(board_.points_.size());
  point_marks_.resize(board_.points_.size());
  for (const NetDescription& description : file_.nets) {
    const NetId id = next_id<NetId>(board_.nets_.size());
    if (!board_.net_by_name_.emplace(description.name, id).second) {
      diagnostics_.error(description.mark,
                         fmt::format("there are two nets named \"{}\"", description.name));
    }
    Net net;
    net.name = description.name;
    net.role = description.role;
    net.has_route = !description.route.empty();
    board_.nets_.push_back(std::move(net));
    for (const ChainDescription& chain : description.route) {
      add_chain(id, chain);
    }
    std::set<std::string_view> seen;
    for (const Reference& member : description.members) {
      if (!seen.insert(member.name).second) {
        diagnostics_.warning(
            member.mark, fmt::format("net \"{}\" lists {} twice", description.name, member.name));
      }
      if (const auto element = resolve(member, fmt::format("net \"{}\"", description.name))) {
        claim(id, *element);
      }
    }
    if (description.drive_never) {
      for (const PointId point : board_.nets_[index(id)].points) {
        board_.points_[index(point)].drive_never = true;
      }
    }
  }
}

Side BoardBuilder::fixed_side(const Element& element, Side chain_side, bool entering) {
  if (element.via != nullptr) {
    if (chain_side != Side::unknown) {
      return chain_side;
    }
    const std::vector<PointId>& ends = element.via->sides;
    return surface_[index(entering ? ends.front() : ends.back())];
  }
  if (element.kind) {
    return side_of(*element.kind);
  }
  return surface_[index(element.point)];
}

PointId BoardBuilder::end_point(const Element& element, Side chain_side, bool entering) const {
  if (element.via == nullptr) {
    return element.point;
  }
  for (const PointId side : element.via->sides) {
    if (chain_side != Side::unknown && surface_[index(side)] == chain_side) {
      return side;
    }
  }
  return entering ? element.via->sides.front() : element.via->sides.back();
}

/// "V12@top" and "V12@bottom", or two pads of one pin: one hole, whose barrel joins them.
bool BoardBuilder::same_hole(const Element& a, const Element& b) {
  const std::string& name_a = a.reference->name;
  const std::string& name_b = b.reference->name;
  return name_a.substr(0, name_a.rfind('@')) == name_b.substr(0, name_b.rfind('@'));
}

bool BoardBuilder::passes_pin(const Element& element) const {
  return element.via == nullptr && !element.kind && is_through_pin(element.point);
}

bool BoardBuilder::check_vias(const std::vector<Element>& elements, Side side,
                              const std::string& where) {
  for (const Element& element : elements) {
    if (element.via == nullptr) {
      continue;
    }
    const std::string& name = element.reference->name;
    if (side != Side::unknown && surface_[index(end_point(element, side, true))] != side) {
      diagnostics_.error(element.reference->mark,
                         fmt::format("{}: the chain runs on {}, which via {} does not reach", where,
                                     side_name(side), name));
      return false;
    }
    const bool at_end = &element == &elements.front() || &element == &elements.back();
    if (side == Side::unknown && at_end) {
      diagnostics_.error(element.reference->mark,
                         fmt::format("{}: the chain ends on via {}; say on which of its sides, as "
                                     "in {} or {}",
                                     where, name, board_[element.via->sides.front()].name,
                                     board_[element.via->sides.back()].name));
      return false;
    }
  }
  return true;
}

std::optional<std::vector<Side>> BoardBuilder::stretch_sides(const std::vector<Element>& elements,
                                                             Side chain_side,
                                                             const std::string& where) {
  std::vector<Side> sides(elements.size() - 1, chain_side);
  for (std::size_t i = 0; i < sides.size(); ++i) {
    if (same_hole(elements[i], elements[i + 1])) {
      continue;
    }
    for (const Side end : {fixed_side(elements[i], chain_side, false),
                           fixed_side(elements[i + 1], chain_side, true)}) {
      if (end != Side::unknown && sides[i] != Side::unknown && sides[i] != end) {
        diagnostics_.error(
            elements[i + 1].reference->mark,
            fmt::format("{}: copper from {} to {} would change from {} to {}; put a "
                        "via between them",
                        where, elements[i].reference->name, elements[i + 1].reference->name,
                        side_name(sides[i]), side_name(end)));
        return std::nullopt;
      }
      sides[i] = end == Side::unknown ? sides[i] : end;
    }
  }
  // Copper stays on its side where it meets a pin.
  for (std::size_t i = 1; i < sides.size(); ++i) {
    if (sides[i] == Side::unknown && passes_pin(elements[i])) {
      sides[i] = sides[i - 1];
    }
  }
  for (std::size_t i = sides.size() - 1; i > 0; --i) {
    if (sides[i - 1] == Side::unknown && passes_pin(elements[i])) {
      sides[i - 1] = sides[i];
    }
  }
  for (std::size_t i = 1; i < sides.size(); ++i) {
    if (sides[i] != sides[i - 1] && passes_pin(elements[i])) {
      const std::string& name = elements[i].reference->name;
      diagnostics_.error(elements[i].reference->mark,
                         fmt::format("{}: the chain reaches {} on {} and leaves it on {}; if its "
                                     "hole joins the sides, write {}@{}, {}@{}",
                                     where, name, side_name(sides[i - 1]), side_name(sides[i]),
                                     name, side_name(sides[i - 1]), name, side_name(sides[i])));
      return std::nullopt;
    }
  }
  return sides;
}

void BoardBuilder::add_chain(NetId net, const ChainDescription& chain) {
  const std::string where = fmt::format("net \"{}\"", board_[net].name);
  std::vector<Element> elements;
  for (const Reference& reference : chain.points) {
    const auto element = resolve(reference, where);
    if (!element) {
      return;  // said already; the rest of the chain would only repeat it
    }
    claim(net, *element);
    if (!elements.empty() && elements.back().reference->name == reference.name) {
      diagnostics_.error(reference.mark,
                         fmt::format("{}: {} follows itself", where, reference.name));
      return;
    }
    elements.push_back(*element);
  }
  if (elements.size() < 2) {
    diagnostics_.error(chain.mark, where + ": a chain needs two points or more");
    return;
  }
  const Side side = chain.side == Side::unknown && file_.layers == 1 ? Side::bottom : chain.side;
  if (!check_vias(elements, side, where)) {
    return;
  }
  const auto sides = stretch_sides(elements, side, where);
  if (!sides) {
    return;
  }
  const auto note_copper = [&](const Element& element, Side on) {
    if (element.via == nullptr) {
      copper_[index(element.point)][on == Side::unknown ? 1 : 0] = true;
    }
  };
  for (std::size_t i = 0; i < sides->size(); ++i) {
    const Element& a = elements[i];
    const Element& b = elements[i + 1];
    if (same_hole(a, b)) {
      note_copper(a, fixed_side(a, side, false));
      note_copper(b, fixed_side(b, side, true));
      continue;
    }
    note_copper(a, (*sides)[i]);
    note_copper(b, (*sides)[i]);
    links_.push_back({net, end_point(a, side, false), end_point(b, side, true), (*sides)[i]});
  }
}

void BoardBuilder::add_unlisted_vias() {
  for (const PointDescription& description : file_.points) {
    const auto via = vias_.find(description.name);
    if (via == vias_.end() || board_[via->second.sides[0]].net != kNoNet) {
      continue;
    }
    Net net;
    net.name = description.name;
    net.listed = false;
    board_.nets_.push_back(std::move(net));
    const Reference reference{description.name, description.mark};
    for (const PointId side : via->second.sides) {
      claim_point(next_id<NetId>(board_.nets_.size() - 1), side, reference);
    }
  }
}

}  // namespace padwalk::graph
