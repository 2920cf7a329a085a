// SPDX-License-Identifier: MIT
#include "firmware-host/core/tester_core.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <random>
#include <string>
#include <vector>

namespace core = padwalk::core;
namespace wire = padwalk::wire;
using wire::Phase;
using wire::Status;
using Set = std::vector<std::uint16_t>;

namespace {

/// Hardware with a memory and clocks turned by hand. Channels of one `net` conduct.
class FakeHal : public core::Hal {
 public:
  wire::Ability ability;
  std::map<int, int> net;                           // channel -> net; its own if absent
  std::function<int(int plus, int minus)> at_rest;  // overrides sense at x1
  std::uint32_t us = 4294960000u;                   // wraps during the first readings
  std::uint32_t ms = 4294967000u;
  std::uint32_t restless_us = 0;  // codes creep for so long after a setting
  std::vector<std::string> log;
  std::vector<std::uint8_t> out;
  core::Setting setting;
  int conversions = 0;

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

  void describe(wire::Ability& filled) const override { filled = ability; }
  void identify(wire::Identity& identity) const override {
    identity.unit.size = 4;
    std::copy_n("fake", 4, identity.unit.data);
  }
  void apply(const core::Setting& wanted) override {
    setting = wanted;
    applied_us_ = us;
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
struct Bench {
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

  explicit Bench(bool greeted = true) {
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
  Status try_program(std::uint16_t program, const std::vector<std::uint8_t>& bytes,
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

wire::StepHead head(wire::Level level = wire::Level::low, std::uint8_t range = 1) {
  wire::StepHead made;
  made.level = level;
  made.range = range;
  made.settle_limit_ticks = 1000;
  return made;
}

wire::Channels view(const Set& set) {
  wire::Channels channels;
  channels.first = set.data();
  channels.count = set.size();
  return channels;
}

struct Step {
  wire::StepHead head = ::head();
  Set source = {1};
  Set sink = {2};
  Set loaded = {};
  std::vector<wire::Pair> pairs = {{1, 2}};
};

std::vector<std::uint8_t> program_of(const std::vector<Step>& steps) {
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  for (const Step& step : steps) {
    REQUIRE(writer.add_setting(step.head, view(step.source), view(step.sink), view(step.loaded),
                               step.pairs.data(), step.pairs.size()));
  }
  bytes.resize(writer.size());
  return bytes;
}

std::vector<std::uint8_t> walk_of(std::uint16_t source, const Set& sinks) {
  std::vector<std::uint8_t> bytes(core::kProgramBytes);
  wire::ProgramWriter writer(bytes.data(), bytes.size());
  REQUIRE(writer.add_walk(head(), source, view(sinks), {}));
  bytes.resize(writer.size());
  return bytes;
}

}  // namespace

TEST_CASE("the core answers hello with its version and opens no session for another language",
          "[core]") {
  Bench bench(false);
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
  Bench bench;
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
  Bench bench;
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
  Bench bench;
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
  Bench bench;
  const auto bytes = walk_of(1, {2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 17, 23, 30, 64, 33, 35, 37, 12});
  REQUIRE(bytes.size() > 48);
  wire::Part part;
  part.program = 1;
  part.offset = 48;
  part.bytes.size = 1;
  bench.send(part);  // its predecessor was lost
  CHECK(bench.states.back().received == 0);
  bench.send(Bench::run_of(1, bytes));
  CHECK((bench.states.back().status == Status::program_incomplete));
  bench.upload(1, bytes);
  bench.upload(1, bytes);  // all doubled
  CHECK(bench.states.back().received == bytes.size());
  bench.send(Bench::run_of(1, bytes));
  bench.send(Bench::run_of(1, bytes));
  bench.work();
  bench.send(Bench::run_of(1, bytes));
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
  bench.send(Bench::run_of(1, bytes));
  CHECK((bench.states.back().status == Status::stale_program));
  bench.upload(1, bytes);
  CHECK((bench.states.back().status == Status::stale_program));
  bench.ask(1, 0);
  CHECK((bench.states.back().status == Status::stale_program));
  bench.work();
  CHECK(bench.hal.count("apply") == 20);
}

TEST_CASE("a second program waits, a third is told that the tester is busy", "[core]") {
  Bench bench;
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
  Bench bench;
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
  Bench bench;
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
  wire::Run run = Bench::run_of(4, bytes);
  run.silences = 1;
  bench.send(run);
  CHECK((bench.states.back().status == Status::ok));
  bench.work();
  CHECK(bench.results_of(4).size() == 1);
}

TEST_CASE("a new session forgets the old, a repeated hello does not, and old frames are refused",
          "[core]") {
  Bench bench;
  const auto bytes = walk_of(1, {2, 3});
  bench.try_program(1, bytes);
  bench.hello();
  bench.work();
  CHECK(bench.results_of(1).size() == 2);

  bench.upload(2, bytes);
  const auto late = bench.bytes_of(Bench::run_of(2, bytes));
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
    Bench bench(false);
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
  Bench bench;
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
  Bench bench;
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
  wire::Run run = Bench::run_of(5, most);
  run.checksum ^= 1;
  bench.send(run);
  CHECK((bench.states.back().status == Status::bad_checksum));
}

TEST_CASE("a held setting reports each change with its time until it is aborted", "[core]") {
  Bench bench;
  bench.hal.net = {{1, 0}, {2, 0}};
  Step step;
  step.pairs = {{1, 2}, {1, 0}};
  const auto bytes = program_of({step});
  bench.upload(1, bytes);
  wire::Monitor monitor;
  monitor.run = Bench::run_of(1, bytes);
  monitor.threshold = 20;
  bench.send(monitor);
  bench.work();
  CHECK(bench.results_of(1).size() == 2);
  CHECK(bench.results.back().last == 1);
  for (int i = 0; i < 20; ++i) {
    CHECK_FALSE(bench.tester->poll());
  }
  bench.collect();
  CHECK(bench.changes.empty());
  CHECK(bench.hal.count("open") == 0);

  bench.hal.net.clear();  // it breaks
  const std::uint32_t broken_us = bench.hal.us;
  for (int i = 0; i < 40; ++i) {
    bench.tester->poll();
  }
  bench.collect();
  REQUIRE(bench.changes.size() == 2);
  CHECK(bench.changes[0].index == 0);
  CHECK(bench.changes[1].index == 1);
  CHECK(bench.changes[0].pair != bench.changes[1].pair);
  CHECK(bench.changes[0].at_us - broken_us <= 400);
  CHECK(bench.changes[0].result.sense == 180);
  CHECK(bench.changes[0].result.current == 0);
  bench.ask(1, wire::kNoResults);
  CHECK((bench.states.back().phase == Phase::holding));
  CHECK(bench.states.back().changes == 2);
  bench.abort(1);
  CHECK(bench.hal.count("open") == 1);

  const auto walk = walk_of(1, {2});
  bench.upload(2, walk);
  monitor.run = Bench::run_of(2, walk);
  bench.send(monitor);
  CHECK((bench.states.back().status == Status::bad_step));
}

TEST_CASE("a tester of few channels that senses against 0 V alone refuses other pairs", "[core]") {
  Bench bench(false);
  bench.hal.ability.features = 0;
  bench.tester = std::make_unique<core::TesterCore>(bench.hal);
  bench.hello();
  CHECK((bench.try_program(1, program_of({Step()})) == Status::bad_channel));
  Step single;
  single.pairs = {{1, 0}};
  CHECK((bench.try_program(2, program_of({single})) == Status::ok));
}

TEST_CASE("requests cut short at every byte are refused and the core goes on", "[core]") {
  Bench bench;
  struct Cutter {
    Bench& bench;
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
  Bench bench;
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
  Bench bench;
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
  Bench bench;
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
