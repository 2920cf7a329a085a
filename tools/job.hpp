// SPDX-License-Identifier: MIT
//
// The record of one repair in one file: what was measured, said and seen, in order, written as it
// happens. An SQLite database; the only file of ours that knows it. Knows no board and no tester:
// what it keeps is text, numbers and JSON.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tools/record.hpp"

namespace padwalk::tools {

/// One command that measured.
struct JobRun {
  std::int64_t id = 0;
  std::string at;       ///< "2026-05-04T09:30:00.000Z"
  std::string verb;     ///< "sweep"
  std::string options;  ///< JSON
  std::string board;    ///< text of the board file, as it was
  std::string tester;   ///< which, in words; empty: it was not reached
  std::string verdict;  ///< "good", …; empty: it never came to its end
  std::string report;   ///< JSON; empty as well
};

/// Something that happened, in or outside a run.
struct JobEvent {
  std::int64_t id = 0;
  std::optional<std::int64_t> run;
  std::string at;
  std::string kind;  ///< "leads", "spell", "forgotten", "misfit", "not reached", "heard"; "note",
                     ///< "done"
  std::string data;  ///< JSON
};

/// One reading by the names of its points. Units: ohm, volt. `ohm` infinite: nothing flowed.
struct JobReading {
  std::string source;
  std::string sink;
  double ohm = 0;
  double uncertainty_ohm = 0;
  double volt = 0;
  bool settled = true;
  bool number = true;
};

class Job {
 public:
  enum class Open : std::uint8_t { make_or_go_on, existing };

  /// Errors: RecordError where the file cannot be opened, is none of ours, or is of a later
  /// version.
  Job(const std::string& path, Open how);
  ~Job();
  Job(const Job&) = delete;
  Job& operator=(const Job&) = delete;

  /// Each of these is one transaction. Errors: RecordError; what was kept before stays.
  std::int64_t begin_run(const std::string& verb, const std::string& options,
                         const std::string& board);
  void met_tester(std::int64_t run, const std::string& tester);
  void add_event(std::optional<std::int64_t> run, const std::string& kind, const std::string& data);
  void add_readings(std::int64_t run, const std::vector<JobReading>& readings);
  /// A note, and a picture of that name if there is one.
  void add_note(const std::string& text, const std::string& photo_name, std::string_view photo);
  void end_run(std::int64_t run, const std::string& verdict, const std::string& report);

  std::vector<JobRun> runs() const;
  /// In order; of one run, or all.
  std::vector<JobEvent> events(std::optional<std::int64_t> run) const;
  std::size_t readings(std::int64_t run) const;
  /// Bytes of a note's picture; nothing: it has none.
  std::optional<std::string> photo(std::int64_t event) const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace padwalk::tools
