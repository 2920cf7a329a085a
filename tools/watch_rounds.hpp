// SPDX-License-Identifier: MIT
//
// Everything that is clipped, looked at coarsely again and again: which nets came apart, were
// joined, or are whole again since the round before.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "firmware-host/session/watching.hpp"
#include "tools/watch_report.hpp"

namespace padwalk::tools {

class WatchRounds {
 public:
  /// `report`: its `run` has the hookup. `attached`: that, and second leads. All outlive this.
  WatchRounds(session::Session& session, const graph::Board& board, graph::Hookup attached,
              WatchReport& report);

  /// Before the first round, and whenever it is due. False: the board is live, as of round().
  bool check_power();

  /// One round; what changed is added to the report, `at_s` being now. False where the board is
  /// live, which the report's run says. Errors: session::TesterError.
  bool round(double at_s);

 private:
  /// What is not as it should be, and the net it is about; by what to call it.
  struct State {
    graph::NetId net = graph::kNoNet;
    std::string text;
  };
  std::map<std::string, State> states(const session::Glance& seen) const;

  session::Session& session_;
  const graph::Board& board_;
  graph::Hookup attached_;
  WatchReport& report_;
  std::vector<std::vector<graph::PointId>> points_;  ///< by net that is looked at
  std::vector<session::GlancedNet> nets_;            ///< the same, by channel
  std::map<std::string, State> last_;
};

}  // namespace padwalk::tools
