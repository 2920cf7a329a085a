// SPDX-License-Identifier: MIT
#include "tools/defect_names.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace padwalk::tools {

using graph::PlaceId;
using graph::Reference;
using graph::SegmentId;
using graph::YamlFields;
using graph::YamlNode;

std::string DefectNames::segment_name(SegmentId id) const {
  return board_.place_name(board_[id].a) + " to " + board_.place_name(board_[id].b);
}

std::vector<PlaceId> DefectNames::places(const Reference& reference) const {
  std::vector<PlaceId> found = board_.find_places(reference.name);
  const auto net = board_.find_net(reference.name);
  if (found.empty() && net && !board_[*net].points.empty()) {
    found.push_back(board_[board_[*net].points.front()].first);
  }
  if (found.empty()) {
    diagnostics_.error(reference.mark,
                       fmt::format("there is no point {} on this board; expected one such as U2.7, "
                                   "V12@bottom or TP3",
                                   reference.name));
  }
  return found;
}

std::string DefectNames::neighbours(const std::vector<PlaceId>& from) const {
  std::vector<std::string> names;
  for (const PlaceId place : from) {
    for (const auto edge :
         boost::make_iterator_range(boost::out_edges(graph::index(place), board_.graph()))) {
      const auto other = static_cast<std::uint32_t>(boost::target(edge, board_.graph()));
      names.push_back(board_.place_name(PlaceId{other}));
    }
  }
  return names.empty() ? "nothing" : graph::list_words(names);
}

std::optional<DefectNames::Ends> DefectNames::ends_of(const YamlFields& fields,
                                                      const YamlNode& node) const {
  Ends ends{fields.references(node, "it", 2), {}, {}};
  if (ends.names.empty()) {
    return std::nullopt;
  }
  ends.from = places(ends.names[0]);
  ends.to = places(ends.names[1]);
  return ends.from.empty() || ends.to.empty() ? std::nullopt : std::optional(std::move(ends));
}

std::optional<SegmentId> DefectNames::segment(const YamlFields& fields, std::string_view key) {
  const YamlNode& node = *fields.node().find(key);
  const std::optional<Ends> found_ends = ends_of(fields, node);
  if (!found_ends) {
    return std::nullopt;
  }
  const std::vector<Reference>& ends = found_ends->names;
  const std::vector<PlaceId>& from = found_ends->from;
  std::vector<SegmentId> found = board_.find_segments(ends[0].name, ends[1].name);
  if (found.empty()) {
    fields.error(node, fmt::format("no segment joins {0} and {1}; {0} is joined with {2}",
                                   ends[0].name, ends[1].name, neighbours(from)));
    return std::nullopt;
  }
  const auto same_ends = [&](SegmentId id) {
    const std::pair<PlaceId, PlaceId> first =
        std::minmax(board_[found.front()].a, board_[found.front()].b);
    return first == std::pair<PlaceId, PlaceId>(std::minmax(board_[id].a, board_[id].b));
  };
  if (!std::all_of(found.begin(), found.end(), same_ends)) {
    std::vector<std::string> names;
    std::transform(found.begin(), found.end(), std::back_inserter(names),
                   [&](SegmentId id) { return segment_name(id); });
    fields.error(node, fmt::format("{} and {} are joined by more than one segment; say which: {}",
                                   ends[0].name, ends[1].name, graph::list_words(names)));
    return std::nullopt;
  }
  // Two tracks side by side: each defect takes one of them.
  const auto whole =
      std::find_if(found.begin(), found.end(), [&](SegmentId id) { return given_.count(id) == 0; });
  if (whole == found.end()) {
    fields.error(node, fmt::format("{} to {} has a defect already; expected one for each segment",
                                   ends[0].name, ends[1].name));
    return std::nullopt;
  }
  given_.insert(*whole);
  return *whole;
}

std::optional<std::pair<PlaceId, PlaceId>> DefectNames::two_places(const YamlFields& fields,
                                                                   std::string_view key) const {
  const YamlNode& node = *fields.node().find(key);
  const std::optional<Ends> found_ends = ends_of(fields, node);
  if (!found_ends) {
    return std::nullopt;
  }
  const std::vector<Reference>& ends = found_ends->names;
  const std::vector<PlaceId>& from = found_ends->from;
  const std::vector<PlaceId>& to = found_ends->to;
  for (const PlaceId a : from) {
    for (const PlaceId b : to) {
      const bool one_is_through =
          board_[a].side == graph::Side::unknown || board_[b].side == graph::Side::unknown;
      if (a != b && (one_is_through || board_[a].side == board_[b].side)) {
        return std::pair(a, b);
      }
    }
  }
  if (from.front() == to.front()) {
    fields.error(node, fmt::format("{} and {} are the same place; expected two", ends[0].name,
                                   ends[1].name));
    return std::nullopt;
  }
  return std::pair(from.front(), to.front());
}

std::optional<SegmentId> DefectNames::hanging_by(PlaceId place) const {
  std::set<PlaceId> seen = {place};
  std::vector<PlaceId> waiting = {place};
  while (!waiting.empty()) {
    const PlaceId here = waiting.back();
    waiting.pop_back();
    for (const auto edge :
         boost::make_iterator_range(boost::out_edges(graph::index(here), board_.graph()))) {
      const SegmentId id = board_.graph()[edge];
      const graph::Segment& segment = board_[id];
      const PlaceId there = segment.a == here ? segment.b : segment.a;
      if (segment.kind != graph::SegmentKind::unknown_way) {
        if (seen.insert(there).second) {
          waiting.push_back(there);
        }
      } else if (segment.a == here) {
        return id;
      }
    }
  }
  return std::nullopt;
}

}  // namespace padwalk::tools
