// SPDX-License-Identifier: MIT
//
// Turns a BoardDescription into the vectors and the graph of a Board, and checks all that needs
// more than one field of the file to be seen. Used by Board's constructor alone.
#pragma once

#include <array>
#include <functional>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "graph/board.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// The id that the next element of a vector of `size` elements gets.
template <typename Id>
Id next_id(std::size_t size) {
  return Id{static_cast<std::uint32_t>(size)};
}

/// The side of a top or bottom pad; unknown for any other place.
constexpr Side side_of(PlaceKind kind) {
  return kind == PlaceKind::top      ? Side::top
         : kind == PlaceKind::bottom ? Side::bottom
                                     : Side::unknown;
}

class BoardBuilder {
 public:
  BoardBuilder(Board& board, Diagnostics& diagnostics)
      : board_(board), file_(board.description_), diagnostics_(diagnostics) {}

  /// Errors: go to the diagnostics; the board is only sound where there are none.
  void build();

 private:
  /// A via of the file: its points, two or more, in the order of its sides.
  struct Via {
    std::vector<PointId> sides;
  };
  /// One name of a chain, understood. `via` is set for a bare via; `kind` for "U2.7@bottom".
  struct Element {
    PointId point = kNoPoint;
    const Via* via = nullptr;
    std::optional<PlaceKind> kind;
    const Reference* reference = nullptr;
  };
  /// Copper between two neighbours of a chain.
  struct Link {
    NetId net = kNoNet;
    PointId a = kNoPoint;
    PointId b = kNoPoint;
    Side side = Side::unknown;
  };

  void add_parts();
  void add_pins(const PartDescription& part, PartId id);
  void add_positions(const PartDescription& part, PartId id);
  void add_points();
  PointId add_point(Point point, Mark mark);
  void add_nets();
  void add_chain(NetId net, const ChainDescription& chain);
  void add_unlisted_vias();
  void claim(NetId net, const Element& element);
  void claim_point(NetId net, PointId point, const Reference& reference);
  void read_wires();
  void read_copper();
  void read_neighbours();
  bool has_copper_entry(PointId a, PointId b) const;

  static bool same_hole(const Element& a, const Element& b);
  bool passes_pin(const Element& element) const;
  bool check_vias(const std::vector<Element>& elements, Side side, const std::string& where);
  /// The side of each stretch of a chain: what its two ends fix, else that of its neighbour across
  /// a pin. Errors: to the diagnostics, and nothing is returned.
  std::optional<std::vector<Side>> stretch_sides(const std::vector<Element>& elements,
                                                 Side chain_side, const std::string& where);
  std::optional<Element> resolve(const Reference& reference, const std::string& where);
  /// The side that an element fixes for copper on its `entering` or leaving end; unknown if none.
  Side fixed_side(const Element& element, Side chain_side, bool entering);
  PointId end_point(const Element& element, Side chain_side, bool entering) const;
  bool is_through_pin(PointId point) const;

  void settle_pads();
  void add_places();
  void add_segments();
  void add_inner_segments(PointId point);
  void add_known_segments(NetId net, const std::vector<const Link*>& links);
  /// `unit_of` numbers the stretches of known copper.
  void add_unknown_ways(NetId net, const std::function<std::size_t(PlaceId)>& unit_of);
  void add_segment(PlaceId a, PlaceId b, SegmentKind kind, Side side, NetId net,
                   PointId member = kNoPoint);
  /// The pad of `point` that copper on `side` ends on.
  PlaceId pad(PointId point, Side side) const;
  /// The place by which a point's unit hangs where the way of its copper is not known.
  PlaceId solder_pad(PointId point) const;
  Side solder_side(PointId point) const;

  Board& board_;
  const BoardDescription& file_;
  Diagnostics& diagnostics_;
  std::unordered_map<std::string, Via> vias_;
  std::vector<Mark> point_marks_;  ///< where each point's net claimed it
  std::vector<Side> surface_;      ///< per point: the one side of its pad; unknown: a through hole
  std::unordered_map<std::size_t, PlaceId> first_copper_;  ///< by net: where its route begins
  std::vector<bool> split_pads_;  ///< per point: top and bottom pad are two places
  std::vector<Link> links_;
  std::vector<std::array<bool, 2>> copper_;  ///< per point: has copper of {known, unknown} side
};

}  // namespace padwalk::graph
