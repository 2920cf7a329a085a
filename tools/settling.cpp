// SPDX-License-Identifier: MIT
#include "tools/settling.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <nlohmann/json.hpp>

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/job_record.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

graph::Board board_that_says(const std::string& text, const std::string& file) {
  graph::Diagnostics diagnostics(file);
  graph::BoardDescription description = graph::read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  return graph::Board(std::move(description), diagnostics);
}

JobRun sweep_to_settle(const Job& job, const std::string& name) {
  const std::vector<JobRun> runs = job.runs();
  if (const JobRun* const last = last_ended_sweep(runs)) {
    return *last;
  }
  throw UsageError(fmt::format(
      "{}: there is no sweep that came to its end; 'padwalk job {}' tells what there is", name,
      name));
}

std::string today() {
  const auto now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  return fmt::format("{:%Y-%m-%d}", fmt::localtime(now));
}

const Disposition* disposition_of(std::string_view word) {
  const auto found = std::find_if(kDispositions.begin(), kDispositions.end(),
                                  [&](const Disposition& one) { return one.word == word; });
  return found == kDispositions.end() ? nullptr : &*found;
}

}  // namespace

std::vector<SettledFindings> settled_in(const Job& job, std::optional<std::int64_t> run) {
  std::vector<SettledFindings> all;
  for (const JobEvent& event : job.events(run)) {
    if (event.kind != "settled") {
      continue;
    }
    const nlohmann::json data = nlohmann::json::parse(event.data, nullptr, false);
    if (data.is_object() && data.contains("findings")) {
      all.push_back({data["findings"], data.value("disposition", ""), data.value("correction", ""),
                     event.at});
    }
  }
  return all;
}

std::string settled_text(const SettledFindings& settled) {
  const Disposition* const as = disposition_of(settled.word);
  return fmt::format("{}: {}{}", fmt::join(settled.findings, ", "),
                     as != nullptr ? as->said : settled.word,
                     settled.correction.empty() ? "" : "; " + settled.correction);
}

Settling::Settling(const std::string& job)
    : name_(job), job_(job, Job::Open::existing), run_(sweep_to_settle(job_, job)) {
  const nlohmann::json options = nlohmann::json::parse(run_.options, nullptr, false);
  board_file_ = options.is_object() ? options.value("board", "") : "";
  board_.emplace(board_that_says(run_.board, board_file_));
  const graph::Limits limits = graph::limits_for(*board_);
  const graph::Measured measured = kept_of(job_, run_.id, *board_).evidence.merged();
  findings_ = graph::find_differences(*board_, limits, measured);
  // The sweep's own words count: what is judged again must be the same.
  const nlohmann::json report = nlohmann::json::parse(run_.report, nullptr, false);
  const nlohmann::json said =
      report.is_object() ? report.value("findings", nlohmann::json::array()) : nlohmann::json();
  const bool same =
      said.is_array() && said.size() == findings_.findings.size() &&
      std::equal(said.begin(), said.end(), findings_.findings.begin(),
                 [](const nlohmann::json& one, const graph::Finding& finding) {
                   return one.value("id", "") == finding.id &&
                          one.value("kind", "") == graph::finding_kind_name(finding.kind);
                 });
  if (!same) {
    throw UsageError(fmt::format(
        "{}: this padwalk judges the sweep of {} otherwise than the one that made it; sweep again",
        job, run_.at));
  }
  slips_.emplace(*board_, limits, measured, findings_);
  settled_ = settled_in(job_, run_.id);
}

std::size_t Settling::find(const std::string& id) const {
  const auto found = std::find_if(findings().begin(), findings().end(),
                                  [&](const graph::Finding& one) { return one.id == id; });
  if (found == findings().end()) {
    throw UsageError(findings().empty()
                         ? fmt::format("{}: the last sweep found nothing to settle", name_)
                         : fmt::format("{}: the last sweep has no finding {}; it has {} to {}",
                                       name_, id, findings().front().id, findings().back().id));
  }
  return static_cast<std::size_t>(found - findings().begin());
}

const SettledFindings* Settling::settled(std::size_t finding) const {
  const auto last = std::find_if(settled_.rbegin(), settled_.rend(), [&](const auto& one) {
    return std::find(one.findings.begin(), one.findings.end(), findings()[finding].id) !=
           one.findings.end();
  });
  return last == settled_.rend() || last->word == kTakenBack ? nullptr : &*last;
}

graph::SlipCorrection Settling::correction(std::size_t finding, const std::string& text) const {
  const graph::Board now = board_that_says(text, board_file_);
  graph::SlipCorrection slip = slips_->correct(finding, now);
  if (slip.why_not.empty() && slip.correction.empty() && !slips_->agrees(finding, now)) {
    slip.why_not = "what the file has now is not what was swept; sweep again";
  }
  return slip;
}

std::string Settling::correction_text(std::size_t finding) const {
  const std::string text = graph::read_file(board_file_);
  const graph::SlipCorrection slip = correction(finding, text);
  if (!slip.why_not.empty()) {
    return "none; " + slip.why_not;
  }
  if (slip.correction.empty()) {
    return "none; it says so by now";
  }
  try {
    graph::correct_board(text, slip.correction, "x", board_file_);
  } catch (const graph::BadFile&) {
    return "by hand: " + graph::correction_text(slip.correction);
  }
  return graph::correction_text(slip.correction);
}

std::string Settling::note(std::size_t finding, const Disposition& as,
                           const graph::BoardCorrection& correction) const {
  return fmt::format("{}, {} of {}, {}: {}", as.said, findings()[finding].id,
                     name_.substr(name_.find_last_of('/') + 1), today(),
                     graph::correction_text(correction));
}

/// The finding, and those that the file says by now and did not before.
std::vector<std::string> Settling::settled_by(std::size_t finding, const std::string& before,
                                              const std::string& after) const {
  const graph::Board old_board = board_that_says(before, board_file_);
  const graph::Board new_board = board_that_says(after, board_file_);
  std::vector<std::string> ids = {findings()[finding].id};
  for (std::size_t i = 0; i < findings().size(); ++i) {
    if (i != finding && settled(i) == nullptr && slips_->agrees(i, new_board) &&
        !slips_->agrees(i, old_board)) {
      ids.push_back(findings()[i].id);
    }
  }
  return ids;
}

SettledFindings Settling::settle(std::size_t finding, const Disposition& as) {
  const std::string& id = findings()[finding].id;
  if (const SettledFindings* before = settled(finding);
      before != nullptr && !before->correction.empty()) {
    throw UsageError(fmt::format(
        "{} is settled, and the file is corrected: {}; to take that back change {} by hand and "
        "sweep again",
        id, settled_text(*before), board_file_));
  }
  SettledFindings result{{id}, std::string(as.word), "", ""};
  Step step{finding, "", "", {}};
  if (as.corrects) {
    const std::string text = graph::read_file(board_file_);
    const graph::SlipCorrection slip = correction(finding, text);
    if (!slip.why_not.empty()) {
      throw UsageError(fmt::format("{} stays unsettled: {}", id, slip.why_not));
    }
    if (!slip.correction.empty()) {
      const std::string after = graph::correct_board(
          text, slip.correction, note(finding, as, slip.correction), board_file_);
      OutputFile(board_file_).commit(after);
      step.before = text;
      step.after = after;
      result.correction = graph::correction_text(slip.correction);
      result.findings = settled_by(finding, text, after);
    }
  }
  keep(result, finding);
  step.settled = result;
  steps_.push_back(std::move(step));
  return result;
}

void Settling::keep(const SettledFindings& settled, std::size_t finding) {
  const nlohmann::json data = {{"findings", settled.findings},
                               {"disposition", settled.word},
                               {"correction", settled.correction},
                               {"kind", graph::finding_kind_name(findings()[finding].kind)}};
  job_.add_event(run_.id, "settled", data.dump());
  settled_.push_back(settled);
}

std::size_t Settling::take_back() {
  if (steps_.empty()) {
    throw UsageError("nothing was settled since the start");
  }
  const Step& step = steps_.back();
  if (!step.after.empty()) {
    if (graph::read_file(board_file_) != step.after) {
      throw UsageError(
          fmt::format("{} was changed by somebody else since: take it back by hand", board_file_));
    }
    OutputFile(board_file_).commit(step.before);
  }
  const std::size_t finding = step.finding;
  keep({step.settled.findings, std::string(kTakenBack), "", ""}, finding);
  steps_.pop_back();
  return finding;
}

}  // namespace padwalk::tools
