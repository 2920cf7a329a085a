// SPDX-License-Identifier: MIT
//
// A real serial port, by libserialport; serial_port.cpp is the only file that knows that library.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/transport/port_file.hpp"

namespace padwalk::transport {

class SerialPort final : public ByteStream {
 public:
  /// Opens at 115200 baud, 8N1, no flow control, for exclusive use. Errors: PortError.
  explicit SerialPort(const std::string& name);
  ~SerialPort() override;

  bool write(std::span<const std::uint8_t> bytes) override;
  ReadResult read(std::span<std::uint8_t> buffer,
                  std::chrono::steady_clock::time_point deadline) override;
  std::string name() const override { return name_; }

 private:
  struct Handle;

  std::string name_;
  PortFile file_;
  std::unique_ptr<Handle> handle_;
};

/// What the system knows of a port; empty where it knows nothing.
struct PortInfo {
  std::string name;         ///< "/dev/ttyUSB0"
  std::string description;  ///< "USB serial converter"
  std::string usb_ids;      ///< vendor and product, "1a86:7523"
  std::string serial;       ///< the adapter's serial number
};

/// The serial ports of this computer, in the order of their names. No port is used for it; to find
/// out which of the mainboard's own exist, the library asks the driver of each.
std::vector<PortInfo> list_ports();

}  // namespace padwalk::transport
