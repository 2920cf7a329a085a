// SPDX-License-Identifier: MIT
//
// How many leads one pass along a real board takes; see d356_import_test.cpp for the files.
#include <algorithm>
#include <catch2/catch.hpp>
#include <vector>

#include "graph/ipc356.hpp"
#include "graph/loose_plan.hpp"
#include "graph/neighbours.hpp"
#include "graph/yaml_reader.hpp"

using namespace padwalk::graph;

TEST_CASE("one pass along each netlist's board touches every pin once", "[d356][loose_plan]") {
  struct Expected {
    const char* file;
    std::size_t leads;  ///< computed for this project by other means; the moving lead beside
  };
  for (const Expected& expected : {Expected{"board-01.d356", 36},
                                   {"board-02.d356", 34},
                                   {"board-03.d356", 12},
                                   {"board-04.d356", 14},
                                   {"board-10.d356", 6},
                                   {"board-12.d356", 50},
                                   {"board-21.d356", 4}}) {
    CAPTURE(expected.file);
    const std::string path = std::string(PADWALK_NETLISTS) + "/" + expected.file;
    Diagnostics diagnostics(path);
    IpcSummary summary;
    const Board board(read_ipc356(read_file(path), std::nullopt, diagnostics, summary),
                      diagnostics);
    NeighbourRules rules;
    rules.pins_only = true;
    rules.at_parts = false;
    const NumberedNets nets = number_along(board, rules);
    const Pass pass = pass_neighbours(nets.points, nets.neighbours, SIZE_MAX);
    CHECK(pass.again() == 0);
    CHECK(pass.leads <= expected.leads);
  }
}
