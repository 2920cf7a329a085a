// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "firmware-host/transport/serial_port.hpp"
#include "tools/options.hpp"

namespace padwalk::tools {

ExitStatus list_serial_ports() {
  const std::vector<transport::PortInfo> ports = transport::list_ports();
  for (const transport::PortInfo& port : ports) {
    fmt::print("{}  {}{}{}\n", port.name,
               port.description.empty() ? "no description" : port.description,
               port.usb_ids.empty() ? "" : ", USB " + port.usb_ids,
               port.serial.empty() ? "" : ", serial number " + port.serial);
  }
  if (ports.empty()) {
    fmt::print("The system knows of no serial port. Is the tester plugged in?\n");
  }
  return ExitStatus::good;
}

}  // namespace padwalk::tools
