// SPDX-License-Identifier: MIT
//
// What became of the findings of a job's last sweep: each is a fault of the board, or the file or
// the drawing is to be corrected, or it stays as it is. Joins the job, graph::FileSlips and the
// board file; asks nobody.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/file_slips.hpp"
#include "graph/findings.hpp"
#include "tools/job.hpp"

namespace padwalk::tools {

/// What a finding turned out to be.
struct Disposition {
  char key;
  std::string_view word;  ///< on the command line
  std::string_view said;
  bool corrects;  ///< the board file
};

constexpr std::array<Disposition, 5> kDispositions = {
    {{'t', "typed", "typed wrong", true},
     {'d', "drawing", "the drawing is wrong", true},
     {'c', "factory", "changed at the factory", true},
     {'f', "fault", "a fault of the board", false},
     {'l', "leave", "left as it is", false}}};

/// One disposition as a job keeps it, of one finding or of several that one correction settles.
struct SettledFindings {
  std::vector<std::string> findings;  ///< "F2", …
  std::string word;                   ///< of the disposition
  std::string correction;             ///< in words; empty: the file stayed
  std::string at;
};

/// The word of what took the last disposition back.
inline constexpr std::string_view kTakenBack = "taken back";

/// Those of a run, or of all, in order. What cannot be read is left out.
std::vector<SettledFindings> settled_in(const Job& job, std::optional<std::int64_t> run);
/// "F2, F5: typed wrong; U2.7 from net B to net A".
std::string settled_text(const SettledFindings& settled);

class Settling {
 public:
  /// The last sweep of the job that came to its end. Errors: UsageError where there is none or it
  /// cannot be judged again; RecordError; graph::BadFile.
  explicit Settling(const std::string& job);

  const graph::Board& board() const { return *board_; }  ///< as it was swept
  const JobRun& sweep() const { return run_; }
  const std::string& board_file() const { return board_file_; }
  const std::vector<graph::Finding>& findings() const { return findings_.findings; }

  /// The finding of that id. Errors: UsageError.
  std::size_t find(const std::string& id) const;
  /// How it was settled; nothing: it is not.
  const SettledFindings* settled(std::size_t finding) const;

  /// What the file as it is now would get, in words, or why it gets nothing. Errors: graph::BadFile
  /// where the file cannot be read.
  std::string correction_text(std::size_t finding) const;

  /// Settles it; all that its correction settles besides too. The file is written first, then the
  /// job. Errors: graph::BadFile and UsageError, one line that says what to do by hand: nothing is
  /// settled; std::runtime_error where the file cannot be written.
  SettledFindings settle(std::size_t finding, const Disposition& as);

  /// Takes back what was settled last, in the file too; the finding that it was asked for. Errors:
  /// UsageError where nothing was settled since the start, or somebody else wrote to the file.
  std::size_t take_back();

 private:
  struct Step {
    std::size_t finding = 0;
    std::string before;  ///< texts of the file; empty: it stayed
    std::string after{};
    SettledFindings settled{};
  };
  void keep(const SettledFindings& settled, std::size_t finding);

  graph::SlipCorrection correction(std::size_t finding, const std::string& text) const;
  std::string note(std::size_t finding, const Disposition& as,
                   const graph::BoardCorrection& correction) const;
  std::vector<std::string> settled_by(std::size_t finding, const std::string& before,
                                      const std::string& after) const;

  std::string name_;
  Job job_;
  JobRun run_;
  std::string board_file_;
  std::optional<graph::Board> board_;
  graph::Findings findings_;
  std::optional<graph::FileSlips> slips_;
  std::vector<SettledFindings> settled_;
  std::vector<Step> steps_;  ///< since the start
};

}  // namespace padwalk::tools
