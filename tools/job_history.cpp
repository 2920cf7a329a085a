// SPDX-License-Identifier: MIT
#include "tools/job_history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>

#include "graph/board_yaml.hpp"
#include "tools/job_record.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/settling.hpp"

namespace padwalk::tools {

namespace {

constexpr std::size_t kMostLeft = 3;  ///< segments that a hunt may have left apart

using Breaks = std::map<graph::SegmentId, double>;

bool is_database(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string head(15, '\0');
  return in.read(head.data(), 15) && head == "SQLite format 3";
}

bool has_name(const JobRun& run, const std::string& name) {
  try {
    graph::Diagnostics diagnostics("a job's board");
    return graph::read_board(run.board, diagnostics).name == name;
  } catch (const graph::BadFile&) {
    return false;
  }
}

/// What one job tells.
class JobBreaks {
 public:
  JobBreaks(const Job& job, const graph::Board& board) : job_(job), board_(board) {}

  Breaks read() {
    std::optional<std::int64_t> sweep;
    for (const JobRun& run : job_.runs()) {
      const nlohmann::json report = nlohmann::json::parse(run.report, nullptr, false);
      if (!report.is_object() || !has_name(run, board_.name())) {
        continue;
      }
      if (run.verb == "sweep" && ended(run)) {
        sweep = run.id;
        add_findings(report, sweep, true);
      } else if (run.verb == "pinpoint") {
        add_findings(report, sweep, false);
      } else if (run.verb == "confirm" && report.value("verdict", "") == "restored") {
        const nlohmann::json between = report.value("between", nlohmann::json::array());
        if (between.size() == 2) {
          add(board_.find_segments(between[0].get<std::string>(), between[1].get<std::string>()));
        }
      }
    }
    return breaks_;
  }

 private:
  /// The last word on a finding of a sweep; empty: none.
  std::string settled_as(std::optional<std::int64_t> sweep, const std::string& id) const {
    std::string word;
    if (sweep) {
      for (const SettledFindings& one : settled_in(job_, sweep)) {
        if (std::find(one.findings.begin(), one.findings.end(), id) != one.findings.end()) {
          word = one.word == kTakenBack ? "" : one.word;
        }
      }
    }
    return word;
  }

  /// `only_faults`: of a sweep, whose findings count once a person called them faults.
  void add_findings(const nlohmann::json& report, std::optional<std::int64_t> sweep,
                    bool only_faults) {
    for (const nlohmann::json& finding : report.value("findings", nlohmann::json::array())) {
      const std::string word = settled_as(sweep, finding.value("id", ""));
      if (word == "fault" || (word.empty() && !only_faults)) {
        add(suspects_of(finding));
      }
    }
  }

  std::vector<graph::SegmentId> suspects_of(const nlohmann::json& finding) const {
    std::vector<graph::SegmentId> segments;
    for (const nlohmann::json& suspect : finding.value("suspects", nlohmann::json::array())) {
      if (suspect.contains("segment")) {
        const auto found = board_.find_segments(suspect["segment"][0].get<std::string>(),
                                                suspect["segment"][1].get<std::string>());
        segments.insert(segments.end(), found.begin(), found.end());
      } else if (suspect.value("kind", "") == "unknown way") {
        for (std::uint32_t i = 0; i < board_.segments().size(); ++i) {
          const graph::Segment& segment = board_.segments()[i];
          if (segment.kind == graph::SegmentKind::unknown_way &&
              board_[segment.member].name == suspect.value("point", "")) {
            segments.push_back(graph::SegmentId{i});
          }
        }
      } else {
        return {};  // a lead's contact, or a gap: nothing of the copper is known to be broken
      }
    }
    return segments;
  }

  void add(std::vector<graph::SegmentId> left) {
    // A wire is of one board alone.
    std::erase_if(left,
                  [&](graph::SegmentId id) { return board_[id].kind == graph::SegmentKind::wire; });
    if (left.empty() || left.size() > kMostLeft) {
      return;
    }
    for (const graph::SegmentId segment : left) {
      double& count = breaks_[segment];
      count = std::max(count, 1 / static_cast<double>(left.size()));
    }
  }

  const Job& job_;
  const graph::Board& board_;
  Breaks breaks_;
};

}  // namespace

graph::BreakHistory history_in(const std::string& folder, const std::string& own,
                               const graph::Board& board) {
  if (board.name().empty()) {
    throw UsageError("--history needs a board file with a name: that is what jobs are told by");
  }
  std::error_code failed;
  std::vector<std::filesystem::path> files;
  for (std::filesystem::directory_iterator at(folder, failed), end; !failed && at != end;
       at.increment(failed)) {
    std::error_code ignored;
    if (at->is_regular_file(ignored) &&
        (own.empty() || !std::filesystem::equivalent(at->path(), own, ignored)) &&
        is_database(at->path())) {
      files.push_back(at->path());
    }
  }
  if (failed) {
    throw UsageError(fmt::format("--history {}: no such folder, or it cannot be read", folder));
  }
  graph::BreakHistory history;
  for (const std::filesystem::path& file : files) {
    try {
      const Breaks breaks = JobBreaks(Job(file.string(), Job::Open::existing), board).read();
      history.jobs += breaks.empty() ? 0 : 1;
      for (const auto& [segment, count] : breaks) {
        history.breaks[segment] += count;
      }
    } catch (const RecordError&) {  // no job of ours, or one that is not to be read
    } catch (const nlohmann::json::exception&) {
    }
  }
  return history;
}

std::string sharpened_text(std::size_t jobs) {
  return fmt::format("sharpened by {} of this board", count_text(jobs, "earlier job"));
}

}  // namespace padwalk::tools
