// SPDX-License-Identifier: MIT
//
// One net with a cut, by flooding its copper: what a sweep would see of it. Apart from the
// product's own way to it.
#pragma once

#include <algorithm>
#include <map>
#include <vector>

#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "graph/suspects.hpp"

namespace padwalk::test {

/// Copper by flooding, apart from the product's own.
class Copper {
 public:
  Copper(const graph::Board& board, graph::NetId net) : board_(board) {
    for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
      if (board.segments()[i].net == net) {
        segments_.push_back(graph::SegmentId{i});
      }
    }
  }
  const std::vector<graph::SegmentId>& segments() const { return segments_; }

  /// By place: the number of its piece, with one segment cut.
  std::map<graph::PlaceId, std::size_t> pieces(graph::SegmentId cut) const {
    std::map<graph::PlaceId, std::size_t> label;
    for (const graph::SegmentId id : segments_) {
      label.emplace(board_[id].a, label.size());
      label.emplace(board_[id].b, label.size());
    }
    for (bool changed = true; changed;) {
      changed = false;
      for (const graph::SegmentId id : segments_) {
        std::size_t& a = label[board_[id].a];
        std::size_t& b = label[board_[id].b];
        if (id != cut && a != b) {
          a = b = std::min(a, b);
          changed = true;
        }
      }
    }
    return label;
  }

 private:
  const graph::Board& board_;
  std::vector<graph::SegmentId> segments_;
};

inline bool way_known(const graph::Board& board, graph::NetId net) {
  return std::none_of(board.segments().begin(), board.segments().end(),
                      [&](const graph::Segment& one) {
                        return one.net == net && one.kind == graph::SegmentKind::unknown_way;
                      });
}

/// The pieces that a sweep of all clip points sees with one segment cut; fewer than two: none.
inline graph::OpenCase open_case(const graph::Board& board, graph::NetId net,
                                 graph::SegmentId cut) {
  const auto labels = Copper(board, net).pieces(cut);
  std::map<std::size_t, std::vector<graph::PlaceId>> pieces;
  for (const graph::Lead& lead : graph::default_hookup(board).leads) {
    if (board[lead.point].net == net) {
      pieces[labels.at(board[lead.point].held)].push_back(board[lead.point].held);
    }
  }
  graph::OpenCase open;
  open.net = net;
  for (const auto& [label, places] : pieces) {
    open.pieces.push_back(places);
  }
  return open;
}

}  // namespace padwalk::test
