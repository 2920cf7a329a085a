// SPDX-License-Identifier: MIT
#include "firmware-host/transport/pty_port.hpp"

#include <catch2/catch.hpp>

#include "tests/support/port_checks.hpp"
#include "tests/support/pty_pair.hpp"

using padwalk::tests::PtyPair;
using padwalk::transport::PtyPort;

TEST_CASE("a pseudo-terminal carries every byte value both ways", "[transport]") {
  PtyPair pty;
  PtyPort port(pty.name());
  CHECK(port.name() == pty.name());
  padwalk::tests::check_bytes(port, pty);
}

TEST_CASE("a pseudo-terminal tells bytes, silence and a hang-up apart", "[transport]") {
  PtyPair pty;
  PtyPort port(pty.name());
  padwalk::tests::check_outcomes(port, pty);
}

TEST_CASE("a new host does not read what an earlier one left, and finds the terminal as it was",
          "[transport]") {
  PtyPair pty;
  termios before = {};
  REQUIRE(tcgetattr(pty.descriptor(), &before) == 0);
  {
    PtyPort first(pty.name());
    pty.send({9, 9, 9});
  }
  termios after = {};
  REQUIRE(tcgetattr(pty.descriptor(), &after) == 0);
  CHECK(after.c_lflag == before.c_lflag);
  CHECK(after.c_iflag == before.c_iflag);
  PtyPort second(pty.name());
  pty.send({1});
  CHECK(padwalk::tests::read_all(second, 1) == std::vector<std::uint8_t>{1});
}

TEST_CASE("a write to a far end that reads nothing ends in time", "[transport][slow]") {
  // Bounded by kWriteLimit; the terminal's buffer is a few KiB.
  PtyPair pty;
  PtyPort port(pty.name());
  CHECK_FALSE(port.write(std::vector<std::uint8_t>(200000, 7)));
}
