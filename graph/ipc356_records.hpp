// SPDX-License-Identifier: MIT
//
// The lines of an IPC-D-356A file as plain records: columns in, values out. Lines are sliced by
// column, never split on blanks, since names may hold blanks and fields may be missing; where the
// coordinates are not in their columns they are looked for to the right. What the records mean
// together is ipc356.cpp's matter.
// Source: IPC-D-356A; column numbers in comments count from 1.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// A data record (317, 327, 367, 307) or its continuation (017, 027). Lengths are in units of the
/// file.
struct IpcRecord {
  int line = 0;
  int code = 0;  ///< 317, …; 17 and 27 for continuations
  std::string net;
  std::string part;  ///< "VIA" for a via
  std::string pin;
  int access = 0;  ///< 0 both sides, 1 primary, else another layer
  long x = 0;
  long y = 0;
  long width = 0;  ///< 0: not said
  long height = 0;
  long rotation = 0;        ///< degrees
  std::optional<int> mask;  ///< 0 to 3; nothing where the column holds something else
  bool mask_rubbish = false;
  int from_layer = 0;  ///< of a blind or buried via; 0: not said
  int to_layer = 0;
};

/// Reads the columns of a data record. Errors: one complaint with line and column, and nothing is
/// returned, where there are no coordinates.
std::optional<IpcRecord> read_ipc_record(std::string_view text, int line, Diagnostics& diagnostics);

/// Whether the text holds the fields of a data record, wherever they begin.
bool holds_ipc_record(std::string_view text);

/// Columns `first` to `last`, without blanks around; what the line lacks is blank.
std::string_view ipc_columns(std::string_view text, std::size_t first, std::size_t last);

}  // namespace padwalk::graph
