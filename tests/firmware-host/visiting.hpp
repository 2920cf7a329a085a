// SPDX-License-Identifier: MIT
//
// A whole visit to a tester: power check and all kinds of settings on a board with an open and a
// short, and what it should give. For tests that do something to the line meanwhile.
#pragma once

#include <chrono>
#include <functional>
#include <numeric>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "tests/firmware-host/in_memory_tester.hpp"

namespace padwalk::tests {

inline constexpr int kNets = 12;
inline constexpr int kPoints = 4;

/// Nets of four points, one open inside a net and one short between two.
inline simulated::Circuit faulty_board() {
  simulated::Circuit circuit;
  for (int net = 0; net < kNets; ++net) {
    for (int k = 0; k < kPoints; ++k) {
      if (k > 0 && !(net == 5 && k == 2)) {
        circuit.resistors.push_back({circuit.nodes - 1, circuit.nodes, 0.3});
      }
      circuit.leads.push_back({circuit.nodes++, 0.025});
    }
  }
  circuit.resistors.push_back({9, 30, 4.7});
  return circuit;
}

inline std::vector<session::Channel> all_channels() {
  std::vector<session::Channel> channels(kNets * kPoints);
  std::iota(channels.begin(), channels.end(), session::Channel{1});
  return channels;
}

/// All kinds of settings, a few programs' worth of bytes.
inline std::vector<session::Request> all_requests() {
  std::vector<session::Request> requests;
  for (int bit = 0; bit < 4; ++bit) {
    session::Request request;
    request.purpose = session::Purpose::isolation;
    for (const session::Channel channel : all_channels()) {
      const bool one = ((channel - 1) / kPoints >> bit & 1) != 0;
      (one ? request.sink : request.source).push_back(channel);
    }
    requests.push_back(request);
  }
  for (const session::Channel channel : all_channels()) {
    if (channel % kPoints != 1) {
      const auto first = static_cast<session::Channel>(channel - (channel - 1) % kPoints);
      requests.push_back({{first}, {channel}, session::Purpose::continuity, 0});
    }
  }
  for (const session::Channel channel : all_channels()) {
    requests.push_back({{1, 9, 17}, {}, session::Purpose::follow, channel});
  }
  return requests;
}

/// What a whole visit gives. Equality is exact: there is no noise on this board.
struct Visit {
  bool passed = false;
  std::vector<double> ohms;
  std::vector<double> volts;
  bool operator==(const Visit&) const = default;
};

inline session::Options impatient(
    std::chrono::milliseconds limit = std::chrono::milliseconds(300)) {
  session::Options options;
  options.silence_limit = limit;
  return options;
}

inline Visit visit(session::Session& session) {
  Visit outcome;
  outcome.passed = session.power_check(all_channels()).passed;
  for (const session::Measurement& measured : session.measure(all_requests())) {
    outcome.ohms.push_back(measured.ohm);
    outcome.volts.push_back(measured.volt);
  }
  return outcome;
}

inline Visit visit(transport::ByteStream& stream, session::Options options = impatient()) {
  session::Session session(stream, options);
  return visit(session);
}

inline const Visit& right_outcome() {
  static const Visit outcome = [] {
    InMemoryTester tester(faulty_board());
    return visit(tester);
  }();
  return outcome;
}

inline std::string sentence(const std::function<void()>& action) {
  try {
    action();
  } catch (const session::TesterError& error) {
    return error.what();
  }
  return "no error";
}

}  // namespace padwalk::tests
