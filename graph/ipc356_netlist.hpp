// SPDX-License-Identifier: MIT
//
// The lines of an IPC-D-356A file together: its parameters, the long names of its nets, and its
// records with their continuations joined to them. All that a file can be refused for is found
// here. What a board makes of the records is for ipc356.cpp.
#pragma once

#include <map>
#include <optional>
#include <string_view>
#include <vector>

#include "graph/diagnostics.hpp"
#include "graph/ipc356.hpp"
#include "graph/ipc356_conductors.hpp"
#include "graph/ipc356_records.hpp"

namespace padwalk::graph {

inline constexpr int kIpcMostLayers = 16;

/// The long name of a net whose records bear a short one.
struct IpcAlias {
  std::string_view name;
  int line = 0;
};

/// A record 379 or 079: nets that run beside a net.
struct IpcAdjacency {
  std::string_view net;
  std::string_view text;  ///< the whole line
  int line = 0;
  bool continues = false;
};

/// The texts are views of the file.
struct IpcNetlist {
  std::string_view job;
  std::optional<IpcUnits> units;
  bool turns_in_radians = false;
  int layers = 2;  ///< the largest number of a layer that is named, 2 to kIpcMostLayers
  std::map<std::string_view, IpcAlias> aliases;          ///< of parameters; key "NNAME1"
  std::map<std::string_view, IpcAlias> comment_aliases;  ///< of comments, where writers hide some
  std::vector<IpcRecord> records;                        ///< 317, 327, 367 and 307
  IpcConductors conductors;
  std::vector<IpcAdjacency> adjacency;
  std::map<int, std::size_t> codes;  ///< how many lines of each record code

  /// Rounded to 0.1 um, which is what the numbers are worth. Needs `units`.
  double mm(long value) const;
};

/// Reads the lines of a file, which must outlive the result. `units` is used only for a file that
/// does not say. Errors: as read_ipc356.
IpcNetlist read_ipc_netlist(std::string_view text, std::optional<IpcUnits> units,
                            Diagnostics& diagnostics);

}  // namespace padwalk::graph
