// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/bench_hal.hpp"

#include <algorithm>
#include <cmath>

namespace padwalk::simulated {

namespace {

constexpr std::uint32_t kConversionUs = 50;
constexpr std::uint32_t kSwitchUs = 20;
constexpr std::uint16_t kWindowBytes = 2048;
// The edge latch, as hal.hpp has it.
constexpr std::uint32_t kEdgeUs = 2;
constexpr double kAverageUs = 1000;
constexpr double kFallen = 15.0 / 16;
constexpr double kRisen = 31.0 / 32;
constexpr std::string_view kFirmware = "padwalk core 1.0";

/// A tester has one channel at least and as many as the core can number at most.
Circuit with_leads(Circuit circuit, std::size_t channels) {
  circuit.leads.resize(channels, {kNoNode, kNoContactOhm});
  return circuit;
}

template <class Text>
void copy_text(std::string_view from, Text& to) {
  to.size = 0;
  for (const char character : from.substr(0, Text::capacity())) {
    to.data[to.size++] = character >= 0x20 && character < 0x7F ? character : '?';
  }
}

}  // namespace

BenchHal::BenchHal(Circuit circuit, std::string unit, Emit emit)
    : channels_(std::clamp<std::size_t>(circuit.leads.size(), 1, core::kMaxChannels)),
      unit_(std::move(unit)),
      emit_(std::move(emit)),
      bench_(std::make_unique<Bench>(with_leads(std::move(circuit), channels_))),
      random_(bench_->circuit().random) {}

void BenchHal::set_circuit(Circuit circuit) {
  const std::lock_guard lock(next_mutex_);
  next_ = with_leads(std::move(circuit), channels_);
}

void BenchHal::describe(wire::Ability& ability) const {
  ability.channels = ability.max_source = ability.max_sink = static_cast<uint16_t>(channels_);
  ability.levels = 1u << static_cast<unsigned>(wire::Level::off) |
                   1u << static_cast<unsigned>(wire::Level::low) |
                   1u << static_cast<unsigned>(wire::Level::high);
  ability.ranges = (1u << wire::kRangeCount) - 1;
  ability.gains = 0xF;
  ability.loads = 7;
  ability.converter_bits = kConverterBits;
  ability.low_step_nv = kLowStepNanovolt;
  ability.high_step_nv = kHighStepNanovolt;
  ability.features = wire::kDifferential | wire::kEdgeLatch | wire::kButton;
  ability.window_bytes = kWindowBytes;
}

void BenchHal::identify(wire::Identity& identity) const {
  copy_text(unit_, identity.unit);
  copy_text(kFirmware, identity.firmware);
}

void BenchHal::apply(const core::Setting& setting) {
  {
    const std::lock_guard lock(next_mutex_);
    if (next_) {
      seatings_ += next_->leads_stay ? 0 : 1;
      bench_ = std::make_unique<Bench>(*std::move(next_), seatings_);
      next_.reset();
    }
  }
  latching_ = false;
  bench_->apply(setting);
  driven_high_ = setting.level == wire::Level::high;
  wait_us(kSwitchUs);
  const std::uint8_t* source = setting.source.bytes();
  const bool any_source = std::any_of(source, source + core::kMaxChannels / 8,
                                      [](std::uint8_t byte) { return byte != 0; });
  if (setting.level != wire::Level::off && any_source) {
    ++driven_settings_;
  }
}

void BenchHal::open_all() {
  apply(core::Setting());
}

void BenchHal::select(uint16_t plus, uint16_t minus) {
  plus_ = plus;
  minus_ = minus;
  wait_us(kSwitchUs);
}

int16_t BenchHal::read_sense(wire::Gain gain) {
  wait_us(kConversionUs);
  return convert(
      bench_->lead_volt(plus_) - (minus_ == wire::kInstrumentZero ? 0 : bench_->lead_volt(minus_)),
      gain);
}

int16_t BenchHal::read_current(wire::Gain gain) {
  wait_us(kConversionUs);
  return convert(bench_->reference_volt(), gain);
}

void BenchHal::wait_us(uint32_t microseconds) {
  now_us_ += microseconds;
  if (latching_ && !bench_->at_rest()) {
    look_for_edges(microseconds);
  } else {
    bench_->advance(1e-6 * microseconds);
  }
}

void BenchHal::watch_edges() {
  latching_ = true;
  fallen_ = false;
  average_volt_ = bench_->reference_volt();
}

void BenchHal::look_for_edges(std::uint32_t microseconds) {
  for (std::uint32_t left = microseconds; left > 0;) {
    const std::uint32_t step = std::min(left, kEdgeUs);
    left -= step;
    bench_->advance(1e-6 * step);
    const double volt = bench_->reference_volt();
    const bool falls = !fallen_ && volt < kFallen * average_volt_;
    edges_ = static_cast<std::uint16_t>(edges_ + (falls ? 1 : 0));
    fallen_ = falls || (fallen_ && volt < kRisen * average_volt_);
    average_volt_ += (volt - average_volt_) * step / kAverageUs;
  }
}

int16_t BenchHal::convert(double volt, wire::Gain gain) {
  const Electronics& electronics = bench_->circuit().electronics;
  if (electronics.noise_volt > 0) {
    volt += electronics.noise_volt * noise_(random_);
  }
  const auto which = static_cast<std::size_t>(gain);
  const double step = (driven_high_ ? kHighStepNanovolt : kLowStepNanovolt) * 1e-9;
  const double code = (volt + electronics.offset_volt) * wire::kGainFactor[which] *
                      (1 + electronics.gain_error[which - 1]) / step;
  constexpr double kTop = (1 << (kConverterBits - 1)) - 1;
  return static_cast<int16_t>(std::lround(std::clamp(code, -kTop - 1, kTop)));
}

uint32_t BenchHal::link_ms() {
  return static_cast<uint32_t>(std::chrono::duration_cast<std::chrono::milliseconds>(
                                   std::chrono::steady_clock::now() - start_)
                                   .count());
}

}  // namespace padwalk::simulated
