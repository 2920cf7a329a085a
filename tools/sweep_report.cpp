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

std::string SweepReport::verdict() const {
  switch (status()) {
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
