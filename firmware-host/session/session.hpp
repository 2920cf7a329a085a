// SPDX-License-Identifier: MIT
//
// The tester as the host sees it: hello, power check, and measurements in ohms. It owns level,
// range, settling, retry and deadline; it knows channels, and nothing of boards. It refuses to
// drive anything without a fresh power check that passed.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "firmware-host/transport/byte_stream.hpp"

namespace padwalk::session {

/// A channel of the tester. Counts from 1.
using Channel = std::uint16_t;

/// The tester or the link failed for good; `what()` is one sentence: what, where, what to try.
class TesterError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Nothing comes through to the tester any more: a plug was pulled, or its supply.
class LinkLost : public TesterError {
 public:
  using TesterError::TesterError;
};

/// What the tester said on hello.
struct Capabilities {
  std::string unit;      ///< unit id
  std::string firmware;  ///< "padwalk core 1.0"
  std::uint16_t channels = 0;
  std::uint16_t max_source = 0;  ///< largest source set; 1: no sets
  std::uint16_t max_sink = 0;
  std::uint16_t program_bytes = 0;  ///< room for queued programs
  bool five_volt = false;           ///< has the bare-board level
  bool button = false;
  bool edge_latch = false;  ///< counts interruptions that no look sees
};

enum class Purpose : std::uint8_t { isolation, continuity, follow };

/// One measurement that is wanted. `sense` is used by `follow` alone; consecutive `follow` requests
/// with the same source set share one setting.
struct Request {
  std::vector<Channel> source;
  std::vector<Channel> sink;
  Purpose purpose = Purpose::continuity;
  Channel sense = 0;
  double limit_ohm = 0;  ///< what the reading will be held against; 0: nothing
};

/// Units: ohm, volt. `ohm` is infinite, with no uncertainty, where no current flowed beyond what
/// the range resolves, and where `clipped` or `emf`; a `follow` result is 0 or infinite.
struct Measurement {
  double ohm = 0;
  double uncertainty_ohm = 0;  ///< k = 2
  double volt = 0;             ///< open-circuit test voltage
  double across_volt = 0;      ///< what of it lay across the pair
  bool clipped = false;        ///< a converter was over range: no number
  bool settled = true;         ///< false: a capacitor still fills or holds a charge; `ohm` is what
                               ///< was seen last, a lower bound
  bool emf = false;            ///< something on the board drives the pair: no number
  double emf_volt = 0;         ///< across the pair with the source off
  bool averaged = false;       ///< over 100 ms
};

/// What keeps a channel from rest. A weak source falls where more is drawn from it: a cell of
/// copper and electrolyte, on a board that is wet or dirty there.
enum class LiveKind : std::uint8_t { source, weak_source, alternating };

/// One channel that is not at rest. Units: volt, with 1 Mohm to 0 V, or with 47 kohm where that was
/// over range; a lower bound where both were.
struct LiveChannel {
  Channel channel = 0;
  double volt = 0;      ///< mean
  double rms_volt = 0;  ///< of what alternates about it
  LiveKind kind = LiveKind::source;
};

/// Result of the power check. Units: volt, ohm.
struct PowerCheck {
  bool passed = false;
  double limit_volt = 0;
  std::vector<LiveChannel> live;  ///< channels above the limit, strongest first
  std::size_t readings = 0;       ///< channels
  double hum_volt = 0;            ///< the most that a channel showed with 1 Mohm, rms; no fault
  /// Something joins the board to the instrument's ground through about so much, a computer or
  /// earth: not passed, although `live` is empty.
  std::optional<double> tied_ohm;
};

/// A power check in the middle of measure() did not pass: the board came alive meanwhile.
class NotAtRest : public TesterError {
 public:
  NotAtRest(const std::string& what, PowerCheck found)
      : TesterError(what), check(std::move(found)) {}
  PowerCheck check;
};

/// What the link did so far.
struct Counters {
  std::uint64_t bytes_sent = 0;
  std::uint64_t bytes_received = 0;
  std::uint64_t frames_sent = 0;
  std::uint64_t frames_received = 0;
  std::uint64_t bad_frames = 0;
  std::uint64_t retries = 0;   ///< requests sent again
  std::uint64_t settings = 0;  ///< settings applied by the tester
  std::uint64_t rounds = 0;    ///< calls of measure() that had something to measure
};

/// Above this the force paths would no longer be harmless to what is on the board.
inline constexpr double kMostPowerLimitVolt = 0.150;
/// What zeroing found out about the leads and the switches of one tester. Without one the figures
/// of the reference tester hold. Units: ohm, ampere, volt.
struct Zero {
  double contact_ohm = 0.025;  ///< 1 sigma of one contact, clipped anew
  double lead_ohm = 0;         ///< what two leads and their contacts add; taken off every reading
  double leak_ampere = 0;      ///< bound of what open switches let through (k = 2); 0: the tester's
  double offset_volt = 0;      ///< of the sense side; told only, each reading takes it off itself
  double noise_volt = 0;       ///< 1 sigma of a conversion; told only, each power check sees it
  double age_hours = 0;        ///< when the session begins; an old zero widens the uncertainty
  std::string date;            ///< "2026-05-04T09:30:00Z"; empty: never zeroed
  std::string unit;            ///< of which tester
};

/// What the tester shows with its leads in the air. Units: ampere, volt.
struct Idle {
  double leak_ampere = 0;  ///< the most that open switches let through
  double noise_volt = 0;   ///< 1 sigma of a conversion
  bool touching = false;   ///< more flows than any leakage: leads touch each other or something
};

/// What is clipped while a tip touches anything, net by net: at least one lead each.
struct Held {
  std::vector<std::vector<Channel>> groups;
  std::size_t apart = 0;  ///< the first so many have capacitors: each is asked for by itself
  bool ground = false;  ///< the first is the board's ground: sunk whatever the tip is held against
  double copper_ohm = 10;  ///< up to this copper alone joins the tip and a lead
};

/// What a tip conducts to. Units: ohm.
struct Heard {
  bool at_rest = true;  ///< false: something on the board drives the tip, and nothing was named
  std::optional<std::size_t> group;  ///< the one that copper joins it to; none: parts at most
  Channel lead = 0;                  ///< of that group, the best
  double ohm = 0;
  double uncertainty_ohm = 0;  ///< k = 2
};

struct Options {
  bool bare_board = false;  ///< or no active part: isolation at 5 V is allowed
  std::chrono::milliseconds silence_limit{3000};  ///< give up after this without one valid frame
  double power_limit_volt = 0.015;  ///< of the power check; at most kMostPowerLimitVolt
  Zero zero;
};

// watching.hpp
struct Watch;
struct WatchSight;
struct WatchNews;
struct GlancedNet;
struct Glance;
enum class WatchEnd : std::uint8_t;

class Session {
 public:
  /// Says hello and checks version and signature. Errors: TesterError.
  Session(transport::ByteStream& stream, Options options);
  ~Session();

  const Capabilities& capabilities() const;

  /// Where the link is lost `reopen` is called with why, and once more, with `again`, each time
  /// that no tester answered since; true: the stream works again, as far as it knows. The session
  /// then says hello anew, checks the power again before it drives anything, and begins again what
  /// was asked of it; what it had answered before stands. False: LinkLost goes to the caller.
  /// Another tester than before counts as none.
  void when_lost(std::function<bool(const std::string& why, bool again)> reopen);

  /// In place of that of the options, for a zero that is kept by unit id.
  void set_zero(const Zero& zero);

  /// Loads `channels` to 0 V and reads them, hum told from sources; must pass before measure().
  /// Where it passes, all of them are driven to 0.2 V with nothing sunk, to see whether the board
  /// is connected to anything else. Errors: TesterError. Cost: 16 rounds, about 20 ms a channel.
  PowerCheck power_check(std::span<const Channel> channels);

  /// The same where `channels` were put on and all that was checked before stayed: all are loaded,
  /// these alone are looked at, and what passed before may be driven on. Errors and cost: as
  /// power_check().
  PowerCheck power_check_more(std::span<const Channel> channels);

  /// Measures in order, streaming programs. Where the tester opened its switches after a second of
  /// silence, the same channels are checked again first. Errors: TesterError; NotAtRest where that
  /// check does not pass; std::logic_error for a request that cannot be: a channel that was not in
  /// the last power check that passed, leads moved since then, sets too large.
  std::vector<Measurement> measure(std::span<const Request> requests);

  /// Whether channel `tip`, wherever it is, conducts to anything of `held`: 100 kohm or less, with
  /// 2 uA at most. Needs a power check of what is held, none of the tip. Errors: as measure().
  /// Cost: one exchange, 1 ms on the tester.
  bool touches(Channel tip, const Held& held);

  /// What the tip conducts to, after touches(). The tip is looked at for 10 ms with nothing driven,
  /// then held against sets of groups, so that a name comes at once (how soon, by link, is printed
  /// by tests/d356/d356_walk_test.cpp). A name to
  /// show, not evidence yet: that needs power_check_more() and measure(). Errors: as measure().
  /// Cost: ceil(log2 of the groups + 1) settings, a few more, and three exchanges; one reading a
  /// lead more where parts of few ohms confuse the sets.
  Heard name(Channel tip, const Held& held);

  /// What flows although nothing is clipped on, for zeroing: each channel driven against half of
  /// the others. As measure() it needs a power check, of all of `channels`. Errors: as measure().
  /// Cost: about 0.4 s of measuring for each bit of the number of channels.
  Idle measure_idle(std::span<const Channel> channels);

  /// Holds one conductor and hands every interruption of it to `heard`, and about ten times a
  /// second the time; until that answers false, the time is over, or the tester opened its
  /// switches. What a watch can see is in sight(), what it did see of short ones in
  /// WatchNews::gap_s. Nothing is lost between two calls of `heard` however long it takes, below a
  /// second. Needs a power check, of all that is held. Errors: as measure().
  WatchEnd watch(const Watch& what, const std::function<bool(const WatchNews&)>& heard);

  /// For so many others with so much capacitance on all of it; after a power check, which sees the
  /// noise. Unit: farad.
  WatchSight sight(std::size_t others, double farad) const;

  /// One quick look at all of these nets. Errors and power check: as measure(). Cost: 0.1 ms a
  /// channel, and 1 ms for each net that is held against the rest.
  Glance glance(std::span<const GlancedNet> nets);

  /// The tester's clock, of measuring; a simulated one's passes by measuring alone. Unit: second.
  /// Errors: TesterError. Cost: one exchange.
  double clock_s();

  /// How often the tester's button was pressed since this was asked last, or since hello; 0 where
  /// it has none. Errors: TesterError. Cost: one exchange.
  std::size_t presses();

  /// After measure() threw TesterError: what it had read before, for its first requests.
  const std::vector<Measurement>& partial_results() const;

  /// The tester opened its switches (a second of silence) or the caller moved leads since the last
  /// check.
  bool needs_power_check() const;

  /// To be called when leads were moved or re-seated: the next measure() needs a power check first.
  void leads_moved();

  Counters counters() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace padwalk::session
