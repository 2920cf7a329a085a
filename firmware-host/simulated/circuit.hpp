// SPDX-License-Identifier: MIT
//
// The board under the simulated tester as a small nodal circuit: resistors, capacitors, junctions
// and sources between numbered nodes, the node that each channel's lead touches, and how good the
// instrument's own electronics are. It knows no board file: tools/ makes one of these from a board
// and its defects. Not shared with graph/, so that a mistake in one is not hidden by the other.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <vector>

namespace padwalk::simulated {

/// As an end of a resistor, a capacitor or a source: the instrument's 0 V. As a lead: on nothing.
inline constexpr int kNoNode = -1;
inline constexpr double kNoContactOhm = std::numeric_limits<double>::infinity();

/// How far the instrument is from ideal. The defaults are an ideal one. Units: volt, ampere, ohm,
/// farad; errors of gains and references are relative.
struct Electronics {
  double noise_volt = 0;               ///< 1 sigma on every conversion, at the input of the gain
  double offset_volt = 0;              ///< of the sense side and of the sink leg
  std::array<double, 3> gain_error{};  ///< of x1, x5, x50
  std::array<double, 5> reference_error{};  ///< of the sink leg's resistor, by range - 1
  double switch_ohm = 5;                    ///< of a closed switch in the force path
  double switch_spread_ohm = 0;             ///< 1 sigma from channel to channel
  double leak_ampere = 0;                   ///< at most, of each open switch on the sink bus
  double input_ohm = std::numeric_limits<double>::infinity();  ///< of the sense side, to 0 V
  double lead_farad = 0;                                       ///< of each lead, to 0 V
  double hum_volt = 0;  ///< rms that a lead on a floating net shows with the 1 Mohm load
  double hum_hertz = 50;
};

/// Plain description of what the leads touch. Units: ohm, volt, farad, ampere, second.
struct Circuit {
  struct Resistor {
    int a = 0;
    int b = 0;
    double ohm = 1;
    /// Where `every_s` is above 0 it is open for the first `open_s` of every `every_s`, or where
    /// `open_s` is below 0 closed for the first of it and open for the rest.
    double open_s = 0;
    double every_s = 0;
  };
  /// Empty (0 V) when the circuit is clipped on.
  struct Capacitor {
    int a = 0;
    int b = kNoNode;
    double farad = 0;
  };
  /// Current I = Is (exp(V / (N Vt)) - 1) from anode to cathode, Vt at 27 C.
  struct Junction {
    int anode = 0;
    int cathode = 0;
    double saturation_ampere = 1e-14;
    double emission = 1;
  };
  /// `volt` from b up to a, behind `ohm`; the amplitude of a sine where `hertz` is above 0.
  struct Source {
    int a = 0;
    int b = kNoNode;
    double volt = 0;
    double ohm = 1;
    double hertz = 0;
  };
  /// What the lead of one channel touches, and through which contact.
  struct Lead {
    int node = kNoNode;
    double contact_ohm = 0.025;
  };
  int nodes = 0;
  std::vector<Resistor> resistors;
  std::vector<Capacitor> capacitors;
  std::vector<Junction> junctions;
  std::vector<Source> sources;
  std::vector<Lead> leads;  ///< index = channel - 1; as many as the tester has channels
  Electronics electronics;
  double lead_spread_ohm = 0;  ///< 1 sigma of a contact, drawn anew each time leads are put on
  std::uint32_t random = 1;    ///< seed of noise, spreads and leakage
  bool leads_stay = false;     ///< in place of another: no lead was moved, contacts stay as drawn
};

}  // namespace padwalk::simulated
