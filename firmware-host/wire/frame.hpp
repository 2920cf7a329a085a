// SPDX-License-Identifier: MIT
//
// How messages become bytes on the line and are found again in them: 0x00, COBS(session, sequence,
// message, CRC-32C), 0x00. It is for both ends, and knows nothing of what a message means. A frame
// begins with a 0x00 as well as ending with one, so that what is left of a broken frame never
// swallows the good frame behind it. Empty frames between two zeros are nothing.
#pragma once

#include <stddef.h>
#include <stdint.h>

namespace padwalk {
namespace wire {

/// The longest frame on the line, both zeros included.
constexpr size_t kFrameBytes = 64;
/// Session (2), sequence (1) and CRC-32C (4) around a message.
constexpr size_t kFrameOverhead = 7;
/// The longest message: its id and its body.
constexpr size_t kMessageBytes = kFrameBytes - 2 - 1 - kFrameOverhead;

/// CRC-32C (Castagnoli) of `bytes`; to go on with more bytes, hand the last answer in as `so_far`.
/// Source: "123456789" gives 0xE3069283.
uint32_t crc32c(const uint8_t* bytes, size_t count, uint32_t so_far = 0);

/// Largest encoding of `count` bytes, without the zero that ends it.
constexpr size_t cobs_bound(size_t count) {
  return count + count / 254 + 1;
}

/// Encodes without the ending zero. Shape: `out` holds cobs_bound(count) bytes. Returns the length.
/// Source: Cheshire and Baker, IEEE/ACM Trans. Networking 7(2), 1999.
size_t cobs_encode(const uint8_t* bytes, size_t count, uint8_t* out);

/// Decodes what stood between two zeros; returns false if it is no COBS. Shape: `out` holds `count`
/// bytes and may be `bytes` itself.
bool cobs_decode(const uint8_t* bytes, size_t count, uint8_t* out, size_t* out_count);

/// A frame that was read; points into its parser until the next byte is pushed.
struct Frame {
  uint16_t session = 0;
  uint8_t sequence = 0;  ///< a reply repeats its request's; 0 where nobody asked
  const uint8_t* message = nullptr;
  size_t message_size = 0;  ///< 1 to kMessageBytes
};

/// Writes a frame. Shape: `message_size` is 1 to kMessageBytes, `out` holds kFrameBytes. Returns
/// its length; 0 for a message of no legal size.
size_t encode_frame(uint16_t session, uint8_t sequence, const uint8_t* message, size_t message_size,
                    uint8_t* out);

/// Finds frames in a stream of bytes, whatever else is in it.
class FrameParser {
 public:
  enum class Answer : uint8_t { need_more, frame, bad };

  /// Takes one byte. `frame`: frame() is a good one. `bad`: what just ended was none.
  Answer push(uint8_t byte);

  const Frame& frame() const { return frame_; }

 private:
  Answer finish();

  uint8_t buffer_[kFrameBytes - 2] = {};
  uint8_t size_ = 0;
  bool too_long_ = false;
  Frame frame_;
};

}  // namespace wire
}  // namespace padwalk
