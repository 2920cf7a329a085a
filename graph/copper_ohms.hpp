// SPDX-License-Identifier: MIT
//
// The ohms that the copper of one net should have between two of its points: traces, plated holes,
// solder, contacts, wires, from what the board file says and, where it is silent, from what old
// boards commonly are. Not for what parts add between nets: see part_ohms.hpp.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "graph/board.hpp"
#include "graph/reading.hpp"
#include "graph/resistance.hpp"

namespace padwalk::graph {

/// Ohms with the range that sound copper may have. Units: ohm, at 20 C; the range is 10 to 35 C.
struct CopperOhm {
  double ohm = 0;
  double low_ohm = 0;
  double high_ohm = 0;
};

/// Where a length was taken from.
enum class LengthFrom : std::uint8_t {
  file,      ///< the file says it
  straight,  ///< the straight line between its ends, with a factor for bends
  guess,     ///< no positions: as long as copper commonly is
  nothing    ///< has no length: solder, a contact, a plated hole
};

/// One segment and what was taken for it. Units: ohm, mm.
struct SegmentOhm {
  CopperOhm ohm;
  LengthFrom length_from = LengthFrom::nothing;
  double length_mm = 0;
  double width_mm = 0;  ///< of a trace or an unknown way
  bool width_known = false;
};

/// A segment on the way between two points. The parts of all of them sum to the ohms between.
struct CopperShare {
  SegmentId segment{};
  double part_ohm = 0;  ///< less than the segment's own ohms where the current has other ways
};

class CopperOhms {
 public:
  /// `board` must outlive this. Cost: linear in segments, and for a net of unknown way the square
  /// of its points.
  explicit CopperOhms(const Board& board);

  /// Ohms between the places where leads hold on the two points; 0 for the same point, kOpenOhm for
  /// points of two nets or of none. Where the way is not known, a cautious guess by distance.
  /// Cost: the first question of a net solves it. Not to be asked from two threads at once.
  double between(PointId a, PointId b) const;
  /// The same with its range.
  CopperOhm estimate(PointId a, PointId b) const;
  /// The segments that carry the current, largest part first; empty where nothing joins the two.
  std::vector<CopperShare> consists_of(PointId a, PointId b) const;

  const SegmentOhm& operator[](SegmentId id) const { return segments_[index(id)]; }

  /// What is taken for all copper since no file says it, for a report. Units: mm.
  static constexpr double kFoilMm = 0.035;

 private:
  struct NetCopper {
    ResistiveNetwork usual;
    ResistiveNetwork low;
    ResistiveNetwork high;
  };

  /// Null where the two are not in one net.
  const NetCopper* net_of(PointId a, PointId b) const;
  ResistiveNetwork::Node node(PointId point) const;
  void measure_segments();

  const Board& board_;
  std::vector<SegmentOhm> segments_;
  std::vector<ResistiveNetwork::Node> node_;  ///< by place: its node in its net's networks
  std::vector<std::size_t> places_in_;        ///< by net
  std::vector<std::size_t> unit_;             ///< by place: what known copper joins has one number
  mutable std::vector<std::unique_ptr<NetCopper>> nets_;
};

}  // namespace padwalk::graph
