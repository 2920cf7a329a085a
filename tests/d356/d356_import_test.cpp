// SPDX-License-Identifier: MIT
//
// Real netlists of open-hardware boards, read from beside the project. Where they are absent the
// program says so and exits with 77, which ctest reports as skipped.
#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"

namespace {

using namespace padwalk::graph;

const std::string kFolder = std::string(PADWALK_SOURCE_DIR) + "/../shared/data/d356/";

/// Counts of the data's own index, which were taken with other tools.
struct Expected {
  const char* file;
  std::size_t records;
  std::size_t nets;
  std::size_t unconnected;
  std::size_t tooling_holes;
};
constexpr Expected kBoards[] = {
    {"board-01.d356", 2120 + 24 + 2, 260, 2, 2}, {"board-02.d356", 562 + 60 + 2, 91, 2, 2},
    {"board-03.d356", 46 + 36, 30, 0, 0},        {"board-04.d356", 132 + 25 + 2, 41, 10, 2},
    {"board-10.d356", 31 + 8 + 2, 7, 0, 2},      {"board-12.d356", 412 + 776 + 1, 174, 14, 1},
    {"board-21.d356", 22 + 12, 5, 12, 0},
};

}  // namespace

int main(int argc, char** argv) {
  if (!std::filesystem::exists(kFolder)) {
    std::printf("skipped: there are no netlists in %s\n", kFolder.c_str());
    return 77;
  }
  return Catch::Session().run(argc, argv);
}

TEST_CASE("every netlist imports with the counts of its index and survives a rewrite", "[d356]") {
  for (const Expected& expected : kBoards) {
    INFO(expected.file);
    const std::string path = kFolder + expected.file;
    Diagnostics diagnostics(path);
    IpcSummary summary;
    const BoardDescription description =
        read_ipc356(read_file(path), std::nullopt, diagnostics, summary);
    REQUIRE(diagnostics.errors().empty());
    CHECK(summary.records == expected.records);
    CHECK(summary.nets == expected.nets);
    CHECK(summary.unconnected == expected.unconnected);
    CHECK(summary.tooling_holes == expected.tooling_holes);

    const Board board(description, diagnostics);
    CHECK(board.state() == BoardState::bare);
    CHECK(board.listed_nets() == expected.nets);
    std::size_t points = 0;
    for (const PartDescription& part : description.parts) {
      points += part.pins.size();
    }
    for (const PointDescription& point : description.points) {
      points += point.via.empty() ? 1 : 2;
    }
    CHECK(board.points().size() == points);

    Diagnostics again(path + " rewritten");
    const BoardDescription rewritten = read_board(write_board(description), again);
    CHECK(again.errors().empty());
    CHECK(again.warnings().empty());
    CHECK(without_marks(rewritten) == without_marks(description));
  }
}
