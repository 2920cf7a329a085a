// SPDX-License-Identifier: MIT
//
// What the conductors (378, 078) and the neighbours (379, 079) of an IPC-D-356A file become on a
// board: routes with forks, lengths and widths; pairs of nets. Of a net whose copper cannot be
// followed the way stays unknown.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "graph/board_description.hpp"
#include "graph/diagnostics.hpp"
#include "graph/ipc356.hpp"
#include "graph/ipc356_netlist.hpp"

namespace padwalk::graph {

/// The nets of a board by the text in the records.
using IpcNetIndex = std::unordered_map<std::string_view, std::size_t>;

/// What a record of a net became.
struct IpcPoint {
  const IpcRecord* record = nullptr;
  std::size_t net = 0;
  std::string name;
  std::optional<std::size_t> via;  ///< its index in the board's points
};

/// Adds routes, forks and copper to `board`, whose nets have members alone; a via gets the inner
/// sides on which copper reaches it. Errors: doubts alone.
/// Cost: n log n, and what overlaps; bounded for a text that means harm.
void add_ipc_routes(const IpcNetlist& netlist, const std::vector<IpcPoint>& points,
                    const IpcNetIndex& nets, BoardDescription& board, Diagnostics& diagnostics,
                    IpcSummary& summary);

/// Adds the pairs of nets. Errors: one doubt for names that no net bears.
void add_ipc_neighbours(const IpcNetlist& netlist, const IpcNetIndex& nets, BoardDescription& board,
                        Diagnostics& diagnostics);

}  // namespace padwalk::graph
