// SPDX-License-Identifier: MIT
//
// The smallest program around the core for an 8-bit microcontroller, to link it and to see how much
// flash and RAM it takes. Its front end is a handful of bytes in memory: no tester to flash.
#include "firmware-host/core/tester_core.hpp"

extern "C" void __cxa_pure_virtual() {
  for (;;) {
  }
}

namespace {

volatile uint8_t registers[16];

class RegisterHal final : public padwalk::core::Hal {
 public:
  void describe(padwalk::wire::Ability& ability) const override {
    ability.channels = padwalk::core::kMaxChannels;
    ability.levels = 3;
    ability.ranges = 15;
    ability.gains = 15;
  }
  void identify(padwalk::wire::Identity&) const override {}
  void apply(const padwalk::core::Setting& setting) override {
    registers[0] = setting.range;
    for (uint8_t i = 0; i < padwalk::core::kMaxChannels / 8; ++i) {
      registers[1] = setting.source.bytes()[i];
      registers[2] = setting.sink.bytes()[i];
      registers[3] = setting.loaded.bytes()[i];
    }
  }
  void open_all() override { registers[0] = 0; }
  void select(uint16_t plus, uint16_t minus) override {
    registers[4] = static_cast<uint8_t>(plus);
    registers[5] = static_cast<uint8_t>(minus);
  }
  int16_t read_sense(padwalk::wire::Gain) override { return registers[6]; }
  int16_t read_current(padwalk::wire::Gain) override { return registers[7]; }
  uint32_t now_us() override { return registers[8]; }
  void wait_us(uint32_t us) override { registers[8] = static_cast<uint8_t>(us); }
  uint32_t link_ms() override { return registers[9]; }
  void emit(const uint8_t* bytes, size_t count) override {
    for (size_t i = 0; i < count; ++i) {
      registers[10] = bytes[i];
    }
  }
};

RegisterHal hal;
padwalk::core::TesterCore tester(hal);

}  // namespace

int main() {
  for (;;) {
    const uint8_t byte = registers[11];
    tester.receive(&byte, 1);
    tester.poll();
  }
}
