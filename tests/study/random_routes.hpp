// SPDX-License-Identifier: MIT
//
// Random copper for the nets of a random board: trees of chains with vias where sides differ,
// loops, second tracks, stubs, and nets of which only the members are said. Used by
// random_board.cpp alone.
#pragma once

#include <string>
#include <vector>

#include "graph/board_description.hpp"
#include "tests/study/draws.hpp"

namespace padwalk::study {

/// A pin or pad that a net may hold. `side` unknown: a hole, reached from both.
struct Member {
  std::string name;
  graph::Xy xy;
  graph::Side side = graph::Side::unknown;
};

/// A net before its copper is known.
struct NetPlan {
  std::string name;
  graph::NetRole role = graph::NetRole::signal;
  std::vector<Member> members;
};

class RouteMaker {
 public:
  RouteMaker(Draws& draws, graph::BoardDescription& board) : draws_(draws), board_(board) {}

  /// Adds the nets to the board, and the vias that their routes need.
  void add(const std::vector<NetPlan>& nets);

 private:
  void route(const std::vector<Member>& members, std::size_t count, graph::NetDescription& net);
  void join(const Member& from, const Member& to, graph::NetDescription& net);
  std::string add_via(graph::Xy near, graph::Side first, graph::Side second);

  Draws& draws_;
  graph::BoardDescription& board_;
};

}  // namespace padwalk::study
