// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/bench_hal.hpp"

#include <algorithm>
#include <cmath>

namespace padwalk::simulated {

namespace {

constexpr std::uint32_t kConversionUs = 50;
constexpr std::uint32_t kSwitchUs = 20;
constexpr std::uint16_t kWindowBytes = 2048;
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
  ability.features = wire::kDifferential;
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
      bench_ = std::make_unique<Bench>(*std::move(next_));
      next_.reset();
    }
  }
  bench_->apply(setting);
  driven_high_ = setting.level == wire::Level::high;
  now_us_ += kSwitchUs;
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
  sensed_volt_ =
      bench_->lead_volt(plus) - (minus == wire::kInstrumentZero ? 0 : bench_->lead_volt(minus));
  now_us_ += kSwitchUs;
}

int16_t BenchHal::read_sense(wire::Gain gain) {
  return convert(sensed_volt_, gain);
}

int16_t BenchHal::read_current(wire::Gain gain) {
  return convert(bench_->reference_volt(), gain);
}

int16_t BenchHal::convert(double volt, wire::Gain gain) {
  now_us_ += kConversionUs;
  const double sigma = bench_->circuit().electronics.noise_volt;
  if (sigma > 0) {
    volt += sigma * noise_(random_);
  }
  const double step = (driven_high_ ? kHighStepNanovolt : kLowStepNanovolt) * 1e-9;
  const double code = volt * wire::kGainFactor[static_cast<std::size_t>(gain)] / step;
  constexpr double kTop = (1 << (kConverterBits - 1)) - 1;
  return static_cast<int16_t>(std::lround(std::clamp(code, -kTop - 1, kTop)));
}

uint32_t BenchHal::link_ms() {
  return static_cast<uint32_t>(std::chrono::duration_cast<std::chrono::milliseconds>(
                                   std::chrono::steady_clock::now() - start_)
                                   .count());
}

}  // namespace padwalk::simulated
