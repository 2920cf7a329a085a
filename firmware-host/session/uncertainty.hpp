// SPDX-License-Identifier: MIT
//
// What a reading is worth: the front end's figures, and from them ohms with their uncertainty.
// Every figure is k = 2 unless it says otherwise. Arithmetic only: it knows no wire and no time.
#pragma once

#include <array>
#include <cstddef>
#include <numbers>

namespace padwalk::session {

/// The reference tester's figures. Relative errors are tolerances: anything within is as likely as
/// anything else, so that two sigma are kTolerance times as much (rectangular distribution).
inline constexpr double kTolerance = 2 / std::numbers::sqrt3;
inline constexpr double kReferenceError = 1e-3;
inline constexpr std::array<double, 3> kGainError = {1e-3, 1.5e-3, 2e-3};  // x1, x5, x50
/// 128 open switches of at most 1 nA each on the sink bus; testers with more channels have more.
inline constexpr double kLeakAmpere = 58e-9;
inline constexpr std::size_t kLeakChannels = 128;
/// The most that the force path adds: 470 ohm and a switch, from a bus to a lead.
inline constexpr double kForcePathOhm = 475;
/// 1 sigma of one conversion, referred to the input of the gain.
inline constexpr double kNoiseVolt = 40e-6;
/// The load that the power check sees hum with.
inline constexpr double kHumLoadOhm = 1e6;

/// What readings are taken under. Units: volt, ampere, ohm.
struct Conditions {
  double noise_volt = kNoiseVolt;    ///< 1 sigma of one conversion
  double hum_volt = 0;               ///< rms with 1 Mohm; 0 where the reading averages it away
  double leak_ampere = kLeakAmpere;  ///< of open switches on the sink bus
  double contact_ohm = 0.025;        ///< 1 sigma of one contact, clipped anew
  double lead_ohm = 0;               ///< of two leads and contacts
};

/// Error of an average of `samples` conversions in steps of `step_volt`, k = 2. Noise spreads the
/// quantisation as well (dither): with sigma s steps of noise its lasting part falls below
/// step / sqrt(12) * exp(-2 pi^2 s^2), the first harmonic of the rounding's sawtooth.
double average_error(double step_volt, double noise_volt, double samples);

/// One average on its way to a difference. Units: volt.
struct Average {
  double volt = 0;
  double error = 0;       ///< average_error() of it
  double gain_error = 0;  ///< relative, a tolerance
};

/// What one pair gave, on minus off. Units: volt, ampere; errors k = 2.
struct Electrical {
  double volt = 0;
  double volt_error = 0;
  double ampere = 0;
  double ampere_error = 0;
  double off_volt = 0;   ///< across the pair with the source off
  bool flows = false;    ///< more current than the errors make up
  bool clipped = false;  ///< a converter was over range; volt and ampere are no numbers
  bool settled = true;
};

/// On minus off, each with its own errors, which doubles the variance where the gains are the same.
/// `reference_ohm` is what the current's averages were taken across.
Electrical difference(const Average& sense_off, const Average& sense_on, const Average& current_off,
                      const Average& current_on, double reference_ohm,
                      const Conditions& conditions);

/// Ohms and their uncertainty. Units: ohm. `force_ohm` is how much of it may be the instrument's
/// own force path: half is taken off, and counted as uncertainty.
struct Ohms {
  double ohm = 0;
  double uncertainty = 0;
};
Ohms ohms_of(const Electrical& electrical, const Conditions& conditions, double force_ohm);

/// What the open switches of a tester may let through, of one with more than 128 channels more.
double leak_of(std::size_t channels);

/// By how much leakage may have grown since a zero of that age: it doubles every 10 K, and after
/// half an hour 5 K an hour are allowed for, 20 K at most. Source of the doubling: common practice.
double leak_growth(double age_hours);

}  // namespace padwalk::session
