// SPDX-License-Identifier: MIT
#include "firmware-host/session/programs.hpp"

#include <catch2/catch.hpp>
#include <random>

using namespace padwalk;
using session::Channel;
using session::Program;
using session::Sensing;

namespace {

wire::Ability small_tester() {
  wire::Ability ability;
  ability.channels = 64;
  ability.max_source = ability.max_sink = 64;
  ability.program_bytes = 384;
  ability.program_results = 64;
  return ability;
}

/// One sensed pair and the setting that it is sensed in, as a tester would see them.
struct Seen {
  std::vector<Channel> source;
  std::vector<Channel> sink;
  std::vector<Channel> loaded;
  Channel plus = 0;
  Channel minus = 0;
  std::uint8_t range = 0;
  std::uint8_t difference = 0;
  bool operator==(const Seen&) const = default;
};

std::vector<Channel> channels(wire::SetReader set) {
  std::vector<Channel> all;
  for (Channel channel = 0; set.next(&channel);) {
    all.push_back(channel);
  }
  return all;
}

void append(const Program& program, std::vector<Seen>& seen) {
  std::size_t settings = 0;
  std::size_t results = 0;
  for (std::size_t offset = 0; offset < program.bytes.size();) {
    wire::Step step;
    REQUIRE(wire::read_step(program.bytes.data(), program.bytes.size(), &offset, &step));
    const std::vector<Channel> source = channels(step.source);
    const std::vector<Channel> sink = channels(step.sink);
    const std::vector<Channel> loaded = channels(step.loaded);
    if (step.head.kind == wire::StepKind::walk) {
      for (const Channel walked : sink) {
        seen.push_back({source,
                        {walked},
                        loaded,
                        source.at(0),
                        walked,
                        step.head.range,
                        step.head.difference});
      }
      settings += sink.size() * (1u + step.head.difference);
      results += sink.size() * (1u + step.head.difference);
      continue;
    }
    settings += 1u + step.head.difference;
    for (wire::Pair pair; step.pairs.next(&pair);) {
      seen.push_back(
          {source, sink, loaded, pair.plus, pair.minus, step.head.range, step.head.difference});
      results += 1u + step.head.difference;
    }
  }
  CHECK(program.settings == settings);
  CHECK(program.results == results);
}

}  // namespace

TEST_CASE("any sensings come through in order, in programs that fit", "[session][programs]") {
  const wire::Ability ability = small_tester();
  for (std::uint32_t seed = 1; seed <= 200; ++seed) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    const auto channel = [&] { return static_cast<Channel>(1 + random() % 64); };
    const auto some = [&](std::size_t most) {
      std::vector<Channel> set;
      for (Channel each = 1; each <= 64 && set.size() < most; ++each) {
        if (random() % 3 == 0) {
          set.push_back(each);
        }
      }
      return set;
    };
    std::vector<Sensing> sensings;
    std::vector<Seen> expected;
    for (int k = 0; k < 60; ++k) {
      Sensing sensing;
      sensing.head.level = wire::Level::low;
      sensing.head.range = static_cast<std::uint8_t>(1 + random() % 2);
      sensing.head.difference = random() % 8 == 0 ? 1 : 0;  // seldom, so that there are walks
      if (random() % 4 != 0) {                              // a run of continuity readings
        sensing.source = {static_cast<Channel>(1 + random() % 2)};
        sensing.sink = {static_cast<Channel>(3 + random() % 60)};
        sensing.pairs = {{sensing.source[0], sensing.sink[0]}};
      } else {
        sensing.source = some(20);
        sensing.sink = some(20);
        sensing.loaded = some(64);
        for (auto pairs = 1 + random() % 150; pairs > 0; --pairs) {
          sensing.pairs.push_back(
              {channel(), random() % 3 == 0 ? channel() : wire::kInstrumentZero});
        }
      }
      for (const wire::Pair& pair : sensing.pairs) {
        expected.push_back({sensing.source, sensing.sink, sensing.loaded, pair.plus, pair.minus,
                            sensing.head.range, sensing.head.difference});
      }
      sensings.push_back(sensing);
    }
    std::vector<Seen> seen;
    for (const Program& program : session::pack(sensings, ability, "the tester")) {
      CHECK(program.bytes.size() <= ability.program_bytes);
      CHECK(program.results <= ability.program_results);
      append(program, seen);
    }
    CHECK(seen == expected);
  }
}

TEST_CASE("a setting that no program of the tester holds is said to be so", "[session][programs]") {
  wire::Ability ability = small_tester();
  ability.program_bytes = 16;
  Sensing sensing;
  sensing.source = {1, 3, 9};
  sensing.sink = {2, 4, 8};
  sensing.pairs = {{1, 2}};
  CHECK_THROWS_WITH(session::pack({&sensing, 1}, ability, "the tester on X"),
                    "the tester on X has room for programs of 16 bytes, which is not enough for "
                    "one setting of its own 64 channels");
}

TEST_CASE("a difference that is averaged for long comes in settings of a few seconds",
          "[session][programs]") {
  wire::Ability ability = small_tester();
  ability.program_bytes = ability.program_results = 4096;
  Sensing sensing;
  sensing.head.spread_ticks = 1000;  // 100 ms
  sensing.head.difference = 1;
  sensing.source = {1};
  sensing.sink = {2};
  for (Channel channel = 3; channel <= 62; ++channel) {
    sensing.pairs.push_back({channel, 2});
  }
  const std::vector<Program> programs = session::pack({&sensing, 1}, ability, "the tester");
  REQUIRE(programs.size() == 1);
  CHECK(programs[0].results == 120);
  CHECK(programs[0].settings == 4);  // 50 pairs and 10, off and on
}
