// SPDX-License-Identifier: MIT
//
// The range table: from the front end's figures it comes out as specified, and what a session says
// of a thousand simulated readings a cell holds. The testers are drawn anew, within tolerance:
// gains, references, offsets, leakage, noise, and every contact.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <random>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "tests/firmware-host/in_memory_tester.hpp"
#include "tests/ranges/range_table.hpp"
#include "tests/support/effort.hpp"

using namespace padwalk;
using session::Channel;
using session::Measurement;
using session::Request;
using simulated::Circuit;
using tests::kSpecified;
using tests::kTableOhms;

namespace {

constexpr int kEach = 6;                                        // pairs of each value on one tester
constexpr int kTesters = 167 / static_cast<int>(test::kEvery);  // of 167: 1002 readings a cell
constexpr double kTableLeadOhm = 0.05;

/// Pairs of leads with each of the table's values between them, on a tester drawn within tolerance.
Circuit drawn_tester(std::mt19937& random) {
  const auto within = [&](double most) {
    return std::uniform_real_distribution<double>(-most, most)(random);
  };
  std::normal_distribution<double> contact(0, session::Conditions().contact_ohm);
  Circuit circuit;
  circuit.random = random();
  circuit.electronics.noise_volt = session::kNoiseVolt;
  circuit.electronics.offset_volt = within(2e-3);
  circuit.electronics.leak_ampere = 1e-9;
  for (std::size_t gain = 0; gain < 3; ++gain) {
    circuit.electronics.gain_error[gain] = within(session::kGainError[gain]);
  }
  for (double& error : circuit.electronics.reference_error) {
    error = within(session::kReferenceError);
  }
  for (const double ohm : kTableOhms) {
    for (int pair = 0; pair < kEach; ++pair) {
      circuit.resistors.push_back({circuit.nodes, circuit.nodes + 1, ohm});
      for (int end = 0; end < 2; ++end) {
        // A contact is never below nothing; the share that this cuts off is small.
        circuit.leads.push_back(
            {circuit.nodes++, std::max(kTableLeadOhm / 2 + contact(random), 1e-3)});
      }
    }
  }
  circuit.leads.resize(128);
  return circuit;
}

struct Cell {
  int inside = 0;
  int readings = 0;
  int numbers = 0;
  double share_sum = 0;
};

/// Reads all pairs of `circuit` in one range alone.
void read(const Circuit& circuit, std::uint8_t range, std::array<Cell, 10>& cells) {
  tests::InMemoryTester tester(circuit);
  tester.on_reply = [&](std::size_t, const tests::Bytes& frame) {
    return std::vector<tests::Bytes>{tests::changed<wire::Ability>(frame, [&](wire::Ability& can) {
      can.ranges = range == 5 ? 0x18 : 1u << (range - 1);  // a 0.2 V range every tester has
    })};
  };
  session::Options options;
  options.bare_board = true;
  options.zero.lead_ohm = kTableLeadOhm;
  session::Session session(tester, options);
  std::vector<Channel> channels(2 * kEach * kTableOhms.size());
  std::iota(channels.begin(), channels.end(), Channel{1});
  REQUIRE(session.power_check(channels).passed);
  std::vector<Request> requests;
  std::vector<std::size_t> cell_of;
  for (std::size_t k = 0; k < kTableOhms.size(); ++k) {
    for (int pair = 0; pair < kEach && kSpecified[range - 1u].share[k] > 0; ++pair) {
      const auto channel =
          static_cast<Channel>(2 * (kEach * k + static_cast<std::size_t>(pair)) + 1);
      requests.push_back({{channel},
                          {static_cast<Channel>(channel + 1)},
                          range == 5 ? session::Purpose::isolation : session::Purpose::continuity});
      cell_of.push_back(k);
    }
  }
  const std::vector<Measurement> measured = session.measure(requests);
  for (std::size_t i = 0; i < measured.size(); ++i) {
    const double ohm = kTableOhms[cell_of[i]];
    Cell& cell = cells[cell_of[i]];
    ++cell.readings;
    CHECK(measured[i].volt == (range == 5 ? 5 : 0.2));
    if (std::isinf(measured[i].ohm)) {
      // No number: right only where the error is more than half of the current.
      cell.inside += kSpecified[range - 1u].share[cell_of[i]] > 0.5 ? 1 : 0;
      continue;
    }
    ++cell.numbers;
    cell.share_sum += measured[i].uncertainty_ohm / ohm;
    cell.inside += std::abs(measured[i].ohm - ohm) <= measured[i].uncertainty_ohm ? 1 : 0;
  }
}

}  // namespace

TEST_CASE("the range table follows from the front end's figures", "[ranges]") {
  const session::Ranges ranges(tests::reference_ability(), true);
  for (std::uint8_t range = 1; range <= wire::kRangeCount; ++range) {
    const tests::SpecifiedRange& specified = kSpecified[range - 1u];
    CAPTURE(int(range));
    CHECK(ranges.figures(range).short_ampere == Approx(specified.short_ampere).epsilon(0.02));
    CHECK(ranges.figures(range).ohm_per_code == Approx(specified.ohm_per_code).epsilon(0.03));
    for (std::size_t k = 0; k < kTableOhms.size(); ++k) {
      if (specified.share[k] == 0) {
        continue;
      }
      CAPTURE(kTableOhms[k], specified.share[k]);
      const double share = ranges.predicted(range, kTableOhms[k], {}).uncertainty / kTableOhms[k];
      CHECK(share <= tests::kMostShare * specified.share[k]);
      // Nor much better than specified: then something would be forgotten. Range 5 was computed at
      // x1, and a finer gain reads its low end four times as well.
      CHECK(share >= (range == 5 ? 0.2 : 0.7) * specified.share[k]);
    }
  }
}

TEST_CASE("of a thousand readings a cell 95 in 100 hold the true value", "[ranges][slow]") {
  std::mt19937 random(20);
  for (std::uint8_t range = 1; range <= wire::kRangeCount; ++range) {
    std::array<Cell, 10> cells;
    for (int tester = 0; tester < kTesters; ++tester) {
      read(drawn_tester(random), range, cells);
    }
    for (std::size_t k = 0; k < kTableOhms.size(); ++k) {
      const Cell& cell = cells[k];
      const double specified = kSpecified[range - 1u].share[k];
      if (specified == 0) {
        continue;
      }
      CAPTURE(int(range), kTableOhms[k], specified, cell.numbers);
      REQUIRE(cell.readings == kEach * kTesters);
      CHECK(cell.inside >= 0.95 * cell.readings);
      REQUIRE(cell.numbers > cell.readings / 4);
      CHECK(cell.share_sum / cell.numbers <= tests::kMostShare * specified);
    }
  }
}
