// SPDX-License-Identifier: MIT
//
// What a repair after corrosion goes through, and what of it a job shows or its person has ticked.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tools/job.hpp"

namespace padwalk::tools {

struct ChecklistItem {
  std::string_view word;  ///< to tick it by
  std::string_view text;
};

/// In the order in which they are done.
const std::vector<ChecklistItem>& checklist();

/// By item: why it counts as done, or nothing.
std::vector<std::optional<std::string>> done_of(const Job& job);

}  // namespace padwalk::tools
