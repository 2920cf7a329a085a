// SPDX-License-Identifier: MIT
//
// How much the core holds; its whole memory is fixed by these numbers. A port with more or less
// memory gets a branch of its own here.
#pragma once

#include <stdint.h>

namespace padwalk {
namespace core {

#if defined(__AVR__)
constexpr uint16_t kMaxChannels = 64;
constexpr uint16_t kProgramBytes = 768;  // 16 rounds of a power check of 64 channels
constexpr uint16_t kProgramResults = 64;
constexpr uint8_t kKeptChanges = 8;
#else
constexpr uint16_t kMaxChannels = 4096;
constexpr uint16_t kProgramBytes = 16384;
constexpr uint16_t kProgramResults = 4096;
constexpr uint8_t kKeptChanges = 64;
#endif

}  // namespace core
}  // namespace padwalk
