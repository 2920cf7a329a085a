// SPDX-License-Identifier: MIT
//
// What a program must be before the first switch moves for it.
#include "firmware-host/core/tester_core.hpp"

namespace padwalk {
namespace core {

using wire::Status;

namespace {

template <class Choice>
bool offered(uint8_t mask, Choice choice) {
  return (mask & (1u << static_cast<uint8_t>(choice))) != 0;
}

}  // namespace

TesterCore::Verdict TesterCore::check(const Slot& slot, bool high_permitted) const {
  Verdict verdict;
  uint32_t results = 0;
  uint16_t steps = 0;
  for (size_t offset = 0; offset < slot.received && verdict.status == Status::ok; ++steps) {
    verdict.at = static_cast<uint16_t>(offset);
    wire::Step step;
    if (!wire::read_step(slot.bytes, slot.received, &offset, &step) ||
        (slot.monitored &&
         (step.head.kind != wire::StepKind::setting || step.head.difference != 0))) {
      verdict.status = Status::bad_step;
      return verdict;
    }
    verdict.status = check_step(step, high_permitted, &results, &verdict.drives);
    if (verdict.status == Status::ok && results > kProgramResults) {
      verdict.status = Status::too_many_results;
    }
  }
  if (verdict.status == Status::ok && slot.monitored && steps != 1) {
    verdict.status = Status::bad_step;
  }
  return verdict;
}

Status TesterCore::check_step(const wire::Step& step, bool high_permitted, uint32_t* results,
                              bool* drives) const {
  Status status = check_head(step.head, high_permitted);
  const bool walk = step.head.kind == wire::StepKind::walk;
  ChannelBits source;
  ChannelBits others;
  uint32_t sources = 0;
  uint32_t sinks = 0;
  uint32_t loads = 0;
  if (status == Status::ok) {
    status = check_set(step.source, ability_.max_source, nullptr, &source, &sources);
  }
  if (status == Status::ok) {
    const uint16_t limit = walk ? ability_.channels : ability_.max_sink;
    status = check_set(step.sink, limit, &source, &others, &sinks);
  }
  if (status == Status::ok) {
    status = check_set(step.loaded, ability_.channels, nullptr, &others, &loads);
  }
  if (status != Status::ok) {
    return status;
  }
  if (loads > 0 && step.head.load == wire::Load::none) {
    return Status::bad_load;
  }
  *drives = *drives || sources > 0;
  uint32_t count = sinks;
  if (!walk) {
    status = check_pairs(step.pairs, &count);
  } else if (sources != 1) {
    status = Status::bad_step;
  }
  *results += count * static_cast<uint32_t>(wire::results_a_pair(step.head));
  return status == Status::ok && count == 0 ? Status::bad_step : status;
}

Status TesterCore::check_head(const wire::StepHead& head, bool high_permitted) const {
  if (!offered(ability_.levels, head.level)) {
    return Status::bad_level;
  }
  if (!offered(ability_.ranges, head.range - 1) ||
      (head.level != wire::Level::off && wire::kRanges[head.range - 1].level != head.level)) {
    return Status::bad_range;
  }
  if (head.load != wire::Load::none && !offered(ability_.loads, head.load)) {
    return Status::bad_load;
  }
  if (head.gain != wire::Gain::automatic && !offered(ability_.gains, head.gain)) {
    return Status::bad_gain;
  }
  if (head.level == wire::Level::high && !high_permitted) {
    return Status::high_level_refused;
  }
  return Status::ok;
}

Status TesterCore::check_set(wire::SetReader set, uint16_t limit, const ChannelBits* apart,
                             ChannelBits* bits, uint32_t* count) const {
  uint16_t channel = 0;
  while (set.next(&channel)) {
    if (!exists(channel) || (apart != nullptr && apart->has(channel))) {
      return Status::bad_channel;
    }
    bits->add(channel);
    if (++*count > limit) {
      return Status::set_too_large;
    }
  }
  return Status::ok;
}

Status TesterCore::check_pairs(wire::PairReader pairs, uint32_t* count) const {
  *count = 0;
  wire::Pair pair;
  while (pairs.next(&pair)) {
    const bool differential = (ability_.features & wire::kDifferential) != 0;
    const bool minus_exists =
        pair.minus == wire::kInstrumentZero || (differential && exists(pair.minus));
    if (!exists(pair.plus) || !minus_exists || pair.plus == pair.minus) {
      return Status::bad_channel;
    }
    ++*count;
  }
  return Status::ok;
}

}  // namespace core
}  // namespace padwalk
