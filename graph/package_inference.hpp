// SPDX-License-Identifier: MIT
//
// Which package a part has, by the names and the positions of its pins: for importers of files that
// do not say it. Says nothing where two packages would do.
#pragma once

#include <optional>
#include <string>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// A package that fits, and how it lies. See PartDescription.
struct InferredPackage {
  std::string name;  ///< "DIP-16", "DIP-24 0.6 inch", "SOIC-14", "PLCC-44", "header 2x5", "row 3"
  Xy xy;             ///< of pin 1. Units: mm
  double rotation = 0;
  Side side = Side::top;
};

/// Looks at name, position and side of each pin alone. Through-hole pins may be 0.15 mm from where
/// the package has them, surface pads 0.6 mm, as land patterns differ. Two pins tell no package,
/// and a connector of two rows tells it only where it lies on top, since plugs are numbered either
/// way round. Nothing: none fits, or several do.
std::optional<InferredPackage> infer_package(const PartDescription& part);

}  // namespace padwalk::graph
