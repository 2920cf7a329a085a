// SPDX-License-Identifier: MIT
//
// What a session holds, for its own source files: the link, what the tester can do, and what the
// last power check said. Nobody else includes it.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "firmware-host/session/link.hpp"
#include "firmware-host/session/programs.hpp"
#include "firmware-host/session/ranges.hpp"
#include "firmware-host/session/runner.hpp"
#include "firmware-host/session/session.hpp"
#include "firmware-host/session/watching.hpp"

namespace padwalk::session {

/// A silence that breaks a task off is answered by beginning again, not for ever.
inline constexpr int kAttempts = 5;

/// Rounds of a power check.
inline constexpr std::size_t kPowerRounds = 16;

/// What one channel showed in all rounds with one load. Units: volt.
struct Rounds {
  std::array<double, kPowerRounds> volts{};
  bool clipped = false;

  double mean() const;
  double rms() const;  ///< about the mean
};

/// Where and how a request was read last.
struct Book {
  std::uint8_t range = 1;
  wire::Pair pair;
  double force_ohm = 0;  ///< how much of the reading may be the force path
  Electrical electrical;
  bool charged = false;   ///< a voltage was there with the source off
  bool averaged = false;  ///< over 100 ms
  wire::Result filled;    ///< the last one while a capacitor was waited for
};

/// One request's pair in one range; the head asks for off and on.
Sensing sensing_of(const Request& request, const wire::StepHead& head, wire::Pair pair);

/// Two results a pair, behind each other.
std::vector<OffOn> paired(std::span<const wire::Result> results);

/// Averages against mains pick-up last so long: 5 periods of 50 Hz, 6 of 60 Hz. In ticks.
inline constexpr std::uint16_t kMainsTicks = 1000;

class Holding;

struct Session::State {
  /// Says hello. Errors: TesterError.
  State(transport::ByteStream& stream, const Options& with);

  wire::Ability meet();
  bool high() const { return (ability.levels & 4) != 0 && (ability.ranges & 0x10) != 0; }

  bool switches_opened() const;
  [[noreturn]] void give_up_opening() const;

  // power_check.cpp. What returns a bool is false where the tester opened its switches meanwhile.
  PowerCheck power_check(std::span<const Channel> channels);
  PowerCheck power_check_more(std::span<const Channel> channels);
  bool check_power(std::span<const Channel> channels, PowerCheck& check);
  bool look(std::span<const Channel> channels, wire::Load load, wire::Gain gain,
            std::vector<Rounds>& seen);
  std::vector<Sensing> rounds_of(std::span<const Channel> block, std::span<const Channel> loaded,
                                 wire::Load load, wire::Gain gain) const;
  bool judge(std::span<const Channel> channels, PowerCheck& check, bool& charge);
  bool measure_noise(std::span<const Channel> channels, std::span<const Rounds> seen);
  void remember_pass(std::span<const Channel> channels, std::uint8_t silences);
  void check_again();

  // earth_check.cpp
  bool find_tie(std::span<const Channel> channels, std::uint8_t silences,
                std::optional<double>& tied_ohm);
  std::uint8_t listening_range() const;

  // measuring.cpp
  void measure(std::span<const Request> requests);
  void refuse_impossible(std::span<const Request> requests) const;
  void execute(std::span<const Sensing> sensings, std::vector<wire::Result>& results);
  wire::StepHead head(std::uint8_t range) const;
  bool hums() const;
  Conditions conditions(bool averaged) const;
  Sensing discharging(const Request& request, wire::Pair pair) const;
  bool holds_charge(const wire::Result& off) const;
  std::vector<Sensing> first_sensings(std::span<const Request> requests) const;
  void keep_first(std::span<const Request> requests, std::span<const wire::Result> results);
  void judge(std::size_t index, const OffOn& results, const wire::StepHead& head);

  // refining.cpp
  void refine(std::span<const Request> requests);
  std::optional<Sensing> refined(const Request& request, std::size_t index) const;
  std::optional<Sensing> every_channel(const Request& request, double ohm) const;
  bool locate(const Request& request, std::size_t index);
  wire::Pair located(const Sensing& sensing, std::span<const OffOn> seen) const;
  void replace(std::size_t index, const Sensing& sensing, const OffOn& results);
  void average(std::span<const Request> requests);
  wire::StepHead averaging(wire::StepHead head) const;
  bool wants_average(const Request& request, std::size_t index) const;

  // settling.cpp
  void settle(std::span<const Request> requests);
  std::vector<std::size_t> read_twice(std::span<const Request> requests,
                                      std::span<const std::size_t> doubtful,
                                      std::vector<std::size_t>& charged);
  bool may_be_filling(const Request& request, std::size_t index) const;
  bool agree(const wire::Result& a, const wire::Result& b, const wire::StepHead& head) const;
  void wait_for_rest(const Request& request, std::size_t index);
  bool falls(const Request& request, wire::Pair pair);
  bool discharge(const Request& request, wire::Pair pair);
  bool fill(const Request& request, std::size_t index);
  void take_off(const Request& request, std::size_t index);
  void average_filled(const Request& request, std::size_t index, const wire::Result& neutral);
  void judge_filled(std::size_t index, wire::Result neutral, const wire::Result& on,
                    const wire::StepHead& head);
  wire::Result neutral(wire::Pair pair, std::uint8_t range);

  // listening.cpp
  bool touches(Channel tip, const Held& held);
  Heard name(Channel tip, const Held& held);
  bool rests(Channel tip, std::span<const Channel> all);
  std::vector<std::size_t> candidates(Channel tip, const Held& held);
  Heard best(Channel tip, const Held& held, std::span<const std::size_t> groups, bool& others);
  wire::StepHead quick_head(std::uint8_t range) const;
  bool conducts_well(const wire::Result& result, const wire::StepHead& head) const;

  std::uint8_t count_presses();
  bool heal(std::string why);
  /// Does `call` again, from its start, where the link was lost and came back.
  template <class Call>
  auto healed(Call call) {
    for (;;) {
      try {
        return call();
      } catch (const LinkLost& lost) {
        if (!heal(lost.what())) {
          throw;
        }
      }
    }
  }

  // watching.cpp
  WatchSight sight(std::size_t others, double farad) const;
  WatchEnd watch(const Watch& what, const std::function<bool(const WatchNews&)>& heard);
  Holding begin_watch(const Watch& what);
  // glancing.cpp
  Sensing watch_sensing(Channel source, std::span<const Channel> others) const;
  Glance glance(std::span<const GlancedNet> nets);
  wire::Gain watch_gain() const;
  double watch_step_volt() const;
  double clock_s();
  std::uint64_t follow_clock(std::uint32_t now);

  // zeroing.cpp
  Idle measure_idle(std::span<const Channel> channels);

  Options options;
  std::function<bool(const std::string&, bool)> reopen;
  bool reopened = false;  // and no power check since
  Link link;
  const wire::Ability ability;
  Runner runner;
  Ranges ranges;
  Capabilities capabilities;
  bool passed = false;
  bool moved = false;
  std::vector<Channel> beside;         // loaded in a power check, though not looked at
  std::vector<Channel> checked;        // of the last power check that passed
  std::vector<bool> checked_channels;  // the same, by channel
  std::uint8_t checked_silences = 0;
  double noise_volt = 0;       // of one conversion, as the power check saw it
  double hum_volt = 0;         // with 1 Mohm, the same
  std::uint8_t presses = 0;    // of the button, as last heard
  std::uint64_t clock_us = 0;  // the tester's, as last heard
  bool clock_known = false;
  const Clock::time_point began = Clock::now();
  std::vector<Measurement> measured;  // by request
  std::vector<Book> books;            // the same
};

}  // namespace padwalk::session
