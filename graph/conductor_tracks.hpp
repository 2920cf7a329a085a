// SPDX-License-Identifier: MIT
//
// Pieces of copper between the places where conductors were cut, and what is left of them when all
// that joins nothing is taken away and each chain of pieces is one track. For conductor_graph
// alone.
// Units: mm.
#pragma once

#include <numeric>
#include <vector>

#include "graph/conductor_graph.hpp"

namespace padwalk::graph {

/// Which nodes became one; the one that is named first stays.
class JoinedNodes {
 public:
  explicit JoinedNodes(std::size_t size) : up_(size) {
    std::iota(up_.begin(), up_.end(), std::size_t{0});
  }
  std::size_t find(std::size_t node) {
    while (up_[node] != node) {
      up_[node] = up_[up_[node]];
      node = up_[node];
    }
    return node;
  }
  void join(std::size_t stays, std::size_t goes) { up_[find(goes)] = find(stays); }

 private:
  std::vector<std::size_t> up_;
};

struct ConductorPieces {
  struct Node {
    Xy at;
    int layer = 1;
    bool is_pad = false;
  };
  /// A straight piece of a conductor.
  struct Piece {
    std::size_t a = 0;
    std::size_t b = 0;
    int layer = 1;
    double length = 0;
    double width = 0;  ///< 0: unknown
    Xy middle;
  };
  /// Two pads whose metal overlaps.
  struct Overlap {
    std::size_t a = 0;
    std::size_t b = 0;
    int layer = 1;
  };
  std::vector<Node> nodes;  ///< the pads first
  std::vector<Piece> pieces;
  std::vector<Overlap> overlaps;
};

/// Cost: near linear in the pieces.
ConductorGraph tracks_of(ConductorPieces pieces, std::size_t pads);

}  // namespace padwalk::graph
