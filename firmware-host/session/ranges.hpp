// SPDX-License-Identifier: MIT
//
// Which range suits what, and what a tester's codes mean in volts and amperes. Arithmetic only;
// what that is worth in ohms is in uncertainty.hpp.
#pragma once

#include <cstdint>
#include <optional>

#include "firmware-host/session/session.hpp"
#include "firmware-host/session/uncertainty.hpp"
#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk::session {

/// The two results of one pair: with the source off, and on.
struct OffOn {
  wire::Result off;
  wire::Result on;
};

/// What a range can do. Units: ampere, ohm.
struct RangeFigures {
  double short_ampere = 0;
  double ohm_per_code = 0;  ///< into a short, at the finest gain of the sense side
};

class Ranges {
 public:
  /// `high`: the 5 V range may be used.
  Ranges(const wire::Ability& ability, bool high);

  /// Where a reading for that purpose begins. Range 1 to wire::kRangeCount.
  std::uint8_t first(Purpose purpose) const;

  /// A range that is expected to read `ohm`, read in `range`, clearly better; infinite ohms too.
  std::optional<std::uint8_t> better(std::uint8_t range, double ohm) const;

  /// A 0.2 V range that suits `ohm`.
  std::uint8_t low(double ohm) const;

  static wire::Level level(std::uint8_t range) { return wire::kRanges[range - 1].level; }
  static double level_volt(std::uint8_t range);

  /// Through a short across a pair.
  RangeFigures figures(std::uint8_t range) const;
  /// What a reading of `ohm` would be worth, from the figures alone: `ohm` and its uncertainty.
  Ohms predicted(std::uint8_t range, double ohm, const Conditions& conditions,
                 double samples = 64) const;

  /// Volts of a sum of codes that the sense side gave. Units: volt.
  double sense_volt(const wire::Result& result, const wire::StepHead& head) const;
  /// The same with its error, and what stood across the reference resistor.
  Average sense(const wire::Result& result, const wire::StepHead& head, double noise_volt) const;
  Average current(const wire::Result& result, const wire::StepHead& head, double noise_volt) const;

  /// On minus off. The averages are of `head`; off was at 0 V.
  Electrical electrical(const OffOn& results, const wire::StepHead& head,
                        const Conditions& conditions) const;

 private:
  double step_volt(wire::Level level) const;
  Average average(double codes, wire::Gain gain, wire::Level level, double samples,
                  double noise_volt) const;
  Average ideal(double volt, wire::Level level, double samples, double noise_volt) const;
  wire::Gain finest(double volt, wire::Level level) const;
  bool has(std::uint8_t range) const { return (ability_.ranges & (1u << (range - 1))) != 0; }
  std::uint8_t nearest(std::uint8_t range) const;

  wire::Ability ability_;
  bool high_;
};

/// Ohms ± u of what was read in `range`; force_ohm: see ohms_of().
Measurement to_measurement(const Electrical& electrical, std::uint8_t range, double force_ohm,
                           const Conditions& conditions);

}  // namespace padwalk::session
