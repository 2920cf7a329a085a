// SPDX-License-Identifier: MIT
//
// IPC-D-356A netlists, as real CAD programs write them, to a board description of a bare board:
// points with positions, sides and access; nets known by their members, and by the way of their
// copper where the file draws it; nets that run side by side. Source: IPC-D-356A, records 317, 327,
// 367, 307, 378, 379 and continuations 017, 027, 078, 079.
//
// A pin of a part is a pin here, a via becomes `V1`, `V2`, … and a pad of no part `P1`, `P2`, …, in
// file order. A part has the package that its pins tell and the kind that its name tells. Where
// copper meets copper away from any point there is a point `fork1`, `fork2`, … that nothing can
// touch, and `bend1`, … on the second of two tracks between the same two points. Solder mask
// decides which side of a via can be touched; at pins it is not looked at, since there a clip or a
// lead holds the leg.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "graph/board_description.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Length of one unit of a coordinate. Units: mm.
enum class IpcUnits { inch_1e4, mm_1e3 };

/// What the file held, for the person who imports it.
struct IpcSummary {
  std::size_t records = 0;           ///< 317, 327, 367, 307
  std::map<int, std::size_t> codes;  ///< lines of each record code, 017 and skipped ones too
  std::size_t nets = 0;
  std::size_t unconnected = 0;  ///< N/C records, tooling holes aside
  std::size_t tooling_holes = 0;
  std::size_t packages = 0;        ///< parts whose pins leave no doubt about their package
  std::size_t routed = 0;          ///< nets whose conductors join all their points
  std::size_t routed_in_part = 0;  ///< nets whose conductors join some
};

/// Reads a netlist. `units` overrides nothing: it is used only for a file that does not say.
/// Errors: every mistake goes to `diagnostics` as line, column, what was found, what was expected;
/// a text that is no such netlist at all throws BadFile. Cost: n log n in the size of the text.
BoardDescription read_ipc356(std::string_view text, std::optional<IpcUnits> units,
                             Diagnostics& diagnostics, IpcSummary& summary);

}  // namespace padwalk::graph
