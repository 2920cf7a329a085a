// SPDX-License-Identifier: MIT
//
// A switch's table as it was measured against the one that should be: the fewest faults that make
// the one of the other.
#pragma once

#include <string>
#include <vector>

#include "graph/switch_table.hpp"

namespace padwalk::graph {

enum class SwitchFaultKind {
  stuck,                ///< nothing changes: it stays in `positions[0]`
  exchanged_positions,  ///< the two of `positions` are the other way round
  exchanged,            ///< terminals a and b have changed places
  dead_pole,            ///< common a: none of its throws ever closes
  never_closes,         ///< a and b
  misses,               ///< a and b do not close in `positions`, but do in others
  never_opens,          ///< a and b, which should be open in `positions`
  closes_too,           ///< a and b close in `positions` as well
  across                ///< a and b, of two poles or of none, touch in `positions`
};

struct SwitchFault {
  SwitchFaultKind kind = SwitchFaultKind::stuck;
  std::size_t a = 0;
  std::size_t b = 0;
  std::vector<std::size_t> positions;  ///< ascending
  friend bool operator==(const SwitchFault&, const SwitchFault&) = default;
};

/// "stuck", "exchanged positions", "exchanged", "dead pole", "never closes", "misses",
/// "never opens", "closes too", "across".
std::string switch_fault_name(SwitchFaultKind kind);
/// One clause for people, with what else would look the same.
std::string switch_fault_text(const SwitchTable& expected, const SwitchFault& fault);

/// Empty: they are the same. Both have the same terminals and positions in the same order. Errors:
/// std::invalid_argument where not. Cost: positions times terminals to the fourth at most.
std::vector<SwitchFault> compare_switch(const SwitchTable& expected, const SwitchTable& measured);

}  // namespace padwalk::graph
