// SPDX-License-Identifier: MIT
#include "firmware-host/wire/program.hpp"

#include "firmware-host/wire/codec.hpp"

namespace padwalk {
namespace wire {
namespace {

enum : uint8_t { kEmptySet = 0, kListSet = 1, kBitmapSet = 2 };
enum : uint8_t { kPairList = 1, kEachPair = 2 };

uint16_t get16(const uint8_t* bytes) {
  return static_cast<uint16_t>(bytes[0] | (static_cast<uint16_t>(bytes[1]) << 8));
}

/// Takes `width` bytes at `offset`; null if they are not all there.
const uint8_t* take(const uint8_t* bytes, size_t size, size_t* offset, uint32_t width) {
  if (*offset > size || size - *offset < width) {
    return nullptr;
  }
  const uint8_t* taken = bytes + *offset;
  *offset += static_cast<size_t>(width);
  return taken;
}

/// A bitmap keeps no order, so only an ascending list can become one.
bool ascending(Channels set) {
  for (size_t i = 1; i < set.count; ++i) {
    if (set.first[i] <= set.first[i - 1]) {
      return false;
    }
  }
  return true;
}

}  // namespace

bool ProgramWriter::add_setting(StepHead head, Channels source, Channels sink, Channels loaded,
                                const Pair* pairs, size_t pair_count) {
  const size_t start = size_;
  head.kind = StepKind::setting;
  put_step(head, source, sink, loaded);
  put(kPairList, 1);
  put_count(pair_count);
  for (size_t i = 0; i < pair_count; ++i) {
    put(pairs[i].plus, 2);
    put(pairs[i].minus, 2);
  }
  return end_step(start, head, pair_count);
}

bool ProgramWriter::add_setting_each(StepHead head, Channels source, Channels sink, Channels loaded,
                                     Channels plus, uint16_t minus) {
  const size_t start = size_;
  head.kind = StepKind::setting;
  put_step(head, source, sink, loaded);
  put(kEachPair, 1);
  put(minus, 2);
  put_set(plus);
  return end_step(start, head, plus.count);
}

bool ProgramWriter::add_walk(StepHead head, uint16_t source, Channels sinks, Channels loaded) {
  const size_t start = size_;
  head.kind = StepKind::walk;
  Channels one;
  one.first = &source;
  one.count = 1;
  put_step(head, one, sinks, loaded);
  return end_step(start, head, sinks.count);
}

void ProgramWriter::put(uint16_t value, uint8_t width) {
  if (capacity_ - size_ < width) {
    overflow_ = true;
    return;
  }
  for (uint8_t i = 0; i < width; ++i) {
    buffer_[size_++] = static_cast<uint8_t>(value >> (8 * i));
  }
}

void ProgramWriter::put_count(size_t count) {
  overflow_ = overflow_ || count > 0xFFFF;
  put(static_cast<uint16_t>(count), 2);
}

void ProgramWriter::put_set(Channels set) {
  if (set.count == 0) {
    put(kEmptySet, 1);
    return;
  }
  const uint16_t lowest = set.first[0];
  const uint16_t highest = set.first[set.count - 1];
  const size_t map_bytes = ascending(set) ? static_cast<size_t>(highest - lowest) / 8 + 1 : 0;
  if (map_bytes == 0 || map_bytes + 2 >= 2 * set.count) {
    put(kListSet, 1);
    put_count(set.count);
    for (size_t i = 0; i < set.count; ++i) {
      put(set.first[i], 2);
    }
    return;
  }
  put(kBitmapSet, 1);
  put(lowest, 2);
  put_count(map_bytes);
  size_t at = 0;
  for (size_t byte = 0; byte < map_bytes; ++byte) {
    uint8_t bits = 0;
    for (; at < set.count && static_cast<size_t>(set.first[at] - lowest) / 8 == byte; ++at) {
      bits |= static_cast<uint8_t>(1u << ((set.first[at] - lowest) % 8));
    }
    put(bits, 1);
  }
}

void ProgramWriter::put_step(StepHead head, Channels source, Channels sink, Channels loaded) {
  uint8_t bytes[kStepHeadBytes];
  detail::Writer writer(bytes);
  StepHead::fields(head, writer);
  for (size_t i = 0; i < kStepHeadBytes; ++i) {
    put(bytes[i], 1);
  }
  put_set(source);
  put_set(sink);
  put_set(loaded);
}

bool ProgramWriter::end_step(size_t start, const StepHead& head, size_t pairs) {
  if (overflow_) {
    overflow_ = false;
    size_ = start;
    return false;
  }
  results_ += pairs * results_a_pair(head);
  return true;
}

bool SetReader::open(const uint8_t* bytes, size_t size, size_t* offset) {
  *this = SetReader();
  const uint8_t* kind = take(bytes, size, offset, 1);
  if (kind == nullptr || *kind > kBitmapSet) {
    return false;
  }
  kind_ = *kind;
  if (kind_ == kEmptySet) {
    return true;
  }
  if (kind_ == kBitmapSet) {
    const uint8_t* first = take(bytes, size, offset, 2);
    if (first == nullptr) {
      return false;
    }
    first_ = get16(first);
  }
  const uint8_t* count = take(bytes, size, offset, 2);
  if (count == nullptr) {
    return false;
  }
  count_ = get16(count);
  // No bitmap reaches beyond the last number that a channel can have.
  if (kind_ == kBitmapSet && (0xFFFFu - first_) / 8 < count_) {
    return false;
  }
  data_ = take(bytes, size, offset, static_cast<uint32_t>(count_) * (kind_ == kListSet ? 2 : 1));
  return data_ != nullptr;
}

bool SetReader::next(uint16_t* channel) {
  if (kind_ == kListSet) {
    if (position_ >= count_) {
      return false;
    }
    *channel = get16(data_ + 2 * static_cast<size_t>(position_++));
    return true;
  }
  if (kind_ == kBitmapSet) {
    for (; position_ / 8 < count_; ++position_) {
      if ((data_[position_ / 8] & (1u << (position_ % 8))) != 0) {
        *channel = static_cast<uint16_t>(first_ + position_++);
        return true;
      }
    }
  }
  return false;
}

bool PairReader::open(const uint8_t* bytes, size_t size, size_t* offset) {
  *this = PairReader();
  const uint8_t* kind = take(bytes, size, offset, 1);
  const uint8_t* number = take(bytes, size, offset, 2);  // the count of a list, else the minus
  if (number == nullptr || (*kind != kPairList && *kind != kEachPair)) {
    return false;
  }
  each_ = *kind == kEachPair;
  if (each_) {
    minus_ = get16(number);
    return plus_.open(bytes, size, offset);
  }
  count_ = get16(number);
  data_ = take(bytes, size, offset, static_cast<uint32_t>(count_) * 4);
  return data_ != nullptr;
}

bool PairReader::next(Pair* pair) {
  if (each_) {
    pair->minus = minus_;
    return plus_.next(&pair->plus);
  }
  if (position_ >= count_) {
    return false;
  }
  const uint8_t* bytes = data_ + 4 * static_cast<size_t>(position_++);
  pair->plus = get16(bytes);
  pair->minus = get16(bytes + 2);
  return true;
}

void PairReader::rewind() {
  position_ = 0;
  plus_.rewind();
}

bool read_step(const uint8_t* program, size_t size, size_t* offset, Step* step) {
  const uint8_t* head = take(program, size, offset, kStepHeadBytes);
  if (head == nullptr) {
    return false;
  }
  detail::Reader reader(head, kStepHeadBytes);
  StepHead::fields(step->head, reader);
  if (!reader.ok() || step->head.kind == StepKind::none ||
      !step->source.open(program, size, offset) || !step->sink.open(program, size, offset) ||
      !step->loaded.open(program, size, offset)) {
    return false;
  }
  step->pairs = PairReader();
  return step->head.kind == StepKind::walk || step->pairs.open(program, size, offset);
}

}  // namespace wire
}  // namespace padwalk
