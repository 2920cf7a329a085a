// SPDX-License-Identifier: MIT
//
// One conductor held, and every interruption of it told with its time: what Session::watch() takes
// and tells; before that quick looks at everything, Session::glance().
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "firmware-host/session/session.hpp"

namespace padwalk::session {

/// `source` is driven, all `others` are sunk, and each of them is looked at in turn.
struct Watch {
  Channel source = 0;
  std::vector<Channel> others;  ///< ascending
  double farad = 0;             ///< the most that hangs on the conductor
  double seconds = 0;           ///< on the tester's clock; 0: until told to stop
};

/// What a watch sees. Units: volt, ohm, second.
struct WatchSight {
  double volt = 0;       ///< open-circuit test voltage
  double threshold = 0;  ///< volts that are no interruption yet
  bool latch = false;    ///< an edge latch sees one of the others leave
  double least_ohm = 0;  ///< in the way to one of the others: more is an interruption; infinite:
                         ///< even a whole one drowns in noise, since there are so many others
  double rise_s = 0;     ///< after so long it shows at the latest, whatever must be charged
};

/// Units: second since the hold began, when it was seen.
struct WatchChange {
  std::size_t other = 0;  ///< index into Watch::others
  bool open = false;
  double at_s = 0;
};

/// What came in since the last time. What is open from the start changes with the first looks.
struct WatchNews {
  std::vector<WatchChange> changes;
  double began_s = 0;     ///< on the tester's clock, as Session::clock_s()
  double held_s = 0;      ///< so far
  double gap_s = 0;       ///< from the begin of a look at one of the others to the end of the next,
                          ///< the longest so far
  std::size_t edges = 0;  ///< falls of the current that an edge latch caught so far
  std::size_t lost = 0;   ///< changes of which the line lost all word so far
};

/// What is looked at besides others, at least one channel. `against_rest`: whether it conducts to
/// any other net is looked for, with all of those sunk.
struct GlancedNet {
  std::vector<Channel> channels;
  bool against_rest = false;
};

/// What one look at everything showed, net by net.
struct Glance {
  std::vector<std::vector<bool>> open;  ///< each of its channels but the first: apart from that
  std::vector<bool> joined;             ///< it conducts to some other net as copper does
};

enum class WatchEnd : std::uint8_t {
  stopped,  ///< as told
  over,     ///< the time is over
  silent    ///< the tester opened its switches after a second of silence
};

}  // namespace padwalk::session
