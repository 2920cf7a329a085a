// SPDX-License-Identifier: MIT
//
// What the nets of an IPC-D-356A file are called on the board: by their alias where there is one,
// as text, and no two alike.
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>

#include "graph/diagnostics.hpp"
#include "graph/ipc356_netlist.hpp"

namespace padwalk::graph {

/// What of a name is text, with a warning where some is not; `what` begins the sentence.
std::string ipc_text_of(std::string_view name, std::string_view what, Mark mark,
                        Diagnostics& diagnostics);

class IpcNetNames {
 public:
  IpcNetNames(const IpcNetlist& netlist, Diagnostics& diagnostics)
      : netlist_(netlist), diagnostics_(diagnostics) {}

  /// The name of the net of a record; once for each net.
  std::string name(const IpcRecord& record);

 private:
  const IpcAlias* find(std::string_view net) const;
  std::string unlike_others(const std::string& own, Mark mark);

  const IpcNetlist& netlist_;
  Diagnostics& diagnostics_;
  std::set<std::string> used_;
  std::map<std::string, int> copies_;
};

}  // namespace padwalk::graph
