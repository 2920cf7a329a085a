// SPDX-License-Identifier: MIT
//
// The board under the simulated tester as a small nodal circuit: resistors and sources between
// numbered nodes, and the node that each channel's lead touches. It knows no board file: tools/
// makes one of these from a board and its defects. Not shared with graph/, so that a mistake in one
// is not hidden by the other.
#pragma once

#include <cstdint>
#include <limits>
#include <vector>

namespace padwalk::simulated {

inline constexpr int kNoNode = -1;
inline constexpr double kNoContactOhm = std::numeric_limits<double>::infinity();

/// Plain description of what the leads touch. Units: ohm, volt.
struct Circuit {
  struct Resistor {
    int a = 0;
    int b = 0;
    double ohm = 1;
  };
  /// `volt` from b up to a, behind `ohm`; b may be kNoNode: the instrument's 0 V.
  struct Source {
    int a = 0;
    int b = kNoNode;
    double volt = 0;
    double ohm = 1;
  };
  /// What the lead of one channel touches, and through which contact.
  struct Lead {
    int node = kNoNode;
    double contact_ohm = 0.025;
  };
  int nodes = 0;
  std::vector<Resistor> resistors;
  std::vector<Source> sources;
  std::vector<Lead> leads;   ///< index = channel - 1; as many as the tester has channels
  double noise_volt = 0;     ///< 1 sigma on every conversion
  std::uint32_t random = 1;  ///< seed of the noise
};

}  // namespace padwalk::simulated
