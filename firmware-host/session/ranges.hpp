// SPDX-License-Identifier: MIT
//
// Which range suits what, and what a tester's codes mean in ohms. Arithmetic only.
#pragma once

#include <cstdint>
#include <optional>

#include "firmware-host/session/session.hpp"
#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk::session {

/// What one pair gave. Units: volt, ampere; errors are two sigma.
struct Electrical {
  double volt = 0;
  double volt_error = 0;
  double ampere = 0;
  double ampere_error = 0;
  bool flows = false;    ///< more current than the range's own error
  bool clipped = false;  ///< a converter was over range; volt and ampere are no numbers
  bool settled = true;
};

class Ranges {
 public:
  /// `high`: the 5 V range may be used.
  Ranges(const wire::Ability& ability, bool high);

  /// Where a reading for that purpose begins. Range 1 to wire::kRangeCount.
  std::uint8_t first(Purpose purpose) const;

  /// A range that resolves `ohm`, read in `range`, clearly better; infinite ohms too.
  std::optional<std::uint8_t> better(std::uint8_t range, double ohm) const;

  /// A 0.2 V range that suits `ohm`.
  std::uint8_t low(double ohm) const;

  static wire::Level level(std::uint8_t range) { return wire::kRanges[range - 1].level; }

  /// Volts of a sum of codes that the sense side gave. Units: volt.
  double sense_volt(const wire::Result& result, const wire::StepHead& head) const;

  /// `noise_volt`: one sigma of a single conversion.
  Electrical electrical(const wire::Result& result, const wire::StepHead& head,
                        double noise_volt) const;

 private:
  double step_volt(const wire::StepHead& head) const;
  bool has(std::uint8_t range) const { return (ability_.ranges & (1u << (range - 1))) != 0; }
  std::uint8_t nearest(std::uint8_t range) const;

  wire::Ability ability_;
  bool high_;
};

/// Ohms ± u from what was read. `force_ohm` is how much of it may be the instrument's own force
/// path rather than the board: half is taken off and counted as uncertainty.
Measurement to_ohms(const Electrical& electrical, std::uint8_t range, double force_ohm);

/// The most that the force path of a set adds to a reading: 470 ohm and a switch, where the current
/// takes another channel of the set than the sensed one.
inline constexpr double kForcePathOhm = 475;

}  // namespace padwalk::session
