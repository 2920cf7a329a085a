// SPDX-License-Identifier: MIT
//
// One net with an open as a small graph, cut out of the board: what find_open_suspects works on.
// Not for anything else.
#pragma once

#include <cstddef>
#include <span>
#include <unordered_map>
#include <vector>

#include "graph/suspects.hpp"

namespace padwalk::graph {

/// The known copper of a net, and the ways that lead from parts of it to nobody knows where. A lead
/// whose contact is in doubt is a vertex of its own, joined to its place.
/// A unit is what known copper joins. Every unit hangs by one way, but for the trunk: the unit that
/// the ways lead to in a net with a route.
class LocalNet {
 public:
  static constexpr std::size_t kNoUnit = SIZE_MAX;
  struct Way {
    int from = 0;
    std::size_t unit = 0;
  };

  LocalNet(const Board& board, const OpenCase& open);

  LocalRoute known;
  std::vector<PlaceId> place;       ///< by vertex; a lead: kNoPlace
  std::vector<std::size_t> unit;    ///< by vertex
  std::vector<bool> in_piece;       ///< by vertex
  std::vector<bool> is_pad;         ///< by vertex: copper ends there, so a way may lead there
  std::vector<OpenSuspect> causes;  ///< by edge of `known`, then by way; likelihood: the weight
  std::vector<Way> ways;
  std::size_t units = 0;
  std::size_t trunk = kNoUnit;
  std::vector<std::vector<int>> pieces;  ///< vertices, ascending
  bool one_place_in_two_pieces = false;

 private:
  int vertex(PlaceId id);
  int add_vertex(PlaceId id);
  void add_edge(int a, int b, const OpenSuspect& cause);
  void add_segments(const Board& board, const OpenCase& open);
  void add_pieces(const Board& board, const OpenCase& open);
  void separate_lead(const Board& board, const OpenCase& open, PointId doubtful);
  void tidy_pieces();
  void number_units();

  std::unordered_map<PlaceId, int> vertex_of_;
  std::vector<OpenSuspect> way_causes_;
  PlaceId ways_lead_to_ = kNoPlace;
};

/// The place of a vertex or an edge in its list.
inline std::size_t at(int i) {
  return static_cast<std::size_t>(i);
}

/// The component of each vertex when some edges are taken out, named by one of its vertices.
std::vector<std::size_t> components_without(const LocalRoute& route, std::span<const int> edges);

}  // namespace padwalk::graph
