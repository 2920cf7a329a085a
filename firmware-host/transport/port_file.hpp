// SPDX-License-Identifier: MIT
//
// The device file under a port, opened so that nobody else of our kind has it. What can be wrong
// with a name is found and said here, alike for serial ports and pseudo-terminals; speed and bytes
// are not its business.
#pragma once

#include <chrono>
#include <string>

namespace padwalk::transport {

/// A port that takes no bytes for so long is as good as gone.
inline constexpr std::chrono::milliseconds kWriteLimit{3000};

/// The name behind symbolic links; `name` itself where there is nothing.
std::string real_name(const std::string& name);

/// Waiting time for a system call: whole milliseconds until `deadline`, rounded up, at least 0.
int milliseconds_until(std::chrono::steady_clock::time_point deadline);

class PortFile {
 public:
  /// Opens without waiting and takes the lock that other hosts obey (flock; it holds against root
  /// too, and ends with the process). Errors: PortError for no such port, a file or directory, no
  /// permission (says which group to join), held by another program.
  explicit PortFile(const std::string& name);
  ~PortFile();
  PortFile(const PortFile&) = delete;
  PortFile& operator=(const PortFile&) = delete;

  int descriptor() const { return descriptor_; }

 private:
  int descriptor_ = -1;
};

}  // namespace padwalk::transport
