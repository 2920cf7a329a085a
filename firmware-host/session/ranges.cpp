// SPDX-License-Identifier: MIT
#include "firmware-host/session/ranges.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace padwalk::session {

namespace {

constexpr std::uint8_t kCloseRange = 1;      // 190 uA into a short
constexpr std::uint8_t kIsolationRange = 3;  // 18 uA
constexpr std::uint8_t kBareRange = 5;       // 5 V
/// Above this range 3 reads better than range 1, below it range 1. Source: the range table.
constexpr double kCloseUpToOhm = 1e3;
constexpr double kFarAboveOhm = 20e3;
/// Lead on pad, two of them, each time anew. Source: re-clipping, common practice.
constexpr double kContactOhm = 0.1;
/// Gains and reference resistors, relative, together.
constexpr double kGainError = 2e-3;
/// Current is believed above so many steps of the converter, and so many sigmas of noise.
constexpr double kFlowSteps = 2;
constexpr double kFlowSigmas = 5;

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
  if (range == kBareRange && ohm > kFarAboveOhm) {
    return std::nullopt;
  }
  std::uint8_t wanted = range;
  if (ohm < kCloseUpToOhm) {
    wanted = nearest(kCloseRange);
  } else if (ohm > kFarAboveOhm || range == kBareRange) {
    wanted = nearest(kIsolationRange);
  }
  return wanted == range ? std::nullopt : std::optional(wanted);
}

std::uint8_t Ranges::low(double ohm) const {
  return nearest(ohm < 2 * kCloseUpToOhm ? kCloseRange : kIsolationRange);
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

double Ranges::step_volt(const wire::StepHead& head) const {
  return 1e-9 * (head.level == wire::Level::high ? ability_.high_step_nv : ability_.low_step_nv);
}

double Ranges::sense_volt(const wire::Result& result, const wire::StepHead& head) const {
  const int gain = wire::kGainFactor[static_cast<std::size_t>(
      std::max(wire::sense_gain(result), wire::Gain::x1))];
  return std::ldexp(result.sense * step_volt(head) / gain, -head.samples_log2);
}

Electrical Ranges::electrical(const wire::Result& result, const wire::StepHead& head,
                              double noise_volt) const {
  const auto factor = [](wire::Gain gain) {
    return static_cast<double>(
        wire::kGainFactor[static_cast<std::size_t>(std::max(gain, wire::Gain::x1))]);
  };
  const double reference = wire::kRanges[head.range - 1].reference_ohm;
  const double noise = noise_volt / std::sqrt(std::ldexp(1.0, head.samples_log2));
  const double sense_step = step_volt(head) / factor(wire::sense_gain(result));
  const double current_step = step_volt(head) / factor(wire::current_gain(result));
  const double across = std::ldexp(result.current * current_step, -head.samples_log2);
  const double across_error = std::hypot(current_step / 2, 2 * noise, kGainError * across);
  Electrical read;
  read.clipped = (result.flags & (wire::kSenseOver | wire::kSenseUnder | wire::kCurrentOut)) != 0;
  read.settled = (result.flags & wire::kNotSettled) == 0;
  read.volt = sense_volt(result, head);
  read.volt_error = std::hypot(sense_step / 2, 2 * noise, kGainError * read.volt);
  read.ampere = across / reference;
  read.ampere_error = across_error / reference;
  read.flows = across > std::max(kFlowSteps * current_step, kFlowSigmas * noise);
  return read;
}

Measurement to_ohms(const Electrical& electrical, std::uint8_t range, double force_ohm) {
  Measurement measurement;
  measurement.volt = wire::kLevelMillivolt[static_cast<std::size_t>(Ranges::level(range))] * 1e-3;
  measurement.clipped = electrical.clipped;
  measurement.settled = electrical.settled;
  if (electrical.clipped || !electrical.flows) {
    measurement.ohm = std::numeric_limits<double>::infinity();
    return measurement;
  }
  const double ohm = electrical.volt / electrical.ampere;
  measurement.ohm = std::max(ohm - force_ohm / 2, 0.0);
  measurement.uncertainty_ohm =
      force_ohm / 2 + std::hypot(kContactOhm, electrical.volt_error / electrical.ampere,
                                 ohm * electrical.ampere_error / electrical.ampere);
  return measurement;
}

}  // namespace padwalk::session
