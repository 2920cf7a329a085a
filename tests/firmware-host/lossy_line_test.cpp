// SPDX-License-Identifier: MIT
//
// The language itself under loss: the plainest host there can be, which only looks at the last
// state and asks for what it lacks, against the core over a line that spoils frames both ways.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <map>
#include <random>
#include <vector>

#include "tests/support/core_bench.hpp"

namespace wire = padwalk::wire;
using padwalk::tests::CoreBench;
using padwalk::tests::Set;
using padwalk::tests::walk_of;
using Bytes = std::vector<std::uint8_t>;

namespace {

/// Loses, doubles, breaks and holds back whole writes.
class Line {
 public:
  Line(unsigned seed, unsigned fault_in) : random_(seed), fault_in_(fault_in) {}

  Bytes pass(const Bytes& sent) {
    Bytes arrived = late_;
    late_.clear();
    Bytes bytes = sent;
    switch (bytes.empty() || random_() % fault_in_ != 0 ? 5 : random_() % 5) {
      case 0:
        return arrived;
      case 1:
        bytes.insert(bytes.end(), sent.begin(), sent.end());
        break;
      case 2:
        bytes[random_() % bytes.size()] ^= static_cast<std::uint8_t>(1 + random_() % 255);
        break;
      case 3:
        bytes.resize(random_() % bytes.size());
        break;
      case 4:
        late_ = bytes;
        return arrived;
      default:
        break;
    }
    arrived.insert(arrived.end(), bytes.begin(), bytes.end());
    return arrived;
  }

 private:
  std::mt19937 random_;
  unsigned fault_in_;
  Bytes late_;
};

struct LossyHost {
  CoreBench bench;
  Line to_tester;
  Line to_host;
  wire::FrameParser parser;
  wire::ProgramState state;
  std::map<std::uint16_t, wire::Result> results;
  bool complete = false;

  LossyHost(unsigned seed, unsigned fault_in)
      : to_tester(seed, fault_in), to_host(seed + 1000, fault_in) {}

  void hear(std::uint16_t program) {
    for (const std::uint8_t byte : to_host.pass(bench.hal.out)) {
      if (parser.push(byte) != wire::FrameParser::Answer::frame) {
        continue;
      }
      const wire::Frame& frame = parser.frame();
      wire::ProgramState heard;
      wire::Results part;
      if (wire::decode(frame.message, frame.message_size, &heard) && heard.program == program) {
        state = heard;
      } else if (wire::decode(frame.message, frame.message_size, &part) &&
                 part.program == program) {
        const std::size_t count = part.packed.size / wire::kResultBytes;
        for (std::size_t i = 0; i < count; ++i) {
          results[static_cast<std::uint16_t>(part.first + i)] =
              wire::unpack_result(part.packed.data + i * wire::kResultBytes);
        }
        complete = part.last != 0 && results.size() == part.first + count;
      }
    }
    bench.hal.out.clear();
  }

  template <class M>
  void say(const M& message, std::uint16_t program) {
    bench.feed(to_tester.pass(bench.bytes_of(message)));
    hear(program);
    for (int polls = 0; polls < 40 && bench.tester->poll(); ++polls) {
      hear(program);
    }
    hear(program);
  }

  /// Returns the number of requests that it took.
  std::size_t carry_out(std::uint16_t program, const Bytes& bytes) {
    state = wire::ProgramState();
    results.clear();
    complete = false;
    std::size_t requests = 0;
    for (; !complete && requests < 5000; ++requests) {
      if (state.phase == wire::Phase::none || state.phase == wire::Phase::receiving) {
        if (state.received >= bytes.size()) {
          say(CoreBench::run_of(program, bytes), program);
          continue;
        }
        wire::Part part;
        part.program = program;
        part.offset = state.received;
        part.bytes.size =
            static_cast<std::uint8_t>(std::min<std::size_t>(48, bytes.size() - state.received));
        std::copy_n(bytes.begin() + state.received, part.bytes.size, part.bytes.data);
        say(part, program);
        continue;
      }
      wire::Ask ask;
      ask.program = program;
      while (results.count(ask.first) != 0) {
        ++ask.first;
      }
      say(ask, program);
    }
    return requests;
  }
};

}  // namespace

TEST_CASE("every program is carried out once and every result comes over a line that spoils frames",
          "[core][wire]") {
  for (const unsigned fault_in : {20u, 5u, 2u}) {
    for (unsigned seed = 1; seed <= 40; ++seed) {
      LossyHost host(seed, fault_in);
      std::mt19937 random(seed);
      for (std::uint16_t program = 1; program <= 5; ++program) {
        Set sinks(1 + random() % 60);
        for (std::uint16_t& sink : sinks) {
          sink = static_cast<std::uint16_t>(2 + random() % 63);
        }
        const auto joined = static_cast<std::uint16_t>(2 + random() % 63);
        host.bench.hal.net = {{1, 0}, {joined, 0}};
        host.bench.hal.log.clear();
        const std::size_t requests = host.carry_out(program, walk_of(1, sinks));
        INFO("seed " << seed << ", a fault in " << fault_in << ", program " << program);
        REQUIRE(requests < 5000);
        REQUIRE(host.bench.hal.count("apply") == sinks.size());
        REQUIRE(host.results.size() == sinks.size());
        for (std::uint16_t i = 0; i < sinks.size(); ++i) {
          REQUIRE((host.results[i].current > 0) == (sinks[i] == joined));
        }
      }
    }
  }
}
