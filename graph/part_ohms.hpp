// SPDX-License-Identifier: MIT
//
// The ohms that the parts of an assembled board should show between nets: resistors and networks
// through all their neighbours, switches at rest, links, silicon junctions, and what the file
// leaves unsure. A net is one node: its copper is left out (copper_ohms.hpp has it).
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/reading.hpp"
#include "graph/resistance.hpp"

namespace padwalk::graph {

/// Units: ohm; kOpenOhm where nothing joins the nets. `low_ohm` and `high_ohm`: every part at the
/// edge of its tolerance that makes the whole lowest or highest, which bounds all cases between,
/// since no resistor that grows makes any pair lower (Rayleigh).
struct ExpectedOhm {
  double ohm = kOpenOhm;
  double low_ohm = kOpenOhm;
  double high_ohm = kOpenOhm;
  /// false: a part whose ohms the file does not give takes part; then `low_ohm` has it as a short,
  /// `high_ohm` as absent, and `ohm` is a guess: coils, fuses and lamps next to nothing, a pot of
  /// known value in its middle, anything else open.
  bool sure = true;
};

/// One way through a part between two nets, and what is taken for it. Units: ohm.
struct PartWay {
  PartId part = kNoPart;
  NetId a = kNoNet;
  NetId b = kNoNet;
  double ohm = kOpenOhm;  ///< kOpenOhm: taken as open
  double low_ohm = 0;
  double high_ohm = kOpenOhm;
  bool sure = true;
  double part_ohm = 0;  ///< of consists_of(): its part of the whole
};

class PartOhms {
 public:
  /// Drift of old parts beyond their tolerance, and the tolerance of a part whose own is not given
  /// or is better: common practice, no source.
  static constexpr double kDrift = 0.01;
  static constexpr double kLeastTolerance = 0.05;
  /// A small silicon junction at 0.2 V, extrapolated from 0.6 V at 1 mA and 115 mV a decade (Pease,
  /// Troubleshooting Analog Circuits, appendix E). One is far above any limit; a hundred in one set
  /// look like 6 kohm, so the low edge counts them.
  static constexpr double kSiliconOhm = 0.6e6;

  /// Cost: near linear in parts; the board is not needed afterwards. Bare boards have no parts.
  explicit PartOhms(const Board& board);

  /// Between two groups of nets, each tied together; 0 if they share a net. Cost: small where no
  /// part joins the two groups, else four factorisations of the clusters that both touch.
  /// Not to be asked from two threads at once.
  ExpectedOhm between(std::span<const NetId> source, std::span<const NetId> sink) const;
  ExpectedOhm between(NetId a, NetId b) const { return between({&a, 1}, {&b, 1}); }

  /// The ways that carry the current from a to b, largest part first; empty where nothing joins
  /// them. The parts sum to `ohm` of between(), less what ways of 0 ohm would add.
  std::vector<PartWay> consists_of(NetId a, NetId b) const;
  /// The ways of unknown ohms that matter between a and b, in file order; empty if that is sure.
  std::vector<PartWay> unsure(NetId a, NetId b) const;

  /// Every way of the board.
  const std::vector<PartWay>& ways() const { return ways_; }

 private:
  std::vector<PartWay> ways_;
  ResistiveNetwork usual_;
  ResistiveNetwork low_;       ///< unsure ways are shorts
  ResistiveNetwork low_sure_;  ///< unsure ways are absent
  ResistiveNetwork high_;      ///< unsure ways are absent
};

/// What a diode of that type is. Types that are not known are taken for silicon; a diode without a
/// type is not known.
enum class Junction : std::uint8_t { silicon, germanium, schottky, unknown };
Junction junction_of(std::string_view type);

/// Logic of the families S, LS, AS, ALS and F, such as "SN74LS138N" and "54S04": their inputs are
/// clamped by Schottky diodes (common practice, no source).
bool has_schottky_clamps(std::string_view type);

}  // namespace padwalk::graph
