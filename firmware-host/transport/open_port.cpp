// SPDX-License-Identifier: MIT
#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/transport/port_file.hpp"
#include "firmware-host/transport/pty_port.hpp"
#include "firmware-host/transport/serial_port.hpp"

namespace padwalk::transport {

std::unique_ptr<ByteStream> open_port(const std::string& name) {
  if (real_name(name).rfind("/dev/pts/", 0) == 0) {
    return std::make_unique<PtyPort>(name);
  }
  return std::make_unique<SerialPort>(name);
}

}  // namespace padwalk::transport
