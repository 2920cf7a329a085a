// SPDX-License-Identifier: MIT
#include "graph/hookup.hpp"

#include <catch2/catch.hpp>

namespace {

using namespace padwalk::graph;

Board demo() {
  BoardDescription description;
  PartDescription chip;
  chip.name = "U1";
  chip.kind = PartKind::ic;
  for (const char* pin : {"10", "2", "1"}) {
    chip.pins.emplace_back();
    chip.pins.back().name = pin;
  }
  description.parts.push_back(chip);
  PointDescription pad;
  pad.name = "TP1";
  description.points.push_back(pad);
  pad.name = "HEAD";
  pad.drive_never = true;
  description.points.push_back(pad);
  pad.name = "HIDDEN";
  pad.drive_never = false;
  pad.access = {Access::none};
  description.points.push_back(pad);
  pad.name = "TP2";
  pad.access.clear();
  description.points.push_back(pad);
  description.nets.resize(2);
  description.nets[0].name = "A";
  description.nets[0].members = {{"U1.1", {}}, {"TP1", {}}, {"HIDDEN", {}}};
  description.nets[1].name = "B";
  description.nets[1].members = {{"U1.2", {}}, {"HEAD", {}}};
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

}  // namespace

TEST_CASE("the default hookup takes what a clip can hold, in file order", "[graph][hookup]") {
  const Board board = demo();
  const Hookup hookup = default_hookup(board);
  std::vector<std::string> names;
  for (const Lead& lead : hookup.leads) {
    names.push_back(std::to_string(lead.channel) + " " + board[lead.point].name);
  }
  // U1.2 is one conductor with HEAD, which must never be driven.
  CHECK(names == std::vector<std::string>{"1 U1.1", "2 U1.10", "3 TP1", "4 TP2"});
  CHECK(hookup.points().size() == 4);
  CHECK(hookup.points()[2] == board.find_point("TP1"));
}

TEST_CASE("groups are nets with a lead and points in no net", "[graph][hookup]") {
  const Board board = demo();
  CHECK(count_groups(board, default_hookup(board).points()) == 3);
  CHECK(count_groups(board, {}) == 0);
}
