// SPDX-License-Identifier: MIT
#include "firmware-host/wire/program.hpp"
#include "tests/support/core_bench.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <random>
#include <vector>

namespace wire = padwalk::wire;
using padwalk::tests::Set;
using padwalk::tests::view;

namespace {

Set channels_of(wire::SetReader reader) {
  Set set;
  std::uint16_t channel = 0;
  while (reader.next(&channel)) {
    set.push_back(channel);
  }
  return set;
}

std::vector<std::pair<int, int>> pairs_of(wire::PairReader reader) {
  std::vector<std::pair<int, int>> pairs;
  wire::Pair pair;
  while (reader.next(&pair)) {
    pairs.emplace_back(pair.plus, pair.minus);
  }
  return pairs;
}

struct BuiltProgram {
  std::vector<std::uint8_t> bytes;
  wire::ProgramWriter writer;
  explicit BuiltProgram(std::size_t capacity = 16384)
      : bytes(capacity), writer(bytes.data(), capacity) {}
  /// The written bytes alone, so that a sanitizer sees a read beyond them.
  std::vector<std::uint8_t> written() const {
    return {bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(writer.size())};
  }
};

}  // namespace

TEST_CASE("steps come back as they were written", "[wire][program]") {
  const Set source = {7, 3};
  const Set sink = {1, 2, 4, 5, 6, 8, 9, 10, 20};
  const Set loaded = {12};
  const std::vector<wire::Pair> pairs = {{7, 1}, {3, 0}};
  wire::StepHead head;
  head.level = wire::Level::high;
  head.range = 5;
  head.load = wire::Load::ohm_47k;
  head.gain = wire::Gain::x5;
  head.samples_log2 = 6;
  head.settle_codes = 3;
  head.settle_limit_ticks = 20000;
  head.period_ticks = 40000;
  head.spread_ticks = 1000;
  BuiltProgram program;
  REQUIRE(program.writer.add_setting(head, view(source), view(sink), view(loaded), pairs.data(),
                                     pairs.size()));
  REQUIRE(program.writer.add_setting_each(head, {}, {}, view(sink), view(sink), 12));
  REQUIRE(program.writer.add_walk(head, 5, view(source), view(loaded)));
  CHECK(program.writer.results() == 2 + 9 + 2);
  head.difference = 1;
  REQUIRE(program.writer.add_setting(head, view(source), view(sink), view(loaded), pairs.data(),
                                     pairs.size()));
  REQUIRE(program.writer.add_setting_each(head, {}, {}, view(sink), view(sink), 12));
  REQUIRE(program.writer.add_walk(head, 5, view(source), view(loaded)));
  CHECK(program.writer.results() == 3 * (2 + 9 + 2));

  const std::vector<std::uint8_t> bytes = program.written();
  std::size_t offset = 0;
  wire::Step step;
  REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
  CHECK((step.head.kind == wire::StepKind::setting));
  CHECK((step.head.level == wire::Level::high));
  CHECK(step.head.range == 5);
  CHECK((step.head.load == wire::Load::ohm_47k));
  CHECK((step.head.gain == wire::Gain::x5));
  CHECK(step.head.samples_log2 == 6);
  CHECK(step.head.settle_codes == 3);
  CHECK(step.head.settle_limit_ticks == 20000);
  CHECK(step.head.period_ticks == 40000);
  CHECK(step.head.spread_ticks == 1000);
  CHECK(step.head.difference == 0);
  CHECK(channels_of(step.source) == source);  // in its own order, so a list
  CHECK(channels_of(step.sink) == sink);
  CHECK(channels_of(step.loaded) == loaded);
  CHECK(pairs_of(step.pairs) == std::vector<std::pair<int, int>>{{7, 1}, {3, 0}});

  REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
  CHECK(channels_of(step.source).empty());
  CHECK(pairs_of(step.pairs).size() == 9);
  CHECK(pairs_of(step.pairs).back() == std::pair<int, int>{20, 12});

  REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
  CHECK((step.head.kind == wire::StepKind::walk));
  CHECK(channels_of(step.source) == Set{5});
  CHECK(channels_of(step.sink) == source);
  CHECK(pairs_of(step.pairs).empty());
  for (int again = 0; again < 3; ++again) {
    REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
    CHECK(step.head.difference == 1);
  }
  CHECK(offset == bytes.size());
  CHECK_FALSE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
}

TEST_CASE("any set comes back, and a dense one takes a bit a channel", "[wire][program]") {
  std::mt19937 random(23);
  for (int round = 0; round < 300; ++round) {
    Set set;
    const unsigned one_in = 1 + random() % 60;
    for (std::uint16_t channel = 1; channel <= 4096; ++channel) {
      if (random() % one_in == 0) {
        set.push_back(channel);
      }
    }
    if (round % 3 == 0) {
      std::shuffle(set.begin(), set.end(), random);
      set.resize(std::min<std::size_t>(set.size(), 500));
    }
    BuiltProgram program;
    REQUIRE(program.writer.add_setting_each({}, view(set), {}, {}, view(set), 0));
    const std::vector<std::uint8_t> bytes = program.written();
    if (std::is_sorted(set.begin(), set.end())) {
      REQUIRE(bytes.size() <= 2 * (512 + 5) + 20);
    }
    std::size_t offset = 0;
    wire::Step step;
    INFO("round " << round);
    REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
    REQUIRE(channels_of(step.source) == set);
    REQUIRE(pairs_of(step.pairs).size() == set.size());
  }
}

TEST_CASE("a step that does not fit leaves the program as it was", "[wire][program]") {
  const Set sink = {2, 4, 6};
  for (std::size_t capacity = 0; capacity < 80; ++capacity) {
    BuiltProgram program(capacity);
    std::size_t steps = 0;
    while (program.writer.add_walk({}, 1, view(sink), {})) {
      ++steps;
    }
    INFO("capacity " << capacity);
    REQUIRE(program.writer.results() == 3 * steps);
    const std::vector<std::uint8_t> bytes = program.written();
    std::size_t offset = 0;
    wire::Step step;
    for (; steps > 0; --steps) {
      REQUIRE(wire::read_step(bytes.data(), bytes.size(), &offset, &step));
    }
    REQUIRE(offset == bytes.size());
  }
}

TEST_CASE("a step cut short is no step, and random bytes are read within bounds",
          "[wire][program]") {
  const Set set = {1, 2, 3, 4, 5, 6, 7, 8, 9, 30};
  BuiltProgram program;
  REQUIRE(program.writer.add_setting_each({}, view({5}), view(set), view({9, 3}), view(set), 2));
  const std::vector<std::uint8_t> whole = program.written();
  for (std::size_t cut = 0; cut < whole.size(); ++cut) {
    const std::vector<std::uint8_t> head(whole.begin(),
                                         whole.begin() + static_cast<std::ptrdiff_t>(cut));
    std::size_t offset = 0;
    wire::Step step;
    REQUIRE_FALSE(wire::read_step(head.data(), head.size(), &offset, &step));
  }
  std::mt19937 random(29);
  std::size_t read = 0;
  for (int round = 0; round < 100000; ++round) {
    std::vector<std::uint8_t> bytes = whole;
    bytes.resize(random() % (bytes.size() + 1));
    for (int change = 0; change < 3 && !bytes.empty(); ++change) {
      bytes[random() % bytes.size()] = static_cast<std::uint8_t>(random());
    }
    std::size_t offset = 0;
    wire::Step step;
    if (wire::read_step(bytes.data(), bytes.size(), &offset, &step)) {
      ++read;
      REQUIRE(offset <= bytes.size());
      channels_of(step.source);
      channels_of(step.sink);
      channels_of(step.loaded);
      pairs_of(step.pairs);
    }
  }
  CHECK(read > 0);
}
