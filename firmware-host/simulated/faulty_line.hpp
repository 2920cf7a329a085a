// SPDX-License-Identifier: MIT
//
// The line between the simulated tester and its host, with the faults that it was asked to have.
// It moves no bytes by itself: what goes in comes out, dropped, corrupted or doubled.
#pragma once

#include <cstdint>
#include <random>
#include <span>
#include <vector>

#include "firmware-host/simulated/simulated_tester.hpp"

namespace padwalk::simulated {

class FaultyLine {
 public:
  explicit FaultyLine(const LineFaults& faults);

  /// What is left of `bytes` at the far end.
  std::vector<std::uint8_t> carry(std::span<const std::uint8_t> bytes);

  /// The same for a reply frame, which may come twice.
  std::vector<std::uint8_t> carry_reply(std::span<const std::uint8_t> frame);

  /// Bytes that mean nothing.
  std::vector<std::uint8_t> garbage(std::size_t count);

 private:
  bool happens(double fraction);

  LineFaults faults_;
  std::mt19937 random_;
};

}  // namespace padwalk::simulated
