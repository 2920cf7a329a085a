// SPDX-License-Identifier: MIT
//
// A tester of two channels on one pair: a resistor, a capacitor and an EMF side by side, solved in
// closed form over time, with hum in the sink leg. For tests of the session's rules that need time
// to pass; it shares nothing with the simulated bench.
#pragma once

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <memory>
#include <numbers>
#include <thread>
#include <utility>
#include <vector>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/transport/byte_stream.hpp"

namespace padwalk::tests {

/// Units: ohm, farad, volt, ampere. What is measured may be changed at any time.
class PairHal final : public core::Hal {
 public:
  double ohm = std::numeric_limits<double>::infinity();
  double farad = 0;
  double emf_volt = 0;
  double emf_ohm = std::numeric_limits<double>::infinity();
  double hum_ampere = 0;   ///< amplitude, picked up by each lead
  double offset_volt = 0;  ///< of both converters
  double volt = 0;         ///< across the pair, lead 1 above lead 2
  int spikes = 0;          ///< so many averages with pauses get one sample out of range
  int high_settings = 0;   ///< settings that drove 5 V
  std::vector<std::uint8_t> driven_ranges;  ///< of each setting that drove
  std::deque<std::vector<std::uint8_t>> out;

  void describe(wire::Ability& ability) const override {
    ability.channels = ability.max_source = ability.max_sink = 2;
    ability.levels = 7;
    ability.ranges = 31;
    ability.gains = 15;
    ability.loads = 7;
    ability.converter_bits = 12;
    ability.low_step_nv = kLowStep;
    ability.high_step_nv = kHighStep;
    ability.features = wire::kDifferential;
    ability.window_bytes = 2048;
  }
  void identify(wire::Identity& identity) const override {
    identity.unit.size = 4;
    std::copy_n("pair", 4, identity.unit.data);
  }
  void apply(const core::Setting& wanted) override {
    advance();
    setting_ = wanted;
    paused_ = false;
    const bool drives = wanted.source.has(1) || wanted.source.has(2);
    high_settings += drives && wanted.level == wire::Level::high ? 1 : 0;
    if (drives && wanted.level != wire::Level::off) {
      driven_ranges.push_back(wanted.range);
    }
    pass(20);
  }
  void open_all() override { apply(core::Setting()); }
  void select(std::uint16_t plus, std::uint16_t minus) override {
    plus_ = plus;
    minus_ = minus;
    paused_ = false;
    pass(20);
  }
  std::int16_t read_sense(wire::Gain gain) override {
    pass(50);
    const double seen = lead(plus_) - (minus_ == wire::kInstrumentZero ? 0 : lead(minus_));
    if (paused_ && spikes > 0) {
      --spikes;
      paused_ = false;
      return convert(99, gain);
    }
    return convert(seen + offset_volt, gain);
  }
  std::int16_t read_current(wire::Gain gain) override {
    pass(50);
    const double flows = joined() ? (source() - volt * sign()) / loop_ohm() + hum() : 0;
    return convert(flows * reference() + offset_volt, gain);
  }
  std::uint32_t now_us() override { return static_cast<std::uint32_t>(us_); }
  void wait_us(std::uint32_t us) override {
    pass(us);
    paused_ = true;
  }
  std::uint32_t link_ms() override { return 0; }
  void emit(const std::uint8_t* bytes, std::size_t count) override {
    out.emplace_back(bytes, bytes + count);
  }
  double seconds() const { return us_ * 1e-6; }

 private:
  static constexpr std::uint32_t kLowStep = 1'074'219;
  static constexpr std::uint32_t kHighStep = 5'000'000;

  bool joined() const {
    return (setting_.source.has(1) && setting_.sink.has(2)) ||
           (setting_.source.has(2) && setting_.sink.has(1));
  }
  double sign() const { return setting_.source.has(1) ? 1 : -1; }
  double source() const {
    return wire::kLevelMillivolt[static_cast<std::size_t>(setting_.level)] * 1e-3;
  }
  double reference() const { return wire::kRanges[setting_.range - 1].reference_ohm; }
  double loop_ohm() const { return 2 * 475 + reference(); }
  double load_ohm() const { return setting_.load == wire::Load::ohm_1m ? 1e6 : 47e3; }
  bool loaded() const {
    return setting_.load != wire::Load::none && setting_.loaded.has(1) && setting_.loaded.has(2);
  }
  double hum() const { return hum_ampere * std::sin(2 * std::numbers::pi * 50 * us_ * 1e-6 + 0.4); }

  /// Of a lead against the instrument's 0 V.
  double lead(std::uint16_t channel) const {
    const double half = (channel == 1 ? 0.5 : -0.5) * volt;
    if (joined()) {
      return source() / 2 + half;
    }
    if (loaded()) {
      return half + hum() * load_ohm();
    }
    return half + (setting_.source.has(channel) ? source() : 0);
  }

  void pass(std::uint32_t us) {
    us_ += us;
    advance();
  }
  void advance() {
    const double seconds = (us_ - advanced_us_) * 1e-6;
    advanced_us_ = us_;
    const double loop = joined() ? 1 / loop_ohm() : loaded() ? 1 / (2 * load_ohm()) : 0;
    const double driven = joined() ? source() * sign() : 0;
    const double all = loop + 1 / ohm + 1 / emf_ohm;
    if (all == 0) {
      volt = farad > 0 ? volt : 0;
      return;
    }
    const double rest = (driven * loop + emf_volt / emf_ohm) / all;
    volt = farad > 0 ? rest + (volt - rest) * std::exp(-seconds * all / farad) : rest;
  }
  std::int16_t convert(double seen, wire::Gain gain) const {
    const double step = (setting_.level == wire::Level::high ? kHighStep : kLowStep) * 1e-9;
    const double code = seen * wire::kGainFactor[static_cast<std::size_t>(gain)] / step;
    return static_cast<std::int16_t>(std::lround(std::clamp(code, -2048.0, 2047.0)));
  }

  core::Setting setting_;
  std::uint16_t plus_ = 1;
  std::uint16_t minus_ = 0;
  bool paused_ = false;
  std::uint64_t us_ = 0;
  std::uint64_t advanced_us_ = 0;
};

/// The core on it as a byte stream.
class PairTester final : public transport::ByteStream {
 public:
  PairHal hal;

  bool write(std::span<const std::uint8_t> bytes) override {
    core_->receive(bytes.data(), bytes.size());
    return true;
  }
  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    while (hal.out.empty() && core_->poll()) {
    }
    if (hal.out.empty()) {
      std::this_thread::sleep_until(deadline);
      return {};
    }
    const std::vector<std::uint8_t> frame = std::move(hal.out.front());
    hal.out.pop_front();
    std::copy(frame.begin(), frame.end(), buffer.begin());
    return {transport::ReadOutcome::bytes, frame.size()};
  }
  std::string name() const override { return "memory"; }

 private:
  std::unique_ptr<core::TesterCore> core_ = std::make_unique<core::TesterCore>(hal);
};

}  // namespace padwalk::tests
