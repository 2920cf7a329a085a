// SPDX-License-Identifier: MIT
#include "tools/measure.hpp"

#include <algorithm>
#include <unordered_map>

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

/// One hookup's sweep.
class Sweep {
 public:
  Sweep(session::Session& session, const graph::Board& board, Person* person,
        const std::atomic<bool>& stop, SweepReport& report)
      : session_(session), board_(board), person_(person), stop_(stop), report_(report) {
    for (const graph::Lead& lead : report.hookup.leads) {
      channel_of_[lead.point] = lead.channel;
      channels_.push_back(lead.channel);
    }
  }

  void run(bool quick) {
    report_.measured.attached = report_.hookup.points();
    if (!power_check()) {
      return;
    }
    graph::ScanLimits limits;
    limits.isolation_ohm = report_.limits.isolation_ohm;
    limits.same_net_ohm = report_.limits.open_above_ohm;
    limits.short_ohm = report_.limits.short_up_to_ohm;
    limits.max_set = std::min(session_.capabilities().max_source, session_.capabilities().max_sink);
    limits.quick = quick;
    graph::Scan scan(board_, report_.measured.attached, limits);
    try {
      drain(scan);
      ask_about_silence(scan);
    } catch (const session::NotAtRest& live) {
      note_power_check(live.check);
    } catch (const session::TesterError& error) {
      report_.failure = error.what();
    }
    report_.measured.readings = scan.readings();
    report_.measured.readings.insert(report_.measured.readings.end(), partial_.begin(),
                                     partial_.end());
    report_.measured.joined_by_parts = scan.joined_by_parts();
    report_.measured.interrupted =
        report_.interrupted || report_.refused || !report_.failure.empty();
    report_.counts = scan.counts();
  }

 private:
  /// Returns false, and says so in the report, where a point is live.
  bool power_check() { return note_power_check(session_.power_check(channels_)); }

  bool note_power_check(const session::PowerCheck& check) {
    report_.power_readings += check.readings;
    report_.power_limit_volt = check.limit_volt;
    if (check.passed) {
      return true;
    }
    report_.refused = true;
    for (const session::LiveChannel& live : check.live) {
      const auto lead = std::find_if(
          report_.hookup.leads.begin(), report_.hookup.leads.end(),
          [&](const graph::Lead& candidate) { return candidate.channel == live.channel; });
      report_.live.push_back({lead->point, live.volt});
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
      scan.record(read(wanted));
    }
  }

  void ask_about_silence(graph::Scan& scan) {
    std::vector<graph::PointId> silent = scan.silent();
    if (silent.empty() || report_.interrupted || report_.refused) {
      return;
    }
    if (person_ == nullptr) {
      report_.measured.silent_unproven = std::move(silent);
      return;
    }
    std::vector<graph::Lead> leads;
    for (const graph::PointId point : silent) {
      leads.push_back({channel_of_.at(point), point});
    }
    person_->reseat(board_, leads);
    session_.leads_moved();
    scan.ask_again();
    if (drain(scan)) {
      report_.measured.silent_believed = scan.silent();
    } else {
      report_.measured.silent_unproven = scan.silent();
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
           one.sense == graph::kNoPoint ? session::Channel{0} : channel_of_.at(one.sense)});
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
      readings.push_back(
          {wanted[i], measured[i].ohm, measured[i].uncertainty_ohm, measured[i].volt});
    }
    return readings;
  }

  session::Session& session_;
  const graph::Board& board_;
  Person* person_;
  const std::atomic<bool>& stop_;
  SweepReport& report_;
  std::unordered_map<graph::PointId, session::Channel> channel_of_;
  std::vector<session::Channel> channels_;
  std::vector<graph::Reading> partial_;  ///< of a round that the tester did not finish
};

}  // namespace

void measure_sweep(session::Session& session, const graph::Board& board, bool quick, Person* person,
                   const std::atomic<bool>& stop, SweepReport& report) {
  try {
    Sweep(session, board, person, stop, report).run(quick);
  } catch (const session::TesterError& error) {
    report.failure = error.what();
    report.measured.interrupted = true;
  }
  report.link = session.counters();
}

}  // namespace padwalk::tools
