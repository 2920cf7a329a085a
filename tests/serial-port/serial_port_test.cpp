// SPDX-License-Identifier: MIT
//
// The class for real serial ports, moving real bytes: over a pseudo-terminal that the interposer
// passes off as a serial port. A program of its own, because the interposer is for this test alone.
#include "firmware-host/transport/serial_port.hpp"

#include <catch2/catch.hpp>
#include <string>

#include "tests/support/port_checks.hpp"
#include "tests/support/pty_pair.hpp"

using padwalk::tests::PtyPair;
using padwalk::transport::SerialPort;

TEST_CASE("a serial port carries every byte value both ways", "[transport]") {
  const PtyPair pty;
  SerialPort port(pty.name());
  CHECK(port.name() == pty.name());
  padwalk::tests::check_bytes(port, pty);
}

TEST_CASE("a serial port tells bytes, silence and a hang-up apart", "[transport]") {
  PtyPair pty;
  SerialPort port(pty.name());
  padwalk::tests::check_outcomes(port, pty);
}

TEST_CASE("a serial port is set to 115200 baud, raw, 8 bits, no parity", "[transport]") {
  const PtyPair pty;
  const SerialPort port(pty.name());
  termios set = {};
  REQUIRE(tcgetattr(pty.descriptor(), &set) == 0);
  CHECK(cfgetospeed(&set) == B115200);
  CHECK(cfgetispeed(&set) == B115200);
  CHECK((set.c_cflag & (CSIZE | PARENB | CSTOPB | CRTSCTS)) == CS8);
  CHECK((set.c_lflag & (ICANON | ECHO | ISIG)) == 0);
  CHECK((set.c_iflag & (IXON | IXOFF | ICRNL)) == 0);
  CHECK((set.c_oflag & OPOST) == 0);
}

TEST_CASE("a serial port has one host at a time", "[transport]") {
  const PtyPair pty;
  {
    const SerialPort first(pty.name());
    CHECK_THROWS_WITH(
        SerialPort(pty.name()),
        pty.name() + ": another program holds this port; close that program and try again");
  }
  SerialPort again(pty.name());
  padwalk::tests::check_bytes(again, pty);
}

TEST_CASE("many kilobytes pass a serial port in order while both sides work", "[transport]") {
  const PtyPair pty;
  SerialPort port(pty.name());
  for (int round = 0; round < 200; ++round) {
    std::vector<std::uint8_t> block(1000);
    for (std::size_t i = 0; i < block.size(); ++i) {
      block[i] = static_cast<std::uint8_t>(i * 7 + static_cast<std::size_t>(round));
    }
    REQUIRE(port.write(block));
    REQUIRE(pty.receive(block.size()) == block);
    pty.send(block);
    REQUIRE(padwalk::tests::read_all(port, block.size()) == block);
  }
}
