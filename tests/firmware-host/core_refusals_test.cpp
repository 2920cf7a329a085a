// SPDX-License-Identifier: MIT
//
// What the core must not do, whatever comes over the line.
#include <catch2/catch.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <random>
#include <vector>

#include "firmware-host/core/tester_core.hpp"
#include "tests/support/core_bench.hpp"

namespace core = padwalk::core;
namespace wire = padwalk::wire;
using padwalk::tests::CoreBench;
using padwalk::tests::head;
using padwalk::tests::program_of;
using padwalk::tests::Set;
using padwalk::tests::Step;
using padwalk::tests::view;
using padwalk::tests::walk_of;
using wire::Phase;
using wire::Status;

TEST_CASE("what the tester cannot do or must not do is refused whole, with the step's place",
          "[core]") {
  struct Row {
    const char* what;
    Status status;
    std::function<void(Step&)> spoil;
  };
  const std::vector<Row> rows = {
      {"channel 0", Status::bad_channel, [](Step& s) { s.source = {0}; }},
      {"channel 65", Status::bad_channel, [](Step& s) { s.sink = {65}; }},
      {"channel 65535", Status::bad_channel, [](Step& s) { s.loaded = {65535}; }},
      {"a channel in both sets", Status::bad_channel,
       [](Step& s) {
         s.sink = {3, 1};
       }},
      {"sense of channel 65", Status::bad_channel,
       [](Step& s) {
         s.pairs = {{65, 1}};
       }},
      {"sense against channel 65", Status::bad_channel,
       [](Step& s) {
         s.pairs = {{1, 65}};
       }},
      {"sense of 0 V", Status::bad_channel,
       [](Step& s) {
         s.pairs = {{0, 1}};
       }},
      {"sense of a channel against itself", Status::bad_channel,
       [](Step& s) {
         s.pairs = {{3, 3}};
       }},
      {"33 sources", Status::set_too_large,
       [](Step& s) {
         s.source.clear();
         for (std::uint16_t c = 10; c < 43; ++c) {
           s.source.push_back(c);
         }
       }},
      {"no pair", Status::bad_step, [](Step& s) { s.pairs.clear(); }},
      {"range 5 at 0.2 V", Status::bad_range, [](Step& s) { s.head.range = 5; }},
      {"range 2 where it is not built", Status::bad_range, [](Step& s) { s.head.range = 2; }},
      {"range 6", Status::bad_step, [](Step& s) { s.head.range = 6; }},
      {"a level beyond the last", Status::bad_step,
       [](Step& s) { s.head.level = static_cast<wire::Level>(3); }},
      {"5 V without permit", Status::high_level_refused,
       [](Step& s) { s.head = head(wire::Level::high, 5); }},
      {"loaded by nothing", Status::bad_load, [](Step& s) { s.loaded = {3}; }},
      {"a load that is not built", Status::bad_load,
       [](Step& s) { s.head.load = wire::Load::ohm_47k; }},
      {"a gain that is not built", Status::bad_gain, [](Step& s) { s.head.gain = wire::Gain::x5; }},
  };
  for (const Row& row : rows) {
    INFO(row.what);
    CoreBench bench(false);
    bench.hal.ability.ranges = 0x1F & ~2;
    bench.hal.ability.loads = 3;
    bench.hal.ability.gains = 3 | 8;
    bench.tester = std::make_unique<core::TesterCore>(bench.hal);
    bench.hello();
    bench.hal.log.clear();
    Step bad;
    row.spoil(bad);
    std::vector<std::uint8_t> bytes(core::kProgramBytes);
    wire::ProgramWriter writer(bytes.data(), bytes.size());
    REQUIRE(writer.add_walk(head(), 1, view({2}), {}));
    const std::size_t place = writer.size();
    REQUIRE(writer.add_setting(bad.head, view(bad.source), view(bad.sink), view(bad.loaded),
                               bad.pairs.data(), bad.pairs.size()));
    bytes.resize(writer.size());
    CHECK((bench.try_program(1, bytes) == row.status));
    CHECK((bench.states.back().phase == Phase::failed));
    CHECK(bench.states.back().at == place);
    bench.work();
    CHECK(bench.hal.log.empty());
    REQUIRE(bench.results.size() == 1);
    CHECK(bench.results[0].last == 1);
    CHECK(bench.results[0].packed.size == 0);
  }
}

TEST_CASE("5 V is driven with the permit, and levels that are not built never", "[core]") {
  CoreBench bench;
  Step high;
  high.head = head(wire::Level::high, 5);
  CHECK((bench.try_program(1, program_of({high}), wire::kPermitHighLevel) == Status::ok));
  bench.work();
  CHECK(bench.hal.log.front() == "apply 1>2 load  level 2 range 5");
  bench.hal.ability.levels = 3;
  bench.tester = std::make_unique<core::TesterCore>(bench.hal);
  bench.hello();
  CHECK((bench.try_program(1, program_of({high}), wire::kPermitHighLevel) == Status::bad_level));
}

TEST_CASE("more results or bytes than the tester keeps are refused", "[core]") {
  CoreBench bench;
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  Set sinks;
  for (std::uint16_t channel = 2; channel <= 64; ++channel) {
    sinks.push_back(channel);
  }
  while (writer.results() + sinks.size() <= core::kProgramResults) {
    REQUIRE(writer.add_walk(head(), 1, view(sinks), {}));
  }
  std::vector<std::uint8_t> most(bytes.begin(),
                                 bytes.begin() + static_cast<std::ptrdiff_t>(writer.size()));
  const std::size_t kept = writer.results();
  REQUIRE(writer.add_walk(head(), 1, view(sinks), {}));
  bytes.resize(writer.size());
  CHECK((bench.try_program(1, bytes) == Status::too_many_results));
  CHECK((bench.try_program(2, most) == Status::ok));
  bench.work();
  CHECK(bench.results_of(2).size() == kept);

  const std::vector<std::uint8_t> long_one(core::kProgramBytes + 1, 0);
  bench.upload(3, long_one);
  CHECK((bench.states.back().status == Status::program_too_long));
  CHECK(bench.states.back().received <= core::kProgramBytes);

  bench.upload(5, most);
  wire::Run run = CoreBench::run_of(5, most);
  run.checksum ^= 1;
  bench.send(run);
  CHECK((bench.states.back().status == Status::bad_checksum));
}

TEST_CASE("a tester of few channels that senses against 0 V alone refuses other pairs", "[core]") {
  CoreBench bench(false);
  bench.hal.ability.features = 0;
  bench.tester = std::make_unique<core::TesterCore>(bench.hal);
  bench.hello();
  CHECK((bench.try_program(1, program_of({Step()})) == Status::bad_channel));
  Step single;
  single.pairs = {{1, 0}};
  CHECK((bench.try_program(2, program_of({single})) == Status::ok));
}

TEST_CASE("requests cut short at every byte are refused and the core goes on", "[core]") {
  CoreBench bench;
  struct Cutter {
    CoreBench& bench;
    std::size_t refused = 0;
    void cut(const std::vector<std::uint8_t>& message) {
      for (std::size_t size = 1; size < message.size(); ++size) {
        std::vector<std::uint8_t> frame(wire::kFrameBytes);
        frame.resize(wire::encode_frame(bench.session, ++bench.sequence, message.data(), size,
                                        frame.data()));
        bench.feed(frame);
        bench.collect(true);
        ++refused;
      }
    }
  } cutter{bench};
  const auto encoded = [](const auto& message) {
    std::vector<std::uint8_t> bytes(wire::kMessageBytes);
    bytes.resize(wire::encode(message, bytes.data()));
    return bytes;
  };
  wire::Part part;
  part.bytes.size = 48;
  cutter.cut(encoded(part));
  cutter.cut(encoded(wire::Run()));
  cutter.cut(encoded(wire::Monitor()));
  cutter.cut(encoded(wire::Ask()));
  cutter.cut(encoded(wire::Abort()));
  CHECK(bench.errors.size() == cutter.refused);
  for (const wire::Error& error : bench.errors) {
    CHECK((error.status == Status::bad_message));
  }
  CHECK(bench.states.empty());
  bench.hello();
  CHECK((bench.try_program(1, walk_of(1, {2})) == Status::ok));
}

TEST_CASE("every program cut at every byte, and every byte of it changed, is refused or runs",
          "[core]") {
  CoreBench bench;
  Step step;
  step.loaded = {9, 12, 20};
  step.head.load = wire::Load::ohm_1m;
  const auto whole = program_of({step, Step()});
  std::uint16_t number = 0;
  std::size_t refused = 0;
  for (std::size_t cut = 1; cut < whole.size(); ++cut) {
    const std::vector<std::uint8_t> head_part(whole.begin(),
                                              whole.begin() + static_cast<std::ptrdiff_t>(cut));
    refused += bench.try_program(++number, head_part) == Status::bad_step ? 1 : 0;
    bench.work();
  }
  CHECK(refused == whole.size() - 2);  // the whole first step alone is a program
  std::mt19937 random(31);
  for (std::size_t at = 0; at < whole.size(); ++at) {
    for (int round = 0; round < 8; ++round) {
      auto changed = whole;
      changed[at] = static_cast<std::uint8_t>(random());
      bench.try_program(++number, changed, 1);
      bench.work();
    }
  }
}

TEST_CASE("100000 random frames of a session leave the core sound", "[core]") {
  CoreBench bench;
  std::mt19937 random(37);
  const auto bytes = program_of({Step(), Step()});
  std::size_t ran = 0;
  for (int round = 0; round < 100000; ++round) {
    std::uint8_t message[wire::kMessageBytes];
    const std::size_t size = 1 + random() % wire::kMessageBytes;
    for (std::uint8_t& byte : message) {
      // Small numbers are what most fields take.
      byte = static_cast<std::uint8_t>(random() % 3 == 0 ? random() : random() % 4);
    }
    message[0] = static_cast<std::uint8_t>(random() % 10);
    if (message[0] == 8 && round % 16 != 0) {
      message[0] = 4;  // an abort makes many numbers unusable
    }
    std::uint8_t frame[wire::kFrameBytes];
    const std::size_t length = wire::encode_frame(77, 1, message, size, frame);
    bench.tester->receive(frame, length);
    for (unsigned polls = random() % 4; polls > 0; --polls) {
      bench.tester->poll();
    }
    bench.hal.ms += random() % 50 == 0 ? 1500 : 1;
    bench.hal.out.clear();
    if (round % 100 == 0) {
      ran += bench.hal.count("apply");
      bench.hal.log.clear();
      // Now and then a host in earnest.
      bench.session = static_cast<std::uint16_t>(77 + round);
      bench.hello();
      bench.states.clear();
      bench.results.clear();
      REQUIRE((bench.try_program(1, bytes) == Status::ok));
      bench.work();
      REQUIRE(bench.results_of(1).size() == 2);
      bench.session = 77;
      bench.hello();
      bench.hellos.clear();
    }
  }
  CHECK(ran >= 2 * 999);
}

TEST_CASE("random bytes never move a switch", "[core]") {
  CoreBench bench;
  std::mt19937 random(41);
  std::vector<std::uint8_t> bytes(100000);
  for (std::uint8_t& byte : bytes) {
    byte = static_cast<std::uint8_t>(random() % 8 == 0 ? 0 : random());
  }
  bench.feed(bytes);
  bench.work();
  CHECK(bench.hal.log.empty());
  CHECK(bench.total() == 1);  // the hello's reply
}
