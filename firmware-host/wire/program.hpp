// SPDX-License-Identifier: MIT
//
// The bytes of a program: steps, each a head and its sets of channels. The writer is for the host,
// the reader for the core. The reader checks the form only; whether a channel, level or range
// exists is for the core to say.
//
//   step  = head, source set, sink set, loaded set, and for a setting its pairs
//   set   = 0 | 1, count (2), channels (2 each) | 2, first channel (2), count of bytes (2), bits
//   pairs = 1, count (2), (plus (2), minus (2)) each | 2, minus (2), set of plus channels
//
// A *setting* is applied once and all its pairs are sensed. A *walk* has one source channel and a
// set of sinks: each sink becomes a setting of its own, sensed between source and that sink.
//
// With `difference` a setting is applied twice, with the source at 0 V and with it on, its switches
// closed both times. Each pair gives two results then, one behind the other: off, on.
#pragma once

#include <stddef.h>
#include <stdint.h>

#include "firmware-host/wire/messages.hpp"

namespace padwalk {
namespace wire {

enum class StepKind : uint8_t { none, setting, walk };
constexpr StepKind kLastStepKind = StepKind::walk;

struct StepHead {
  static constexpr const char* name() { return "step"; }
  StepKind kind = StepKind::setting;
  Level level = Level::off;
  uint8_t range = 1;  ///< 1 to kRangeCount
  Load load = Load::none;
  Gain gain = Gain::automatic;      ///< of the sense side; the current's is always automatic
  uint8_t samples_log2 = 0;         ///< 2^n samples are summed
  uint8_t settle_codes = 1;         ///< two samples that differ by no more agree
  uint16_t settle_limit_ticks = 1;  ///< for each pair; then read all the same, flagged
  uint16_t period_ticks = 0;        ///< a setting lasts at least so long each time it is applied
  uint16_t spread_ticks = 0;        ///< samples stand a 2^n-th of it apart; 0: back to back
  uint8_t difference = 0;           ///< 1: off, then on; off in codes of the low step

  template <class Self, class Visitor>
  static constexpr void fields(Self& self, Visitor& visit) {
    visit.choice("kind", self.kind, kLastStepKind, "1 setting, 2 walk");
    visit.choice("level", self.level, kLastLevel, "0 off, 1 0.2 V, 2 5 V");
    visit.number("range", self.range, 1, kRangeCount,
                 "reference 100, 1 k, 10 k, 100 k ohm at 0.2 V; 5: 100 kohm at 5 V");
    visit.choice("load", self.load, kLastLoad, "of the loaded set: 0 none, 1 1 Mohm, 2 47 kohm");
    visit.choice("gain", self.gain, kLastGain, "of the sense side: 0 automatic, 1 x1, 2 x5, 3 x50");
    visit.number("samples_log2", self.samples_log2, 0, kMaxSamplesLog2, "2^n samples are summed");
    visit.number("settle_codes", self.settle_codes, 0, 0xFF, "two samples so close agree");
    visit.number("settle_limit_ticks", self.settle_limit_ticks, 0, 0xFFFF,
                 "of 100 us for each pair");
    visit.number("period_ticks", self.period_ticks, 0, 0xFFFF,
                 "of 100 us: it lasts at least so long");
    visit.number("spread_ticks", self.spread_ticks, 0, 0xFFFF,
                 "of 100 us: the samples are spread evenly over it");
    visit.number("difference", self.difference, 0, 1,
                 "1: with the source off first; two results a pair, off and on");
  }
};
constexpr size_t kStepHeadBytes = 14;

/// Results that a pair gives.
inline size_t results_a_pair(const StepHead& head) {
  return head.difference != 0 ? 2 : 1;
}

struct Pair {
  uint16_t plus = 0;
  uint16_t minus = kInstrumentZero;
};

/// Channels in somebody else's memory.
struct Channels {
  const uint16_t* first = nullptr;
  size_t count = 0;
};

/// Writes steps into a buffer of the caller's. A step that does not fit is not written at all.
class ProgramWriter {
 public:
  ProgramWriter(uint8_t* buffer, size_t capacity) : buffer_(buffer), capacity_(capacity) {}

  /// One setting that senses `pairs`, in order. `head.kind` is set here.
  bool add_setting(StepHead head, Channels source, Channels sink, Channels loaded,
                   const Pair* pairs, size_t pair_count);

  /// One setting that senses each of `plus`, in order, against `minus`.
  bool add_setting_each(StepHead head, Channels source, Channels sink, Channels loaded,
                        Channels plus, uint16_t minus);

  /// `source` fixed, one setting for each of `sinks`, in order; each is one pair.
  bool add_walk(StepHead head, uint16_t source, Channels sinks, Channels loaded);

  size_t size() const { return size_; }
  /// Results that the steps so far will give.
  size_t results() const { return results_; }

 private:
  void put(uint16_t value, uint8_t width);
  void put_count(size_t count);
  void put_set(Channels set);
  void put_step(StepHead head, Channels source, Channels sink, Channels loaded);
  bool end_step(size_t start, const StepHead& head, size_t pairs);

  uint8_t* buffer_;
  size_t capacity_;
  size_t size_ = 0;
  size_t results_ = 0;
  bool overflow_ = false;
};

/// Reads a set's channels one by one: in the order of a list, ascending from a bitmap.
class SetReader {
 public:
  /// Takes the set at `offset` and moves on behind it; false if it is cut short or of no kind.
  bool open(const uint8_t* bytes, size_t size, size_t* offset);
  bool next(uint16_t* channel);
  void rewind() { position_ = 0; }

 private:
  const uint8_t* data_ = nullptr;
  uint16_t count_ = 0;  // entries of a list, bytes of a bitmap
  uint16_t first_ = 0;
  uint8_t kind_ = 0;
  uint16_t position_ = 0;  // entry of a list, bit of a bitmap
};

/// Reads the pairs of a setting one by one.
class PairReader {
 public:
  bool open(const uint8_t* bytes, size_t size, size_t* offset);
  bool next(Pair* pair);
  void rewind();

 private:
  const uint8_t* data_ = nullptr;
  uint16_t count_ = 0;
  uint16_t position_ = 0;
  uint16_t minus_ = 0;
  bool each_ = false;
  SetReader plus_;
};

/// One step as the core sees it. The readers point into the program.
struct Step {
  StepHead head;
  SetReader source;
  SetReader sink;
  SetReader loaded;
  PairReader pairs;  ///< empty for a walk
};

/// Reads the step at `offset` and moves on behind it. Errors: false if it is no step.
bool read_step(const uint8_t* program, size_t size, size_t* offset, Step* step);

}  // namespace wire
}  // namespace padwalk
