// SPDX-License-Identifier: MIT
#include "firmware-host/transport/serial_port.hpp"

#include <fmt/format.h>
#include <libserialport.h>
#include <sys/ioctl.h>

#include <algorithm>

namespace padwalk::transport {
namespace {

constexpr int kBaud = 115200;

/// What the library says of its last failure; to be asked at once.
std::string last_error() {
  char* message = sp_last_error_message();
  std::string text = message == nullptr ? "" : message;
  sp_free_error_message(message);
  return text;
}

void require(sp_return answer, const std::string& name, const char* what) {
  if (answer == SP_ERR_FAIL) {
    throw PortError(fmt::format("{}: {}: {}", name, what, last_error()));
  }
  if (answer != SP_OK) {
    throw PortError(fmt::format("{}: {}; is it a serial port?", name, what));
  }
}

std::string text_or_empty(const char* text) {
  return text == nullptr ? "" : text;
}

}  // namespace

struct SerialPort::Handle {
  sp_port* port = nullptr;
  sp_event_set* readable = nullptr;

  Handle() = default;
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  ~Handle() {
    if (port != nullptr) {
      sp_close(port);  // complains, harmlessly, of a port that never opened
      sp_free_port(port);
    }
    if (readable != nullptr) {
      sp_free_event_set(readable);
    }
  }
};

SerialPort::SerialPort(const std::string& name)
    : name_(name), file_(name), handle_(std::make_unique<Handle>()) {
  const char* cannot_open = "this port cannot be opened";
  const char* cannot_set = "115200 baud, 8N1, cannot be set";
  require(sp_get_port_by_name(real_name(name).c_str(), &handle_->port), name, cannot_open);
  sp_port* port = handle_->port;
  require(sp_open(port, SP_MODE_READ_WRITE), name, cannot_open);
  int descriptor = -1;
  require(sp_get_port_handle(port, &descriptor), name, cannot_open);
  // Keeps out programs that do not look at our lock; falls with the last close.
  if (ioctl(descriptor, TIOCEXCL) != 0) {
    throw PortError(fmt::format("{}: exclusive use of this port cannot be had", name));
  }
  require(sp_set_baudrate(port, kBaud), name, cannot_set);
  require(sp_set_bits(port, 8), name, cannot_set);
  require(sp_set_parity(port, SP_PARITY_NONE), name, cannot_set);
  require(sp_set_stopbits(port, 1), name, cannot_set);
  require(sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE), name, cannot_set);
  // What an earlier host left unread is not for this one.
  require(sp_flush(port, SP_BUF_BOTH), name, cannot_set);
  require(sp_new_event_set(&handle_->readable), name, cannot_open);
  require(sp_add_port_events(handle_->readable, port, SP_EVENT_RX_READY), name, cannot_open);
}

SerialPort::~SerialPort() = default;

bool SerialPort::write(std::span<const std::uint8_t> bytes) {
  if (bytes.empty()) {
    return true;
  }
  const int written = sp_blocking_write(handle_->port, bytes.data(), bytes.size(),
                                        static_cast<unsigned>(kWriteLimit.count()));
  return written >= 0 && static_cast<std::size_t>(written) == bytes.size();
}

ReadResult SerialPort::read(std::span<std::uint8_t> buffer,
                            std::chrono::steady_clock::time_point deadline) {
  // The library's blocking read cannot tell a port that was pulled out from silence. So: wait, read
  // what is there, and where nothing is, ask how much is: that fails on a port that is gone.
  for (;;) {
    const int count = sp_nonblocking_read(handle_->port, buffer.data(), buffer.size());
    if (count > 0) {
      return {ReadOutcome::bytes, static_cast<std::size_t>(count)};
    }
    if (count < 0 || sp_input_waiting(handle_->port) < 0) {
      return {ReadOutcome::closed, 0};
    }
    const int left_ms = milliseconds_until(deadline);
    if (left_ms == 0) {
      return {ReadOutcome::timed_out, 0};
    }
    if (sp_wait(handle_->readable, static_cast<unsigned>(left_ms)) != SP_OK) {
      return {ReadOutcome::closed, 0};
    }
  }
}

std::vector<PortInfo> list_ports() {
  sp_port** found = nullptr;
  if (sp_list_ports(&found) != SP_OK) {
    throw PortError("the serial ports of this computer cannot be listed: " + last_error());
  }
  std::vector<PortInfo> ports;
  for (sp_port** port = found; *port != nullptr; ++port) {
    PortInfo info;
    info.name = text_or_empty(sp_get_port_name(*port));
    info.description = text_or_empty(sp_get_port_description(*port));
    int vendor = 0;
    int product = 0;
    if (sp_get_port_usb_vid_pid(*port, &vendor, &product) == SP_OK) {
      info.usb_ids = fmt::format("{:04x}:{:04x}", vendor, product);
      info.serial = text_or_empty(sp_get_port_usb_serial(*port));
    }
    ports.push_back(info);
  }
  sp_free_port_list(found);
  std::sort(ports.begin(), ports.end(),
            [](const PortInfo& a, const PortInfo& b) { return a.name < b.name; });
  return ports;
}

}  // namespace padwalk::transport
