// SPDX-License-Identifier: MIT
//
// Which place of a net to touch next, given what may be broken. Part of find_open_suspects.
#pragma once

#include <map>
#include <optional>
#include <vector>

#include "graph/local_net.hpp"

namespace padwalk::graph {

/// What may have happened: indices into LocalNet::causes that are broken together.
struct Hypothesis {
  std::vector<int> causes;
  double weight = 0;
};

/// Looks for a touch among the places that can be reached and are in no piece.
class TouchAdvisor {
 public:
  TouchAdvisor(const Board& board, const LocalNet& net, const OpenCase& open,
               const TouchTimes& times, Side up);

  /// For single breaks that lie in a row between two pieces: the first cut of the best plan.
  std::optional<PlaceId> in_a_row(const std::vector<Hypothesis>& suspects) const;

  /// For all else: the place whose reading tells most for its time, none if no place tells
  /// anything. Looks at the 2000 likeliest hypotheses.
  std::optional<PlaceId> most_informative(std::vector<Hypothesis> hypotheses) const;

 private:
  /// A suspect, and the stretch of good copper behind it.
  struct InRow {
    int edge = 0;
    std::size_t behind = 0;
  };
  std::vector<InRow> row_order(const std::vector<int>& suspects,
                               const std::vector<std::size_t>& component) const;
  std::vector<std::size_t> answers(const Hypothesis& hypothesis) const;

  /// A vertex of each stretch to touch with this side up, rather beside a suspect.
  std::map<std::size_t, int> touches_from(Side side, const std::vector<int>& suspects,
                                          const std::vector<std::size_t>& component) const;
  bool reached_from(std::size_t vertex, Side side) const;

  const Board& board_;
  const LocalNet& net_;
  TouchTimes times_;
  Side up_;
  std::vector<bool> touchable_;  ///< by vertex
};

}  // namespace padwalk::graph
