// SPDX-License-Identifier: MIT
//
// A sweep as a job keeps it, and back: points and nets by name, spells of measuring as JSON, so
// that a sweep that was cut off goes on where it was.
#pragma once

#include <cstdint>

#include "firmware-host/session/session.hpp"
#include "tools/job.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/record.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

class JobRecord : public Record {
 public:
  /// Of the run of that id. All outlive this.
  JobRecord(Job& job, std::int64_t run, const graph::Board& board)
      : job_(job), run_(run), board_(board) {}

  void leads(const graph::Hookup& now) override;
  void readings(std::span<const graph::Reading> readings) override;
  void spell(const graph::Measured& measured) override;
  void forgotten(const std::vector<graph::PointId>& points, std::size_t since) override;
  void misfit(const std::string& fixture, const std::string& where) override;
  void not_reached(graph::PointId point) override;
  void heard(const std::string& place, const std::vector<graph::PointId>& with,
             bool metal) override;

 private:
  Job& job_;
  std::int64_t run_;
  const graph::Board& board_;
};

/// The run of one command in a job, if a job is named; without one nothing is kept.
class KeptRun {
 public:
  /// `options`: JSON. Errors: RecordError.
  KeptRun(const std::string& job, const std::string& verb, const std::string& options,
          const graph::Board& board, const std::string& board_file);
  /// Where no file says the board; `board` null: there is none.
  KeptRun(const std::string& job, const std::string& verb, const std::string& options,
          const graph::Board* board);

  Record& record() { return record_ ? *record_ : no_record(); }
  const Job* job() const { return job_ ? &*job_ : nullptr; }
  void met_tester(const session::Capabilities& tester, const std::string& port);
  void end(const std::string& verdict, const std::string& report);
  /// The same; a record that is lost is noted in `run`, and the report goes to `output` too, where
  /// it is wanted.
  void end(const std::string& verdict, const std::string& report, SweepReport& run,
           JsonOutput& output);

 private:
  std::optional<Job> job_;
  std::optional<JobRecord> record_;
  std::int64_t run_ = 0;
};

/// What a run and those that it went on from had kept. Errors: RecordError where the record does
/// not fit the board.
Kept kept_of(const Job& job, std::int64_t run, const graph::Board& board);

/// What was asked for, files by their whole names; back. `before`: the run that it goes on from; 0:
/// none. Errors: RecordError.
std::string sweep_options_json(const SweepOptions& options, std::int64_t before);
/// The same for commands that nobody goes on with.
std::string board_options_json(const std::string& board);
SweepOptions sweep_options_from(const std::string& json);
std::int64_t run_before(const JobRun& run);
/// It came to its end, and what it found was judged.
bool ended(const JobRun& run);
/// The last sweep that did; null: none.
const JobRun* last_ended_sweep(const std::vector<JobRun>& runs);

}  // namespace padwalk::tools
