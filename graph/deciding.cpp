// SPDX-License-Identifier: MIT
#include "graph/deciding.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace padwalk::graph {

namespace {

constexpr double kClearSigmas = 6;
constexpr double kCloseSigmas = 2;

/// Sigmas between a reading and one limit. Above it in siemens, since it is the current that has an
/// error, and a reading of many ohms has a large one in ohms.
double sigmas_from(double limit_ohm, const Reading& reading) {
  const double sigma = reading.uncertainty_ohm / 2;
  if (sigma == 0) {
    return kOpenOhm;
  }
  return reading.ohm > limit_ohm
             ? (1 / limit_ohm - 1 / reading.ohm) * reading.ohm * reading.ohm / sigma
             : (limit_ohm - reading.ohm) / sigma;
}

/// To the nearer end of its band; infinite where there is none.
double sigmas_from_limit(const Reading& reading) {
  const Band& band = reading.wanted.expected;
  double sigmas = kOpenOhm;
  if (band.at_least_ohm > 0) {
    sigmas = sigmas_from(band.at_least_ohm, reading);
  }
  if (std::isfinite(band.at_most_ohm)) {
    sigmas = std::min(sigmas, sigmas_from(band.at_most_ohm, reading));
  }
  return sigmas;
}

/// The middle one of those readings that fell on this side of the band.
const Reading& middle(std::vector<const Reading*> side) {
  const auto at = side.begin() + static_cast<std::ptrdiff_t>(side.size() / 2);
  std::nth_element(side.begin(), at, side.end(),
                   [](const Reading* a, const Reading* b) { return a->ohm < b->ohm; });
  return **at;
}

}  // namespace

bool is_clear(const Reading& reading) {
  return !std::isfinite(reading.ohm) || sigmas_from_limit(reading) > kClearSigmas;
}

Deciding::Deciding(std::vector<WantedReading> wanted, double ratio) {
  cases_.reserve(wanted.size());
  for (WantedReading& one : wanted) {
    cases_.push_back({std::move(one), {}, SequentialTest(ratio), false});
  }
}

std::vector<WantedReading> Deciding::next() {
  round_.clear();
  std::vector<WantedReading> round;
  for (std::size_t i = 0; i < cases_.size(); ++i) {
    if (!cases_[i].done) {
      repeated_ += cases_[i].readings.empty() ? 0 : 1;
      round_.push_back(i);
      round.push_back(cases_[i].wanted);
    }
  }
  return round;
}

void Deciding::record(std::span<const Reading> readings) {
  assert(readings.size() == round_.size());
  for (std::size_t k = 0; k < round_.size(); ++k) {
    Case& one = cases_[round_[k]];
    const Reading& reading = readings[k];
    const bool as_expected = one.wanted.expected.holds(reading.ohm);
    one.readings.push_back(reading);
    // No repetition helps where there is no number, and a filling capacitor has the caller's time.
    const bool alone = one.readings.size() == 1 && as_expected && is_clear(reading);
    one.test.add(as_expected);
    one.done = alone || one.wanted.provisional || !reading.number ||
               (!reading.settled && !as_expected) || one.test.decided().has_value() ||
               one.test.exhausted();
  }
}

std::vector<Reading> Deciding::decided() && {
  std::vector<Reading> all;
  all.reserve(cases_.size());
  for (Case& one : cases_) {
    assert(one.done);
    std::vector<const Reading*> good;
    std::vector<const Reading*> bad;
    for (const Reading& reading : one.readings) {
      (one.wanted.expected.holds(reading.ohm) ? good : bad).push_back(&reading);
    }
    // To and fro is what jumps clear of its limit both ways; what only scatters about it is close.
    const bool to_and_fro = one.test.decided() == Contact::intermittent && !good.empty() &&
                            !bad.empty() && is_clear(middle(good)) && is_clear(middle(bad));
    const bool take_good = bad.empty() || (!to_and_fro && good.size() > bad.size());
    Reading decided = middle(take_good ? good : bad);
    decided.intermittent = to_and_fro;
    decided.close = one.readings.size() > 1 && decided.number && std::isfinite(decided.ohm) &&
                    sigmas_from_limit(decided) <= kCloseSigmas;
    all.push_back(std::move(decided));
  }
  return all;
}

}  // namespace padwalk::graph
