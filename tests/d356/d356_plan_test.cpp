// SPDX-License-Identifier: MIT
//
// Plans of real boards on three benches; see d356_import_test.cpp for the files.
#include <catch2/catch.hpp>

#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/graph/plan_checker.hpp"

using namespace padwalk::graph;
using namespace padwalk::tests;

TEST_CASE("plans of real boards do what they say, on three benches", "[d356][plan]") {
  for (const char* file : {"board-01.d356", "board-02.d356", "board-03.d356", "board-04.d356",
                           "board-10.d356", "board-12.d356", "board-21.d356"}) {
    CAPTURE(file);
    const std::string path = std::string(PADWALK_NETLISTS) + "/" + file;
    Diagnostics diagnostics(path);
    IpcSummary summary;
    BoardDescription description = read_ipc356(read_file(path), std::nullopt, diagnostics, summary);
    description.state = BoardState::assembled;  // else a chip has no legs for a clip
    const Board board(std::move(description), diagnostics);
    const PlanGoal goal = plan_goal(board, NeighbourRules());
    for (const Fixtures& bench : {clips_and_tip(), grabbers_and_tip(), many_grabbers()}) {
      CAPTURE(bench.fixtures.front().name, bench.fixtures.size());
      check_plan(board, bench, goal, make_plan(board, bench, goal));
    }
  }
}
