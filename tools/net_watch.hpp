// SPDX-License-Identifier: MIT
//
// Holds one net and follows it: session, keys, tones and the strip at the terminal. What it saw is
// in the report; judged in watch_report.hpp.
#pragma once

#include <atomic>
#include <chrono>
#include <deque>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "firmware-host/session/watching.hpp"
#include "tools/record.hpp"
#include "tools/single_keys.hpp"
#include "tools/sound.hpp"
#include "tools/watch_report.hpp"

namespace padwalk::tools {

/// The most that hangs on a net, tolerances included: its capacitors and the inputs of its chips.
/// Unit: farad.
double farad_on(const graph::Board& board, graph::NetId net);

/// What a key says that the person does now; nothing for other keys.
std::optional<std::string> tag_of(char key);

class NetWatch {
 public:
  struct Setup {
    session::Session& session;
    const graph::Board& board;
    const std::atomic<bool>& stop;
    SingleKeys& keys;
    Sound& sound;
    Record& record;
    std::ostream& out;
    bool strip = false;  ///< one line at the terminal that is written over and over
    std::size_t columns = 80;
    graph::Hookup attached;  ///< all that may be clipped: at rest, or nothing is driven
    std::string tag;         ///< what the person does from the start
  };
  /// All outlive this. `leads`: of the net alone, two where a point has two.
  NetWatch(Setup setup, std::vector<graph::Lead> leads, WatchReport& report);

  /// For so long, 0: until stopped. `zero_s`: on the tester's clock, what times are told against;
  /// none: its begin.
  /// Errors: RecordError; what the tester or the board does is in the report.
  void run(double seconds, std::optional<double> zero_s);

 private:
  bool check_power();
  bool follow(const session::WatchNews& news);
  bool read_keys();
  void note(Interruption event);
  void draw(bool now);
  void print(const std::string& line);

  Setup with_;
  std::vector<graph::Lead> leads_;  ///< the driven one first
  WatchReport& report_;
  session::Watch watch_;
  Interruptions interruptions_;
  std::optional<double> zero_s_;
  double held_before_s_ = 0;
  std::size_t edges_before_ = 0;
  std::size_t lost_before_ = 0;
  double now_s_ = 0;
  double drawn_s_ = 0;
  std::deque<char> trace_;  ///< of the strip
  bool open_since_drawn_ = false;
  std::string last_;  ///< "1.2 ms"
  std::chrono::steady_clock::time_point drawn_;
  std::chrono::steady_clock::time_point sounded_;
};

}  // namespace padwalk::tools
