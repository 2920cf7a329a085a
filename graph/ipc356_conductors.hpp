// SPDX-License-Identifier: MIT
//
// Records 378 and 078 of an IPC-D-356A file: the conductors of a net as strokes of a pen. What they
// join is for ipc356_routes.hpp.
// Source: IPC-D-356A. Columns: 4 to 17 net, 19 to 21 layer ("L01"), 23 to 32 aperture
// ("X0100Y0000", round where Y is 0), from 34 on positions ("X+038000Y+026800"); a continuation has
// positions from column 4 on. X or Y that is left out is as before; * lifts the pen. Real files
// pad with zeros, with blanks, or not at all, so that only the net is read by column.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Real boards have some hundred thousand.
inline constexpr std::size_t kIpcMostStrokePoints = 1'000'000;

/// What the pen drew between two lifts. Units: lengths as the file counts them.
struct IpcStroke {
  std::string_view net;
  int line = 0;
  int layer = 0;
  long width = 0;  ///< of the aperture; both 0: not known
  long height = 0;
  std::size_t first = 0;  ///< its points are first, first + 1, …
  std::size_t points = 0;
};

struct IpcStrokePoint {
  std::int32_t x = 0;
  std::int32_t y = 0;
};

struct IpcConductors {
  std::vector<IpcStroke> strokes;
  std::vector<IpcStrokePoint> points;
  std::set<std::string_view> half_read;  ///< nets of which a record could not be read
  int last_layer = 0;
};

class IpcConductorReader {
 public:
  /// A line with a record 378 and its number; a line with a 078 behind it.
  void begin(std::string_view text, int line);
  void go_on(std::string_view text, int line);
  /// Errors: one warning, of the first record that could not be read, and how many there are.
  IpcConductors finish(Diagnostics& diagnostics);

 private:
  void read_positions(std::string_view text, std::size_t column);
  bool read_layer_and_aperture(std::string_view text, std::size_t& column);
  bool flush(std::size_t column);
  void lift();
  void complain(std::size_t column, const std::string& what);

  IpcConductors all_;
  IpcStroke pen_;
  int line_ = 0;
  bool has_x_ = false;  ///< since the record began
  bool has_y_ = false;
  bool new_x_ = false;  ///< since the last position
  bool new_y_ = false;
  IpcStrokePoint at_;
  bool skips_ = false;  ///< the record cannot be read: nor can its continuations
  bool too_many_ = false;
  Mark first_mark_;
  std::string first_complaint_;
  std::size_t complaints_ = 0;
};

}  // namespace padwalk::graph
