// SPDX-License-Identifier: MIT
#include "graph/slips.hpp"

#include <catch2/catch.hpp>
#include <map>

#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;

const std::string kParts =
    "parts:\n"
    "  U1: {kind: ic, type: 74HC00, package: DIP-14, xy: [0, 60]}\n"
    "  U2: {kind: ic, type: 74HC138, package: DIP-16, xy: [20, 60]}\n"
    "  J1: {kind: connector, package: header 2x3, xy: [40, 60]}\n"
    "  R1: {kind: resistor, value: 10k, package: axial 10 mm, xy: [60, 60]}\n";
const std::string kSlipNets =
    "nets:\n"
    "  GND: {role: ground, points: [U1.7, U2.8, J1.1]}\n"
    "  VCC: {role: supply, points: [U1.14, U2.16, J1.6]}\n"
    "  A: [U1.1, U2.1, J1.2]\n"
    "  B: [U1.2, U2.2, R1.1]\n"
    "  C: [U1.3, U2.3]\n"
    "  D: [U1.4, U2.7, R1.2]\n";

Fixtures bench() {
  Diagnostics diagnostics("bench");
  Fixtures bench = read_fixtures(
      "padwalk: fixtures/1\nfixtures:\n"
      "  clip: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
      "  other: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 17-32, move: 8 s}\n"
      "  plug: {kind: plug, package: header 2x3, channels: 33-38, move: 8 s}\n"
      "  grabber: {kind: grabber, channels: [39], move: 15 s}\n",
      diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

PlanMove put(const Board& board, const Fixtures& fixtures, std::size_t fixture,
             const std::string& part) {
  PlanMove move;
  move.fixture = fixture;
  for (std::uint32_t i = 0; i < board.parts().size(); ++i) {
    move.part = board.parts()[i].name == part ? PartId{i} : move.part;
  }
  std::string why;
  move.leads = leads_on(board, fixtures.fixtures[fixture], move.part, why).value();
  return move;
}

/// By channel.
std::map<int, std::string> names(const Board& board, const std::vector<Lead>& leads) {
  std::map<int, std::string> names;
  for (const Lead& lead : leads) {
    names[lead.channel] = board[lead.point].name;
  }
  return names;
}

const Slip* find(const std::vector<Slip>& slips, Slip::Kind kind, int pins = 0) {
  for (const Slip& slip : slips) {
    if (slip.kind == kind && slip.pins == pins) {
      return &slip;
    }
  }
  return nullptr;
}

/// What a scan reads where each lead is on the point of `really`, if on any, and the board is good.
std::vector<Reading> readings(const Board& board, const Hookup& believed,
                              const std::map<int, PointId>& really) {
  std::vector<Reading> all;
  for (const Lead& a : believed.leads) {
    for (const Lead& b : believed.leads) {
      if (a.channel >= b.channel) {
        continue;
      }
      const auto at_a = really.find(a.channel);
      const auto at_b = really.find(b.channel);
      const bool joined = at_a != really.end() && at_b != really.end() &&
                          board[at_a->second].net == board[at_b->second].net &&
                          board[at_a->second].net != kNoNet;
      all.push_back({{{a.point}, {b.point}, Purpose::continuity, kNoPoint, {}},
                     joined ? 0.1 : kOpenOhm,
                     0.01,
                     0.2});
    }
  }
  return all;
}

}  // namespace

TEST_CASE("a clip backwards, along, or on another chip: where its leads are then",
          "[graph][slips]") {
  const Board board = test::small_board(kParts + kSlipNets);
  const Fixtures fixtures = bench();
  const std::vector<Slip> slips = possible_slips(board, fixtures, put(board, fixtures, 0, "U2"), 0);
  // Half a turn: pin 1 comes to lie where pin 9 was.
  const Slip* backwards = find(slips, Slip::Kind::backwards);
  REQUIRE(backwards != nullptr);
  CHECK(names(board, backwards->leads).at(1) == "U2.9");
  CHECK(names(board, backwards->leads).at(8) == "U2.16");
  CHECK(names(board, backwards->leads).at(16) == "U2.8");
  // Two pins on: the last two of each row hang over the end.
  const Slip* along = find(slips, Slip::Kind::along, 2);
  REQUIRE(along != nullptr);
  const std::map<int, std::string> moved = names(board, along->leads);
  CHECK(moved.size() == 12);
  CHECK(moved.at(1) == "U2.3");
  CHECK(moved.at(16) == "U2.14");
  CHECK(moved.count(7) == 0);
  CHECK(moved.count(10) == 0);
  // The other chip has 14 pins, so that legs 8 and 9 of the clip are in the air.
  const Slip* elsewhere = find(slips, Slip::Kind::elsewhere);
  REQUIRE(elsewhere != nullptr);
  CHECK(names(board, elsewhere->leads).at(1) == "U1.1");
  CHECK(names(board, elsewhere->leads).at(16) == "U1.14");
  CHECK(names(board, elsewhere->leads).count(8) == 0);

  const std::vector<Slip> plug = possible_slips(board, fixtures, put(board, fixtures, 2, "J1"), 0);
  CHECK(plug.size() == 1);
  CHECK(names(board, plug.front().leads).at(33) == "J1.6");
}

TEST_CASE("what the copper says of a clip that sits wrong", "[graph][slips]") {
  const Board board = test::small_board(kParts + kSlipNets);
  const Fixtures fixtures = bench();
  const std::vector<PlanMove> moves = {put(board, fixtures, 1, "U1"),
                                       put(board, fixtures, 0, "U2")};
  Hookup now;
  std::map<int, PointId> right;
  for (const PlanMove& move : moves) {
    for (const Lead& lead : move.leads) {
      now.leads.push_back(lead);
      right[lead.channel] = lead.point;
    }
  }
  const auto told = [&](const std::map<int, PointId>& really, std::vector<bool> looked_at) {
    return likeliest_slip(board, fixtures, limits_for(board), {now, moves},
                          readings(board, now, really), looked_at);
  };
  CHECK(!told(right, {false, false}));
  for (const Slip& slip : possible_slips(board, fixtures, moves[1], 1)) {
    std::map<int, PointId> really = right;
    for (const Lead& lead : moves[1].leads) {
      really.erase(lead.channel);
    }
    for (const Lead& lead : slip.leads) {
      really[lead.channel] = lead.point;
    }
    const auto found = told(really, {false, false});
    CAPTURE(static_cast<int>(slip.kind), slip.pins);
    REQUIRE(found);
    // On U1 as well as the other clip: nothing tells the two clips apart.
    if (slip.kind != Slip::Kind::elsewhere) {
      CHECK(found->move == 1);
      CHECK(found->kind == slip.kind);
      CHECK(found->pins == slip.pins);
      CHECK(!told(really, {true, true}));
    }
  }
}

TEST_CASE("a fault is no slip, and a silent lead is asked for otherwise", "[graph][slips]") {
  const Board board = test::small_board(kParts + kSlipNets);
  const Fixtures fixtures = bench();
  const std::vector<PlanMove> moves = {put(board, fixtures, 1, "U1"),
                                       put(board, fixtures, 0, "U2")};
  Hookup now;
  std::map<int, PointId> really;
  for (const PlanMove& move : moves) {
    for (const Lead& lead : move.leads) {
      now.leads.push_back(lead);
      really[lead.channel] = lead.point;
    }
  }
  really.erase(3);  // no contact on U2.3
  std::vector<Reading> read = readings(board, now, really);
  read.push_back({{{*board.find_point("U2.1")},
                   {*board.find_point("U2.2")},
                   Purpose::continuity,
                   kNoPoint,
                   {}},
                  0.4,
                  0.01,
                  0.2});
  CHECK(!likeliest_slip(board, fixtures, limits_for(board), {now, moves}, read, {false, false}));
}

TEST_CASE("the tip on another pin conducts to that pin's net", "[graph][slips]") {
  const Board board = test::small_board(kParts + kSlipNets);
  const Fixtures fixtures = bench();
  Hookup now{put(board, fixtures, 0, "U2").leads};
  std::map<int, PointId> really;
  for (const Lead& lead : now.leads) {
    really[lead.channel] = lead.point;
  }
  now.leads.push_back({40, *board.find_point("R1.1")});
  const Limits limits = limits_for(board);
  really[40] = *board.find_point("R1.1");
  CHECK(!touched_instead(board, limits, now, readings(board, now, really)));
  really[40] = *board.find_point("R1.2");
  CHECK(touched_instead(board, limits, now, readings(board, now, really)) == board.find_net("D"));
  really.erase(40);
  CHECK(!touched_instead(board, limits, now, readings(board, now, really)));
}
