// SPDX-License-Identifier: MIT
//
// Readings through one hookup: points to channels and back, the power check before, repetitions
// until each reading is decided. For every loop that measures; knows nothing of what it is for.
#pragma once

#include <unordered_map>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/hookup.hpp"
#include "graph/reading.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

/// Readings of the first of `wanted`, as many as were measured.
std::vector<graph::Reading> to_readings(const std::vector<graph::WantedReading>& wanted,
                                        const std::vector<session::Measurement>& measured);

class HookupReader {
 public:
  /// Notes in `report` what the power check saw, what was repeated, and why it ended early.
  HookupReader(session::Session& session, const graph::Hookup& hookup, SweepReport& report);

  /// Returns false, and says so in the report, where a point is live.
  /// Where nothing but `fresh` was moved since the last one, only that is looked at.
  bool power_check(const std::vector<graph::PointId>& fresh = {});

  /// Before a round: the power check once more where it is due. False: it did not pass.
  bool may_drive() { return !session_.needs_power_check() || power_check(); }

  /// Reads each once. Errors: session::TesterError; what was read then is in partial().
  std::vector<graph::Reading> read(const std::vector<graph::WantedReading>& wanted);

  /// Reads all of it until each reading is decided, and what a capacitor hid again after all else.
  std::vector<graph::Reading> decide(const std::vector<graph::WantedReading>& wanted);

  /// Runs `step`, which returns whether to go on. What a tester that fails does is noted.
  template <typename Step>
  bool guarded(Step step) {
    try {
      return step();
    } catch (const session::NotAtRest& live) {
      return note_power_check(live.check);
    } catch (const session::TesterError& error) {
      report_.failure = error.what();
      return false;
    }
  }

  session::Channel channel_of(graph::PointId point) const { return channel_of_.at(point); }
  /// Of a round that the tester did not finish.
  const std::vector<graph::Reading>& partial() const { return partial_; }

 private:
  bool note_power_check(const session::PowerCheck& check);
  void come_back(std::vector<graph::Reading>& readings);
  std::vector<session::Channel> channels_of(const std::vector<graph::PointId>& points) const;

  session::Session& session_;
  const graph::Hookup& hookup_;
  SweepReport& report_;
  std::unordered_map<graph::PointId, session::Channel> channel_of_;
  std::vector<session::Channel> channels_;
  double ratio_ = 2;  ///< of likelihoods, at which a reading is decided
  std::vector<graph::Reading> partial_;
};

}  // namespace padwalk::tools
