// SPDX-License-Identifier: MIT
#include "tools/checklist.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "graph/board_yaml.hpp"
#include "tools/job_record.hpp"

namespace padwalk::tools {

namespace {

/// "2026-05-04 09:30:00" of a time as it is kept.
std::string second(const std::string& at) {
  std::string text = at.substr(0, 19);
  std::replace(text.begin(), text.end(), 'T', ' ');
  return text;
}

/// A sweep of the whole board that came to its end.
bool is_whole_sweep(const JobRun& run) {
  const nlohmann::json options = nlohmann::json::parse(run.options, nullptr, false);
  return run.verb == "sweep" && ended(run) && options.is_object() &&
         options.value("nets", nlohmann::json::array()).empty() &&
         options.value("near", "").empty() &&
         options.value("leave_out", nlohmann::json::array()).empty();
}

bool is_region_sweep(const JobRun& run) {
  const nlohmann::json options = nlohmann::json::parse(run.options, nullptr, false);
  return run.verb == "sweep" && ended(run) && options.is_object() &&
         !options.value("near", "").empty();
}

/// It found no supply or ground shorted, nor leaking.
bool supplies_apart(const JobRun& run) {
  std::set<std::string> supplies;
  try {
    graph::Diagnostics diagnostics("the job's board");
    for (const graph::NetDescription& net : graph::read_board(run.board, diagnostics).nets) {
      if (net.role != graph::NetRole::signal) {
        supplies.insert(net.name);
      }
    }
  } catch (const graph::BadFile&) {
    return false;
  }
  const nlohmann::json report = nlohmann::json::parse(run.report, nullptr, false);
  if (!report.is_object() || supplies.empty()) {
    return false;
  }
  const nlohmann::json findings = report.value("findings", nlohmann::json::array());
  return std::none_of(findings.begin(), findings.end(), [&](const nlohmann::json& finding) {
    const nlohmann::json nets = finding.value("nets", nlohmann::json::array());
    return std::any_of(nets.begin(), nets.end(), [&](const nlohmann::json& net) {
      return supplies.count(net.get<std::string>()) != 0;
    });
  });
}

}  // namespace

const std::vector<ChecklistItem>& checklist() {
  static const std::vector<ChecklistItem> items = {
      {"photos", "photos of both sides, before anything is touched"},
      {"capacitors", "big capacitors discharged through a resistor, and metered"},
      {"memory", "memory and calibration that the cell keeps alive read out"},
      {"cell", "cell or battery out"},
      {"neutralised", "leaked electrolyte neutralised, as its kind wants it"},
      {"rinsed", "rinsed"},
      {"dry", "dry"},
      {"chips out", "socketed chips pulled and labelled"},
      {"supplies", "supplies apart from ground and from each other"},
      {"corroded area", "the corroded area swept"},
      {"touch", "breaks pinned down with the tip"},
      {"repair", "repaired"},
      {"confirm", "the repair confirmed, and nothing else changed"},
      {"chips back", "chips back in their sockets"},
      {"legs", "read again at the chips' legs"},
      {"rest", "the rest, as agreed with the owner"},
      {"power", "first power, on a supply with a current limit"}};
  return items;
}

std::vector<std::optional<std::string>> done_of(const Job& job) {
  std::vector<std::optional<std::string>> done(checklist().size());
  const auto tick = [&](std::string_view word, const std::string& why) {
    for (std::size_t i = 0; i < done.size(); ++i) {
      if (checklist()[i].word == word && !done[i]) {
        done[i] = why;
      }
    }
  };
  for (const JobEvent& event : job.events(std::nullopt)) {
    if (event.kind == "done") {
      tick(event.data, "ticked " + second(event.at));
    } else if (event.kind == "note" && job.photo(event.id)) {
      tick("photos", "a photo of " + second(event.at));
    }
  }
  for (const JobRun& run : job.runs()) {
    if (is_whole_sweep(run) && supplies_apart(run)) {
      tick("supplies", "sweep of " + second(run.at));
    }
    if (is_whole_sweep(run) || is_region_sweep(run)) {
      tick("corroded area", "sweep of " + second(run.at));
    }
    if (run.verb == "confirm" && run.verdict.starts_with("restored")) {
      tick("repair", "confirm of " + second(run.at));
    }
    if (run.verb == "confirm" && run.verdict == "restored") {
      tick("confirm", "confirm of " + second(run.at));
    }
    if (run.verb == "pinpoint" && ended(run)) {
      tick("touch", "pinpoint of " + second(run.at));
    }
  }
  return done;
}

}  // namespace padwalk::tools
