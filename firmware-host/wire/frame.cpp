// SPDX-License-Identifier: MIT
#include "firmware-host/wire/frame.hpp"

#include <string.h>

namespace padwalk {
namespace wire {
namespace {

constexpr size_t kHeadBytes = 3;
constexpr size_t kChecksumBytes = 4;
constexpr size_t kSmallest = kHeadBytes + 1 + kChecksumBytes;

}  // namespace

uint32_t crc32c(const uint8_t* bytes, size_t count, uint32_t so_far) {
  // Bit by bit: a table would cost a microcontroller 1 KiB, and frames are short.
  uint32_t crc = ~so_far;
  for (size_t i = 0; i < count; ++i) {
    crc ^= bytes[i];
    for (uint8_t bit = 0; bit < 8; ++bit) {
      crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0x82F63B78u : 0);
    }
  }
  return ~crc;
}

size_t cobs_encode(const uint8_t* bytes, size_t count, uint8_t* out) {
  size_t code_at = 0;
  size_t at = 1;
  uint8_t code = 1;
  for (size_t i = 0; i < count; ++i) {
    if (bytes[i] != 0) {
      out[at++] = bytes[i];
      ++code;
    }
    // A full block stands for no zero, so none is begun behind one that ends the data.
    if (bytes[i] == 0 || (code == 0xFF && i + 1 < count)) {
      out[code_at] = code;
      code_at = at++;
      code = 1;
    }
  }
  out[code_at] = code;
  return at;
}

bool cobs_decode(const uint8_t* bytes, size_t count, uint8_t* out, size_t* out_count) {
  size_t at = 0;
  size_t written = 0;
  while (at < count) {
    const uint8_t code = bytes[at++];
    if (code == 0 || static_cast<size_t>(code - 1) > count - at) {
      return false;
    }
    for (uint8_t i = 1; i < code; ++i) {
      if (bytes[at] == 0) {
        return false;
      }
      out[written++] = bytes[at++];
    }
    if (code != 0xFF && at < count) {
      out[written++] = 0;
    }
  }
  *out_count = written;
  return count > 0;
}

size_t encode_frame(uint16_t session, uint8_t sequence, const uint8_t* message, size_t message_size,
                    uint8_t* out) {
  if (message_size < 1 || message_size > kMessageBytes) {
    return 0;
  }
  uint8_t raw[kMessageBytes + kFrameOverhead];
  raw[0] = static_cast<uint8_t>(session);
  raw[1] = static_cast<uint8_t>(session >> 8);
  raw[2] = sequence;
  memcpy(raw + kHeadBytes, message, message_size);
  const size_t covered = kHeadBytes + message_size;
  const uint32_t crc = crc32c(raw, covered);
  for (uint8_t i = 0; i < kChecksumBytes; ++i) {
    raw[covered + i] = static_cast<uint8_t>(crc >> (8 * i));
  }
  out[0] = 0;
  const size_t encoded = cobs_encode(raw, covered + kChecksumBytes, out + 1);
  out[1 + encoded] = 0;
  return encoded + 2;
}

FrameParser::Answer FrameParser::push(uint8_t byte) {
  if (byte != 0) {
    if (size_ < sizeof(buffer_)) {
      buffer_[size_++] = byte;
    } else {
      too_long_ = true;
    }
    return Answer::need_more;
  }
  const Answer answer = size_ == 0 ? Answer::need_more : finish();
  size_ = 0;
  too_long_ = false;
  return answer;
}

FrameParser::Answer FrameParser::finish() {
  size_t size = 0;
  if (too_long_ || !cobs_decode(buffer_, size_, buffer_, &size) || size < kSmallest) {
    return Answer::bad;
  }
  const size_t covered = size - kChecksumBytes;
  uint32_t crc = 0;
  for (uint8_t i = 0; i < kChecksumBytes; ++i) {
    crc |= static_cast<uint32_t>(buffer_[covered + i]) << (8 * i);
  }
  if (crc != crc32c(buffer_, covered)) {
    return Answer::bad;
  }
  frame_.session = static_cast<uint16_t>(buffer_[0] | (static_cast<uint16_t>(buffer_[1]) << 8));
  frame_.sequence = buffer_[2];
  frame_.message = buffer_ + kHeadBytes;
  frame_.message_size = covered - kHeadBytes;
  return Answer::frame;
}

}  // namespace wire
}  // namespace padwalk
