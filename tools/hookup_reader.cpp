// SPDX-License-Identifier: MIT
#include "tools/hookup_reader.hpp"

#include <algorithm>
#include <cmath>

#include "graph/deciding.hpp"

namespace padwalk::tools {

namespace {

session::Purpose to_session(graph::Purpose purpose) {
  switch (purpose) {
    case graph::Purpose::isolation:
      return session::Purpose::isolation;
    case graph::Purpose::continuity:
      return session::Purpose::continuity;
    case graph::Purpose::follow:
      return session::Purpose::follow;
  }
  return session::Purpose::continuity;
}

/// A whole board may be called faulty wrongly once in so many sweeps.
constexpr double kBoardRisk = 1e-3;
/// What a filling capacitor hides is read again so often, two seconds each time.
constexpr int kVisits = 3;

/// The one limit that a reading will be held against, for the session's care. Units: ohm; 0: none.
double limit_of(const graph::Band& band) {
  const bool ends = std::isfinite(band.at_most_ohm);
  return band.at_least_ohm > 0 && ends ? 0 : ends ? band.at_most_ohm : band.at_least_ohm;
}

}  // namespace

std::vector<graph::Reading> to_readings(const std::vector<graph::WantedReading>& wanted,
                                        const std::vector<session::Measurement>& measured) {
  std::vector<graph::Reading> readings;
  readings.reserve(measured.size());
  for (std::size_t i = 0; i < measured.size(); ++i) {
    const session::Measurement& one = measured[i];
    graph::Reading reading{wanted[i], one.ohm, one.uncertainty_ohm, one.volt};
    reading.across_volt = one.across_volt;
    reading.settled = one.settled;
    reading.number = !one.clipped && !one.emf;
    readings.push_back(std::move(reading));
  }
  return readings;
}

HookupReader::HookupReader(session::Session& session, const graph::Hookup& hookup,
                           SweepReport& report)
    : session_(session),
      hookup_(hookup),
      report_(report),
      ratio_(graph::ratio_for(kBoardRisk, 2 * std::max<std::size_t>(1, hookup.leads.size()))) {
  for (const graph::Lead& lead : hookup.leads) {
    channel_of_[lead.point] = lead.channel;
    channels_.push_back(lead.channel);
  }
}

std::vector<session::Channel> HookupReader::channels_of(
    const std::vector<graph::PointId>& points) const {
  std::vector<session::Channel> channels;
  channels.reserve(points.size());
  for (const graph::PointId point : points) {
    channels.push_back(channel_of_.at(point));
  }
  return channels;
}

bool HookupReader::power_check(const std::vector<graph::PointId>& fresh) {
  if (fresh.empty() || session_.needs_power_check()) {
    return note_power_check(session_.power_check(channels_));
  }
  return note_power_check(session_.power_check_more(channels_of(fresh)));
}

bool HookupReader::note_power_check(const session::PowerCheck& check) {
  report_.power_readings += check.readings;
  report_.power_limit_volt = check.limit_volt;
  report_.hum_volt = std::max(report_.hum_volt, check.hum_volt);
  if (check.passed) {
    return true;
  }
  note_live(check, hookup_, report_);
  return false;
}

std::vector<graph::Reading> HookupReader::decide(const std::vector<graph::WantedReading>& wanted) {
  graph::Deciding deciding(wanted, ratio_);
  for (auto round = deciding.next(); !round.empty(); round = deciding.next()) {
    deciding.record(read(round));
  }
  report_.repeated += deciding.repeated();
  std::vector<graph::Reading> readings = std::move(deciding).decided();
  come_back(readings);
  return readings;
}

void HookupReader::come_back(std::vector<graph::Reading>& readings) {
  for (int visit = 0; visit < kVisits; ++visit) {
    std::vector<graph::WantedReading> again;
    std::vector<std::size_t> which;
    for (std::size_t i = 0; i < readings.size(); ++i) {
      if (!readings[i].settled && !readings[i].wanted.expected.holds(readings[i].ohm)) {
        again.push_back(readings[i].wanted);
        which.push_back(i);
      }
    }
    if (again.empty()) {
      return;
    }
    report_.repeated += again.size();
    const std::vector<graph::Reading> later = read(again);
    for (std::size_t k = 0; k < which.size(); ++k) {
      readings[which[k]] = later[k];
    }
  }
}

std::vector<graph::Reading> HookupReader::read(const std::vector<graph::WantedReading>& wanted) {
  std::vector<session::Request> requests;
  requests.reserve(wanted.size());
  for (const graph::WantedReading& one : wanted) {
    requests.push_back(
        {channels_of(one.source), channels_of(one.sink), to_session(one.purpose),
         one.sense == graph::kNoPoint ? session::Channel{0} : channel_of_.at(one.sense),
         limit_of(one.expected)});
  }
  try {
    return to_readings(wanted, session_.measure(requests));
  } catch (const session::TesterError&) {
    partial_ = to_readings(wanted, session_.partial_results());
    throw;
  }
}

}  // namespace padwalk::tools
