// SPDX-License-Identifier: MIT
#include "firmware-host/transport/pty_port.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include <cerrno>

namespace padwalk::transport {
namespace {

/// Waits until the terminal is ready for `events` or broken; false when the time is over.
bool wait_for(int descriptor, short events, std::chrono::steady_clock::time_point deadline) {
  for (;;) {
    pollfd entry = {descriptor, events, 0};
    const int ready = poll(&entry, 1, milliseconds_until(deadline));
    if (ready >= 0 || errno != EINTR) {
      return ready != 0;
    }
  }
}

bool to_be_repeated(int error) {
  return error == EAGAIN || error == EWOULDBLOCK || error == EINTR;
}

}  // namespace

PtyPort::PtyPort(const std::string& name) : name_(name), file_(name) {
  if (tcgetattr(file_.descriptor(), &before_) != 0) {
    throw PortError(fmt::format("{}: nothing is connected to this port", name));
  }
  termios raw = before_;
  cfmakeraw(&raw);
  if (tcsetattr(file_.descriptor(), TCSANOW, &raw) != 0) {
    throw PortError(fmt::format("{}: nothing is connected to this port", name));
  }
  // What an earlier host left unread is not for this one.
  tcflush(file_.descriptor(), TCIOFLUSH);
}

PtyPort::~PtyPort() {
  tcsetattr(file_.descriptor(), TCSANOW, &before_);
}

bool PtyPort::write(std::span<const std::uint8_t> bytes) {
  const auto deadline = std::chrono::steady_clock::now() + kWriteLimit;
  while (!bytes.empty()) {
    const ssize_t count = ::write(file_.descriptor(), bytes.data(), bytes.size());
    if (count > 0) {
      bytes = bytes.subspan(static_cast<std::size_t>(count));
      continue;
    }
    const bool broken = count < 0 && !to_be_repeated(errno);
    if (broken || !wait_for(file_.descriptor(), POLLOUT, deadline)) {
      return false;
    }
  }
  return true;
}

ReadResult PtyPort::read(std::span<std::uint8_t> buffer,
                         std::chrono::steady_clock::time_point deadline) {
  while (wait_for(file_.descriptor(), POLLIN, deadline)) {
    const ssize_t count = ::read(file_.descriptor(), buffer.data(), buffer.size());
    if (count > 0) {
      return {ReadOutcome::bytes, static_cast<std::size_t>(count)};
    }
    if (count == 0 || !to_be_repeated(errno)) {
      return {ReadOutcome::closed, 0};
    }
  }
  return {ReadOutcome::timed_out, 0};
}

}  // namespace padwalk::transport
