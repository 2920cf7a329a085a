// SPDX-License-Identifier: MIT
//
// Carries a checked program out: applies settings, waits until each pair is at rest, samples it.
#include "firmware-host/core/tester_core.hpp"

namespace padwalk {
namespace core {

using wire::Gain;

namespace {

/// On an AVR `int` has 16 bits, so no difference of two codes is taken in it.
bool agree(int16_t a, int16_t b, uint16_t codes) {
  const int32_t difference = static_cast<int32_t>(a) - b;
  return difference <= static_cast<int32_t>(codes) && -difference <= static_cast<int32_t>(codes);
}

int32_t factor(Gain gain) {
  return wire::kGainFactor[static_cast<uint8_t>(gain)];
}

Gain next_lower(Gain gain) {
  return static_cast<Gain>(static_cast<uint8_t>(gain) - 1);
}

}  // namespace

void TesterCore::begin(Slot& slot) {
  slot.phase = wire::Phase::running;
  offset_ = 0;
  stage_ = Stage::next_step;
}

void TesterCore::measure(Slot& slot) {
  switch (stage_) {
    case Stage::next_step:
      return next_step(slot);
    case Stage::next_pair:
      return next_pair();
    case Stage::settle:
      return settle();
    case Stage::sample:
      return sample(slot);
    case Stage::rest:
      return rest();
    case Stage::hold:
      return hold(slot);
  }
}

void TesterCore::next_step(Slot& slot) {
  if (offset_ >= slot.received) {
    return finish(slot);
  }
  if (!wire::read_step(slot.bytes, slot.received, &offset_, &step_)) {
    return fail(slot, wire::Status::internal, static_cast<uint16_t>(offset_));
  }
  setting_.source.clear();
  setting_.sink.clear();
  setting_.loaded.clear();
  setting_.load = step_.head.load;
  setting_.range = step_.head.range;
  uint16_t channel = 0;
  while (step_.source.next(&channel)) {
    setting_.source.add(channel);
    walk_source_ = channel;
  }
  while (step_.loaded.next(&channel)) {
    setting_.loaded.add(channel);
  }
  walked_ = 0;
  if (step_.head.kind == wire::StepKind::setting) {
    while (step_.sink.next(&channel)) {
      setting_.sink.add(channel);
    }
    source_off_ = step_.head.difference != 0;
    apply();
  }
  stage_ = Stage::next_pair;
}

void TesterCore::apply() {
  setting_.level = source_off_ ? wire::Level::off : step_.head.level;
  pairs_off_ = 0;
  applied_us_ = hal_.now_us();
  hal_.apply(setting_);
}

void TesterCore::next_pair() {
  wire::Pair pair;
  if (step_.head.kind == wire::StepKind::setting) {
    if (step_.pairs.next(&pair)) {
      begin_pair(pair);
    } else {
      stage_ = Stage::rest;
    }
    return;
  }
  uint16_t sink = 0;
  if (!step_.sink.next(&sink)) {
    stage_ = Stage::next_step;
    return;
  }
  if (walked_ != 0) {
    setting_.sink.remove(walked_);
  }
  setting_.sink.add(sink);
  walked_ = sink;
  source_off_ = step_.head.difference != 0;
  begin_walked();
}

void TesterCore::begin_walked() {
  apply();
  wire::Pair pair;
  pair.plus = walk_source_;
  pair.minus = walked_;
  begin_pair(pair);
}

/// A setting is over when its time is; the first half of a difference is followed by the second.
void TesterCore::rest() {
  if (!passed(applied_us_, static_cast<uint32_t>(step_.head.period_ticks) * wire::kSettleTickUs)) {
    return;
  }
  const bool walk = step_.head.kind == wire::StepKind::walk;
  if (!source_off_) {
    stage_ = walk ? Stage::next_pair : Stage::next_step;
    return;
  }
  source_off_ = false;
  if (walk) {
    begin_walked();
  } else {
    step_.pairs.rewind();
    apply();
    stage_ = Stage::next_pair;
  }
}

/// Waits for a short while if less than `us` have passed, so that requests are answered meanwhile.
bool TesterCore::passed(uint32_t since_us, uint32_t us) {
  const uint32_t elapsed = hal_.now_us() - since_us;
  if (elapsed >= us) {
    return true;
  }
  const uint32_t left = us - elapsed;
  hal_.wait_us(left < kWaitUs ? left : kWaitUs);
  return left <= kWaitUs;
}

void TesterCore::begin_pair(wire::Pair pair) {
  hal_.select(pair.plus, pair.minus);
  pair_began_us_ = hal_.now_us();
  sense_gain_ = step_.head.gain == Gain::automatic ? Gain::x1 : step_.head.gain;
  current_gain_ = Gain::x1;
  has_previous_ = false;
  samples_left_ = static_cast<uint16_t>(1u << step_.head.samples_log2);
  result_ = wire::Result();
  stage_ = Stage::settle;
}

void TesterCore::settle() {
  const Sample now = convert();
  bool changed = adjust_gain(now.current, &current_gain_);
  if (step_.head.gain == Gain::automatic) {
    changed = adjust_gain(now.sense, &sense_gain_) || changed;
  }
  const uint32_t ticks = (hal_.now_us() - pair_began_us_) / wire::kSettleTickUs;
  const uint8_t codes = step_.head.settle_codes;
  const bool settled = has_previous_ && !changed && agree(now.sense, previous_.sense, codes) &&
                       agree(now.current, previous_.current, codes);
  if (settled || ticks >= step_.head.settle_limit_ticks) {
    result_.flags = settled ? 0 : wire::kNotSettled;
    result_.settle_ticks = ticks < 0xFFFF ? static_cast<uint16_t>(ticks) : 0xFFFF;
    samples_began_us_ = hal_.now_us();
    stage_ = Stage::sample;
    return;
  }
  previous_ = now;
  has_previous_ = !changed;
}

void TesterCore::sample(Slot& slot) {
  const uint32_t spread_us = static_cast<uint32_t>(step_.head.spread_ticks) * wire::kSettleTickUs;
  const uint32_t samples = static_cast<uint32_t>(1) << step_.head.samples_log2;
  if (!passed(samples_began_us_, (samples - samples_left_) * spread_us / samples)) {
    return;
  }
  const Sample now = convert();
  const int16_t top = top_code();
  result_.sense += now.sense;
  result_.current += now.current;
  if (now.sense >= top) {
    result_.flags |= wire::kSenseOver;
  }
  if (now.sense <= -top - 1) {
    result_.flags |= wire::kSenseUnder;
  }
  if (now.current >= top || now.current <= -top - 1) {
    result_.flags |= wire::kCurrentOut;
  }
  if (--samples_left_ == 0) {
    keep_result(slot);
  }
}

void TesterCore::keep_result(Slot& slot) {
  result_.flags |= static_cast<uint8_t>(static_cast<uint8_t>(sense_gain_) |
                                        (static_cast<uint8_t>(current_gain_) << 2));
  uint16_t index = slot.results;
  if (step_.head.difference != 0) {
    // Off is kept where on will be told beside it; only whole pairs of results count.
    index = static_cast<uint16_t>(index + (source_off_ ? 2 * pairs_off_ : 1));
  }
  wire::pack_result(result_, slot.packed + index * wire::kResultBytes);
  if (source_off_) {
    ++pairs_off_;
  } else {
    slot.results = static_cast<uint16_t>(index + 1);
  }
  stage_ = step_.head.kind == wire::StepKind::walk ? Stage::rest : Stage::next_pair;
}

void TesterCore::begin_hold(Slot& slot) {
  slot.phase = wire::Phase::holding;
  stage_ = Stage::hold;
  held_ = &slot;
  step_.pairs.rewind();
  held_index_ = 0;
  selected_ = wire::Pair();
  held_began_us_ = hal_.now_us();
  held_us_ = gap_us_ = 0;
  for (uint32_t& looked : looked_us_) {
    looked = held_began_us_;
  }
  for (uint8_t& bits : away_) {
    bits = 0;
  }
  kept_count_ = 0;
  changes_sent_ = 0;
  hal_.watch_edges();
  edges_before_ = hal_.edges();
  edges_ = 0;
}

/// One look at one pair: one conversion of the sense side, and nothing is measured again, so that
/// the next look is never late. What is back is well below where it left, so that noise at the
/// threshold does not count.
void TesterCore::hold(Slot& slot) {
  wire::Pair pair;
  if (!step_.pairs.next(&pair)) {
    step_.pairs.rewind();
    held_index_ = 0;
    (void)step_.pairs.next(&pair);  // a setting without a pair is refused
  }
  if (pair.plus != selected_.plus || pair.minus != selected_.minus) {
    hal_.select(pair.plus, pair.minus);
    selected_ = pair;
  }
  const wire::Result known = wire::unpack_result(slot.packed + held_index_ * wire::kResultBytes);
  const uint32_t began_us = hal_.now_us();
  const int16_t code = hal_.read_sense(wire::sense_gain(known));
  const uint32_t ended_us = hal_.now_us();
  held_us_ = ended_us - held_began_us_;
  edges_ = static_cast<uint16_t>(hal_.edges() - edges_before_);
  if (ended_us - looked_us_[held_index_] > gap_us_) {
    gap_us_ = ended_us - looked_us_[held_index_];
  }
  looked_us_[held_index_] = began_us;
  const uint8_t bit = static_cast<uint8_t>(1u << (held_index_ % 8));
  const bool was_away = (away_[held_index_ / 8] & bit) != 0;
  const int32_t size = code < 0 ? -static_cast<int32_t>(code) : code;
  if ((size > slot.threshold / (was_away ? 2 : 1)) != was_away) {
    away_[held_index_ / 8] ^= bit;
    note_change(slot, !was_away, code);
  }
  ++held_index_;
  if (slot.hold_us != 0 && held_us_ >= slot.hold_us) {
    hal_.open_all();
    slot.phase = wire::Phase::done;
    running_ = nullptr;
    state(slot.program, wire::Status::ok, 0);
  }
}

void TesterCore::note_change(Slot& slot, bool away, int16_t code) {
  wire::Change& kept = kept_[slot.changes % kKeptChanges];
  kept.program = slot.program;
  kept.index = slot.changes++;
  kept.pair = held_index_;
  kept.away = away ? 1 : 0;
  kept.at_us = held_us_;
  kept.sense = code;
  if (kept_count_ < kKeptChanges) {
    ++kept_count_;
  }
}

void TesterCore::finish(Slot& slot) {
  if (slot.monitored) {
    return begin_hold(slot);
  }
  hal_.open_all();
  slot.phase = wire::Phase::done;
  running_ = nullptr;
}

TesterCore::Sample TesterCore::convert() {
  Sample taken;
  taken.sense = hal_.read_sense(sense_gain_);
  taken.current = hal_.read_current(current_gain_);
  return taken;
}

/// Picks a better gain for the next conversion. Returns true if it is another.
bool TesterCore::adjust_gain(int16_t code, Gain* gain) const {
  const int16_t top = top_code();
  const auto offered = [this](Gain wanted) {
    return (ability_.gains & (1u << static_cast<uint8_t>(wanted))) != 0;
  };
  if (code >= top || code <= -top - 1) {
    Gain lower = *gain;
    while (lower > Gain::x1) {
      lower = next_lower(lower);
      if (lower == Gain::x1 || offered(lower)) {
        *gain = lower;
        return true;
      }
    }
    return false;
  }
  const int32_t size = code < 0 ? -static_cast<int32_t>(code) : code;
  // A quarter of the range is left for noise, so that the gain does not go to and fro.
  const int32_t room = static_cast<int32_t>(top) * 3 / 4 * factor(*gain);
  for (Gain higher = wire::kLastGain; higher > *gain; higher = next_lower(higher)) {
    if (offered(higher) && size * factor(higher) <= room) {
      *gain = higher;
      return true;
    }
  }
  return false;
}

int16_t TesterCore::top_code() const {
  return static_cast<int16_t>((static_cast<int32_t>(1) << (ability_.converter_bits - 1)) - 1);
}

}  // namespace core
}  // namespace padwalk
