// SPDX-License-Identifier: MIT
//
// `padwalk compare` as a person runs it.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

std::string board(const std::string& name, const std::string& nets) {
  return "padwalk: board/1\nname: " + name +
         "\nparts:\n  U1: {kind: ic, type: A, package: DIP-8, xy: [0, 20]}\n"
         "  U2: {kind: ic, type: B, package: DIP-8, xy: [30, 20]}\nnets:\n" +
         nets;
}

}  // namespace

TEST_CASE("compare says which nets are the same and which points moved", "[tools][compare]") {
  const test::TemporaryFolder folder;
  const std::string first =
      folder.write("drawn.yaml", board("drawn",
                                       "  CLK: [U1.1, U2.1]\n  DATA: [U1.2, U2.2]\n"
                                       "  WE: [U1.3, U2.3, U2.4]\n  OE: [U1.5, U2.5]\n"));
  const std::string second =
      folder.write("learned.yaml", board("learned",
                                         "  N1: [U1.1, U2.1]\n  N2: [U1.2, U2.2]\n"
                                         "  N3: [U1.3, U2.3]\n  OE: [U1.5, U2.5, U2.4]\n"));
  const test::Outcome outcome =
      test::padwalk({"compare", first, second, "--json", folder.path("compare.json")});
  CHECK(outcome.status == 1);
  CHECK(outcome.err == "");
  CHECK(outcome.out == "first:  " + first + " (drawn)\nsecond: " + second +
                           " (learned)\n"
                           "DIFFERS  WE, OE in the first, N3, OE in the second\n"
                           "      U2.4: in net OE there, net WE here\n"
                           "The same under another name: CLK is N1, DATA is N2\n"
                           "2 nets the same, 1 difference.\n"
                           "Next: sweep the board with both files: what it is, only it can say.\n");
  const json result = json::parse(test::read_text(folder.path("compare.json")));
  CHECK(result["padwalk"] == "compare/1");
  CHECK(result["same"] == 2);
  CHECK(result["renamed"] == json::parse(R"([["CLK", "N1"], ["DATA", "N2"]])"));
  CHECK(result["differences"][0]["first"] == json::array({"WE", "OE"}));
  CHECK(result["differences"][0]["moved"] == json::array({"U2.4"}));
  CHECK(result["only_first"].empty());
}

TEST_CASE("a board compares equal to itself", "[tools][compare]") {
  const std::string demo = PADWALK_SOURCE_DIR "/boards/tide-gauge/board.yaml";
  const test::Outcome outcome = test::padwalk({"compare", demo, demo});
  CHECK(outcome.status == 0);
  CHECK(outcome.out.find(" nets the same, 0 differences.\nNext: nothing; their nets agree.\n") !=
        std::string::npos);
}

TEST_CASE("a file that compare cannot read is named", "[tools][compare]") {
  const std::string demo = PADWALK_SOURCE_DIR "/boards/tide-gauge/board.yaml";
  const test::Outcome outcome = test::padwalk({"compare", demo, "/nowhere/board.yaml"});
  CHECK(outcome.status == 2);
  CHECK(outcome.out == "");
  CHECK(outcome.err.find("/nowhere/board.yaml") != std::string::npos);
}
