// SPDX-License-Identifier: MIT
#include "tools/sweep_report.hpp"

#include <algorithm>

namespace padwalk::tools {

ExitStatus SweepReport::status() const {
  if (refused) {
    return ExitStatus::refused;
  }
  if (!failure.empty()) {
    return ExitStatus::failed;
  }
  if (!result.findings.empty()) {
    return ExitStatus::findings;
  }
  const bool planned_but_unread = std::any_of(
      result.untested.begin(), result.untested.end(), [&](const graph::PointNote& note) {
        return std::find(measured.attached.begin(), measured.attached.end(), note.point) !=
               measured.attached.end();
      });
  if (interrupted || planned_but_unread || !not_reached.empty() || !result.no_contact.empty()) {
    return ExitStatus::incomplete;
  }
  return ExitStatus::good;
}

std::vector<std::string> SweepReport::sharpened() const {
  std::vector<std::string> ids;
  for (const graph::Finding& finding : result.findings) {
    if (finding.open.sharpened) {
      ids.push_back(finding.id);
    }
  }
  return ids;
}

std::string verdict_word(ExitStatus status) {
  switch (status) {
    case ExitStatus::refused:
      return "refused";
    case ExitStatus::failed:
    case ExitStatus::bad_input:
      return "failed";
    case ExitStatus::findings:
      return "faulty";
    case ExitStatus::incomplete:
      return "incomplete";
    case ExitStatus::good:
      break;
  }
  return "good";
}

void note_live(const session::PowerCheck& check, const graph::Hookup& hookup, SweepReport& report) {
  report.refused = true;
  report.power_limit_volt = check.limit_volt;
  report.tied_ohm = check.tied_ohm;
  for (const session::LiveChannel& live : check.live) {
    const auto lead = std::find_if(hookup.leads.begin(), hookup.leads.end(),
                                   [&](const auto& one) { return one.channel == live.channel; });
    if (lead != hookup.leads.end()) {
      report.live.push_back({lead->point, live.volt, live.rms_volt, live.kind});
    }
  }
}

void note_leads(const graph::Hookup& now, SweepReport& report) {
  for (const graph::Lead& lead : now.leads) {
    const auto known = std::find_if(report.hookup.leads.begin(), report.hookup.leads.end(),
                                    [&](const auto& other) { return other.point == lead.point; });
    if (known == report.hookup.leads.end()) {
      report.hookup.leads.push_back(lead);
    } else {
      known->channel = lead.channel;
    }
  }
}

}  // namespace padwalk::tools
