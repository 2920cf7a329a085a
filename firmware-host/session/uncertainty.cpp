// SPDX-License-Identifier: MIT
#include "firmware-host/session/uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace padwalk::session {

namespace {

constexpr double kFreshHours = 0.5;
constexpr double kKelvinPerHour = 5;
constexpr double kMostKelvin = 20;
constexpr double kKelvinPerDoubling = 10;

double root_of_squares(std::initializer_list<double> values) {
  double sum = 0;
  for (const double value : values) {
    sum += value * value;
  }
  return std::sqrt(sum);
}

}  // namespace

double average_error(double step_volt, double noise_volt, double samples) {
  const double uniform = step_volt / std::sqrt(12.0);
  const double dither = noise_volt / step_volt;
  const double lasting =
      uniform * std::exp(-2 * std::numbers::pi * std::numbers::pi * dither * dither);
  // What dither has made random of the quantisation is averaged like the noise.
  const double random =
      std::hypot(noise_volt, std::sqrt(std::max(uniform * uniform - lasting * lasting, 0.0)));
  return 2 * std::hypot(lasting, random / std::sqrt(samples));
}

Electrical difference(const Average& sense_off, const Average& sense_on, const Average& current_off,
                      const Average& current_on, double reference_ohm,
                      const Conditions& conditions) {
  Electrical read;
  read.off_volt = sense_off.volt;
  read.volt = sense_on.volt - sense_off.volt;
  read.volt_error = root_of_squares({sense_on.error, sense_off.error,
                                     kTolerance * sense_on.gain_error * sense_on.volt,
                                     kTolerance * sense_off.gain_error * sense_off.volt});
  read.ampere = (current_on.volt - current_off.volt) / reference_ohm;
  // Hum comes in anew in either half; 2 sigma of each.
  const double hum = 2 * std::numbers::sqrt2 * conditions.hum_volt / kHumLoadOhm;
  read.ampere_error =
      root_of_squares({current_on.error / reference_ohm, current_off.error / reference_ohm,
                       kTolerance * current_on.gain_error * read.ampere,
                       kTolerance * kReferenceError * read.ampere, conditions.leak_ampere, hum});
  read.flows = read.ampere > read.ampere_error;
  return read;
}

Ohms ohms_of(const Electrical& electrical, const Conditions& conditions, double force_ohm) {
  if (electrical.clipped || !electrical.flows) {
    return {std::numeric_limits<double>::infinity(), 0};
  }
  const double ohm = electrical.volt / electrical.ampere;
  // Ohms go with 1 / current: where the current's error is a good part of it, the far side lies
  // farther than the near one, and half of the next term of the series is added for that.
  const double share = electrical.ampere_error / electrical.ampere;
  const double of_current = std::abs(ohm) * share * (1 + share / 2);
  const double of_volt = electrical.volt_error / electrical.ampere;
  const double contacts = 2 * std::numbers::sqrt2 * conditions.contact_ohm;  // two of them, k = 2
  return {std::max(ohm - force_ohm / 2 - conditions.lead_ohm, 0.0),
          force_ohm / 2 + root_of_squares({contacts, of_volt, of_current})};
}

double leak_of(std::size_t channels) {
  return kLeakAmpere * static_cast<double>(std::max(channels, kLeakChannels)) / kLeakChannels;
}

double leak_growth(double age_hours) {
  const double kelvin = std::clamp((age_hours - kFreshHours) * kKelvinPerHour, 0.0, kMostKelvin);
  return std::exp2(kelvin / kKelvinPerDoubling);
}

}  // namespace padwalk::session
