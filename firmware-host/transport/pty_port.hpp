// SPDX-License-Identifier: MIT
//
// A pseudo-terminal as a port. It exists beside serial_port because libserialport opens only what
// has an entry in /sys/class/tty and modem lines, and a pseudo-terminal has neither.
#pragma once

#include <termios.h>

#include <string>

#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/transport/port_file.hpp"

namespace padwalk::transport {

class PtyPort final : public ByteStream {
 public:
  /// Opens the slave side, raw. Errors: PortError.
  explicit PtyPort(const std::string& name);
  /// Leaves the terminal as it was found.
  ~PtyPort() override;

  bool write(std::span<const std::uint8_t> bytes) override;
  ReadResult read(std::span<std::uint8_t> buffer,
                  std::chrono::steady_clock::time_point deadline) override;
  std::string name() const override { return name_; }

 private:
  std::string name_;
  // The lock of PortFile alone keeps others out: TIOCEXCL on a pseudo-terminal would outlive a host
  // that was killed, for as long as the other side lives.
  PortFile file_;
  termios before_ = {};
};

}  // namespace padwalk::transport
