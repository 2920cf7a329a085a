// SPDX-License-Identifier: MIT
//
// The portable heart of a tester's firmware: bytes in, checked commands, hal, bytes out. It holds
// two programs, one that runs and one that waits, with the results of each until its buffer is
// needed for the program after the next. No heap, exceptions, run-time types, floating point or
// globals. What is exchanged when: PROTOCOL.md.
#pragma once

#include <stddef.h>
#include <stdint.h>

#include "firmware-host/core/capacity.hpp"
#include "firmware-host/core/hal.hpp"
#include "firmware-host/wire/codec.hpp"
#include "firmware-host/wire/frame.hpp"
#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk {
namespace core {

class TesterCore {
 public:
  /// Opens every switch.
  explicit TesterCore(Hal& hal);

  /// Takes bytes from the line and answers the requests in them. Any bytes are safe.
  void receive(const uint8_t* bytes, size_t count);

  /// Does the next small piece of work, at most one conversion of each kind and one frame. Returns
  /// true when there is more to do at once; while holding a setting it is for the port to say how
  /// often it looks: each call is a look at one pair.
  bool poll();

  /// A setting is held, and the more often poll() is called the shorter an interruption it sees.
  bool holding() const { return running_ != nullptr && running_->phase == wire::Phase::holding; }

 private:
  /// A program with its results.
  struct Slot {
    uint16_t program = 0;
    wire::Phase phase = wire::Phase::none;
    wire::Status status = wire::Status::ok;
    uint16_t received = 0;  // bytes
    uint16_t at = 0;        // step that was refused
    uint16_t results = 0;
    uint16_t sent = 0;       // results that went out
    bool last_sent = false;  // and the word that no more will come
    bool monitored = false;
    uint16_t threshold = 0;
    uint32_t hold_us = 0;
    uint16_t changes = 0;
    uint8_t bytes[kProgramBytes] = {};
    uint8_t packed[kProgramResults * wire::kResultBytes] = {};
  };

  /// What a pass over a whole program found.
  struct Verdict {
    wire::Status status = wire::Status::ok;
    uint16_t at = 0;
    bool drives = false;
  };

  struct Sample {
    int16_t sense = 0;
    int16_t current = 0;
  };

  enum class Stage : uint8_t { next_step, next_pair, settle, sample, rest, hold };

  // tester_core.cpp: requests and replies.
  void handle(const wire::Frame& frame);
  void hello(const wire::Frame& frame);
  void part(const wire::Part& request);
  void run(const wire::Run& request, const wire::Monitor* how);
  void ask(const wire::Ask& request);
  void abort(const wire::Abort& request);
  bool is_aborted(uint16_t program) const;
  void fail(Slot& slot, wire::Status status, uint16_t at);
  void watch_silence();
  void state(uint16_t program, wire::Status status, uint8_t sequence);
  bool send_results(Slot& slot);
  bool send_change();
  template <class Message>
  void send(uint16_t session, uint8_t sequence, const Message& message);
  Slot& slot_of(uint16_t program) { return slots_[program & 1]; }
  Slot* next_to_run();

  // checks.cpp: nothing runs that was not checked whole.
  Verdict check(const Slot& slot, bool high_permitted) const;
  wire::Status check_step(const wire::Step& step, bool high_permitted, uint32_t* results,
                          bool* drives) const;
  wire::Status check_head(const wire::StepHead& head, bool high_permitted) const;
  wire::Status check_set(wire::SetReader set, uint16_t limit, const ChannelBits* apart,
                         ChannelBits* bits, uint32_t* count) const;
  wire::Status check_pairs(wire::PairReader pairs, uint32_t* count) const;
  bool exists(uint16_t channel) const { return channel >= 1 && channel <= ability_.channels; }

  // measuring.cpp: one step after the other, at most one conversion of each kind a call.
  void begin(Slot& slot);
  void measure(Slot& slot);
  void next_step(Slot& slot);
  void apply();
  void next_pair();
  void begin_walked();
  void begin_pair(wire::Pair pair);
  void settle();
  void sample(Slot& slot);
  void keep_result(Slot& slot);
  void rest();
  bool passed(uint32_t since_us, uint32_t us);
  void begin_hold(Slot& slot);
  void hold(Slot& slot);
  void note_change(Slot& slot, bool away, int16_t code);
  void finish(Slot& slot);
  Sample convert();
  bool adjust_gain(int16_t code, wire::Gain* gain) const;
  int16_t top_code() const;

  Hal& hal_;
  wire::FrameParser parser_;
  wire::Ability ability_;
  uint16_t session_ = 0;
  bool in_session_ = false;
  uint8_t sequence_ = 0;  // of the request that is being answered
  uint8_t silences_ = 0;
  bool silent_ = false;
  uint32_t heard_ms_ = 0;
  bool any_aborted_ = false;
  uint16_t aborted_through_ = 0;
  Slot slots_[2];
  Slot* running_ = nullptr;

  // The step and the pair that are being measured.
  Stage stage_ = Stage::next_step;
  size_t offset_ = 0;
  wire::Step step_;
  Setting setting_;
  uint16_t walk_source_ = 0;
  uint16_t walked_ = 0;      // the sink that is closed now; 0: none yet
  bool source_off_ = false;  // the first half of a difference
  uint16_t pairs_off_ = 0;   // pairs that were sensed in it
  uint32_t applied_us_ = 0;
  uint32_t pair_began_us_ = 0;
  uint32_t samples_began_us_ = 0;
  wire::Gain sense_gain_ = wire::Gain::x1;
  wire::Gain current_gain_ = wire::Gain::x1;
  bool has_previous_ = false;
  Sample previous_;
  uint16_t samples_left_ = 0;
  wire::Result result_;

  // What is held, or was held last.
  Slot* held_ = nullptr;
  uint16_t held_index_ = 0;
  wire::Pair selected_;
  uint32_t held_began_us_ = 0;
  uint32_t held_us_ = 0;
  uint32_t gap_us_ = 0;
  uint16_t edges_before_ = 0;
  uint16_t edges_ = 0;
  uint32_t looked_us_[kProgramResults] = {};  // by pair: when the last look began
  uint8_t away_[(kProgramResults + 7) / 8] = {};
  wire::Change kept_[kKeptChanges];  // by index, modulo their number
  uint8_t kept_count_ = 0;
  uint16_t changes_sent_ = 0;
};

}  // namespace core
}  // namespace padwalk
