// SPDX-License-Identifier: MIT
//
// Where the zero of each tester is kept, and what makes a zero plausible. A file a unit in the
// user's state folder, zero/1; it knows no tester and measures nothing.
#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "firmware-host/session/session.hpp"

namespace padwalk::tools {

/// "$XDG_STATE_HOME/padwalk/zero/UNIT.json", or below ~/.local/state. Characters of a unit id that
/// suit no file name are written as %20. Errors: std::runtime_error without a home folder.
std::string zero_path(const std::string& unit);

/// The zero kept for that unit, with its age; nothing where there is none. A file that cannot be
/// used is said to be so on standard error, and there is none.
std::optional<session::Zero> load_zero(const std::string& unit);

/// Keeps it, folders included; the file is whole or as it was. Returns its path.
/// Errors: std::runtime_error with one sentence.
std::string store_zero(const session::Zero& zero);

/// Why these values cannot be right, as the beginning of a sentence; empty if they can.
/// `tester_leak_ampere`: the most that the tester's own switches may let through.
std::string implausible(const session::Zero& zero, double tester_leak_ampere);

/// "2026-05-04T09:30:00Z"
std::string utc_date(std::chrono::system_clock::time_point time);

}  // namespace padwalk::tools
