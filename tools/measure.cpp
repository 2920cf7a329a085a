// SPDX-License-Identifier: MIT
#include "tools/measure.hpp"

#include <algorithm>
#include <iterator>

#include "graph/evidence.hpp"
#include "tools/hookup_reader.hpp"

namespace padwalk::tools {

/// One hookup's sweep.
struct HookupSweep::State {
  State(const Measuring& measuring, const graph::Hookup& hookup,
        const std::vector<graph::PointId>& fresh, SweepReport& report)
      : session_(measuring.session),
        board_(measuring.board),
        person_(measuring.person),
        record_(measuring.record),
        stop_(measuring.stop),
        hookup_(hookup),
        fresh_(fresh),
        report_(report),
        reader_(session_, hookup_, report),
        scan_(board_, hookup_.points(), limits(measuring), fresh_) {}

  bool read_all() {
    return reader_.guarded([&] { return reader_.power_check(fresh_) && drain(scan_); });
  }

  bool read_unmoved() {
    return reader_.guarded([&] { return drain(scan_); });
  }

  bool finish() {
    if (!ended_early()) {
      reader_.guarded([&] { return ask_about_silence(scan_); });
    }
    measured_.attached = hookup_.points();
    measured_.readings = scan_.readings();
    const std::vector<graph::Reading>& partial = reader_.partial();
    measured_.readings.insert(measured_.readings.end(), partial.begin(), partial.end());
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
      if (!reader_.may_drive()) {
        return false;
      }
      const std::vector<graph::Reading> readings = reader_.decide(wanted);
      record_.readings(readings);
      scan.record(readings);
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
      leads.push_back({reader_.channel_of(point), point});
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

  session::Session& session_;
  const graph::Board& board_;
  Person* person_;
  Record& record_;
  const std::atomic<bool>& stop_;
  graph::Hookup hookup_;
  std::vector<graph::PointId> fresh_;
  SweepReport& report_;
  HookupReader reader_;
  graph::Scan scan_;
  graph::Measured measured_;
  std::vector<graph::PointId> cured_;
};

HookupSweep::HookupSweep(const Measuring& measuring, const graph::Hookup& now,
                         const std::vector<graph::PointId>& fresh, SweepReport& report)
    : state_(std::make_unique<State>(measuring, now, fresh, report)) {}
HookupSweep::~HookupSweep() = default;

bool HookupSweep::read() {
  return state_->read_all();
}

bool HookupSweep::read_unmoved() {
  return state_->read_unmoved();
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

const std::vector<graph::PointId>& HookupSweep::fresh() const {
  return state_->fresh_;
}

const std::vector<graph::PointId>& HookupSweep::cured() const {
  return state_->cured_;
}

void HookupSweep::discard() {
  state_->count();
}

void note_lost_record(const RecordError& error, SweepReport& report) {
  report.failure = error.what();
  report.record_lost = true;
  report.measured.interrupted = true;
}

void measure_sweep(const Measuring& measuring, SweepReport& report) {
  report.hookups = 1;
  try {
    measuring.record.leads(report.hookup);
    HookupSweep sweep(measuring, report.hookup, {}, report);
    sweep.read();
    if (sweep.finish()) {
      measuring.record.spell(sweep.measured());
    }
  } catch (const RecordError& error) {
    note_lost_record(error, report);
  }
}

}  // namespace padwalk::tools
