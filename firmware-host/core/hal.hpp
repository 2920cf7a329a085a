// SPDX-License-Identifier: MIT
//
// What a port must provide, and nothing else. To bring the core to new hardware:
//
//  1. Choose the sizes in capacity.hpp.
//  2. Derive from Hal, with one object of it and one TesterCore, both static.
//  3. In the main loop hand every byte that came in to TesterCore::receive(), then call
//     TesterCore::poll(); again at once while it answers true, else at the latest after 1 ms. The
//     receiver must buffer `window_bytes` by itself meanwhile (an interrupt and a ring).
//  4. Where there is no C++ library (AVR), define __cxa_pure_virtual as an endless loop.
//  5. open_all() must also be what a reset and a watchdog leave behind.
//
// No function here is called from an interrupt, and none may call the core. All arguments were
// checked: channels are 1 to `channels`, level, range, gain and load are among those of describe().
#pragma once

#include <stddef.h>
#include <stdint.h>

#include "firmware-host/core/capacity.hpp"
#include "firmware-host/wire/messages.hpp"

namespace padwalk {
namespace core {

/// The longest wait at a stretch.
constexpr uint32_t kWaitUs = 1000;

/// A set of channels as bits.
class ChannelBits {
 public:
  void clear();
  void add(uint16_t channel) { bytes_[(channel - 1) / 8] |= bit(channel); }
  void remove(uint16_t channel) {
    bytes_[(channel - 1) / 8] &= static_cast<uint8_t>(~bit(channel));
  }
  bool has(uint16_t channel) const { return (bytes_[(channel - 1) / 8] & bit(channel)) != 0; }
  /// Bit n of byte k is channel 8 k + n + 1. Shape: kMaxChannels / 8 bytes.
  const uint8_t* bytes() const { return bytes_; }

 private:
  static uint8_t bit(uint16_t channel) { return static_cast<uint8_t>(1u << ((channel - 1) % 8)); }
  uint8_t bytes_[(kMaxChannels + 7) / 8] = {};
};

/// How all switches of the front end are to be. A channel is never in source and sink at once.
struct Setting {
  ChannelBits source;
  ChannelBits sink;
  ChannelBits loaded;
  wire::Load load = wire::Load::none;
  wire::Level level = wire::Level::off;
  uint8_t range = 1;  ///< 1 to wire::kRangeCount
};

class Hal {
 public:
  /// Fills in channels, sets, levels, ranges, gains, loads, converter, steps, features and window;
  /// the core fills in the rest, and lowers `channels` to kMaxChannels.
  virtual void describe(wire::Ability& ability) const = 0;

  /// Unit id and firmware text.
  virtual void identify(wire::Identity& identity) const = 0;

  /// Opens what is to be open, then closes what is to be closed; sets level and range.
  virtual void apply(const Setting& setting) = 0;

  /// Opens every switch, loads too, and takes the source to 0 V.
  virtual void open_all() = 0;

  /// Connects the sense side between two channels and returns when the switches themselves are at
  /// rest; `minus` may be wire::kInstrumentZero.
  virtual void select(uint16_t plus, uint16_t minus) = 0;

  /// One conversion of the sense voltage: signed code of `converter_bits`, held at the ends when
  /// out of range. Takes its time (tens to hundreds of microseconds).
  virtual int16_t read_sense(wire::Gain gain) = 0;

  /// One conversion of the voltage across the range's reference resistor in the sink leg.
  virtual int16_t read_current(wire::Gain gain) = 0;

  /// Microseconds of measuring; wraps.
  virtual uint32_t now_us() = 0;

  /// Returns when so many microseconds of measuring have passed: at most kWaitUs, since nobody
  /// looks after the line meanwhile.
  virtual void wait_us(uint32_t us) = 0;

  /// Milliseconds on the host's side of the world, for the second of silence; wraps. On hardware
  /// both clocks are one; a simulation's measuring time does not pass by itself.
  virtual uint32_t link_ms() = 0;

  /// Presses of the button since the start, bounces left out; wraps. Without a button: 0.
  virtual uint8_t presses() { return 0; }

  /// From now on until the next apply() or open_all() a latch counts the falls of the current in
  /// the sink leg by a 16th or more, against its own average over about 1 ms, that last 2 us or
  /// longer. Only where describe() names an edge latch.
  virtual void watch_edges() {}

  /// So many since the start; wraps. Without a latch: 0.
  virtual uint16_t edges() { return 0; }

  /// Sends all of these bytes, waiting for room if it must. Shape: at most wire::kFrameBytes.
  virtual void emit(const uint8_t* bytes, size_t count) = 0;

 protected:
  ~Hal() = default;  // never deleted through this class
};

}  // namespace core
}  // namespace padwalk
