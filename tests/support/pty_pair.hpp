// SPDX-License-Identifier: MIT
//
// The master side of a pseudo-terminal, as the far end of a port under test.
#pragma once

#include <fcntl.h>
#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

namespace padwalk::tests {

class PtyPair {
 public:
  PtyPair() : master_(posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC)) {
    REQUIRE(master_ >= 0);
    REQUIRE(grantpt(master_) == 0);
    REQUIRE(unlockpt(master_) == 0);
    name_ = ptsname(master_);
  }
  ~PtyPair() { hang_up(); }
  PtyPair(const PtyPair&) = delete;
  PtyPair& operator=(const PtyPair&) = delete;

  const std::string& name() const { return name_; }
  int descriptor() const { return master_; }

  void hang_up() {
    if (master_ >= 0) {
      close(master_);
      master_ = -1;
    }
  }
  void send(const std::vector<std::uint8_t>& bytes) const {
    REQUIRE(::write(master_, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
  }
  /// Waits for `count` bytes, five seconds at most.
  std::vector<std::uint8_t> receive(std::size_t count) const {
    std::vector<std::uint8_t> bytes(count);
    std::size_t have = 0;
    pollfd entry = {master_, POLLIN, 0};
    while (have < count && poll(&entry, 1, 5000) > 0) {
      const ssize_t got = ::read(master_, bytes.data() + have, count - have);
      if (got <= 0) {
        break;
      }
      have += static_cast<std::size_t>(got);
    }
    bytes.resize(have);
    return bytes;
  }

 private:
  int master_ = -1;
  std::string name_;
};

}  // namespace padwalk::tests
