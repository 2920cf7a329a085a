// SPDX-License-Identifier: MIT
//
// Every message of the tester's language, declared once for both ends: id, fields, width, legal
// range, meaning. codec.hpp makes encode, decode and the signature from it, describe.hpp the
// table in PROTOCOL.md. How the bytes of a program are made is in program.hpp; what is exchanged
// when, in PROTOCOL.md. Numbers travel little endian.
#pragma once

#include <stddef.h>
#include <stdint.h>

namespace padwalk {
namespace wire {

/// Grows when a peer of the version before could misunderstand.
constexpr uint8_t kVersion = 1;

/// Without a valid frame for so long the tester opens every switch.
constexpr uint16_t kSilenceMs = 1000;

/// Requests come from the host, the others from the tester.
enum class MessageId : uint8_t {
  hello = 1,
  ask_ability = 2,
  ask_identity = 3,
  part = 4,
  run = 5,
  monitor = 6,
  ask = 7,
  abort = 8,
  hello_reply = 65,
  ability = 66,
  identity = 67,
  program_state = 68,
  results = 69,
  change = 70,
  error = 71,
};

constexpr uint8_t kLastRequestId = 63;

enum class Status : uint8_t {
  ok,
  no_session,          ///< say hello first: the tester was switched on anew, or another host came
  unknown_message,     ///< no request has this id
  bad_message,         ///< a length or value of the request is not legal
  stale_program,       ///< that number is gone; numbers grow by one
  busy,                ///< its buffer still belongs to a program that runs or waits
  program_too_long,    ///< it does not fit into the program bytes
  program_incomplete,  ///< bytes are missing before it can run
  bad_checksum,        ///< its bytes are not those that the host has
  bad_step,            ///< a step is cut short, of no known kind, or not legal here
  bad_channel,         ///< a channel that the tester does not have, or that serves as two things
  bad_level,
  bad_range,
  bad_load,
  bad_gain,
  set_too_large,
  too_many_results,    ///< more results than the tester keeps
  high_level_refused,  ///< 5 V without the word that no active part is on the board
  power_check_stale,   ///< the switches were opened since the power check; check again
  silence,             ///< the host was silent; every switch was opened
  aborted,
  internal,  ///< a bug of the firmware
};
constexpr Status kLastStatus = Status::internal;

/// What becomes of a program.
enum class Phase : uint8_t {
  none,       ///< nothing is known of it
  receiving,  ///< its bytes come in
  queued,     ///< waits for the program before it
  running,
  done,     ///< all results are there, switches open
  holding,  ///< monitored: results are there, switches stay, changes are reported
  failed,   ///< refused or broken off; `status` says why, results so far are kept
};
constexpr Phase kLastPhase = Phase::failed;

/// What the source bus is at. `off` is 0 V, with the source's switches closed all the same.
enum class Level : uint8_t { off, low, high };
constexpr Level kLastLevel = Level::high;

/// Resistors from channels to the instrument's 0 V.
enum class Load : uint8_t { none, ohm_1m, ohm_47k };
constexpr Load kLastLoad = Load::ohm_47k;

/// Amplification before the converter. `automatic` is a request only: results name the one used.
enum class Gain : uint8_t { automatic, x1, x5, x50 };
constexpr Gain kLastGain = Gain::x50;
constexpr uint8_t kGainFactor[] = {0, 1, 5, 50};

/// The ranges of the instrument, numbered from 1.
struct Range {
  Level level;
  uint32_t reference_ohm;  ///< in the sink leg; the current is read across it
};
constexpr Range kRanges[] = {{Level::low, 100},
                             {Level::low, 1000},
                             {Level::low, 10000},
                             {Level::low, 100000},
                             {Level::high, 100000}};
constexpr uint8_t kRangeCount = 5;
constexpr uint16_t kLevelMillivolt[] = {0, 200, 5000};

/// Bits of Ability::features.
enum Feature : uint8_t {
  kDifferential = 1,  ///< senses between any two channels, not against 0 V alone
  kEdgeLatch = 2,
  kBuzzer = 4,
  kButton = 8,
};

/// Bits of Run::permit and Monitor::permit.
enum Permit : uint8_t {
  kPermitHighLevel = 1,  ///< no active part is on the board: 5 V is allowed
};

/// Units: settle limits and settle times travel in these.
constexpr uint16_t kSettleTickUs = 100;
/// At most 2^8 samples are summed for one result.
constexpr uint8_t kMaxSamplesLog2 = 8;
/// Channels count from 1; as the minus side of a pair 0 is the instrument's 0 V.
constexpr uint16_t kInstrumentZero = 0;

template <size_t kCapacity>
struct Bytes {
  static constexpr size_t capacity() { return kCapacity; }
  uint8_t size = 0;
  uint8_t data[kCapacity] = {};
};

/// Characters without an ending zero; printable ASCII alone is legal.
template <size_t kCapacity>
struct Text {
  static constexpr size_t capacity() { return kCapacity; }
  uint8_t size = 0;
  char data[kCapacity] = {};
};

// ---- What the host sends. `fields` hands each field to a visitor: name, value, legal range,
// meaning. The layouts of hello and hello_reply are the same in every version.

struct Hello {
  static constexpr MessageId id() { return MessageId::hello; }
  static constexpr const char* name() { return "hello"; }
  uint8_t version = kVersion;
  uint32_t signature = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("version", self.version, 0, 0xFF, "of the language");
    visit.number("signature", self.signature, 0, 0xFFFFFFFF, "of this table");
  }
};

struct AskAbility {
  static constexpr MessageId id() { return MessageId::ask_ability; }
  static constexpr const char* name() { return "ask_ability"; }
  template <class Self, class Visitor>
  static constexpr void fields(Self&, Visitor&) {}
};

struct AskIdentity {
  static constexpr MessageId id() { return MessageId::ask_identity; }
  static constexpr const char* name() { return "ask_identity"; }
  template <class Self, class Visitor>
  static constexpr void fields(Self&, Visitor&) {}
};

struct Part {
  static constexpr MessageId id() { return MessageId::part; }
  static constexpr const char* name() { return "part"; }
  uint16_t program = 0;
  uint16_t offset = 0;
  Bytes<48> bytes;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.number("offset", self.offset, 0, 0xFFFF, "where these bytes stand in it");
    visit.bytes("bytes", self.bytes, "of the program");
  }
};

struct Run {
  static constexpr MessageId id() { return MessageId::run; }
  static constexpr const char* name() { return "run"; }
  uint16_t program = 0;
  uint16_t length = 0;
  uint32_t checksum = 0;
  uint8_t silences = 0;
  uint8_t permit = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.number("length", self.length, 0, 0xFFFF, "bytes of the whole program");
    visit.number("checksum", self.checksum, 0, 0xFFFFFFFF, "CRC-32C of the whole program");
    visit.number("silences", self.silences, 0, 0xFF, "as known at the last power check");
    visit.number("permit", self.permit, 0, 1, "1: 5 V is allowed, no active part is on the board");
  }
};

/// Runs a program of one setting, then keeps the setting and reports each change.
struct Monitor {
  static constexpr MessageId id() { return MessageId::monitor; }
  static constexpr const char* name() { return "monitor"; }
  Run run;
  uint16_t threshold = 1;
  uint32_t hold_us = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    Run::fields(self.run, visit);
    visit.number("threshold", self.threshold, 1, 0xFFFF,
                 "of sense codes at the gain of its result: a pair above is away");
    visit.number("hold_us", self.hold_us, 0, 0xFFFFFFFF, "so long; 0: until the abort");
  }
};

/// Asks how a program stands, and for its results again from `first` on. Also a sign of life.
struct Ask {
  static constexpr MessageId id() { return MessageId::ask; }
  static constexpr const char* name() { return "ask"; }
  uint16_t program = 0;
  uint16_t first = 0;
  uint16_t change = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.number("first", self.first, 0, 0xFFFF,
                 "results are wanted again from this one on; 65535: none");
    visit.number("change", self.change, 0, 0xFFFF,
                 "of a program that is held: index of the first change that is lacking");
  }
};
/// Ask::first that wants no result again.
constexpr uint16_t kNoResults = 0xFFFF;

struct Abort {
  static constexpr MessageId id() { return MessageId::abort; }
  static constexpr const char* name() { return "abort"; }
  uint16_t program = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "this one and all before it end");
  }
};

// ---- What the tester sends.

struct HelloReply {
  static constexpr MessageId id() { return MessageId::hello_reply; }
  static constexpr const char* name() { return "hello_reply"; }
  uint8_t version = kVersion;
  uint32_t signature = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("version", self.version, 0, 0xFF, "of the language");
    visit.number("signature", self.signature, 0, 0xFFFFFFFF, "of this table");
  }
};

struct Ability {
  static constexpr MessageId id() { return MessageId::ability; }
  static constexpr const char* name() { return "ability"; }
  uint16_t channels = 1;
  uint16_t max_source = 1;
  uint16_t max_sink = 1;
  uint8_t levels = 0;  ///< bit n: Level n
  uint8_t ranges = 0;  ///< bit n: range n + 1
  uint8_t gains = 0;   ///< bit n: Gain n; x1 always
  uint8_t loads = 0;   ///< bit n: Load n
  uint8_t converter_bits = 10;
  uint32_t low_step_nv = 1;   ///< one code at x1, levels off and low
  uint32_t high_step_nv = 1;  ///< one code at x1, level high
  uint8_t features = 0;       ///< Feature bits
  uint16_t program_bytes = 0;
  uint16_t program_results = 0;
  uint16_t window_bytes = 64;
  uint8_t silences = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("channels", self.channels, 1, 0xFFFE, "numbered from 1");
    visit.number("max_source", self.max_source, 1, 0xFFFE, "largest source set; 1: no sets");
    visit.number("max_sink", self.max_sink, 1, 0xFFFE, "largest sink set");
    visit.number("levels", self.levels, 0, 7, "bit n: level n (off, 0.2 V, 5 V)");
    visit.number("ranges", self.ranges, 0, 31, "bit n: range n + 1");
    visit.number("gains", self.gains, 0, 15, "bit n: gain n (automatic, x1, x5, x50)");
    visit.number("loads", self.loads, 0, 7, "bit n: load n (none, 1 Mohm, 47 kohm)");
    visit.number("converter_bits", self.converter_bits, 8, 16,
                 "codes are signed and have so many bits");
    visit.number("low_step_nv", self.low_step_nv, 1, 0xFFFFFFFF,
                 "nanovolts a code at x1, off and 0.2 V");
    visit.number("high_step_nv", self.high_step_nv, 1, 0xFFFFFFFF, "nanovolts a code at x1, 5 V");
    visit.number("features", self.features, 0, 15,
                 "bits: 1 differential sense, 2 edge latch, 4 buzzer, 8 button");
    visit.number("program_bytes", self.program_bytes, 1, 0xFFFF, "room for each of two programs");
    visit.number("program_results", self.program_results, 1, 0xFFFE,
                 "results kept of each program");
    visit.number("window_bytes", self.window_bytes, 64, 0xFFFF, "may be on the way unanswered");
    visit.number("silences", self.silences, 0, 0xFF, "times that silence opened the switches");
  }
};

struct Identity {
  static constexpr MessageId id() { return MessageId::identity; }
  static constexpr const char* name() { return "identity"; }
  Text<24> unit;
  Text<24> firmware;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.text("unit", self.unit, "which tester");
    visit.text("firmware", self.firmware, "name and version");
  }
};

/// Answers part, run, monitor, ask and abort.
struct ProgramState {
  static constexpr MessageId id() { return MessageId::program_state; }
  static constexpr const char* name() { return "program_state"; }
  uint16_t program = 0;
  Phase phase = Phase::none;
  Status status = Status::ok;
  uint16_t received = 0;
  uint16_t at = 0;
  uint16_t results = 0;
  uint16_t changes = 0;
  uint16_t oldest = 0;
  uint8_t silences = 0;
  uint8_t presses = 0;
  uint32_t clock_us = 0;
  uint32_t held_us = 0;
  uint32_t gap_us = 0;
  uint16_t edges = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.choice("phase", self.phase, kLastPhase,
                 "none, receiving, queued, running, done, holding, failed");
    visit.choice("status", self.status, kLastStatus, "of the request; of the program if it failed");
    visit.number("received", self.received, 0, 0xFFFF, "bytes without a gap so far");
    visit.number("at", self.at, 0, 0xFFFF, "byte of the step that was refused");
    visit.number("results", self.results, 0, 0xFFFF, "there so far");
    visit.number("changes", self.changes, 0, 0xFFFF, "reported so far while holding");
    visit.number("oldest", self.oldest, 0, 0xFFFF,
                 "index of the oldest change that can be repeated");
    visit.number("silences", self.silences, 0, 0xFF, "times that silence opened the switches");
    visit.number("presses", self.presses, 0, 0xFF, "of the button, since the tester's start");
    visit.number("clock_us", self.clock_us, 0, 0xFFFFFFFF, "the tester's clock; wraps");
    visit.number("held_us", self.held_us, 0, 0xFFFFFFFF, "of it: held so far; wraps");
    visit.number("gap_us", self.gap_us, 0, 0xFFFFFFFF,
                 "held: from the begin of one look at a pair to the end of the next, at most");
    visit.number("edges", self.edges, 0, 0xFFFF, "held: falls of the current that a latch caught");
  }
};

/// One measured pair. Codes are sums over the samples of the step.
struct Result {
  static constexpr const char* name() { return "result"; }
  uint8_t flags = 0;
  int32_t sense = 0;
  int32_t current = 0;
  uint16_t settle_ticks = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("flags", self.flags, 0, 0xFF,
                 "bits 0-1 sense gain, 2-3 current gain (1 x1, 2 x5, 3 x50), 4 sense over range, "
                 "5 under range, 6 current out of range, 7 not settled");
    visit.code("sense", self.sense, "sum of the sense codes");
    visit.code("current", self.current, "sum of the sink leg's codes");
    visit.number("settle_ticks", self.settle_ticks, 0, 0xFFFF,
                 "of 100 us until two samples agreed");
  }
};
constexpr uint8_t kSenseOver = 0x10;
constexpr uint8_t kSenseUnder = 0x20;
constexpr uint8_t kCurrentOut = 0x40;
constexpr uint8_t kNotSettled = 0x80;
constexpr Gain sense_gain(const Result& result) {
  return static_cast<Gain>(result.flags & 3);
}
constexpr Gain current_gain(const Result& result) {
  return static_cast<Gain>((result.flags >> 2) & 3);
}

/// Bytes of one Result on the line, and how many go into one frame.
constexpr size_t kResultBytes = 9;
constexpr size_t kResultsPerFrame = 5;

/// Comes unasked while a program runs, and after Ask.
struct Results {
  static constexpr MessageId id() { return MessageId::results; }
  static constexpr const char* name() { return "results"; }
  uint16_t program = 0;
  uint16_t first = 0;
  uint8_t silences = 0;
  uint8_t last = 0;
  Bytes<kResultsPerFrame * kResultBytes> packed;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.number("first", self.first, 0, 0xFFFE, "index of the first result in this frame");
    visit.number("silences", self.silences, 0, 0xFF, "times that silence opened the switches");
    visit.number("last", self.last, 0, 1, "1: no result comes after these");
    visit.bytes("packed", self.packed, "whole results, 9 bytes each");
  }
};

/// Comes unasked while a program is held.
struct Change {
  static constexpr MessageId id() { return MessageId::change; }
  static constexpr const char* name() { return "change"; }
  uint16_t program = 0;
  uint16_t index = 0;
  uint16_t pair = 0;
  uint8_t away = 0;
  uint32_t at_us = 0;
  int32_t sense = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.number("program", self.program, 0, 0xFFFF, "number of the program");
    visit.number("index", self.index, 0, 0xFFFF, "counts changes from 0; a gap is a lost report");
    visit.number("pair", self.pair, 0, 0xFFFF, "index of its result");
    visit.number("away", self.away, 0, 1, "1: above the threshold; 0: below half of it");
    visit.number("at_us", self.at_us, 0, 0xFFFFFFFF, "seen so long after holding began; wraps");
    visit.code("sense", self.sense, "the one code that was seen, at the gain of its result");
  }
};

/// Answers a request that has no other answer.
struct Error {
  static constexpr MessageId id() { return MessageId::error; }
  static constexpr const char* name() { return "error"; }
  Status status = Status::internal;
  uint8_t request = 0;

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.choice("status", self.status, kLastStatus, "why");
    visit.number("request", self.request, 0, 0xFF, "id of the request");
  }
};

/// Hands every message type to `visit.message<M>()`, in the order of their ids.
template <class Visitor>
constexpr void for_each_message(Visitor& visit) {
  visit.template message<Hello>();
  visit.template message<AskAbility>();
  visit.template message<AskIdentity>();
  visit.template message<Part>();
  visit.template message<Run>();
  visit.template message<Monitor>();
  visit.template message<Ask>();
  visit.template message<Abort>();
  visit.template message<HelloReply>();
  visit.template message<Ability>();
  visit.template message<Identity>();
  visit.template message<ProgramState>();
  visit.template message<Results>();
  visit.template message<Change>();
  visit.template message<Error>();
}

}  // namespace wire
}  // namespace padwalk
