// SPDX-License-Identifier: MIT
//
// The simulated tester's electronics as the firmware core sees them: a bench, a converter with
// steps, gains and noise, and a clock of measuring that costs no time. It knows no line.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <random>
#include <span>
#include <string>

#include "firmware-host/core/hal.hpp"
#include "firmware-host/simulated/bench.hpp"

namespace padwalk::simulated {

/// A code at x1 is a 1024th of 1.1 V at 0.2 V, which is 0.11 ohm in range 1 at x50, and 5 mV at
/// 5 V, which is 100 ohm in range 5. Source: the reference tester's ranges.
inline constexpr int kConverterBits = 12;
inline constexpr std::uint32_t kLowStepNanovolt = 1'074'219;
inline constexpr std::uint32_t kHighStepNanovolt = 5'000'000;

class BenchHal : public core::Hal {
 public:
  using Emit = std::function<void(std::span<const std::uint8_t>)>;

  /// `emit` takes what the tester says.
  BenchHal(Circuit circuit, std::string unit, Emit emit);
  virtual ~BenchHal() = default;

  /// Takes effect with the next setting; leads are cut or filled up to the tester's channels.
  /// Thread-safe.
  void set_circuit(Circuit circuit);

  /// Somebody presses the tester's button. Thread-safe.
  void press_button() { ++presses_; }

  /// Settings that drove anything so far. Thread-safe.
  std::uint64_t driven_settings() const { return driven_settings_; }

  void describe(wire::Ability& ability) const override;
  void identify(wire::Identity& identity) const override;
  void apply(const core::Setting& setting) override;
  void open_all() override;
  void select(uint16_t plus, uint16_t minus) override;
  int16_t read_sense(wire::Gain gain) override;
  int16_t read_current(wire::Gain gain) override;
  uint32_t now_us() override { return now_us_; }
  void wait_us(uint32_t microseconds) override;
  uint32_t link_ms() override;
  uint8_t presses() override { return presses_; }
  void watch_edges() override;
  uint16_t edges() override { return edges_; }
  void emit(const uint8_t* bytes, size_t count) override { emit_({bytes, count}); }

 private:
  int16_t convert(double volt, wire::Gain gain);
  void look_for_edges(std::uint32_t microseconds);

  const std::size_t channels_;
  std::string unit_;
  Emit emit_;
  std::unique_ptr<Bench> bench_;
  std::mutex next_mutex_;
  std::optional<Circuit> next_;
  std::mt19937 random_;
  std::normal_distribution<double> noise_;
  bool driven_high_ = false;
  std::uint16_t plus_ = 1;
  std::uint16_t minus_ = wire::kInstrumentZero;
  std::uint32_t seatings_ = 0;
  std::uint32_t now_us_ = 0;
  bool latching_ = false;
  bool fallen_ = false;      ///< the current lies below its average
  double average_volt_ = 0;  ///< across the reference
  std::uint16_t edges_ = 0;
  const std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
  std::atomic<std::uint64_t> driven_settings_ = 0;
  std::atomic<std::uint8_t> presses_ = 0;
};

}  // namespace padwalk::simulated
