// SPDX-License-Identifier: MIT
//
// One line of an IPC-D-356A file as a plain record: columns in, values out. Lines are sliced by
// column, never split on blanks, since names may hold blanks and fields may be missing; where the
// coordinates are not in their columns they are looked for to the right. What the lines of a file
// mean together is for ipc356_netlist.hpp.
// Source: IPC-D-356A; column numbers in comments count from 1.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Columns 4 to 17 hold the name of a net.
inline constexpr std::size_t kIpcNetColumns = 14;

/// Sets of sides.
inline constexpr int kIpcPrimary = 1;
inline constexpr int kIpcSecondary = 2;
inline constexpr int kIpcBothSides = 3;

/// A data record (317, 327, 367, 307) or a continuation (017, 027). The texts are views of the
/// file. Units: lengths as the file counts them.
struct IpcRecord {
  int line = 0;
  int code = 0;
  std::string_view net;  ///< longer than kIpcNetColumns where it runs into the blanks behind
  std::string_view part;
  std::string_view pin;
  std::optional<int> access;  ///< 0 both sides, 1 primary, else another layer
  int sides =
      kIpcBothSides;  ///< where it can be touched; any layer but the primary is the far side
  long x = 0;
  long y = 0;
  long width = 0;  ///< 0: not said
  long height = 0;
  long rotation = 0;      ///< degrees
  long widest = 0;        ///< of the pads in its continuations; 0: there are none
  long drill = 0;         ///< 0: not said
  int masked = 0;         ///< sides under solder mask
  bool odd_mask = false;  ///< the mask column holds something else
  int from_layer = 0;     ///< of a blind or buried via; 0: not said
  int to_layer = 0;
};

/// Reads the columns of a data record. Errors: one complaint with line and column, and nothing is
/// returned, where the position cannot be read.
std::optional<IpcRecord> read_ipc_record(std::string_view text, int line, Diagnostics& diagnostics);

/// The column where a data record begins inside a line of another kind; 0: there is none.
std::size_t find_ipc_record(std::string_view text);

/// Columns `first` to `last`, without blanks around; what the line lacks is blank.
std::string_view ipc_columns(std::string_view text, std::size_t first, std::size_t last);

/// The text without blanks around.
std::string_view without_blanks(std::string_view text);

/// The text as YAML and a screen can show it: controls and what is not UTF-8 become question marks.
std::string printable(std::string_view text);

}  // namespace padwalk::graph
