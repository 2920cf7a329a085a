// SPDX-License-Identifier: MIT
//
// Where the pins of a package are and how they are numbered: "DIP-16", "axial 10 mm",
// "header 2x5". One table; each row states its source.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// One pin of a package. `offset` is from pin 1, in mm, at rotation 0, seen from the part's side:
/// pin 1 top left, the first row runs down (-y), the other row lies at +x.
struct PackagePin {
  std::string name;
  Xy offset;
  bool far_side = false;  ///< of a surface package: on the other side of the board than the part
};

struct Package {
  std::vector<PackagePin> pins;
  bool surface = false;  ///< pads, no holes
};

/// What is wrong with a package's name, to be put behind `file:line:column: `.
struct BadPackage {
  std::string text;
};

/// Understands a package name. Returns the pins, or one sentence that says what was found and what
/// was expected ("DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch").
std::optional<Package> find_package(std::string_view name, BadPackage& bad);

/// Position of a pin on the board. Units: mm, degrees counter-clockwise; `Side::bottom` mirrors x
/// about pin 1.
Xy place_pin(Xy pin1, double rotation, Side side, Xy offset);

}  // namespace padwalk::graph
