// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/faulty_line.hpp"

namespace padwalk::simulated {

FaultyLine::FaultyLine(const LineFaults& faults) : faults_(faults), random_(faults.random) {}

bool FaultyLine::happens(double fraction) {
  return fraction > 0 && std::uniform_real_distribution<>()(random_) < fraction;
}

std::vector<std::uint8_t> FaultyLine::carry(std::span<const std::uint8_t> bytes) {
  std::vector<std::uint8_t> arrived;
  arrived.reserve(bytes.size());
  for (const std::uint8_t byte : bytes) {
    if (happens(faults_.drop)) {
      continue;
    }
    const bool corrupt = happens(faults_.corrupt);
    arrived.push_back(corrupt ? static_cast<std::uint8_t>(byte ^ (1 + random_() % 255)) : byte);
  }
  return arrived;
}

std::vector<std::uint8_t> FaultyLine::carry_reply(std::span<const std::uint8_t> frame) {
  std::vector<std::uint8_t> arrived = carry(frame);
  if (happens(faults_.duplicate_frame)) {
    const std::vector<std::uint8_t> again = carry(frame);
    arrived.insert(arrived.end(), again.begin(), again.end());
  }
  return arrived;
}

std::vector<std::uint8_t> FaultyLine::garbage(std::size_t count) {
  std::vector<std::uint8_t> bytes(count);
  for (std::uint8_t& byte : bytes) {
    byte = static_cast<std::uint8_t>(random_());
  }
  return bytes;
}

}  // namespace padwalk::simulated
