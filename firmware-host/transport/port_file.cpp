// SPDX-License-Identifier: MIT
#include "firmware-host/transport/port_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <grp.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>

#include "firmware-host/transport/byte_stream.hpp"

namespace padwalk::transport {
namespace {

PortError no_permission(const std::string& name, const struct stat& status) {
  const bool group_may = (status.st_mode & (S_IRGRP | S_IWGRP)) == (S_IRGRP | S_IWGRP);
  const group* owner = getgrgid(status.st_gid);
  if (!group_may || owner == nullptr || status.st_gid == 0) {
    return PortError(
        fmt::format("{}: no permission to use this port, and no group has it; ask "
                    "whoever looks after this computer",
                    name));
  }
  return PortError(fmt::format(
      "{0}: no permission to use this port; add yourself to the group {1}: sudo adduser "
      "$USER {1}, then log in again",
      name, owner->gr_name));
}

PortError busy(const std::string& name) {
  return PortError(
      fmt::format("{}: another program holds this port; close that program and try again", name));
}

PortError no_such_port(const std::string& name) {
  return PortError(fmt::format("{}: no such port; `padwalk ports` lists what is there", name));
}

struct stat status_of(const std::string& name) {
  struct stat status = {};
  if (stat(name.c_str(), &status) != 0) {
    if (errno == ENOENT || errno == ENOTDIR || errno == ENAMETOOLONG) {
      throw no_such_port(name);
    }
    throw PortError(fmt::format("{}: this port cannot be looked at: {}", name, strerror(errno)));
  }
  if (!S_ISCHR(status.st_mode)) {
    const char* what = S_ISDIR(status.st_mode)   ? "a directory"
                       : S_ISREG(status.st_mode) ? "a file"
                                                 : "something else";
    throw PortError(fmt::format("{}: not a serial port but {}; `padwalk ports` lists what is there",
                                name, what));
  }
  return status;
}

PortError open_failure(const std::string& name, const struct stat& status, int error) {
  switch (error) {
    case EACCES:
    case EPERM:
      return no_permission(name, status);
    case EBUSY:
      return busy(name);
    case ENOENT:
    case ENODEV:
    case ENXIO:
      return no_such_port(name);
    case EIO:
      return PortError(fmt::format("{}: nothing is connected to this port", name));
    default:
      return PortError(fmt::format("{}: this port cannot be opened: {}", name, strerror(error)));
  }
}

}  // namespace

std::string real_name(const std::string& name) {
  char* resolved = realpath(name.c_str(), nullptr);
  std::string real = resolved == nullptr ? name : resolved;
  std::free(resolved);
  return real;
}

int milliseconds_until(std::chrono::steady_clock::time_point deadline) {
  const auto left =
      std::chrono::ceil<std::chrono::milliseconds>(deadline - std::chrono::steady_clock::now());
  constexpr std::chrono::milliseconds kLongest = std::chrono::hours(24);
  return static_cast<int>(std::clamp(left, std::chrono::milliseconds(0), kLongest).count());
}

PortFile::PortFile(const std::string& name) {
  if (name.empty()) {
    throw no_such_port("(no name)");
  }
  const struct stat status = status_of(name);
  descriptor_ = open(name.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (descriptor_ < 0) {
    throw open_failure(name, status, errno);
  }
  const bool terminal = isatty(descriptor_) == 1;
  if (!terminal || flock(descriptor_, LOCK_EX | LOCK_NB) != 0) {
    const int error = errno;
    close(descriptor_);
    if (!terminal) {
      throw PortError(fmt::format(
          "{}: not a serial port but another device; `padwalk ports` lists what is there", name));
    }
    throw error == EWOULDBLOCK ? busy(name) : open_failure(name, status, error);
  }
}

PortFile::~PortFile() {
  close(descriptor_);
}

}  // namespace padwalk::transport
