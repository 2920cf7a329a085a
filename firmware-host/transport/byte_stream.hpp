// SPDX-License-Identifier: MIT
//
// A byte stream to a tester, whatever carries it: a serial port, a pseudo-terminal, a test's
// memory.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <stdexcept>
#include <string>

namespace padwalk::transport {

/// A port that cannot be opened or used; `what()` is one sentence: what, where, what to try.
class PortError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// What a read came to.
enum class ReadOutcome : std::uint8_t { bytes, timed_out, closed };

struct ReadResult {
  ReadOutcome outcome = ReadOutcome::timed_out;
  std::size_t count = 0;  ///< bytes read; above 0 only with `bytes`
};

class ByteStream {
 public:
  virtual ~ByteStream() = default;

  /// Writes all of `bytes`. Returns false when the other end is gone.
  [[nodiscard]] virtual bool write(std::span<const std::uint8_t> bytes) = 0;

  /// Reads at least one byte, at most what `buffer` holds, waiting until `deadline`.
  [[nodiscard]] virtual ReadResult read(std::span<std::uint8_t> buffer,
                                        std::chrono::steady_clock::time_point deadline) = 0;

  /// The name that a message to a person should use: "/dev/ttyUSB0".
  virtual std::string name() const = 0;
};

/// Opens a port for exclusive use: a pseudo-terminal by pty_port, any other by serial_port.
/// Errors: PortError for no such port, no permission (says which group to join), port busy.
std::unique_ptr<ByteStream> open_port(const std::string& name);

}  // namespace padwalk::transport
