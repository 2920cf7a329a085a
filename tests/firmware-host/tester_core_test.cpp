// SPDX-License-Identifier: MIT
#include "firmware-host/core/tester_core.hpp"

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
using padwalk::tests::view;
using padwalk::tests::walk_of;
using wire::Phase;
using wire::Status;

TEST_CASE("the core answers hello with its version and opens no session for another language",
          "[core]") {
  CoreBench bench(false);
  bench.ask(1, 0);
  REQUIRE(bench.errors.size() == 1);
  CHECK((bench.errors[0].status == Status::no_session));

  bench.hello(wire::kVersion + 1);
  bench.hello(wire::kVersion, wire::kSignature + 1);
  REQUIRE(bench.hellos.size() == 2);
  CHECK(bench.hellos[0].version == wire::kVersion);
  CHECK(bench.hellos[0].signature == wire::kSignature);
  bench.ask(1, 0);
  CHECK(bench.errors.size() == 2);

  bench.hello();
  bench.send(wire::AskAbility());
  bench.send(wire::AskIdentity());
  REQUIRE(bench.abilities.size() == 1);
  CHECK(bench.abilities[0].channels == 64);
  CHECK(bench.abilities[0].program_bytes == core::kProgramBytes);
  CHECK(bench.abilities[0].program_results == core::kProgramResults);
  REQUIRE(bench.identities.size() == 1);
  CHECK(std::string(bench.identities[0].unit.data, bench.identities[0].unit.size) == "fake");
}

TEST_CASE("a program's settings are applied in order and every pair gives its result", "[core]") {
  CoreBench bench;
  bench.hal.net = {{1, 0}, {2, 0}, {3, 1}};
  Step second;
  second.source = {3};
  second.pairs = {{3, 2}, {3, 0}, {1, 3}};
  CHECK((bench.try_program(1, program_of({Step(), second})) == Status::ok));
  CHECK(bench.hal.log.empty());  // nothing moves before its turn
  bench.work();
  CHECK(bench.hal.log == std::vector<std::string>{"apply 1>2 load  level 1 range 1", "select 1,2",
                                                  "apply 3>2 load  level 1 range 1", "select 3,2",
                                                  "select 3,0", "select 1,3", "open"});
  bool last = false;
  const auto results = bench.results_of(1, &last);
  CHECK(last);
  REQUIRE(results.size() == 4);
  // 2 codes at x1 and 9 in the sink leg: gains as high as leave a quarter of the range.
  CHECK((wire::sense_gain(results[0]) == wire::Gain::x50));
  CHECK(results[0].sense == 100);
  CHECK((wire::current_gain(results[0]) == wire::Gain::x5));
  CHECK(results[0].current == 45);
  CHECK((wire::sense_gain(results[1]) == wire::Gain::x1));
  CHECK(results[1].sense == 180);
  CHECK(results[1].current == 0);
  CHECK((results[1].flags & (wire::kNotSettled | wire::kSenseOver)) == 0);
  bench.ask(1, wire::kNoResults);
  CHECK((bench.states.back().phase == Phase::done));
  CHECK(bench.states.back().results == 4);
}

TEST_CASE("a walk closes one sink after the other, and loads need no source", "[core]") {
  CoreBench bench;
  bench.hal.net = {{5, 0}, {9, 0}};
  CHECK((bench.try_program(1, walk_of(5, {2, 9, 7})) == Status::ok));
  bench.work();
  CHECK(bench.hal.count("apply") == 3);
  CHECK(bench.hal.log[2] == "apply 5>9 load  level 1 range 1");
  CHECK(bench.hal.log[3] == "select 5,9");
  const auto results = bench.results_of(1);
  REQUIRE(results.size() == 3);
  CHECK(results[0].current == 0);
  CHECK(results[1].current > 0);
  CHECK(results[2].current == 0);

  // The power check: loads alone, each channel against 0 V, fixed gain.
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  wire::StepHead rest = head(wire::Level::off, 4);
  rest.load = wire::Load::ohm_1m;
  rest.gain = wire::Gain::x1;
  rest.samples_log2 = 4;
  const Set all = {1, 2, 3, 4, 5, 6, 7};
  bench.hal.at_rest = [](int plus, int) { return plus == 4 ? -300 : plus == 6 ? 511 : 1; };
  REQUIRE(writer.add_setting_each(rest, {}, {}, view(all), view(all), wire::kInstrumentZero));
  bytes.resize(writer.size());
  bench.hal.log.clear();
  CHECK((bench.try_program(2, bytes) == Status::ok));
  bench.work();
  CHECK(bench.hal.log[0] == "apply > load 1,2,3,4,5,6,7 level 0 range 4");
  const auto live = bench.results_of(2);
  REQUIRE(live.size() == 7);
  CHECK(live[0].sense == 16);
  CHECK(live[3].sense == -300 * 16);
  CHECK((live[3].flags & wire::kSenseOver) == 0);
  CHECK((live[5].flags & wire::kSenseOver) != 0);
}

TEST_CASE("a pair is read until it rests, at most up to the limit, and says how long it took",
          "[core]") {
  CoreBench bench;
  bench.hal.at_rest = [](int, int) { return 180; };
  bench.hal.restless_us = 20000;
  CHECK((bench.try_program(1, program_of({Step()})) == Status::ok));
  bench.work();
  const auto settled = bench.results_of(1);
  REQUIRE(settled.size() == 1);
  CHECK(settled[0].sense == 180);
  CHECK((settled[0].flags & wire::kNotSettled) == 0);
  CHECK(settled[0].settle_ticks >= 198);
  CHECK(settled[0].settle_ticks <= 206);

  Step hasty;
  hasty.head.settle_limit_ticks = 50;
  CHECK((bench.try_program(2, program_of({hasty})) == Status::ok));
  bench.work();
  const auto restless = bench.results_of(2);
  REQUIRE(restless.size() == 1);
  CHECK((restless[0].flags & wire::kNotSettled) != 0);
  CHECK(restless[0].settle_ticks >= 50);
  CHECK(restless[0].settle_ticks <= 53);
  CHECK(restless[0].sense < 180);
}

TEST_CASE("lost, doubled and late requests do nothing twice", "[core]") {
  CoreBench bench;
  const auto bytes = walk_of(1, {2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 17, 23, 30, 64, 33, 35, 37, 12});
  REQUIRE(bytes.size() > 48);
  wire::Part part;
  part.program = 1;
  part.offset = 48;
  part.bytes.size = 1;
  bench.send(part);  // its predecessor was lost
  CHECK(bench.states.back().received == 0);
  bench.send(CoreBench::run_of(1, bytes));
  CHECK((bench.states.back().status == Status::program_incomplete));
  bench.upload(1, bytes);
  bench.upload(1, bytes);  // all doubled
  CHECK(bench.states.back().received == bytes.size());
  bench.send(CoreBench::run_of(1, bytes));
  bench.send(CoreBench::run_of(1, bytes));
  bench.work();
  bench.send(CoreBench::run_of(1, bytes));
  bench.upload(1, bytes);
  CHECK((bench.states.back().phase == Phase::done));
  bench.work();
  CHECK(bench.hal.count("apply") == 18);
  CHECK(bench.results_of(1).size() == 18);

  // Results again, from any index, once each time that they are asked for.
  for (std::uint16_t first = 0; first <= 18; ++first) {
    bench.results.clear();
    bench.ask(1, first);
    bench.work();
    REQUIRE_FALSE(bench.results.empty());
    CHECK(bench.results.front().first == first);
    CHECK(bench.results.back().last == 1);
  }
  CHECK(bench.hal.count("apply") == 18);
  bench.results.clear();
  bench.ask(1, wire::kNoResults);
  bench.work();
  CHECK(bench.results.empty());

  // The next two take their turns; the first is gone then, and cannot come back.
  bench.try_program(2, program_of({Step()}));
  bench.try_program(3, program_of({Step()}));
  bench.work();
  CHECK(bench.results_of(2).size() == 1);
  CHECK(bench.results_of(3).size() == 1);
  bench.send(CoreBench::run_of(1, bytes));
  CHECK((bench.states.back().status == Status::stale_program));
  bench.upload(1, bytes);
  CHECK((bench.states.back().status == Status::stale_program));
  bench.ask(1, 0);
  CHECK((bench.states.back().status == Status::stale_program));
  bench.work();
  CHECK(bench.hal.count("apply") == 20);
}

TEST_CASE("a second program waits, a third is told that the tester is busy", "[core]") {
  CoreBench bench;
  bench.try_program(65535, walk_of(1, {2, 3}));
  bench.try_program(0, walk_of(4, {5, 6}));  // numbers wrap
  CHECK((bench.states.back().phase == Phase::queued));
  bench.upload(1, walk_of(1, {2}));
  CHECK((bench.states.back().status == Status::busy));
  bench.work();
  CHECK(bench.hal.count("apply 1>") == 2);
  CHECK(bench.hal.count("apply 4>") == 2);
  CHECK(bench.hal.log[0] == "apply 1>2 load  level 1 range 1");
  CHECK(bench.results_of(65535).size() == 2);
  CHECK(bench.results_of(0).size() == 2);
  bench.upload(1, walk_of(1, {2}));
  CHECK((bench.states.back().status == Status::ok));
}

TEST_CASE("an abort ends what it names, opens the switches, and a late one ends nothing else",
          "[core]") {
  CoreBench bench;
  bench.try_program(1, walk_of(1, {2, 3, 4, 5, 6, 7, 8}));
  bench.try_program(2, walk_of(1, {2, 3}));
  for (int i = 0; i < 10; ++i) {
    bench.tester->poll();
  }
  bench.hal.log.clear();
  bench.abort(2);
  CHECK(bench.hal.log == std::vector<std::string>{"open"});
  CHECK((bench.states.back().status == Status::aborted));
  bench.work();
  CHECK(bench.hal.count("apply") == 0);
  CHECK((bench.try_program(2, walk_of(1, {2})) == Status::aborted));
  CHECK((bench.try_program(3, walk_of(1, {2})) == Status::ok));
  bench.abort(1);
  bench.work();
  CHECK(bench.results_of(3).size() == 1);
}

TEST_CASE("a second of silence opens every switch, and driving needs a new power check", "[core]") {
  CoreBench bench;
  bench.try_program(1, walk_of(1, {2, 3, 4, 5, 6, 7, 8}));
  for (int i = 0; i < 8; ++i) {
    bench.tester->poll();
  }
  bench.hal.log.clear();
  bench.hal.ms += wire::kSilenceMs;   // wraps
  bench.feed({0, 1, 2, 3, 0, 9, 9});  // noise is no sign of life
  bench.tester->poll();
  CHECK(bench.hal.count("open") == 0);
  bench.hal.ms += 1;
  bench.work();
  CHECK(bench.hal.count("open") == 1);
  CHECK(bench.hal.count("apply") == 0);
  bench.hal.ms += 5000;
  bench.work();
  bench.ask(1, 0);
  CHECK((bench.states.back().phase == Phase::failed));
  CHECK((bench.states.back().status == Status::silence));
  CHECK(bench.states.back().silences == 1);
  CHECK(bench.states.back().results > 0);
  bench.work();
  CHECK(bench.results.back().last == 1);
  CHECK(bench.results.back().silences == 1);
  CHECK(bench.hal.count("open") == 1);

  CHECK((bench.try_program(2, walk_of(1, {2})) == Status::power_check_stale));
  Step loads;
  loads.head = head(wire::Level::off);
  loads.head.load = wire::Load::ohm_47k;
  loads.source = {};
  loads.sink = {};
  loads.loaded = {1, 2};
  loads.pairs = {{1, 0}, {2, 0}};
  CHECK((bench.try_program(3, program_of({loads})) == Status::ok));
  bench.work();
  const auto bytes = walk_of(1, {2});
  bench.upload(4, bytes);
  wire::Run run = CoreBench::run_of(4, bytes);
  run.silences = 1;
  bench.send(run);
  CHECK((bench.states.back().status == Status::ok));
  bench.work();
  CHECK(bench.results_of(4).size() == 1);
}

TEST_CASE("presses of the button are told in each answer about a program", "[core]") {
  CoreBench bench;
  bench.ask(1, wire::kNoResults);
  CHECK(bench.states.back().presses == 0);
  bench.hal.pressed = 255;
  bench.ask(1, wire::kNoResults);
  CHECK(bench.states.back().presses == 255);
  bench.hal.pressed = 1;
  bench.try_program(1, walk_of(1, {2}));
  CHECK(bench.states.back().presses == 1);
}

TEST_CASE("a new session forgets the old, a repeated hello does not, and old frames are refused",
          "[core]") {
  CoreBench bench;
  const auto bytes = walk_of(1, {2, 3});
  bench.try_program(1, bytes);
  bench.hello();
  bench.work();
  CHECK(bench.results_of(1).size() == 2);

  bench.upload(2, bytes);
  const auto late = bench.bytes_of(CoreBench::run_of(2, bytes));
  bench.session = 78;
  bench.hal.log.clear();
  bench.hello();
  CHECK(bench.hal.log == std::vector<std::string>{"open"});
  bench.ask(1, 0);
  CHECK((bench.states.back().phase == Phase::none));
  bench.upload(2, bytes);
  bench.feed(late);  // of session 77
  bench.hal.out.clear();
  bench.work();
  CHECK(bench.hal.count("apply") == 0);
  CHECK(bench.errors.empty());
}

TEST_CASE("a tester that hears itself does not answer and does not take it for a host", "[core]") {
  CoreBench bench;
  bench.ask(1, 0);
  const auto echo = bench.bytes_of(bench.states.back());
  bench.hal.ms += wire::kSilenceMs + 1;
  bench.feed(echo);
  CHECK(bench.hal.out.empty());
  bench.work();
  CHECK(bench.hal.count("open") == 1);
}
