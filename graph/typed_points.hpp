// SPDX-License-Identifier: MIT
//
// What words of a line mean on a board: its parts, pins and nets by the names that a person types,
// and what a name that is not there could have been.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/chip_types.hpp"
#include "graph/typed_names.hpp"

namespace padwalk::graph {

/// Points that one word names, pin by pin: "U10-U17.{2,3}" is 2 pins of 8 chips each.
using PointsByPin = std::vector<std::vector<std::string>>;

/// "A, B and 3 more".
std::string some_of(const std::vector<std::string>& names, std::size_t most = 6);

class TypedPoints {
 public:
  /// `board` must outlive this.
  explicit TypedPoints(const Board& board) : board_(board) {}

  /// Of that name, or the only one that differs from it in case alone.
  std::optional<PartId> part(std::string_view name) const;

  /// The points of one word, as the board names them. A via may be named by itself.
  /// Errors: nothing and `bad`: no such part, no such pin and how many there are, no pin named.
  std::optional<PointsByPin> points(const std::string& word, BadWord& bad) const;

  /// Whether there is a point, or a via, of that name.
  bool is_point(std::string_view name) const { return !ids(name).empty(); }

  /// The net that the file puts a point or a side of a via in.
  NetId net_of(std::string_view point) const;

  /// "U2 has 16 pins, 1 to 16".
  std::string pins_in_words(PartId part) const;

  /// Nets, or parts, that begin so, whatever the case.
  std::vector<std::string> nets_like(std::string_view begin) const;
  std::vector<std::string> parts_like(std::string_view begin) const;

  /// The letters of a chip's pins, pin 1 first. Nothing: no chip of the table, or another package.
  std::optional<PinUses> uses(PartId part) const;
  /// Nothing: as above.
  std::optional<PinUse> use(std::string_view point) const;

 private:
  std::vector<PointId> ids(std::string_view name) const;

  const Board& board_;
};

}  // namespace padwalk::graph
