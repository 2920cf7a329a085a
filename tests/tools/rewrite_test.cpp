// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "graph/board_description.hpp"
#include "tests/support/program.hpp"
#include "tools/board_file.hpp"

using namespace padwalk;

TEST_CASE("check --rewrite writes the same demo board again", "[tools][check]") {
  const test::TemporaryFolder folder;
  for (const char* name : {"board.yaml", "board-bare.yaml"}) {
    INFO(name);
    const std::string original = test::source(std::string("boards/tide-gauge/") + name);
    const std::string first = folder.path("first.yaml");
    const std::string second = folder.path("second.yaml");
    CHECK(test::padwalk({"check", original, "--rewrite", first}).status == 0);
    CHECK(test::padwalk({"check", first, "--rewrite", second}).status == 0);
    CHECK(graph::without_marks(tools::load_board(first).board.description()) ==
          graph::without_marks(tools::load_board(original).board.description()));
    CHECK(test::read_text(second) == test::read_text(first));
  }
}
