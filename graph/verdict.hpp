// SPDX-License-Identifier: MIT
//
// Ohms against limits: what one reading says. The limits follow the board's state, its file and the
// kind of net.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "graph/board.hpp"
#include "graph/pieces.hpp"

namespace padwalk::graph {

/// Units: ohm, volt.
struct Limits {
  double isolation_ohm = 10e3;   ///< two nets with nothing between them are good above this
  double open_above_ohm = 10e3;  ///< two points of one net are open above this
  double short_up_to_ohm = 10;   ///< two nets are shorted up to this
  double isolation_volt = 0.2;   ///< test voltage of isolation readings
  /// What a class allows two points of one net; else good_up_to_ohm decides.
  std::optional<double> continuity_ohm;
};

/// Ohms for people: "35 ohm", "4.7 kohm", "2 Mohm"; "nothing flows" for no conduction.
std::string ohm_text(double ohm);

/// Limits of this board: assembled 10 kohm at 0.2 V, bare 2 Mohm at 5 V, or what the file says. A
/// class sets only the continuity limit of an assembled board.
Limits limits_for(const Board& board);

/// The most ohms that two points of one net may have. `expected_ohm` is what the copper should
/// have. Signals: expected + 1; supply and ground: the larger of expected + 0.2 and 0.5.
double good_up_to_ohm(NetRole role, double expected_ohm);

/// The same for two points of one net of this board, or what its class says. Between nets: up to
/// where two nets count as one conductor. Keeps a reference to `board`.
OhmLimit good_limit(const Board& board, const Limits& limits);

enum class FindingKind : std::uint8_t {
  open,
  short_circuit,
  high_resistance,
  leakage,
  intermittent,
  part
};
/// "open", "short", "high resistance", "leakage", "intermittent", "part".
std::string_view finding_kind_name(FindingKind kind);

enum class Verdict : std::uint8_t { good, high_resistance, open, short_circuit, leakage };

/// Two points of one net.
Verdict judge_same_net(const Limits& limits, NetRole role, double expected_ohm, double ohm);

/// Two nets with nothing expected between them.
Verdict judge_two_nets(const Limits& limits, double ohm);

}  // namespace padwalk::graph
