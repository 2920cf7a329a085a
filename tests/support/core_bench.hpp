// SPDX-License-Identifier: MIT
//
// The core on hardware of memory, and the smallest host that can speak to it.
#pragma once

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "firmware-host/core/tester_core.hpp"

namespace padwalk::tests {

using Set = std::vector<std::uint16_t>;

/// Hardware with a memory and clocks turned by hand. Channels of one `net` conduct.
class FakeHal final : public core::Hal {
 public:
  wire::Ability ability;
  std::map<int, int> net;                           // channel -> net; its own if absent
  std::function<int(int plus, int minus)> at_rest;  // overrides sense at x1
  std::uint32_t us = 4294960000u;                   // wraps during the first readings
  std::uint32_t ms = 4294967000u;
  std::uint32_t restless_us = 0;  // codes creep for so long after a setting
  std::vector<std::string> log;
  std::vector<std::uint32_t> applied_at;  // us of every setting
  std::vector<std::uint32_t> sensed_at;   // us of every conversion of the sense side
  std::vector<std::uint8_t> out;
  core::Setting setting;
  int conversions = 0;
  std::uint8_t pressed = 0;

  FakeHal() {
    ability.channels = 64;
    ability.max_source = 32;
    ability.max_sink = 64;
    ability.levels = 7;
    ability.ranges = 31;
    ability.gains = 15;
    ability.loads = 7;
    ability.converter_bits = 10;
    ability.features = wire::kDifferential;
    ability.window_bytes = 1024;
  }

  std::uint8_t presses() override { return pressed; }
  void describe(wire::Ability& filled) const override { filled = ability; }
  void identify(wire::Identity& identity) const override {
    identity.unit.size = 4;
    std::copy_n("fake", 4, identity.unit.data);
  }
  void apply(const core::Setting& wanted) override {
    setting = wanted;
    applied_us_ = us;
    applied_at.push_back(us);
    log.push_back("apply " + text(wanted.source) + ">" + text(wanted.sink) + " load " +
                  text(wanted.loaded) + " level " + std::to_string(int(wanted.level)) + " range " +
                  std::to_string(wanted.range));
  }
  void open_all() override {
    setting = core::Setting();
    log.push_back("open");
  }
  void select(std::uint16_t plus, std::uint16_t minus) override {
    plus_ = plus;
    minus_ = minus;
    log.push_back("select " + std::to_string(plus) + "," + std::to_string(minus));
  }
  std::int16_t read_sense(wire::Gain gain) override {
    sensed_at.push_back(us);
    us += 100;
    ++conversions;
    const int x1 = at_rest ? at_rest(plus_, minus_) : (joined() ? 2 : 180);
    return clipped(x1 * wire::kGainFactor[int(gain)] + creep());
  }
  std::int16_t read_current(wire::Gain gain) override {
    us += 100;
    return clipped((joined() ? 9 : 0) * wire::kGainFactor[int(gain)]);
  }
  std::uint32_t now_us() override { return us; }
  void wait_us(std::uint32_t wanted) override {
    REQUIRE(wanted <= core::kWaitUs);
    us += wanted;
  }
  std::uint32_t link_ms() override { return ms; }
  void emit(const std::uint8_t* bytes, std::size_t count) override {
    REQUIRE(count <= wire::kFrameBytes);
    out.insert(out.end(), bytes, bytes + count);
  }

  std::size_t count(const std::string& beginning) const {
    return static_cast<std::size_t>(
        std::count_if(log.begin(), log.end(), [&](const std::string& line) {
          return line.compare(0, beginning.size(), beginning) == 0;
        }));
  }

 private:
  std::int16_t clipped(int code) const {
    const int top = (1 << (ability.converter_bits - 1)) - 1;
    return static_cast<std::int16_t>(std::clamp(code, -top - 1, top));
  }
  int creep() const {
    const std::uint32_t since = us - applied_us_;
    return since < restless_us ? -static_cast<int>((restless_us - since) / 50) : 0;
  }
  int net_of(int channel) const {
    const auto found = net.find(channel);
    return found == net.end() ? 1000 + channel : found->second;
  }
  bool joined() const {
    for (int a = 1; a <= ability.channels; ++a) {
      for (int b = 1; setting.source.has(a) && b <= ability.channels; ++b) {
        if (setting.sink.has(b) && net_of(a) == net_of(b)) {
          return true;
        }
      }
    }
    return false;
  }
  std::string text(const core::ChannelBits& bits) const {
    std::string list;
    for (std::uint16_t channel = 1; channel <= ability.channels; ++channel) {
      if (bits.has(channel)) {
        list += (list.empty() ? "" : ",") + std::to_string(channel);
      }
    }
    return list;
  }

  int plus_ = 0;
  int minus_ = 0;
  std::uint32_t applied_us_ = 0;
};

/// The smallest host: sends messages, keeps the replies.
struct CoreBench {
  FakeHal hal;
  std::unique_ptr<core::TesterCore> tester = std::make_unique<core::TesterCore>(hal);
  wire::FrameParser parser;
  std::uint16_t session = 77;
  std::uint8_t sequence = 0;
  std::vector<wire::ProgramState> states;
  std::vector<wire::Results> results;
  std::vector<wire::Change> changes;
  std::vector<wire::Error> errors;
  std::vector<wire::HelloReply> hellos;
  std::vector<wire::Ability> abilities;
  std::vector<wire::Identity> identities;

  explicit CoreBench(bool greeted = true) {
    if (greeted) {
      hello();
      hal.log.clear();
    }
  }

  template <class M>
  std::vector<std::uint8_t> bytes_of(const M& message) {
    std::uint8_t body[wire::kMessageBytes];
    std::vector<std::uint8_t> frame(wire::kFrameBytes);
    const std::size_t size = wire::encode(message, body);
    frame.resize(wire::encode_frame(session, ++sequence, body, size, frame.data()));
    return frame;
  }
  template <class M>
  void send(const M& message) {
    feed(bytes_of(message));
    if (!hal.out.empty()) {
      collect(true);
    }
  }
  void feed(const std::vector<std::uint8_t>& bytes) { tester->receive(bytes.data(), bytes.size()); }
  void collect(bool is_reply = false) {
    for (const std::uint8_t byte : hal.out) {
      const auto answer = parser.push(byte);
      REQUIRE(answer != wire::FrameParser::Answer::bad);
      if (answer == wire::FrameParser::Answer::frame) {
        const wire::Frame& frame = parser.frame();
        CHECK(frame.session == session);
        CHECK(frame.sequence == (is_reply ? sequence : 0));
        const std::size_t before = total();
        keep(frame, &states);
        keep(frame, &results);
        keep(frame, &changes);
        keep(frame, &errors);
        keep(frame, &hellos);
        keep(frame, &abilities);
        keep(frame, &identities);
        REQUIRE(total() == before + 1);
      }
    }
    hal.out.clear();
  }
  template <class M>
  static void keep(const wire::Frame& frame, std::vector<M>* list) {
    M message;
    if (wire::decode(frame.message, frame.message_size, &message)) {
      list->push_back(message);
    }
  }
  std::size_t total() const {
    return states.size() + results.size() + changes.size() + errors.size() + hellos.size() +
           abilities.size() + identities.size();
  }

  void hello(std::uint8_t version = wire::kVersion, std::uint32_t signature = wire::kSignature) {
    wire::Hello message;
    message.version = version;
    message.signature = signature;
    send(message);
  }
  void upload(std::uint16_t program, const std::vector<std::uint8_t>& bytes) {
    for (std::size_t at = 0; at < bytes.size(); at += 48) {
      wire::Part part;
      part.program = program;
      part.offset = static_cast<std::uint16_t>(at);
      part.bytes.size = static_cast<std::uint8_t>(std::min<std::size_t>(48, bytes.size() - at));
      std::copy_n(bytes.begin() + static_cast<std::ptrdiff_t>(at), part.bytes.size,
                  part.bytes.data);
      send(part);
    }
  }
  static wire::Run run_of(std::uint16_t program, const std::vector<std::uint8_t>& bytes) {
    wire::Run run;
    run.program = program;
    run.length = static_cast<std::uint16_t>(bytes.size());
    run.checksum = wire::crc32c(bytes.data(), bytes.size());
    return run;
  }
  wire::Status try_program(std::uint16_t program, const std::vector<std::uint8_t>& bytes,
                           std::uint8_t permit = 0) {
    upload(program, bytes);
    wire::Run run = run_of(program, bytes);
    run.permit = permit;
    send(run);
    return states.back().status;
  }
  void work() {
    int polls = 0;
    while (tester->poll()) {
      REQUIRE(++polls < 1000000);
    }
    collect();
  }
  /// All results that came for a program; checks that there is no gap.
  std::vector<wire::Result> results_of(std::uint16_t program, bool* last = nullptr) const {
    std::vector<wire::Result> all;
    for (const wire::Results& frame : results) {
      if (frame.program != program) {
        continue;
      }
      REQUIRE(frame.first <= all.size());
      all.resize(frame.first);
      for (std::size_t at = 0; at + wire::kResultBytes <= frame.packed.size;
           at += wire::kResultBytes) {
        all.push_back(wire::unpack_result(frame.packed.data + at));
      }
      if (last != nullptr) {
        *last = frame.last != 0;
      }
    }
    return all;
  }
  void ask(std::uint16_t program, std::uint16_t first) {
    wire::Ask message;
    message.program = program;
    message.first = first;
    send(message);
  }
  void abort(std::uint16_t program) {
    wire::Abort message;
    message.program = program;
    send(message);
  }
};

inline wire::StepHead head(wire::Level level = wire::Level::low, std::uint8_t range = 1) {
  wire::StepHead made;
  made.level = level;
  made.range = range;
  made.settle_limit_ticks = 1000;
  return made;
}

inline wire::Channels view(const Set& set) {
  wire::Channels channels;
  channels.first = set.data();
  channels.count = set.size();
  return channels;
}

struct Step {
  wire::StepHead head = tests::head();
  Set source = {1};
  Set sink = {2};
  Set loaded = {};
  std::vector<wire::Pair> pairs = {{1, 2}};
};

inline std::vector<std::uint8_t> program_of(const std::vector<Step>& steps) {
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  for (const Step& step : steps) {
    REQUIRE(writer.add_setting(step.head, view(step.source), view(step.sink), view(step.loaded),
                               step.pairs.data(), step.pairs.size()));
  }
  bytes.resize(writer.size());
  return bytes;
}

inline std::vector<std::uint8_t> walk_of(std::uint16_t source, const Set& sinks,
                                         const wire::StepHead& of = head()) {
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  REQUIRE(writer.add_walk(of, source, view(sinks), {}));
  bytes.resize(writer.size());
  return bytes;
}

}  // namespace padwalk::tests
