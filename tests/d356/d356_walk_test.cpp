// SPDX-License-Identifier: MIT
//
// How soon a tip is named on the largest of the real netlists with 64 leads clipped: the tester's
// time plus that of a link whose round trip is 4 ms.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <iostream>

#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/timed_tester.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/walk.hpp"

namespace {

using namespace padwalk;
using graph::PointId;

constexpr std::size_t kClipped = 64;
constexpr double kSoonS = 0.1;
constexpr double kRoundTripS = 4e-3;

/// The longest time from a contact to its name, one round of listening missed. Units: s.
double longest(const graph::Board& board, const graph::Hookup& hookup,
               const std::vector<PointId>& touched, double byte_s) {
  const auto tip = static_cast<std::uint16_t>(hookup.leads.size() + 1);
  const auto circuit = [&](const graph::Hookup& now) {
    return tools::make_circuit(board, tools::Defects(), now, tip, false);
  };
  test::TimedTester tester(circuit(hookup), {kRoundTripS, byte_s});
  session::Session session(tester, session::Options());
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : hookup.leads) {
    channels.push_back(lead.channel);
  }
  REQUIRE(session.power_check(channels).passed);
  const session::Held held = tools::held_by(board, hookup);
  double longest = 0;
  for (std::size_t i = 0; i < touched.size(); ++i) {
    const double contact = tester.now();
    CHECK_FALSE(session.touches(tip, held));
    graph::Hookup now = hookup;
    now.leads.push_back({tip, touched[i]});
    tester.hal().set_circuit(circuit(now));
    REQUIRE(session.touches(tip, held));
    const session::Heard heard = session.name(tip, held);
    longest = std::max(longest, tester.now() - contact);
    REQUIRE(heard.group);
    CHECK(held.groups[*heard.group].front() == hookup.leads[i].channel);
    tester.hal().set_circuit(circuit(hookup));
  }
  return longest;
}

}  // namespace

TEST_CASE("a tip is named within a tenth of a second beside 64 leads", "[d356][walk]") {
  const std::string path = std::string(PADWALK_NETLISTS) + "/board-01.d356";
  graph::Diagnostics diagnostics(path);
  graph::IpcSummary summary;
  graph::BoardDescription description =
      graph::read_ipc356(graph::read_file(path), std::nullopt, diagnostics, summary);
  diagnostics.throw_if_errors();
  const graph::Board board(std::move(description), diagnostics);

  // A lead on each of the first 64 nets that have two points to touch.
  graph::Hookup hookup;
  std::vector<PointId> touched;
  for (const graph::Net& net : board.nets()) {
    std::vector<PointId> reached;
    std::copy_if(net.points.begin(), net.points.end(), std::back_inserter(reached),
                 [&](PointId point) { return board[point].access == graph::Access::clip; });
    if (reached.size() > 1 && hookup.leads.size() < kClipped) {
      hookup.leads.push_back(
          {static_cast<std::uint16_t>(hookup.leads.size() + 1), reached.front()});
      touched.push_back(reached.back());
    }
  }
  REQUIRE(hookup.leads.size() == kClipped);
  const double fast = longest(board, hookup, touched, 0);
  const double serial = longest(board, hookup, touched, test::kByteS);
  CHECK(fast < kSoonS);
  std::cout << fmt::format(
      "walk, 64 leads: from contact to name {:.0f} ms at most, {:.0f} ms at 115200 baud\n",
      fast * 1e3, serial * 1e3);
}
