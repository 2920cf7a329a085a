// SPDX-License-Identifier: MIT
//
// A setting that the core holds: each look, each change with its time, what of it can be repeated.
#include <catch2/catch.hpp>
#include <cstdint>
#include <vector>

#include "tests/support/core_bench.hpp"

namespace core = padwalk::core;
namespace wire = padwalk::wire;
using padwalk::tests::CoreBench;
using padwalk::tests::program_of;
using padwalk::tests::Step;
using padwalk::tests::walk_of;
using wire::Phase;
using wire::Status;

namespace {

constexpr std::uint32_t kConversionUs = 100;  // of the bench

/// Holds pairs (1, 2), (1, 0), … as many as asked; what they read is `code`.
struct HeldPairs {
  CoreBench bench;
  int code = 0;
  std::uint16_t program = 1;

  explicit HeldPairs(std::size_t pairs, std::uint32_t hold_us = 0) {
    bench.hal.at_rest = [this](int, int) { return code; };
    Step step;
    step.head.gain = wire::Gain::x1;
    step.pairs.clear();
    for (std::size_t i = 0; i < pairs; ++i) {
      step.pairs.push_back({1, static_cast<std::uint16_t>(i == 0 ? 0 : i + 1)});
    }
    const auto bytes = program_of({step});
    bench.upload(program, bytes);
    wire::Monitor monitor;
    monitor.run = CoreBench::run_of(program, bytes);
    monitor.threshold = 20;
    monitor.hold_us = hold_us;
    bench.send(monitor);
    bench.work();
    CHECK(bench.tester->holding());
    CHECK(bench.results_of(program).size() == pairs);
  }

  /// So many looks; a change goes out with the look behind it.
  void look(int times) {
    for (int i = 0; i < times; ++i) {
      bench.tester->poll();
    }
    bench.collect();
  }
  wire::ProgramState ask(std::uint16_t change = 0) {
    wire::Ask request;
    request.program = program;
    request.first = wire::kNoResults;
    request.change = change;
    bench.send(request);
    return bench.states.back();
  }
};

}  // namespace

TEST_CASE("a held setting reports each change with its time until it is aborted", "[core]") {
  HeldPairs held(2);
  CoreBench& bench = held.bench;
  for (int i = 0; i < 20; ++i) {
    CHECK_FALSE(bench.tester->poll());
  }
  bench.collect();
  CHECK(bench.changes.empty());
  CHECK(bench.hal.count("open") == 0);
  const std::uint32_t began_us = held.ask().clock_us - held.ask().held_us;

  held.code = 180;  // it breaks
  const std::uint32_t broken_us = bench.hal.us - began_us;
  held.look(40);
  REQUIRE(bench.changes.size() == 2);
  for (const std::uint16_t i : {0, 1}) {
    CHECK(bench.changes[i].index == i);
    CHECK(bench.changes[i].away == 1);
    CHECK(bench.changes[i].sense == 180);
    CHECK(bench.changes[i].at_us - broken_us <= 2 * kConversionUs);
  }
  CHECK(bench.changes[0].pair != bench.changes[1].pair);
  held.code = 2;
  held.look(40);
  REQUIRE(bench.changes.size() == 4);
  CHECK(bench.changes[2].away == 0);
  CHECK(bench.changes[3].away == 0);

  const wire::ProgramState state = held.ask(4);
  CHECK((state.phase == Phase::holding));
  CHECK(state.changes == 4);
  CHECK(state.clock_us == bench.hal.us);
  CHECK(state.held_us == bench.hal.us - began_us);
  bench.abort(1);
  CHECK(bench.hal.count("open") == 1);
  CHECK_FALSE(bench.tester->holding());
  held.look(10);
  CHECK(held.ask(4).held_us == state.held_us);
  CHECK(bench.changes.size() == 4);

  const auto walk = walk_of(1, {2});
  bench.upload(2, walk);
  wire::Monitor monitor;
  monitor.threshold = 20;
  monitor.run = CoreBench::run_of(2, walk);
  bench.send(monitor);
  CHECK((bench.states.back().status == Status::bad_step));
}

TEST_CASE("a look is one conversion, and the longest time between two is told", "[core]") {
  HeldPairs one(1);
  one.look(100);
  CHECK(one.ask().gap_us == 2 * kConversionUs);
  CHECK(one.bench.hal.count("select") == 2);  // as it was measured, and as it is held

  HeldPairs three(3);
  three.look(100);
  CHECK(three.ask().gap_us == 4 * kConversionUs);
  three.bench.hal.us += 7000;  // the port did something else
  three.look(100);
  CHECK(three.ask().gap_us == 4 * kConversionUs + 7000);
}

TEST_CASE("an interruption that one look sees is told with both its ends", "[core]") {
  HeldPairs held(1);
  held.look(10);
  held.code = 180;
  held.look(1);
  held.code = 0;
  held.look(10);
  REQUIRE(held.bench.changes.size() == 2);
  CHECK(held.bench.changes[1].at_us - held.bench.changes[0].at_us == kConversionUs);
}

TEST_CASE("noise at the threshold is one change, not many", "[core]") {
  HeldPairs held(1);
  for (int i = 0; i < 100; ++i) {
    held.code = i % 2 == 0 ? 22 : 12;  // above 20 it leaves, from 10 down it is back
    held.look(1);
  }
  held.look(2);
  CHECK(held.bench.changes.size() == 1);
  held.code = 9;
  held.look(3);
  CHECK(held.bench.changes.size() == 2);
  held.code = -22;  // backwards too
  held.look(3);
  CHECK(held.bench.changes.size() == 3);
}

TEST_CASE("a hold ends by itself when its time is over, and says so", "[core]") {
  HeldPairs held(1, 5000);
  held.look(49 - static_cast<int>(held.ask().held_us / kConversionUs));
  CHECK(held.bench.tester->holding());
  held.look(1);
  CHECK_FALSE(held.bench.tester->holding());
  CHECK(held.bench.hal.log.back() == "open");
  CHECK((held.bench.states.back().phase == Phase::done));
  CHECK(held.bench.states.back().held_us == 5000);
  held.look(10);
  CHECK((held.ask().phase == Phase::done));
}

TEST_CASE("changes are repeated from the one that is lacking, the latest of too many", "[core]") {
  HeldPairs held(1);
  const auto toggle = [&](int times) {
    for (int i = 0; i < times; ++i) {
      held.code = held.code == 0 ? 180 : 0;
      held.look(1);
    }
    held.look(2);
  };
  toggle(10);
  REQUIRE(held.bench.changes.size() == 10);
  CHECK(held.ask(10).oldest == 0);
  held.look(20);
  CHECK(held.bench.changes.size() == 10);
  held.ask(7);
  held.look(20);
  REQUIRE(held.bench.changes.size() == 13);
  CHECK(held.bench.changes[10].index == 7);
  CHECK(held.bench.changes[10].at_us == held.bench.changes[7].at_us);

  toggle(core::kKeptChanges + 5);
  held.bench.changes.clear();
  CHECK(held.ask(0).oldest == 15);  // some are gone for good
  held.look(2 * core::kKeptChanges);
  REQUIRE(held.bench.changes.size() == core::kKeptChanges);
  CHECK(held.bench.changes.front().index == 15);
  CHECK(held.bench.changes.back().index == core::kKeptChanges + 14);

  held.bench.abort(1);  // and when it is over
  held.bench.changes.clear();
  held.ask(core::kKeptChanges + 14);
  held.look(5);
  CHECK(held.bench.changes.size() == 1);
  held.ask(core::kKeptChanges + 16);  // of a host that counts wrongly: nothing
  held.look(5);
  CHECK(held.bench.changes.size() == 1);
}
