// SPDX-License-Identifier: MIT
//
// What every port must do, checked alike for each class that is one.
#pragma once

#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <cstdint>
#include <vector>

#include "firmware-host/transport/byte_stream.hpp"
#include "tests/support/pty_pair.hpp"

namespace padwalk::tests {

inline std::chrono::steady_clock::time_point in(std::chrono::milliseconds wait) {
  return std::chrono::steady_clock::now() + wait;
}

/// Reads until `count` bytes came; stops at any other outcome.
inline std::vector<std::uint8_t> read_all(transport::ByteStream& port, std::size_t count) {
  std::vector<std::uint8_t> bytes;
  std::array<std::uint8_t, 50> buffer = {};
  while (bytes.size() < count) {
    const transport::ReadResult got = port.read(buffer, in(std::chrono::seconds(5)));
    if (got.outcome != transport::ReadOutcome::bytes) {
      break;
    }
    REQUIRE(got.count >= 1);
    REQUIRE(got.count <= buffer.size());
    bytes.insert(bytes.end(), buffer.begin(),
                 buffer.begin() + static_cast<std::ptrdiff_t>(got.count));
  }
  return bytes;
}

/// Every byte value, both ways, unchanged.
inline void check_bytes(transport::ByteStream& port, const PtyPair& pty) {
  std::vector<std::uint8_t> all(256);
  for (std::size_t i = 0; i < all.size(); ++i) {
    all[i] = static_cast<std::uint8_t>(i);
  }
  REQUIRE(port.write(all));
  CHECK(pty.receive(all.size()) == all);
  pty.send(all);
  CHECK(read_all(port, all.size()) == all);
  CHECK(port.write({}));
}

/// Bytes, silence and a far end that is gone are three outcomes.
inline void check_outcomes(transport::ByteStream& port, PtyPair& pty) {
  using transport::ReadOutcome;
  std::array<std::uint8_t, 8> buffer = {};
  transport::ReadResult got = port.read(buffer, in(std::chrono::milliseconds(20)));
  CHECK((got.outcome == ReadOutcome::timed_out));
  CHECK(got.count == 0);
  got = port.read(buffer, in(std::chrono::milliseconds(-5)));
  CHECK((got.outcome == ReadOutcome::timed_out));
  pty.send({1, 2, 3});
  got = port.read(buffer, in(std::chrono::seconds(5)));
  CHECK((got.outcome == ReadOutcome::bytes));
  // What is there is had even when the time is over.
  pty.send({4});
  pty.send({5});
  CHECK(read_all(port, 5 - got.count).back() == 5);
  pty.hang_up();
  got = port.read(buffer, in(std::chrono::seconds(5)));
  CHECK((got.outcome == ReadOutcome::closed));
  CHECK_FALSE(port.write(std::vector<std::uint8_t>{1}));
}

}  // namespace padwalk::tests
