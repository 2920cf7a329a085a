// SPDX-License-Identifier: MIT
#include "graph/local_net.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>

namespace padwalk::graph {

namespace {

constexpr double kLeadContactWeight = 10;

}  // namespace

LocalNet::LocalNet(const Board& board, const OpenCase& open) {
  add_segments(board, open);
  add_pieces(board, open);
  for (const PointId doubtful : open.contact_doubtful) {
    separate_lead(board, open, doubtful);
  }
  causes.insert(causes.end(), way_causes_.begin(), way_causes_.end());
  tidy_pieces();
  number_units();
  for (const PlaceId id : place) {
    is_pad.push_back(id != kNoPlace && board[id].kind != PlaceKind::leg &&
                     board[id].kind != PlaceKind::socket);
  }
}

int LocalNet::add_vertex(PlaceId id) {
  place.push_back(id);
  return known.vertices++;
}

int LocalNet::vertex(PlaceId id) {
  const auto [entry, is_new] = vertex_of_.emplace(id, known.vertices);
  return is_new ? add_vertex(id) : entry->second;
}

void LocalNet::add_edge(int a, int b, const OpenSuspect& cause) {
  known.edges.push_back({a, b, cause.likelihood});
  causes.push_back(cause);
}

void LocalNet::add_segments(const Board& board, const OpenCase& open) {
  for (const SegmentId id : board[open.net].segments) {
    const Segment& segment = board[id];
    const auto factor = open.factors.find(id);
    const OpenSuspect cause{
        id, kNoPoint,
        break_weight(board, id) *
            (factor != open.factors.end() ? factor->second : open.other_factor)};
    if (segment.kind != SegmentKind::unknown_way) {
      add_edge(vertex(segment.a), vertex(segment.b), cause);
      continue;
    }
    const bool from_a = board[segment.a].point == segment.member;
    ways.push_back({vertex(from_a ? segment.a : segment.b), kNoUnit});
    way_causes_.push_back(cause);
    ways_lead_to_ = from_a ? segment.b : segment.a;
  }
}

void LocalNet::add_pieces(const Board& board, const OpenCase& open) {
  for (const std::vector<PlaceId>& piece : open.pieces) {
    pieces.emplace_back();
    for (const PlaceId id : piece) {
      if (board[id].net == open.net) {
        pieces.back().push_back(vertex(id));
      }
    }
  }
}

/// The lead's piece is the first that begins with its place: later touches of the same place stand
/// behind it, or in other pieces.
void LocalNet::separate_lead(const Board& board, const OpenCase& open, PointId doubtful) {
  const PlaceId held = board[doubtful].held;
  const auto its_piece = std::find_if(
      open.pieces.begin(), open.pieces.end(),
      [&](const std::vector<PlaceId>& piece) { return !piece.empty() && piece.front() == held; });
  if (its_piece == open.pieces.end() || board[held].net != open.net) {
    return;
  }
  const int lead = add_vertex(kNoPlace);
  pieces[static_cast<std::size_t>(its_piece - open.pieces.begin())].front() = lead;
  add_edge(lead, vertex(held), {std::nullopt, doubtful, kLeadContactWeight * open.other_factor});
}

void LocalNet::tidy_pieces() {
  pieces.erase(std::remove_if(pieces.begin(), pieces.end(),
                              [](const std::vector<int>& piece) { return piece.empty(); }),
               pieces.end());
  in_piece.assign(place.size(), false);
  for (std::vector<int>& piece : pieces) {
    std::sort(piece.begin(), piece.end());
    piece.erase(std::unique(piece.begin(), piece.end()), piece.end());
    for (const int v : piece) {
      one_place_in_two_pieces = one_place_in_two_pieces || in_piece[at(v)];
      in_piece[at(v)] = true;
    }
  }
}

void LocalNet::number_units() {
  const std::vector<std::size_t> component = components_without(known, {});
  std::vector<std::size_t> number(place.size(), kNoUnit);
  for (const std::size_t root : component) {
    if (number[root] == kNoUnit) {
      number[root] = units++;
    }
    unit.push_back(number[root]);
  }
  for (Way& way : ways) {
    way.unit = unit[at(way.from)];
  }
  const auto end = vertex_of_.find(ways_lead_to_);
  if (end != vertex_of_.end()) {  // a hub is no vertex: no known copper ends there
    trunk = unit[at(end->second)];
  }
}

std::vector<std::size_t> components_without(const LocalRoute& route, std::span<const int> edges) {
  const auto vertices = static_cast<std::size_t>(route.vertices);
  std::vector<std::size_t> rank(vertices), component(vertices);
  boost::disjoint_sets sets(rank.data(), component.data());
  for (std::size_t v = 0; v < vertices; ++v) {
    sets.make_set(v);
  }
  std::vector<bool> out(route.edges.size(), false);
  for (const int edge : edges) {
    out[at(edge)] = true;
  }
  for (std::size_t e = 0; e < route.edges.size(); ++e) {
    if (!out[e]) {
      sets.union_set(at(route.edges[e].a), at(route.edges[e].b));
    }
  }
  for (std::size_t v = 0; v < vertices; ++v) {
    component[v] = sets.find_set(v);
  }
  return component;
}

}  // namespace padwalk::graph
