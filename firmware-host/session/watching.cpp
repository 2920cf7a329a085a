// SPDX-License-Identifier: MIT
#include "firmware-host/session/watching.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// How often the tester is asked for its time, which is a sign of life as well.
constexpr Clock::duration kWatchAsk = std::chrono::milliseconds(100);
/// Where a change was lost, it is asked for at once, and again after so many behind it.
constexpr unsigned kAheadAsk = 8;
/// So many sigma of one conversion are no interruption: in a day of looks not one is invented.
constexpr double kSigmas = 7;
constexpr double kSigmaMargin = 1.15;  // the power check knows the noise to about 10 %
constexpr double kWatchSteps = 2;      // of the converter, for quantisation
/// An interruption is to be so many ohms, where noise lets it.
constexpr double kWantedOhm = 10;
/// Offsets of the sense side, and what sound copper drops.
constexpr double kWatchOffsetVolt = 300e-6;
/// And no more than this share of the voltage of a whole one.
constexpr double kMostShare = 0.5;
constexpr double kWantedShare = 0.25;
/// What an edge latch takes for a fall at least, as core/hal.hpp has it.
constexpr double kLatchFall = 15.0 / 16;
/// Of each lead and what it is clipped to.
constexpr double kLeadFarad = 300e-12;
/// A hold that is longer is ended by the host: the tester's microseconds wrap.
constexpr double kLongestHoldS = 3600;

/// Across `ohm` in the way to one of `others` that are sunk, the source driven through its own.
double volt_across(double ohm, std::size_t others, double level_volt, double reference_ohm) {
  const double whole = static_cast<double>(others - 1) / kForcePathOhm;
  const double broken = 1 / (kForcePathOhm + ohm);
  if (!std::isfinite(ohm)) {
    return whole > 0 ? level_volt / (kForcePathOhm + 1 / whole + reference_ohm) / whole
                     : level_volt;
  }
  const double current = level_volt / (kForcePathOhm + 1 / (whole + broken) + reference_ohm);
  return current / (whole + broken) * broken * ohm;
}

/// Across the reference, with so many sunk.
double bus_volt(std::size_t others, double level_volt, double reference_ohm) {
  return others == 0
             ? 0
             : level_volt * reference_ohm /
                   (kForcePathOhm * (1 + 1.0 / static_cast<double>(others)) + reference_ohm);
}

/// A time that wraps, on the clock that is at `clock` half an hour before or after it.
std::uint64_t unwrapped(std::uint64_t clock, std::uint32_t time) {
  const auto after = static_cast<std::int32_t>(time - static_cast<std::uint32_t>(clock));
  return after < 0 && clock < static_cast<std::uint64_t>(-std::int64_t{after})
             ? 0
             : clock + static_cast<std::uint64_t>(std::int64_t{after});
}

double to_seconds(std::uint64_t us) {
  return 1e-6 * static_cast<double>(us);
}

}  // namespace

/// A held program, as it is told frame by frame.
class Holding {
 public:
  Holding(Link& link, std::uint16_t program, std::size_t others)
      : link_(link), program_(program), open_(others) {}

  bool over() const { return ended_ && expected_ == state_.changes; }
  const wire::ProgramState& state() const { return state_; }

  /// What came in since it was taken last.
  WatchNews take() {
    WatchNews news = news_;
    news_.changes.clear();
    return news;
  }
  bool has_changes() const { return !news_.changes.empty(); }

  void ask() {
    wire::Ask request;
    request.program = program_;
    request.first = wire::kNoResults;
    request.change = expected_;
    link_.send(request);
  }

  void abort() {
    wire::Abort request;
    request.program = program_;
    note(link_.exchange<wire::ProgramState>(request));
  }

  void hear(const Incoming& incoming) {
    if (const auto change = incoming.as<wire::Change>()) {
      note(*change);
    } else if (const auto state = incoming.as<wire::ProgramState>()) {
      note(*state);
    }
  }

 private:
  void note(const wire::Change& change) {
    const auto ahead = static_cast<std::int16_t>(change.index - expected_);
    if (change.program != program_ || change.pair >= open_.size() || ahead < 0) {
      return;
    }
    if (ahead > 0) {  // one was lost: it and those behind it are sent again
      if (ahead_++ % kAheadAsk == 0) {
        ++link_.counters().retries;
        ask();
      }
      return;
    }
    ++expected_;
    ahead_ = 0;
    const bool open = change.away != 0;
    if (open != open_[change.pair]) {
      open_[change.pair] = open;
      news_.changes.push_back({change.pair, open, to_seconds(unwrapped(held_us_, change.at_us))});
    }
  }

  void note(const wire::ProgramState& state) {
    const bool ends = state.phase == wire::Phase::done || state.phase == wire::Phase::failed;
    if (state.program != program_ || (!ends && (ended_ || state.phase != wire::Phase::holding))) {
      return;  // late
    }
    link_.progress();
    state_ = state;
    ended_ = ends;
    if (const auto lost = static_cast<std::int16_t>(state.oldest - expected_); lost > 0) {
      news_.lost += static_cast<std::size_t>(lost);
      expected_ = state.oldest;
    }
    held_us_ = std::max(held_us_, unwrapped(held_us_, state.held_us));
    news_.held_s = to_seconds(held_us_);
    news_.gap_s = std::max(news_.gap_s, 1e-6 * state.gap_us);
    news_.edges = std::max<std::size_t>(news_.edges, state.edges);
  }

  Link& link_;
  const std::uint16_t program_;
  std::vector<bool> open_;
  WatchNews news_;
  wire::ProgramState state_;
  bool ended_ = false;
  unsigned ahead_ = 0;  // changes that came before the one that is lacking
  std::uint16_t expected_ = 0;
  std::uint64_t held_us_ = 0;
};

/// The finest at which the whole test voltage is in range.
wire::Gain Session::State::watch_gain() const {
  const double top = std::ldexp(1.0, ability.converter_bits - 1) - 1;
  const double codes = 1e9 * Ranges::level_volt(ranges.low(0)) / ability.low_step_nv;
  wire::Gain gain = wire::Gain::x1;
  for (const wire::Gain finer : {wire::Gain::x5, wire::Gain::x50}) {
    const bool offered = (ability.gains & (1u << static_cast<unsigned>(finer))) != 0;
    if (offered && codes * wire::kGainFactor[static_cast<std::size_t>(finer)] < top) {
      gain = finer;
    }
  }
  return gain;
}

double Session::State::watch_step_volt() const {
  return 1e-9 * ability.low_step_nv / wire::kGainFactor[static_cast<std::size_t>(watch_gain())];
}

WatchSight Session::State::sight(std::size_t others, double farad) const {
  WatchSight sight;
  const std::uint8_t range = ranges.low(0);
  const double reference = wire::kRanges[range - 1].reference_ohm;
  sight.volt = Ranges::level_volt(range);
  const double whole =
      volt_across(std::numeric_limits<double>::infinity(), others, sight.volt, reference);
  const double hum = std::sqrt(2.0) * 2 * hum_volt / kHumLoadOhm * kForcePathOhm;
  const double noise = kSigmas * kSigmaMargin * noise_volt + kWatchSteps * watch_step_volt() + hum +
                       kWatchOffsetVolt;
  sight.threshold = std::max(noise, std::min(volt_across(kWantedOhm, others, sight.volt, reference),
                                             kWantedShare * whole));
  if (sight.threshold > kMostShare * whole) {
    sight.least_ohm = std::numeric_limits<double>::infinity();
    return sight;
  }
  sight.latch = kLatchFall * bus_volt(others, sight.volt, reference) >
                bus_volt(others - 1, sight.volt, reference);
  double low = 0;
  double high = 1e6;
  for (int round = 0; round < 60; ++round) {
    const double middle = (low + high) / 2;
    (volt_across(middle, others, sight.volt, reference) < sight.threshold ? low : high) = middle;
  }
  sight.least_ohm = high;
  // Whatever lies on which side of the break, the voltage across it is charged through no more
  // ohms than these: at least as fast as all of it at once through them.
  const double seconds =
      (kForcePathOhm + reference) * (farad + static_cast<double>(others + 1) * kLeadFarad);
  sight.rise_s = -seconds * std::log1p(-sight.threshold / whole);
  return sight;
}

double Session::State::clock_s() {
  wire::Ask request;
  request.first = wire::kNoResults;
  return to_seconds(follow_clock(link.exchange<wire::ProgramState>(request).clock_us));
}

/// Since it was heard first; it wraps after 71 minutes, and is heard more often.
std::uint64_t Session::State::follow_clock(std::uint32_t now) {
  clock_us += clock_known ? now - static_cast<std::uint32_t>(clock_us) : now;
  clock_known = true;
  return clock_us;
}

Holding Session::State::begin_watch(const Watch& what) {
  const Sensing sensing = watch_sensing(what.source, what.others);
  const std::vector<Program> programs = pack({&sensing, 1}, ability, link.tester());
  if (programs.size() != 1) {
    throw std::logic_error("more is to be watched than the tester can hold");
  }
  wire::Monitor how;
  const double threshold = sight(what.others.size(), what.farad).threshold / watch_step_volt();
  how.threshold = static_cast<std::uint16_t>(std::clamp(std::floor(threshold), 1.0, 65535.0));
  how.hold_us = what.seconds > 0 && what.seconds <= kLongestHoldS
                    ? static_cast<std::uint32_t>(std::ceil(1e6 * what.seconds))
                    : 0;
  std::vector<wire::Result> results;
  for (int attempt = 0; attempt < kAttempts; ++attempt) {
    if (const auto program = runner.hold(programs.front(), how, checked_silences, results)) {
      return {link, *program, what.others.size()};
    }
    check_again();
  }
  give_up_opening();
}

WatchEnd Session::State::watch(const Watch& what,
                               const std::function<bool(const WatchNews&)>& heard) {
  Request whole;
  whole.source = {what.source};
  whole.sink = what.others;
  refuse_impossible({&whole, 1});
  if (switches_opened()) {
    check_again();
  }
  ++link.counters().rounds;
  Holding holding = begin_watch(what);
  link.begin_task();
  std::optional<double> began_s;
  double held_s = 0;
  bool stopped = false;
  const auto tell = [&] {
    const wire::ProgramState& state = holding.state();
    if (!began_s) {
      began_s = to_seconds(follow_clock(state.clock_us)) - 1e-6 * state.held_us;
    }
    runner.heard(state.silences);
    WatchNews news = holding.take();
    news.began_s = *began_s;
    held_s = news.held_s;
    const bool on = heard(news) && (what.seconds <= 0 || news.held_s < what.seconds);
    if (!on && !stopped) {
      stopped = true;
      holding.abort();
    }
  };
  for (Clock::time_point next_ask = Clock::now(); !holding.over();) {
    if (Clock::now() >= next_ask) {
      holding.ask();
      next_ask = Clock::now() + kWatchAsk;
    }
    const std::optional<Incoming> incoming = link.receive(next_ask);
    if (!incoming) {
      continue;
    }
    holding.hear(*incoming);
    const bool known = began_s || holding.state().phase != wire::Phase::none;
    if (known && (holding.has_changes() || incoming->id() == wire::MessageId::program_state)) {
      tell();
    }
  }
  tell();
  const wire::ProgramState& state = holding.state();
  if (state.phase == wire::Phase::failed && state.status == wire::Status::silence) {
    return WatchEnd::silent;
  }
  if (state.phase == wire::Phase::failed && state.status != wire::Status::aborted) {
    throw TesterError(fmt::format("{} stopped watching: {}", link.tester(), words(state.status)));
  }
  return what.seconds > 0 && held_s >= what.seconds ? WatchEnd::over : WatchEnd::stopped;
}

WatchSight Session::sight(std::size_t others, double farad) const {
  return state_->sight(others, farad);
}

WatchEnd Session::watch(const Watch& what, const std::function<bool(const WatchNews&)>& heard) {
  return state_->watch(what, heard);
}

double Session::clock_s() {
  return state_->clock_s();
}

}  // namespace padwalk::session
