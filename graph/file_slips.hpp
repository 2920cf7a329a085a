// SPDX-License-Identifier: MIT
//
// A sweep's findings taken as slips of the file: which edit of it would make it say what was
// measured, finding by finding. Whether a finding is a slip or a fault a person says. The edits are
// board_correct.hpp's.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/board_correct.hpp"
#include "graph/findings.hpp"

namespace padwalk::graph {

/// What a correction would be, or one sentence on why there is none.
struct SlipCorrection {
  BoardCorrection correction;
  std::string why_not;  ///< empty: there is one, or nothing is left to correct
};

/// Kept by names, so that the file may change between one question and the next.
class FileSlips {
 public:
  /// Of a sweep of `board` that measured this and found that. All are only looked at here.
  FileSlips(const Board& board, const Limits& limits, const Measured& measured,
            const Findings& findings);

  /// `now`, a later state of the file, says what was measured there. Of a leak to points in no net:
  /// they are in nets by now, whose parts may be what leaks; the next sweep judges that.
  bool agrees(std::size_t finding, const Board& now) const;

  /// The fewest points that change their net so that `now` says what was measured there. Of a part
  /// that reads otherwise: its value, the E24 value that explains the reading within its tolerance
  /// (5 % where the file gives none) and the uncertainty, else what was measured in three digits.
  /// Findings that one cause explains are corrected together. Points that no finding names follow
  /// their net. Cost: a matching of nets and pieces of all findings.
  /// Source: preferred values: IEC 60063, series E24.
  SlipCorrection correct(std::size_t finding, const Board& now) const;

 private:
  struct One {
    FindingKind kind = FindingKind::open;
    std::vector<std::size_t> conductors;  ///< that its points belong to
    std::optional<PartValue> value;
    std::vector<std::string> leaks_to;  ///< points in no net
    std::string why_not;
    std::vector<std::size_t> with;  ///< findings of the same cause, this one too
    /// Two points that are exchanged, each with its net of the file.
    std::optional<std::pair<NetMember, NetMember>> exchanged;
  };

  std::vector<One> findings_;
  std::vector<std::vector<std::string>> conductors_;  ///< points that measured as one
};

}  // namespace padwalk::graph
