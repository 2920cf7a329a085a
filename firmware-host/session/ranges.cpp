// SPDX-License-Identifier: MIT
#include "firmware-host/session/ranges.hpp"

#include <algorithm>
#include <cmath>

namespace padwalk::session {

namespace {

constexpr std::uint8_t kCloseRange = 1;      // 190 uA into a short
constexpr std::uint8_t kIsolationRange = 3;  // 18 uA
constexpr std::uint8_t kBareRange = 5;       // 5 V
/// So much less uncertainty is worth another setting.
constexpr double kClearlyBetter = 0.7;
/// A low reading taken with less than this is repeated with more: a big capacitor looks the same.
constexpr double kWeakAmpere = 100e-6;
constexpr double kLowOhm = 1e3;
/// Most of the leakage is there with the source off as well: ranges are compared by what they
/// resolve.
constexpr double kLeakShare = 0.25;
/// An automatic gain leaves a quarter of the converter for noise, as the firmware does.
constexpr double kRoom = 0.75;

std::size_t index(wire::Gain gain) {
  return static_cast<std::size_t>(std::max(gain, wire::Gain::x1));
}

}  // namespace

Ranges::Ranges(const wire::Ability& ability, bool high)
    : ability_(ability), high_(high && has(kBareRange)) {}

std::uint8_t Ranges::first(Purpose purpose) const {
  if (purpose != Purpose::isolation) {
    return nearest(kCloseRange);
  }
  return high_ ? kBareRange : nearest(kIsolationRange);
}

std::optional<std::uint8_t> Ranges::better(std::uint8_t range, double ohm) const {
  std::uint8_t best = range;
  if (ohm < kLowOhm && figures(range).short_ampere < kWeakAmpere) {
    best = nearest(kCloseRange);
  } else if (std::isinf(ohm)) {
    best = range == kCloseRange ? nearest(kIsolationRange) : range;
  } else {
    Conditions usual;
    usual.leak_ampere *= kLeakShare;
    const double now = predicted(range, ohm, usual).uncertainty;
    double least = kClearlyBetter * now;
    for (std::uint8_t candidate = 1; candidate < kBareRange; ++candidate) {
      const double then = predicted(candidate, ohm, usual).uncertainty;
      if (has(candidate) && then < least) {
        least = then;
        best = candidate;
      }
    }
  }
  return best == range ? std::nullopt : std::optional(best);
}

std::uint8_t Ranges::low(double ohm) const {
  return nearest(ohm < 2 * kLowOhm ? kCloseRange : kIsolationRange);
}

/// The 0.2 V range that the tester has and that is closest; the tester has one at least.
std::uint8_t Ranges::nearest(std::uint8_t range) const {
  std::uint8_t best = 0;
  for (std::uint8_t candidate = 1; candidate < kBareRange; ++candidate) {
    if (has(candidate) && (best == 0 || std::abs(candidate - range) < std::abs(best - range))) {
      best = candidate;
    }
  }
  return best;
}

double Ranges::level_volt(std::uint8_t range) {
  return wire::kLevelMillivolt[static_cast<std::size_t>(level(range))] * 1e-3;
}

double Ranges::step_volt(wire::Level level) const {
  return 1e-9 * (level == wire::Level::high ? ability_.high_step_nv : ability_.low_step_nv);
}

wire::Gain Ranges::finest(double volt, wire::Level level) const {
  const double top = std::ldexp(1.0, ability_.converter_bits - 1) - 1;
  wire::Gain best = wire::Gain::x1;
  for (const wire::Gain gain : {wire::Gain::x5, wire::Gain::x50}) {
    const bool offered = (ability_.gains & (1u << index(gain))) != 0;
    if (offered &&
        std::abs(volt) * wire::kGainFactor[index(gain)] <= kRoom * top * step_volt(level)) {
      best = gain;
    }
  }
  return best;
}

Average Ranges::average(double codes, wire::Gain gain, wire::Level level, double samples,
                        double noise_volt) const {
  const double step = step_volt(level) / wire::kGainFactor[index(gain)];
  return {codes / samples * step, average_error(step, noise_volt, samples),
          kGainError[index(gain) - 1]};
}

Average Ranges::ideal(double volt, wire::Level level, double samples, double noise_volt) const {
  const wire::Gain gain = finest(volt, level);
  const double step = step_volt(level) / wire::kGainFactor[index(gain)];
  return average(volt / step * samples, gain, level, samples, noise_volt);
}

RangeFigures Ranges::figures(std::uint8_t range) const {
  const double ampere =
      level_volt(range) / (wire::kRanges[range - 1].reference_ohm + 2 * kForcePathOhm);
  // At 5 V the table's own figure is at x1, which holds up to the whole 5 V.
  const wire::Gain gain =
      level(range) == wire::Level::high ? wire::Gain::x1 : finest(0, level(range));
  return {ampere, step_volt(level(range)) / wire::kGainFactor[index(gain)] / ampere};
}

Ohms Ranges::predicted(std::uint8_t range, double ohm, const Conditions& conditions,
                       double samples) const {
  const double reference = wire::kRanges[range - 1].reference_ohm;
  const double ampere = level_volt(range) / (ohm + reference + 2 * kForcePathOhm);
  const auto take = [&](double volt, wire::Level at) {
    return ideal(volt, at, samples, conditions.noise_volt);
  };
  return ohms_of(difference(take(0, wire::Level::off), take(ohm * ampere, level(range)),
                            take(0, wire::Level::off), take(reference * ampere, level(range)),
                            reference, conditions),
                 conditions, 0);
}

double Ranges::sense_volt(const wire::Result& result, const wire::StepHead& head) const {
  return sense(result, head, 0).volt;
}

Average Ranges::sense(const wire::Result& result, const wire::StepHead& head,
                      double noise_volt) const {
  return average(result.sense, wire::sense_gain(result), head.level,
                 std::ldexp(1.0, head.samples_log2), noise_volt);
}

Average Ranges::current(const wire::Result& result, const wire::StepHead& head,
                        double noise_volt) const {
  return average(result.current, wire::current_gain(result), head.level,
                 std::ldexp(1.0, head.samples_log2), noise_volt);
}

Electrical Ranges::electrical(const OffOn& results, const wire::StepHead& head,
                              const Conditions& conditions) const {
  const double noise = conditions.noise_volt;
  const wire::Result& off = results.off;
  const wire::Result& on = results.on;
  wire::StepHead off_head = head;
  off_head.level = wire::Level::off;
  Electrical read =
      difference(sense(off, off_head, noise), sense(on, head, noise), current(off, off_head, noise),
                 current(on, head, noise), wire::kRanges[head.range - 1].reference_ohm, conditions);
  read.clipped =
      ((off.flags | on.flags) & (wire::kSenseOver | wire::kSenseUnder | wire::kCurrentOut)) != 0;
  read.settled = ((off.flags | on.flags) & wire::kNotSettled) == 0;
  return read;
}

Measurement to_measurement(const Electrical& electrical, std::uint8_t range, double force_ohm,
                           const Conditions& conditions) {
  Measurement measurement;
  const Ohms ohms = ohms_of(electrical, conditions, force_ohm);
  measurement.ohm = ohms.ohm;
  measurement.uncertainty_ohm = ohms.uncertainty;
  measurement.volt = Ranges::level_volt(range);
  measurement.across_volt = electrical.volt;
  measurement.clipped = electrical.clipped;
  measurement.settled = electrical.settled;
  measurement.emf_volt = electrical.off_volt;
  return measurement;
}

}  // namespace padwalk::session
