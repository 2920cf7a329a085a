// SPDX-License-Identifier: MIT
//
// When the core measures, and what it measures with the source off: period_ticks, spread_ticks and
// difference of a step.
#include <catch2/catch.hpp>
#include <cstdint>
#include <string>
#include <vector>

#include "tests/support/core_bench.hpp"

namespace core = padwalk::core;
namespace wire = padwalk::wire;
using padwalk::tests::CoreBench;
using padwalk::tests::head;
using padwalk::tests::program_of;
using padwalk::tests::Set;
using padwalk::tests::Step;
using padwalk::tests::walk_of;
using wire::Status;

namespace {

std::vector<std::uint32_t> gaps(const std::vector<std::uint32_t>& times) {
  std::vector<std::uint32_t> between;
  for (std::size_t i = 1; i < times.size(); ++i) {
    between.push_back(times[i] - times[i - 1]);
  }
  return between;
}

/// A pair with an EMF: 40 codes with the source off, and what the source adds.
int emf_and_source(const core::Setting& setting, int plus) {
  return 40 + plus + (setting.level == wire::Level::off ? 0 : 100);
}

}  // namespace

TEST_CASE("a period spaces settings evenly, those of a walk too, and ends the last one as well",
          "[core]") {
  CoreBench bench;
  Step step;
  step.head.period_ticks = 125;  // 12.5 ms
  bench.hal.applied_at.clear();
  const std::uint32_t began = bench.hal.us;
  CHECK((bench.try_program(1, program_of({step, step, step, step})) == Status::ok));
  bench.work();
  CHECK(gaps(bench.hal.applied_at) == std::vector<std::uint32_t>{12500, 12500, 12500});
  CHECK(bench.hal.us - began == 4 * 12500);

  bench.hal.applied_at.clear();
  CHECK((bench.try_program(2, walk_of(1, {2, 3, 4}, step.head)) == Status::ok));
  bench.work();
  CHECK(gaps(bench.hal.applied_at) == std::vector<std::uint32_t>{12500, 12500});

  // One that takes longer is not cut short, and the next one does not make up for it.
  bench.hal.restless_us = 20000;
  bench.hal.applied_at.clear();
  CHECK((bench.try_program(3, program_of({step, step})) == Status::ok));
  bench.work();
  REQUIRE(bench.hal.applied_at.size() == 2);
  CHECK(bench.hal.applied_at[1] - bench.hal.applied_at[0] >= 20000);
  CHECK(bench.results_of(3)[1].settle_ticks >= 198);
}

TEST_CASE("a tester that waits out a period answers meanwhile, and can be aborted", "[core]") {
  CoreBench bench;
  Step step;
  step.head.period_ticks = 0xFFFF;
  const std::uint32_t began = bench.hal.us;
  CHECK((bench.try_program(1, program_of({step, step})) == Status::ok));
  for (int i = 0; i < 100; ++i) {
    REQUIRE(bench.tester->poll());
  }
  bench.ask(1, wire::kNoResults);
  CHECK((bench.states.back().phase == wire::Phase::running));
  CHECK(bench.states.back().results == 1);
  bench.abort(1);
  CHECK(bench.hal.count("apply") == 1);
  CHECK(bench.hal.log.back() == "open");
  CHECK(bench.hal.us - began < 200000);
}

TEST_CASE("the samples of a result are spread evenly, and back to back where there is no time",
          "[core]") {
  CoreBench bench;
  Step step;
  step.head.settle_limit_ticks = 0;
  step.head.gain = wire::Gain::x1;
  step.head.samples_log2 = 4;
  step.head.spread_ticks = 1000;  // 100 ms
  CHECK((bench.try_program(1, program_of({step})) == Status::ok));
  bench.hal.sensed_at.clear();
  bench.work();
  REQUIRE(bench.hal.sensed_at.size() == 17);  // one to settle
  bench.hal.sensed_at.erase(bench.hal.sensed_at.begin());
  CHECK(gaps(bench.hal.sensed_at) == std::vector<std::uint32_t>(15, 6250));
  CHECK(bench.results_of(1)[0].sense == 16 * 180);

  step.head.spread_ticks = 1;
  CHECK((bench.try_program(2, program_of({step})) == Status::ok));
  bench.hal.sensed_at.clear();
  bench.work();
  REQUIRE(bench.hal.sensed_at.size() == 17);
  CHECK(gaps(bench.hal.sensed_at) == std::vector<std::uint32_t>(16, 200));

  // The longest there is does not overflow: 256 samples over 6.5 s.
  step.head.samples_log2 = 8;
  step.head.spread_ticks = 0xFFFF;
  CHECK((bench.try_program(3, program_of({step})) == Status::ok));
  bench.hal.sensed_at.clear();
  bench.work();
  REQUIRE(bench.hal.sensed_at.size() == 257);
  CHECK(bench.hal.sensed_at[256] - bench.hal.sensed_at[1] == 6553500ull * 255 / 256);
}

TEST_CASE("a difference senses all pairs with the source off, then on, and tells them in turn",
          "[core]") {
  CoreBench bench;
  bench.hal.at_rest = [&](int plus, int) { return emf_and_source(bench.hal.setting, plus); };
  Step step;
  step.source = {1, 3};
  step.sink = {2};
  step.loaded = {7};
  step.head.load = wire::Load::ohm_1m;
  step.head.gain = wire::Gain::x1;
  step.head.difference = 1;
  step.pairs = {{1, 2}, {3, 2}, {7, 0}};
  CHECK((bench.try_program(1, program_of({step, step})) == Status::ok));
  bench.work();
  const std::vector<std::string> once = {
      "apply 1,3>2 load 7 level 0 range 1", "select 1,2", "select 3,2", "select 7,0",
      "apply 1,3>2 load 7 level 1 range 1", "select 1,2", "select 3,2", "select 7,0"};
  std::vector<std::string> twice = once;
  twice.insert(twice.end(), once.begin(), once.end());
  twice.push_back("open");
  CHECK(bench.hal.log == twice);
  std::vector<int> senses;
  for (const wire::Result& result : bench.results_of(1)) {
    senses.push_back(result.sense);
  }
  const std::vector<int> each = {41, 141, 43, 143, 47, 147};
  std::vector<int> both = each;
  both.insert(both.end(), each.begin(), each.end());
  CHECK(senses == both);

  // What is told while it runs is whole: off is not told before on is there.
  CHECK((bench.try_program(2, program_of({step})) == Status::ok));
  while (bench.hal.count("apply 1,3>2 load 7 level 1") < 3) {
    REQUIRE(bench.tester->poll());
    bench.ask(2, wire::kNoResults);
    CHECK(bench.states.back().results == 0);
  }
  bench.work();
  CHECK(bench.results_of(2).size() == 6);
}

TEST_CASE("each sink of a walk is sensed off and on, a period each", "[core]") {
  CoreBench bench;
  bench.hal.at_rest = [&](int, int minus) { return emf_and_source(bench.hal.setting, minus); };
  wire::StepHead both = head(wire::Level::low, 3);
  both.gain = wire::Gain::x1;
  both.difference = 1;
  both.period_ticks = 200;
  bench.hal.applied_at.clear();
  CHECK((bench.try_program(1, walk_of(5, {2, 9}, both)) == Status::ok));
  bench.work();
  CHECK(bench.hal.log == std::vector<std::string>{"apply 5>2 load  level 0 range 3", "select 5,2",
                                                  "apply 5>2 load  level 1 range 3", "select 5,2",
                                                  "apply 5>9 load  level 0 range 3", "select 5,9",
                                                  "apply 5>9 load  level 1 range 3", "select 5,9",
                                                  "open"});
  CHECK(gaps(bench.hal.applied_at) == std::vector<std::uint32_t>{20000, 20000, 20000});
  const auto results = bench.results_of(1);
  REQUIRE(results.size() == 4);
  CHECK(results[0].sense == 42);
  CHECK(results[1].sense == 142);
  CHECK(results[2].sense == 49);
  CHECK(results[3].sense == 149);
}

TEST_CASE("a difference counts twice against the room for results, and is not monitored",
          "[core]") {
  CoreBench bench;
  Step step;
  step.head.difference = 1;
  step.pairs.assign(core::kProgramResults / 2, {1, 2});
  CHECK((bench.try_program(1, program_of({step})) == Status::ok));
  bench.work();
  CHECK(bench.results_of(1).size() == core::kProgramResults);
  step.pairs.push_back({1, 2});
  CHECK((bench.try_program(2, program_of({step})) == Status::too_many_results));
  bench.hal.log.clear();
  bench.work();
  CHECK(bench.hal.log.empty());

  step.pairs = {{1, 2}};
  const auto bytes = program_of({step});
  bench.upload(3, bytes);
  wire::Monitor monitor;
  monitor.run = CoreBench::run_of(3, bytes);
  monitor.threshold = 20;
  bench.send(monitor);
  CHECK((bench.states.back().status == Status::bad_step));
  bench.work();
  CHECK(bench.hal.log.empty());
}
