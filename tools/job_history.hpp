// SPDX-License-Identifier: MIT
//
// A folder of jobs as the history of one board type: which of its segments turned out broken
// before. Reads jobs, writes nothing.
#pragma once

#include <string>

#include "graph/board.hpp"
#include "graph/break_history.hpp"

namespace padwalk::tools {

/// What the jobs in `folder` (not in folders below it) tell of boards of `board`'s name, but for
/// the job `own`. A break counts where a pinpoint, or a finding that was settled as a fault, left
/// one segment (two or three that no touch told apart share it), or where a confirmed wire bridges
/// one; once a job and segment. What was settled as no fault does not count. Files that are no
/// jobs, or that cannot be read, are left out. Errors: UsageError where `folder` is none, or
/// `board` has no name.
graph::BreakHistory history_in(const std::string& folder, const std::string& own,
                               const graph::Board& board);

/// "sharpened by 12 earlier jobs of this board".
std::string sharpened_text(std::size_t jobs);

}  // namespace padwalk::tools
