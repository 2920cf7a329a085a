// SPDX-License-Identifier: MIT
//
// `padwalk job`, `padwalk note`, `padwalk resume`: the record of a repair, told, added to, gone on
// with.
#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <nlohmann/json.hpp>

#include "graph/yaml_reader.hpp"
#include "tools/checklist.hpp"
#include "tools/job_record.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/settling.hpp"

namespace padwalk::tools {

namespace {

/// "2026-05-04 09:30" of a time as it is kept.
std::string minute(const std::string& at) {
  std::string text = at.substr(0, 16);
  std::replace(text.begin(), text.end(), 'T', ' ');
  return text;
}

void tell_findings(const nlohmann::json& report) {
  for (const nlohmann::json& finding : report.value("findings", nlohmann::json::array())) {
    std::string nets = finding.value("net", "");
    for (const nlohmann::json& net : finding.value("nets", nlohmann::json::array())) {
      nets += (nets.empty() ? "" : ", ") + net.get<std::string>();
    }
    fmt::print("      {}  {}: {}\n", finding.value("id", "?"), finding.value("kind", "?"), nets);
  }
}

void tell_confirm(const nlohmann::json& report) {
  const nlohmann::json between = report.value("between", nlohmann::json::array());
  if (between.size() == 2) {
    fmt::print("      {} from {} to {}, net {}\n",
               report.value("wire", nlohmann::json()).is_null() ? "mended" : "a wire",
               between[0].get<std::string>(), between[1].get<std::string>(),
               report.value("net", "?"));
  }
  tell_findings({{"findings", report.value("changed", nlohmann::json::array())}});
}

void tell_run(const Job& job, const JobRun& run) {
  const nlohmann::json options = nlohmann::json::parse(run.options, nullptr, false);
  const nlohmann::json report = nlohmann::json::parse(run.report, nullptr, false);
  const std::vector<JobEvent> events = job.events(run.id);
  const auto spells = static_cast<std::size_t>(std::count_if(
      events.begin(), events.end(), [](const JobEvent& event) { return event.kind == "spell"; }));
  const std::string board = options.is_object() ? options.value("board", "") : "";
  fmt::print("{}  {}{}{}{}: {}\n", minute(run.at), run.verb, board.empty() ? "" : " of ",
             board.substr(board.find_last_of('/') + 1),
             run_before(run) == 0 ? "" : ", gone on with",
             !run.verdict.empty() ? run.verdict : "cut off");
  if (!run.tester.empty()) {
    fmt::print("      tester {}\n", run.tester);
  }
  if (run.verb == "sweep") {
    fmt::print("      kept: {} in {}\n", count_text(job.readings(run.id), "reading"),
               count_text(spells, "spell"));
  }
  if (report.is_object()) {
    tell_findings(report);
    if (run.verb == "confirm") {
      tell_confirm(report);
    }
  }
}

void tell_checklist(const Job& job) {
  const std::vector<std::optional<std::string>> done = done_of(job);
  fmt::print("Checklist:\n");
  for (std::size_t i = 0; i < done.size(); ++i) {
    fmt::print("      [{}] {}: {}{}\n", done[i] ? 'x' : ' ', checklist()[i].word,
               checklist()[i].text, done[i] ? fmt::format(" ({})", *done[i]) : "");
  }
}

/// The last sweep, if it did not come to its end.
const JobRun* cut_off(const std::vector<JobRun>& runs) {
  const auto last = std::find_if(runs.rbegin(), runs.rend(),
                                 [](const JobRun& run) { return run.verb == "sweep"; });
  return last == runs.rend() || ended(*last) ? nullptr : &*last;
}

}  // namespace

ExitStatus tell_job(const JobOptions& options) {
  Job job(options.job, Job::Open::existing);
  for (const std::string& word : options.done) {
    const bool known = std::any_of(checklist().begin(), checklist().end(),
                                   [&](const ChecklistItem& item) { return item.word == word; });
    if (!known) {
      throw UsageError(
          fmt::format("--done {}: the checklist has no such item; 'padwalk job {}' "
                      "shows it",
                      word, options.job));
    }
  }
  for (const std::string& word : options.done) {
    job.add_event(std::nullopt, "done", word);
  }
  const std::vector<JobRun> runs = job.runs();
  const std::vector<JobEvent> events = job.events(std::nullopt);
  std::vector<std::pair<std::string, std::function<void()>>> story;
  for (const JobRun& run : runs) {
    story.emplace_back(run.at, [&] { tell_run(job, run); });
  }
  for (const JobEvent& event : events) {
    if (event.kind == "note") {
      story.emplace_back(event.at, [&] {
        fmt::print("{}  note: {}{}\n", minute(event.at), event.data,
                   job.photo(event.id) ? " (with a photo)" : "");
      });
    }
  }
  for (const SettledFindings& settled : settled_in(job, std::nullopt)) {
    story.emplace_back(settled.at, [&, settled] {
      fmt::print("{}  settled {}\n", minute(settled.at), settled_text(settled));
    });
  }
  std::stable_sort(story.begin(), story.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  for (const auto& [at, tell] : story) {
    tell();
  }
  tell_checklist(job);
  const std::vector<std::optional<std::string>> done = done_of(job);
  const auto next = std::find(done.begin(), done.end(), std::nullopt);
  if (cut_off(runs) != nullptr) {
    fmt::print("Next: padwalk resume {}\n", options.job);
  } else if (next == done.end()) {
    fmt::print("Next: nothing; all of it is done.\n");
  } else {
    const ChecklistItem& item = checklist()[static_cast<std::size_t>(next - done.begin())];
    fmt::print("Next: {}; then padwalk job {} --done '{}'\n", item.text, options.job, item.word);
  }
  return ExitStatus::good;
}

ExitStatus add_note(const NoteOptions& options) {
  if (options.text.find_first_not_of(" \t\n") == std::string::npos) {
    throw UsageError("a note without words; say what there is to say");
  }
  const std::string photo = options.photo.empty() ? "" : graph::read_file(options.photo);
  Job job(options.job, Job::Open::make_or_go_on);
  job.add_note(options.text, options.photo, photo);
  fmt::print("Kept in {}{}.\n", options.job, options.photo.empty() ? "" : ", with the photo");
  return ExitStatus::good;
}

ExitStatus resume_sweep(const ResumeOptions& options) {
  SweepOptions sweep;
  {
    const Job job(options.job, Job::Open::existing);
    const std::vector<JobRun> runs = job.runs();
    const JobRun* run = cut_off(runs);
    if (run == nullptr) {
      throw UsageError(
          fmt::format("{}: there is no sweep that was cut off; 'padwalk job {}' tells "
                      "what there is",
                      options.job, options.job));
    }
    sweep = sweep_options_from(run->options);
    if (graph::read_file(sweep.board) != run->board) {
      throw UsageError(
          fmt::format("{} has changed since the sweep was cut off: what was measured "
                      "may not fit it; sweep anew",
                      sweep.board));
    }
    sweep.resumes = run->id;
  }
  sweep.job = options.job;
  sweep.json = options.json;
  if (!options.port.empty()) {
    sweep.port = options.port;
    sweep.simulate = false;
  }
  return sweep_board(sweep);
}

}  // namespace padwalk::tools
