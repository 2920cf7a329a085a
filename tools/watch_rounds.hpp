// SPDX-License-Identifier: MIT
//
// Everything that is clipped, swept coarsely again and again: which nets came apart, were joined,
// or are whole again since the round before.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "tools/measure.hpp"
#include "tools/watch_report.hpp"

namespace padwalk::tools {

class WatchRounds {
 public:
  /// `report`: its `run` has the hookup and the limits. All outlive this.
  WatchRounds(const Measuring& measuring, WatchReport& report)
      : measuring_(measuring), report_(report) {}

  /// One round; what changed is added to the report, `at_s` being now. False where it ended early:
  /// stopped, or the board is live or the tester failed, which the report's run says.
  bool round(double at_s);

 private:
  /// What is not as the file has it, and the net it is about; by what to call it.
  struct State {
    graph::NetId net = graph::kNoNet;
    std::string text;
  };
  std::map<std::string, State> states(const graph::Findings& found) const;

  const Measuring& measuring_;
  WatchReport& report_;
  std::map<std::string, State> last_;
};

}  // namespace padwalk::tools
