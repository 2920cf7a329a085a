// SPDX-License-Identifier: MIT
//
// Stands between libserialport and the system in this one test program, so that the library takes a
// pseudo-terminal for a serial port: it wants an entry in /sys/class/tty and modem lines, and a
// pseudo-terminal has neither. What is not about pseudo-terminals goes to the system unchanged.
#include <fcntl.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdarg>
#include <cstring>
#include <string>

namespace {

constexpr char kPtyEntry[] = "/sys/class/tty/pts/";

bool is_pty_entry(const char* path) {
  return std::strncmp(path, kPtyEntry, sizeof kPtyEntry - 1) == 0;
}

bool is_pty(int descriptor) {
  char path[64] = {};
  const std::string link = "/proc/self/fd/" + std::to_string(descriptor);
  const long size = syscall(SYS_readlinkat, AT_FDCWD, link.c_str(), path, sizeof path - 1);
  return size > 0 && std::strncmp(path, "/dev/pts/", 9) == 0;
}

int link_status(const char* path, struct stat* status) {
  if (is_pty_entry(path)) {
    *status = {};
    status->st_mode = S_IFLNK | 0777;
    return 0;
  }
  return static_cast<int>(syscall(SYS_newfstatat, AT_FDCWD, path, status, AT_SYMLINK_NOFOLLOW));
}

}  // namespace

extern "C" {

int lstat(const char* path, struct stat* status) noexcept {
  return link_status(path, status);
}

int __lxstat(int, const char* path, struct stat* status) noexcept {
  return link_status(path, status);
}

ssize_t readlink(const char* path, char* buffer, size_t size) noexcept {
  if (is_pty_entry(path)) {
    static constexpr char kDevice[] = "../../devices/platform/port/tty/port0";
    const size_t length = std::min(size, sizeof kDevice - 1);
    std::memcpy(buffer, kDevice, length);
    return static_cast<ssize_t>(length);
  }
  return syscall(SYS_readlinkat, AT_FDCWD, path, buffer, size);
}

int ioctl(int descriptor, unsigned long request, ...) noexcept {
  va_list arguments;
  va_start(arguments, request);
  void* argument = va_arg(arguments, void*);
  va_end(arguments);
  const bool modem_lines =
      request == TIOCMGET || request == TIOCMSET || request == TIOCMBIS || request == TIOCMBIC;
  if (modem_lines && is_pty(descriptor)) {
    if (request == TIOCMGET) {
      *static_cast<int*>(argument) = 0;
    }
    return 0;
  }
  return static_cast<int>(syscall(SYS_ioctl, descriptor, request, argument));
}

}  // extern "C"
