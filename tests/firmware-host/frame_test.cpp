// SPDX-License-Identifier: MIT
#include "firmware-host/wire/frame.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace wire = padwalk::wire;
using Bytes = std::vector<std::uint8_t>;
using Answer = wire::FrameParser::Answer;

namespace {

Bytes framed(std::uint16_t session, std::uint8_t sequence, const Bytes& message) {
  Bytes out(wire::kFrameBytes);
  out.resize(wire::encode_frame(session, sequence, message.data(), message.size(), out.data()));
  return out;
}

/// The messages of all good frames in `bytes`, in order.
std::vector<Bytes> messages_in(wire::FrameParser& parser, const Bytes& bytes) {
  std::vector<Bytes> found;
  for (const std::uint8_t byte : bytes) {
    if (parser.push(byte) == Answer::frame) {
      const wire::Frame& frame = parser.frame();
      found.emplace_back(frame.message, frame.message + frame.message_size);
    }
  }
  return found;
}

Bytes joined(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

Bytes cobs(const Bytes& plain) {
  Bytes out(wire::cobs_bound(plain.size()));
  out.resize(wire::cobs_encode(plain.data(), plain.size(), out.data()));
  return out;
}

/// Decoded bytes; `ok` says whether it was COBS at all.
Bytes uncobs(const Bytes& encoded, bool* ok) {
  Bytes out(encoded.size() + 1);
  std::size_t size = 0;
  *ok = wire::cobs_decode(encoded.data(), encoded.size(), out.data(), &size);
  out.resize(size);
  return out;
}

/// Messages whose encodings differ in kind: without zeros, with some, zeros alone, full length.
std::vector<Bytes> sample_messages() {
  Bytes full(wire::kMessageBytes);
  for (std::size_t i = 0; i < full.size(); ++i) {
    full[i] = static_cast<std::uint8_t>(i * 37);
  }
  return {{1}, {7, 1, 0, 255, 0}, Bytes(20, 0), Bytes(wire::kMessageBytes, 0xAA), full};
}

}  // namespace

TEST_CASE("CRC-32C agrees with its published check value", "[wire][frame]") {
  // "123456789": the check value listed for CRC-32C, recomputed; zip's CRC-32 would be 0xCBF43926.
  // The second row, 32 bytes of zero, is from RFC 3720 B.4 (from memory; there as AA 36 91 8A).
  const std::string text = "123456789";
  const auto* bytes = reinterpret_cast<const std::uint8_t*>(text.data());
  CHECK(wire::crc32c(bytes, 9) == 0xE3069283u);
  CHECK(wire::crc32c(bytes + 4, 5, wire::crc32c(bytes, 4)) == 0xE3069283u);
  const Bytes zeros(32, 0);
  CHECK(wire::crc32c(zeros.data(), zeros.size()) == 0x8A9136AAu);
}

TEST_CASE("COBS agrees with its published vectors", "[wire][frame]") {
  // Source: README of the npm package cobs for the first two; the third is the encoding of nothing
  // (Cheshire and Baker, IEEE/ACM Trans. Networking 7(2), 1999).
  const std::vector<std::pair<Bytes, Bytes>> rows = {
      {{0x11, 0x22, 0x00, 0x33}, {0x03, 0x11, 0x22, 0x02, 0x33}},
      {{0x00}, {0x01, 0x01}},
      {{}, {0x01}},
  };
  for (const auto& [plain, encoded] : rows) {
    bool ok = false;
    CHECK(cobs(plain) == encoded);
    CHECK(uncobs(encoded, &ok) == plain);
    CHECK(ok);
  }
}

TEST_CASE("exactly 254 bytes without a zero decode from both known encodings", "[wire][frame]") {
  // From memory: encoders differ in whether a full last block is followed by an empty one.
  const Bytes plain(254, 7);
  const Bytes without = joined({0xFF}, plain);
  const Bytes with = joined(without, {0x01});
  for (const Bytes& encoded : {without, with}) {
    bool ok = false;
    CHECK(uncobs(encoded, &ok) == plain);
    CHECK(ok);
  }
  CHECK(cobs(plain) == without);
}

TEST_CASE("COBS brings back random bytes of every length within its bound", "[wire][frame]") {
  std::mt19937 random(11);
  for (std::size_t size = 0; size < 1100; ++size) {
    Bytes plain(size);
    for (std::uint8_t& byte : plain) {
      byte = random() % 40 == 0 ? 0 : static_cast<std::uint8_t>(random());
    }
    const Bytes encoded = cobs(plain);
    bool ok = false;
    INFO("size " << size);
    REQUIRE(encoded.size() <= wire::cobs_bound(size));
    REQUIRE(std::count(encoded.begin(), encoded.end(), 0) == 0);
    REQUIRE(uncobs(encoded, &ok) == plain);
    REQUIRE(ok);
  }
}

TEST_CASE("what is no COBS is refused", "[wire][frame]") {
  for (const Bytes& bytes : {Bytes{}, Bytes{0}, Bytes{3, 1}, Bytes{5, 1, 2, 3}, Bytes{3, 1, 0}}) {
    bool ok = true;
    uncobs(bytes, &ok);
    CHECK_FALSE(ok);
  }
}

TEST_CASE("a frame comes back with its session, sequence and message", "[wire][frame]") {
  for (const Bytes& message : sample_messages()) {
    const Bytes bytes = framed(0xBEEF, 42, message);
    REQUIRE(bytes.size() <= wire::kFrameBytes);
    CHECK(bytes.front() == 0);
    CHECK(bytes.back() == 0);
    wire::FrameParser parser;
    CHECK(messages_in(parser, bytes) == std::vector<Bytes>{message});
    CHECK(parser.frame().session == 0xBEEF);
    CHECK(parser.frame().sequence == 42);
  }
  CHECK(framed(1, 1, {}).empty());
  CHECK(framed(1, 1, Bytes(wire::kMessageBytes + 1)).empty());
}

TEST_CASE("a frame cut after any byte is never accepted and the next is read", "[wire][frame]") {
  const Bytes next_message = {99, 1, 2, 3};
  const Bytes next = framed(3, 9, next_message);
  for (const Bytes& message : sample_messages()) {
    const Bytes whole = framed(3, 8, message);
    for (std::size_t cut = 0; cut + 1 < whole.size(); ++cut) {
      INFO("cut after " << cut << " of " << whole.size());
      wire::FrameParser parser;
      const Bytes head(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(cut));
      REQUIRE(messages_in(parser, joined(head, next)) == std::vector<Bytes>{next_message});
      // And what is left of a frame whose beginning was lost.
      wire::FrameParser late;
      const Bytes tail(whole.begin() + static_cast<std::ptrdiff_t>(cut) + 2, whole.end());
      REQUIRE(messages_in(late, joined(tail, next)) == std::vector<Bytes>{next_message});
    }
  }
}

TEST_CASE("a frame with any byte lost or doubled is not accepted", "[wire][frame]") {
  const Bytes next_message = {99, 1, 2, 3};
  const Bytes next = framed(3, 9, next_message);
  for (const Bytes& message : sample_messages()) {
    const Bytes whole = framed(3, 8, message);
    for (std::size_t at = 1; at + 1 < whole.size(); ++at) {
      INFO("byte " << at << " of " << whole.size());
      Bytes shorter = whole;
      shorter.erase(shorter.begin() + static_cast<std::ptrdiff_t>(at));
      Bytes longer = whole;
      longer.insert(longer.begin() + static_cast<std::ptrdiff_t>(at), whole[at]);
      for (const Bytes& broken : {shorter, longer}) {
        wire::FrameParser parser;
        REQUIRE(messages_in(parser, joined(broken, next)) == std::vector<Bytes>{next_message});
      }
    }
  }
}

TEST_CASE("no frame with one bit flipped is accepted and the next is read", "[wire][frame]") {
  const Bytes next_message = {99, 1, 2, 3};
  const Bytes next = framed(3, 9, next_message);
  for (const Bytes& message : sample_messages()) {
    const Bytes whole = framed(3, 8, message);
    for (std::size_t bit = 0; bit < whole.size() * 8; ++bit) {
      INFO("bit " << bit << " of a frame of " << whole.size());
      Bytes flipped = whole;
      flipped[bit / 8] ^= static_cast<std::uint8_t>(1u << (bit % 8));
      wire::FrameParser parser;
      const std::vector<Bytes> found = messages_in(parser, joined(flipped, next));
      REQUIRE(found == std::vector<Bytes>{next_message});
    }
  }
}

TEST_CASE("endless garbage gives no frame and the next good frame is read", "[wire][frame]") {
  std::mt19937 random(5);
  wire::FrameParser parser;
  Bytes garbage(200000);
  for (std::uint8_t& byte : garbage) {
    byte = static_cast<std::uint8_t>(random());
  }
  CHECK(messages_in(parser, garbage).empty());
  CHECK(messages_in(parser, Bytes(100000, 0x55)).empty());
  CHECK(parser.push(0) == Answer::bad);
  CHECK(parser.push(0) == Answer::need_more);
  CHECK(messages_in(parser, framed(1, 1, {5})).size() == 1);
}
