// SPDX-License-Identifier: MIT
//
// What joins the terminals of a switch besides the switch: copper of its board, and parts.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "graph/board.hpp"
#include "graph/filling.hpp"
#include "graph/part_ohms.hpp"

namespace padwalk::tools {

/// Terminals are counted from 0, as the part's pins.
class ContactOutside {
 public:
  /// Up to so much beside it, an open contact cannot be told from a closed one: ohms of a contact
  /// that is worn are as many.
  static constexpr double kHidesOhm = 20;

  ContactOutside(const graph::Board& board, graph::PartId part);

  /// Between two groups of terminals that are each one conductor, the switch left out: the least
  /// that it may show, capacitors that still fill included. Units: ohm; infinite where nothing
  /// joins them.
  double least_ohm(const std::vector<std::size_t>& a, const std::vector<std::size_t>& b) const;
  double least_ohm(std::size_t a, std::size_t b) const {
    return least_ohm(std::vector{a}, std::vector{b});
  }
  /// "the board's copper (net GND)", "R5, R6".
  std::string names(std::size_t a, std::size_t b) const;

 private:
  std::vector<graph::NetId> nets(const std::vector<std::size_t>& terminals) const;

  graph::Board board_;  ///< the same, where the switch joins nothing
  graph::PartId part_;
  graph::PartOhms ohms_;
  graph::Filling filling_;
};

}  // namespace padwalk::tools
