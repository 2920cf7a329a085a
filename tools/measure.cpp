// SPDX-License-Identifier: MIT
#include "tools/measure.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <unordered_map>

#include "graph/deciding.hpp"
#include "graph/evidence.hpp"

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

/// One hookup's sweep.
struct HookupSweep::State {
  State(const Measuring& measuring, const graph::Hookup& hookup,
        const std::vector<graph::PointId>& fresh, SweepReport& report)
      : session_(measuring.session),
        board_(measuring.board),
        person_(measuring.person),
        stop_(measuring.stop),
        hookup_(hookup),
        fresh_(fresh),
        report_(report),
        scan_(board_, hookup_.points(), limits(measuring), fresh_) {
    for (const graph::Lead& lead : hookup.leads) {
      channel_of_[lead.point] = lead.channel;
      channels_.push_back(lead.channel);
    }
    ratio_ = graph::ratio_for(kBoardRisk, 2 * hookup_.leads.size());
  }

  /// What a tester that fails does is noted.
  template <typename Step>
  bool guarded(Step step) {
    try {
      return step();
    } catch (const session::NotAtRest& live) {
      return note_power_check(live.check);
    } catch (const session::TesterError& error) {
      report_.failure = error.what();
      return false;
    }
  }

  bool read_all() {
    return guarded([&] { return power_check(fresh_) && drain(scan_); });
  }

  bool finish() {
    if (!ended_early()) {
      guarded([&] { return ask_about_silence(scan_); });
    }
    measured_.attached = hookup_.points();
    measured_.readings = scan_.readings();
    measured_.readings.insert(measured_.readings.end(), partial_.begin(), partial_.end());
    measured_.nets = scan_.net_readings();
    measured_.interrupted = ended_early();
    count();
    graph::add_evidence(report_.measured, measured_);
    return !report_.measured.interrupted;
  }

  void count() {
    report_.counts.scan += scan_.counts().scan;
    report_.counts.confirm += scan_.counts().confirm;
    report_.link = session_.counters();
  }

  bool ended_early() const {
    return report_.interrupted || report_.refused || !report_.failure.empty();
  }

  graph::ScanLimits limits(const Measuring& measuring) const {
    graph::ScanLimits limits;
    limits.good_ohm = graph::good_limit(board_, report_.limits);
    limits.isolation_ohm = report_.limits.isolation_ohm;
    limits.same_net_ohm = report_.limits.open_above_ohm;
    limits.short_ohm = report_.limits.short_up_to_ohm;
    limits.max_set = std::min(session_.capabilities().max_source, session_.capabilities().max_sink);
    limits.quick = measuring.quick;
    return limits;
  }

  /// Returns false, and says so in the report, where a point is live.
  /// Where nothing but `fresh` was moved since the last one, only that is looked at.
  bool power_check(const std::vector<graph::PointId>& fresh = {}) {
    if (fresh.empty() || session_.needs_power_check()) {
      return note_power_check(session_.power_check(channels_));
    }
    std::vector<session::Channel> more;
    for (const graph::PointId point : fresh) {
      more.push_back(channel_of_.at(point));
    }
    return note_power_check(session_.power_check_more(more));
  }

  bool note_power_check(const session::PowerCheck& check) {
    report_.power_readings += check.readings;
    report_.power_limit_volt = check.limit_volt;
    report_.hum_volt = std::max(report_.hum_volt, check.hum_volt);
    if (check.passed) {
      return true;
    }
    report_.refused = true;
    report_.tied_ohm = check.tied_ohm;
    for (const session::LiveChannel& live : check.live) {
      const auto lead = std::find_if(
          hookup_.leads.begin(), hookup_.leads.end(),
          [&](const graph::Lead& candidate) { return candidate.channel == live.channel; });
      report_.live.push_back({lead->point, live.volt, live.rms_volt, live.kind});
    }
    return false;
  }

  /// Reads all that the scan wants. Returns false where it had to end early.
  bool drain(graph::Scan& scan) {
    for (;;) {
      const std::vector<graph::WantedReading> wanted = scan.next();
      if (wanted.empty()) {
        return true;
      }
      if (stop_) {
        report_.interrupted = true;
        return false;
      }
      if (session_.needs_power_check() && !power_check()) {
        return false;
      }
      scan.record(decide(wanted));
    }
  }

  bool ask_about_silence(graph::Scan& scan) {
    std::vector<graph::PointId> silent = scan.silent();
    if (silent.empty()) {
      return true;
    }
    if (person_ == nullptr) {
      measured_.silent_unproven = std::move(silent);
      return true;
    }
    std::vector<graph::Lead> leads;
    for (const graph::PointId point : silent) {
      leads.push_back({channel_of_.at(point), point});
    }
    person_->reseat(board_, leads);
    session_.leads_moved();
    scan.ask_again();
    const bool all_read = drain(scan);
    const std::vector<graph::PointId> still = scan.silent();
    std::copy_if(silent.begin(), silent.end(), std::back_inserter(cured_),
                 [&](graph::PointId point) {
                   return std::find(still.begin(), still.end(), point) == still.end();
                 });
    (all_read ? measured_.silent_believed : measured_.silent_unproven) = still;
    return all_read;
  }

  /// Reads all of it until each reading is decided.
  std::vector<graph::Reading> decide(const std::vector<graph::WantedReading>& wanted) {
    graph::Deciding deciding(wanted, ratio_);
    for (auto round = deciding.next(); !round.empty(); round = deciding.next()) {
      deciding.record(read(round));
    }
    report_.repeated += deciding.repeated();
    std::vector<graph::Reading> readings = std::move(deciding).decided();
    come_back(readings);
    return readings;
  }

  /// What a capacitor hid is looked at again, after all else of the round.
  void come_back(std::vector<graph::Reading>& readings) {
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

  std::vector<graph::Reading> read(const std::vector<graph::WantedReading>& wanted) {
    const auto to_channels = [&](const std::vector<graph::PointId>& points) {
      std::vector<session::Channel> channels;
      channels.reserve(points.size());
      for (const graph::PointId point : points) {
        channels.push_back(channel_of_.at(point));
      }
      return channels;
    };
    std::vector<session::Request> requests;
    requests.reserve(wanted.size());
    for (const graph::WantedReading& one : wanted) {
      requests.push_back(
          {to_channels(one.source), to_channels(one.sink), to_session(one.purpose),
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

  /// Readings of the first of `wanted`, as many as were measured.
  static std::vector<graph::Reading> to_readings(
      const std::vector<graph::WantedReading>& wanted,
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

  session::Session& session_;
  const graph::Board& board_;
  Person* person_;
  const std::atomic<bool>& stop_;
  graph::Hookup hookup_;
  std::vector<graph::PointId> fresh_;
  SweepReport& report_;
  graph::Scan scan_;
  graph::Measured measured_;
  std::vector<graph::PointId> cured_;
  std::unordered_map<graph::PointId, session::Channel> channel_of_;
  std::vector<session::Channel> channels_;
  double ratio_ = 2;                     ///< of likelihoods, at which a reading is decided
  std::vector<graph::Reading> partial_;  ///< of a round that the tester did not finish
};

HookupSweep::HookupSweep(const Measuring& measuring, const graph::Hookup& now,
                         const std::vector<graph::PointId>& fresh, SweepReport& report)
    : state_(std::make_unique<State>(measuring, now, fresh, report)) {}
HookupSweep::~HookupSweep() = default;

bool HookupSweep::read() {
  return state_->read_all();
}

const std::vector<graph::Reading>& HookupSweep::readings() const {
  return state_->scan_.readings();
}

bool HookupSweep::finish() {
  return state_->finish();
}

const graph::Measured& HookupSweep::measured() const {
  return state_->measured_;
}

const std::vector<graph::PointId>& HookupSweep::cured() const {
  return state_->cured_;
}

void HookupSweep::discard() {
  state_->count();
}

void measure_sweep(const Measuring& measuring, SweepReport& report) {
  report.hookups = 1;
  HookupSweep sweep(measuring, report.hookup, {}, report);
  sweep.read();
  sweep.finish();
}

}  // namespace padwalk::tools
