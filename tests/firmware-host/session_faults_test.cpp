// SPDX-License-Identifier: MIT
//
// The session on lines that lose, double, delay and spoil what is said, and with peers that are no
// tester, fall silent, or are gone: the right result or one clear sentence, never a wrong result.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <optional>
#include <random>

#include "firmware-host/session/session.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "tests/firmware-host/visiting.hpp"
#include "tests/support/effort.hpp"

using namespace padwalk;
using namespace std::chrono_literals;
using session::Channel;
using session::Measurement;
using session::Purpose;
using session::Request;
using session::TesterError;
using simulated::Circuit;
using simulated::kNoNode;
using tests::all_channels;
using tests::all_requests;
using tests::Bytes;
using tests::faulty_board;
using tests::impatient;
using tests::InMemoryTester;
using tests::right_outcome;
using tests::sentence;
using tests::visit;
using tests::Visit;

namespace {

using Fault = std::vector<Bytes> (*)(InMemoryTester& tester, const Bytes& frame);

const std::vector<std::pair<const char*, Fault>> kFaults = {
    {"lost", [](InMemoryTester&, const Bytes&) { return std::vector<Bytes>{}; }},
    {"doubled",
     [](InMemoryTester&, const Bytes& frame) {
       return std::vector<Bytes>{frame, frame};
     }},
    {"corrupt",
     [](InMemoryTester&, const Bytes& frame) {
       Bytes spoiled = frame;
       spoiled[spoiled.size() / 2] ^= 0x10;
       return std::vector<Bytes>{spoiled};
     }},
    {"cut short",
     [](InMemoryTester&, const Bytes& frame) {
       return std::vector<Bytes>{Bytes(frame.begin(), frame.begin() + 7)};
     }},
    {"late",
     [](InMemoryTester& tester, const Bytes& frame) {
       tester.late.push_back(frame);
       return std::vector<Bytes>{};
     }},
    {"doubled and late",
     [](InMemoryTester& tester, const Bytes& frame) {
       tester.late.push_back(frame);
       return std::vector<Bytes>{frame};
     }},
};

}  // namespace

TEST_CASE("the board of these tests reads as it was made", "[session][faults]") {
  const Visit& right = right_outcome();
  CHECK(right.passed);
  const std::vector<Request> requests = all_requests();
  REQUIRE(right.ohms.size() == requests.size());
  // The short is between nets 2 and 7, 0010 and 0111.
  CHECK(right.ohms[0] == Approx(4.7).margin(0.3));
  CHECK(std::isinf(right.ohms[1]));
  CHECK(right.ohms[2] == Approx(4.7).margin(0.3));
  CHECK(std::isinf(right.ohms[3]));
  for (std::size_t i = 4; i < requests.size(); ++i) {
    const bool follow = requests[i].purpose == Purpose::follow;
    const Channel channel = follow ? requests[i].sense : requests[i].sink[0];
    CAPTURE(i, channel);
    if (follow) {
      const int net = (channel - 1) / tests::kPoints;
      CHECK((right.ohms[i] == 0) == (net == 0 || net == 2 || net == 4 || net == 7));
    } else {
      CHECK(std::isinf(right.ohms[i]) == (channel == 23 || channel == 24));
    }
  }
}

TEST_CASE("a fault on any single frame changes no result", "[session][faults][slow]") {
  InMemoryTester healthy(faulty_board());
  visit(healthy);
  // A fault meets every second frame or fewer, the next fault those between.
  constexpr std::size_t kStride = 2 * test::kEvery;
  std::size_t turn = 0;
  for (const auto& entry : kFaults) {
    const std::string_view name = entry.first;
    const Fault fault = entry.second;
    for (const bool of_reply : {false, true}) {
      const std::size_t frames = of_reply ? healthy.replies() : healthy.requests();
      for (std::size_t step = turn++ / 2 % kStride; step < frames; step += kStride) {
        CAPTURE(name, of_reply, step);
        // A late request would need a line; only its repetition is seen by the tester.
        InMemoryTester tester(faulty_board());
        (of_reply ? tester.on_reply : tester.on_request) = [&](std::size_t index,
                                                               const Bytes& frame) {
          const bool meddled = index == step && (of_reply || name.find("late") == name.npos);
          return meddled ? fault(tester, frame) : std::vector<Bytes>{frame};
        };
        CHECK(visit(tester) == right_outcome());
      }
    }
  }
}

TEST_CASE("a tester that takes one frame at a time gets one at a time", "[session][faults]") {
  InMemoryTester tester(faulty_board(), wire::kFrameBytes);
  std::size_t unanswered = 0;
  std::size_t most = 0;
  std::size_t parts = 0;
  tester.on_request = [&](std::size_t, const Bytes& frame) {
    tests::changed<wire::Part>(frame, [&](wire::Part&) {
      ++parts;
      most = std::max(most, ++unanswered);
    });
    return std::vector<Bytes>{frame};
  };
  tester.on_read = [&] { unanswered = 0; };
  session::Session session(tester, impatient(3000ms));
  CHECK(visit(session) == right_outcome());
  CHECK(parts > 10);
  CHECK(most <= 1 + session.counters().retries);
}

TEST_CASE("requests that come again behind later ones change no result", "[session][faults]") {
  for (const std::size_t behind : {1u, 2u, 7u, 30u}) {
    CAPTURE(behind);
    InMemoryTester tester(faulty_board());
    std::deque<Bytes> old;
    tester.on_request = [&](std::size_t, const Bytes& frame) {
      std::vector<Bytes> arriving = {frame};
      old.push_back(frame);
      if (old.size() > behind) {
        arriving.push_back(old.front());
        old.pop_front();
      }
      return arriving;
    };
    CHECK(visit(tester) == right_outcome());
  }
}

TEST_CASE("on bad lines the result is right or there is none", "[session][faults][slow]") {
  struct Line {
    double drop;
    double corrupt;
    bool hopeless;
  };
  for (const Line& line : {Line{0.005, 0.01, false}, Line{0.02, 0, false}, Line{0.1, 0.1, true}}) {
    int right = 0;
    for (std::uint32_t seed = 1; seed <= 2; ++seed) {
      CAPTURE(line.drop, line.corrupt, seed);
      simulated::SimulatedTesterOptions options;
      options.faults = {line.drop, line.corrupt, 0.1, 0, 0, false, false, seed};
      simulated::SimulatedTester tester(faulty_board(), options);
      const auto port = transport::open_port(tester.port_name());
      try {
        const Visit outcome = visit(*port);
        CHECK(outcome == right_outcome());
        ++right;
      } catch (const TesterError& error) {
        CAPTURE(error.what());
        const std::string said = error.what();
        CHECK((said.find(" is gone: no valid answer for 0.3 s") != std::string::npos ||
               said.find("but not as a padwalk tester") != std::string::npos));
      }
    }
    CHECK((right > 0) == !line.hopeless);
  }
}

TEST_CASE("with one byte in a hundred spoilt every visit ends right", "[session][faults][slow]") {
  for (std::uint32_t seed = 1; seed <= 5; ++seed) {
    CAPTURE(seed);
    simulated::SimulatedTesterOptions options;
    options.faults.corrupt = 0.01;
    options.faults.random = seed;
    simulated::SimulatedTester tester(faulty_board(), options);
    const auto port = transport::open_port(tester.port_name());
    session::Session session(*port, impatient(1500ms));
    CHECK(visit(session) == right_outcome());
    CHECK(session.counters().bad_frames > 0);
    CHECK(session.counters().retries > 0);
  }
}

TEST_CASE("late answers, each frame doubled: the same result", "[session][faults]") {
  simulated::SimulatedTesterOptions options;
  options.faults.duplicate_frame = 1;
  options.faults.delay_ms = 40;
  simulated::SimulatedTester tester(faulty_board(), options);
  const auto port = transport::open_port(tester.port_name());
  CHECK(visit(*port, impatient(3000ms)) == right_outcome());
}

TEST_CASE("a tester that vanishes is said to be gone, whenever it does",
          "[session][faults][slow]") {
  std::uint64_t all = 0;
  {
    simulated::SimulatedTester tester(faulty_board(), {});
    const auto port = transport::open_port(tester.port_name());
    visit(*port);
    all = tester.bytes().to_host;
  }
  std::size_t kept = 0;
  for (std::uint64_t bytes = 1; bytes < all; bytes += 23) {
    CAPTURE(bytes, all);
    simulated::SimulatedTesterOptions options;
    options.faults.vanish_after_bytes = bytes;
    simulated::SimulatedTester tester(faulty_board(), options);
    const auto port = transport::open_port(tester.port_name());
    std::optional<session::Session> session;
    std::optional<Visit> outcome;
    const std::string said = sentence([&] {
      session.emplace(*port, impatient(3000ms));
      outcome = visit(*session);
    });
    CAPTURE(said);
    if (outcome) {  // answers came twice in the first visit, which then counted too many bytes
      CHECK(*outcome == right_outcome());
      CHECK(bytes > all / 2);
      continue;
    }
    CHECK(said.find("the tester on " + tester.port_name() + " is gone: ") == 0);
    if (!session) {
      continue;
    }
    // What was read before is there, and right.
    const std::vector<Measurement>& partial = session->partial_results();
    kept = std::max(kept, partial.size());
    for (std::size_t i = 4; i < partial.size(); ++i) {
      CHECK(std::isinf(partial[i].ohm) == std::isinf(right_outcome().ohms[i]));
    }
  }
  CHECK(kept > all_requests().size() / 2);
}

TEST_CASE("what is no tester is told from silence", "[session][faults]") {
  simulated::SimulatedTesterOptions options;
  const auto said = [&] {
    simulated::SimulatedTester tester(faulty_board(), options);
    const auto port = transport::open_port(tester.port_name());
    std::string text = sentence([&] { visit(*port); });
    const std::size_t at = text.find(tester.port_name());
    REQUIRE(at != std::string::npos);
    return text.replace(at, tester.port_name().size(), "PORT");
  };
  SECTION("silence") {
    options.faults.silent = true;
    CHECK(said() == "nothing answers on PORT; is the tester connected and switched on?");
  }
  SECTION("garbage for ever") {
    options.faults.garbage = true;
    CHECK(said() == "PORT answers, but not as a padwalk tester; is it the right port?");
  }
  SECTION("a newer version") {
    options.protocol_version = 2;
    CHECK(said() ==
          "the tester on PORT speaks version 2, this padwalk version 1: update the "
          "program");
  }
}

TEST_CASE("a peer that only echoes is no tester", "[session][faults]") {
  InMemoryTester tester(faulty_board());
  Bytes heard;
  tester.on_request = [&](std::size_t, const Bytes& frame) {
    heard = frame;
    return std::vector<Bytes>{frame};
  };
  tester.on_reply = [&](std::size_t, const Bytes&) { return std::vector<Bytes>{heard}; };
  CHECK(sentence([&] { visit(tester, impatient(60ms)); }) ==
        "memory answers, but not as a padwalk tester; is it the right port?");
}

TEST_CASE("an older version and other messages of the same one are refused", "[session][faults]") {
  InMemoryTester tester(faulty_board());
  SECTION("older") {
    tester.on_reply = [](std::size_t, const Bytes& frame) {
      return std::vector<Bytes>{tests::changed<wire::HelloReply>(
          frame, [](wire::HelloReply& reply) { reply.version = 0; })};
    };
    CHECK(sentence([&] { visit(tester); }) ==
          "the tester on memory speaks version 0, this padwalk version 1: update the tester");
  }
  SECTION("other messages") {
    tester.on_reply = [](std::size_t, const Bytes& frame) {
      return std::vector<Bytes>{tests::changed<wire::HelloReply>(
          frame, [](wire::HelloReply& reply) { reply.signature ^= 1; })};
    };
    CHECK(sentence([&] { visit(tester); }) ==
          "the tester on memory says that it speaks version 1 like this padwalk, but its messages "
          "differ: install firmware and program of the same release");
  }
}

TEST_CASE("a tester that turns to garbage or silence later is given up", "[session][faults]") {
  std::mt19937 random(7);
  const bool garbage = GENERATE(false, true);
  for (std::size_t from = 3; from < 40; from += 4) {
    CAPTURE(garbage, from);
    InMemoryTester tester(faulty_board());
    tester.on_reply = [&](std::size_t index, const Bytes& frame) {
      Bytes noise(64);
      std::generate(noise.begin(), noise.end(), [&] { return random(); });
      return index < from ? std::vector<Bytes>{frame}
             : garbage    ? std::vector<Bytes>{noise}
                          : std::vector<Bytes>{};
    };
    CHECK(sentence([&] { visit(tester, impatient(40ms)); }) ==
          "the tester on memory is gone: no valid answer for 0.04 s; check cable and supply");
  }
}

TEST_CASE("a tester that answers without getting anywhere is given up", "[session][faults]") {
  InMemoryTester tester(faulty_board());
  tester.on_reply = [](std::size_t index, const Bytes& frame) {
    return std::vector<Bytes>{tests::changed<wire::Results>(
        tests::changed<wire::ProgramState>(frame,
                                           [&](wire::ProgramState& state) {
                                             state.phase = wire::Phase::receiving;
                                             state.received = 0;
                                           }),
        [&](wire::Results& results) { results.first = static_cast<std::uint16_t>(index + 1000); })};
  };
  CHECK(sentence([&] { visit(tester, impatient(20ms)); }) ==
        "the tester on memory answers, but gets nowhere; switch it off and on");
}

TEST_CASE("a tester that was switched off and on is noticed", "[session][faults]") {
  InMemoryTester tester(faulty_board());
  session::Session session(tester, impatient());
  REQUIRE(session.power_check(all_channels()).passed);
  { session::Session another(tester, impatient()); }
  CHECK(sentence([&] { session.measure(all_requests()); }) ==
        "the tester on memory has forgotten this session: was it switched off, or does another "
        "program use it?");
}

TEST_CASE("after a second of silence the power is checked again by itself", "[session][faults]") {
  InMemoryTester tester(faulty_board());
  session::Session session(tester, impatient());
  REQUIRE(session.power_check(all_channels()).passed);
  SECTION("between two rounds") {
    tester.be_silent(1500);
    CHECK(visit(session) == right_outcome());
  }
  SECTION("at any step of a round") {
    for (std::size_t step = 0; step < 60; step += 3) {
      CAPTURE(step);
      const std::size_t start = tester.requests();
      tester.on_request = [&](std::size_t index, const Bytes& frame) {
        if (index == start + step) {
          tester.be_silent(1500);
        }
        return std::vector<Bytes>{frame};
      };
      CHECK(visit(session) == right_outcome());
    }
  }
  SECTION("and what has come alive meanwhile is refused") {
    Circuit live = faulty_board();
    live.sources.push_back({3, kNoNode, -2.1, 1e3});
    tester.hal().set_circuit(live);
    tester.be_silent(1500);
    const std::uint64_t driven = tester.hal().driven_settings();
    session::PowerCheck found;
    CHECK(sentence([&] {
            try {
              session.measure(all_requests());
            } catch (const session::NotAtRest& at) {
              found = at.check;
              throw;
            }
          }) ==
          "the board is not at rest any more: channel 1 has -2.09 V; switch it off, let it "
          "discharge, and begin again");
    REQUIRE(!found.live.empty());
    CHECK(found.live.front().channel == 1);
    CHECK(session.needs_power_check());
    CHECK_THROWS_AS(session.measure(all_requests()), std::logic_error);
    CHECK(tester.hal().driven_settings() == driven);
  }
}
