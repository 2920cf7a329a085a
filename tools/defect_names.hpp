// SPDX-License-Identifier: MIT
//
// The names in a defects file, found on the board: places and segments, with a complaint that lists
// what there is where a name fits nothing or too much. Used by defects.cpp alone.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/yaml_fields.hpp"

namespace padwalk::tools {

/// Errors: every function complains to the diagnostics, and gives nothing.
class DefectNames {
 public:
  DefectNames(const graph::Board& board, graph::Diagnostics& diagnostics)
      : board_(board), diagnostics_(diagnostics) {}

  /// The places of a point, or the first of a net.
  std::vector<graph::PlaceId> places(const graph::Reference& reference) const;

  /// The segment between the two names under `key`, which must be there. Each is given once: of two
  /// tracks side by side the second comes at the second call.
  std::optional<graph::SegmentId> segment(const graph::YamlFields& fields, std::string_view key);

  /// Two places that the list under `key` names, on a common side where there is a choice.
  std::optional<std::pair<graph::PlaceId, graph::PlaceId>> two_places(
      const graph::YamlFields& fields, std::string_view key) const;

  /// The segment of unknown way by which `place`, and what known copper joins with it, hangs.
  std::optional<graph::SegmentId> hanging_by(graph::PlaceId place) const;

 private:
  /// The two names of a list, and the places that each may mean.
  struct Ends {
    std::vector<graph::Reference> names;
    std::vector<graph::PlaceId> from;
    std::vector<graph::PlaceId> to;
  };
  std::optional<Ends> ends_of(const graph::YamlFields& fields, const graph::YamlNode& node) const;
  std::string neighbours(const std::vector<graph::PlaceId>& places) const;
  std::string segment_name(graph::SegmentId id) const;

  const graph::Board& board_;
  graph::Diagnostics& diagnostics_;
  std::set<graph::SegmentId> given_;
};

}  // namespace padwalk::tools
