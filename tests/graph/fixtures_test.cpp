// SPDX-License-Identifier: MIT
#include "graph/fixtures.hpp"

#include <catch2/catch.hpp>
#include <map>
#include <string>

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"

namespace {

using namespace padwalk::graph;

const std::string kBench =
    "padwalk: fixtures/1\n"
    "fixtures:\n"
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 17-56, move: 12 s}\n"
    "  card: {kind: plug, package: header 2x3, channels: [57-60, 70, 69], move: 6 s}\n"
    "  grabbers: {kind: grabber, channels: 61-62, move: 15 s}\n"
    "  tip: {kind: tip, channels: [63, 64], move: 4 s}\n"
    "times: {turn: 20 s}\n";

Fixtures fixtures_of(const std::string& text) {
  Diagnostics diagnostics("bench.yaml");
  Fixtures fixtures = read_fixtures(text, diagnostics);
  diagnostics.throw_if_errors();
  return fixtures;
}

std::string mistakes(const std::string& fixture) {
  try {
    fixtures_of("padwalk: fixtures/1\nfixtures:\n  x: " + fixture + "\n");
  } catch (const BadFile& bad) {
    return bad.what();
  }
  return "";
}

Board bench_board(const std::string& parts) {
  Diagnostics diagnostics("board.yaml");
  return Board(read_board("padwalk: board/1\nname: pier\nparts:\n" + parts, diagnostics),
               diagnostics);
}

/// Channel by pin, or why not.
std::string on(const Board& board, const Fixtures& bench, std::size_t fixture, const char* part) {
  std::string why;
  const auto leads = leads_on(board, bench.fixtures[fixture], *board.find_part(part), why);
  if (!leads) {
    return why;
  }
  std::string text;
  for (const Lead& lead : *leads) {
    text += (text.empty() ? "" : " ") + board[lead.point].pin + ":" + std::to_string(lead.channel);
  }
  return text;
}

}  // namespace

TEST_CASE("a bench's fixtures are read with their channels and times", "[graph][fixtures]") {
  const Fixtures bench = fixtures_of(kBench);
  REQUIRE(bench.fixtures.size() == 5);
  CHECK(bench.fixtures[0].channels.size() == 16);
  CHECK(bench.fixtures[1].pins == 40);
  CHECK(bench.fixtures[1].row_mm == Approx(15.24));
  CHECK(bench.fixtures[1].channels.front() == 17);
  CHECK(bench.fixtures[2].channels == std::vector<std::uint16_t>{57, 58, 59, 60, 70, 69});
  CHECK(bench.fixtures[3].move_s == 15);
  CHECK(bench.tip() == &bench.fixtures[4]);
  CHECK(bench.turn_s == 20);
  CHECK(bench.confirm_s == 10);
}

TEST_CASE("the example in FORMAT.md and the demo's bench are sound", "[graph][fixtures]") {
  const std::string text = read_file(PADWALK_SOURCE_DIR "/boards/FORMAT.md");
  const std::size_t begin = text.find("padwalk: fixtures/1\nfixtures:");
  REQUIRE(begin != std::string::npos);
  const Fixtures example = fixtures_of(text.substr(begin, text.find("```", begin) - begin));
  CHECK(example.fixtures.size() == 5);
  CHECK(example.tip() != nullptr);
  const Fixtures demo =
      fixtures_of(read_file(PADWALK_SOURCE_DIR "/boards/tide-gauge/fixtures.yaml"));
  CHECK(demo.fixtures.size() == 6);
}

TEST_CASE("mistakes in a fixtures file are named with their place", "[graph][fixtures]") {
  CHECK(mistakes("{kind: hook, channels: 1, move: 1 s}").find("bench.yaml:3:13: fixture x: kind") ==
        0);
  CHECK(mistakes("{kind: tip, move: 1 s}").find("channels is missing") != std::string::npos);
  CHECK(mistakes("{kind: tip, channels: 1}").find("move is missing") != std::string::npos);
  CHECK(mistakes("{kind: tip, channels: 1-3, move: 1 s}").find("two needles") != std::string::npos);
  CHECK(
      mistakes("{kind: grabber, channels: [3, 1-4], move: 1 s}").find("channel 3 is used twice") !=
      std::string::npos);
  for (const char* channels : {"0", "4-2", "a", "1-", "70000", "[]", "{a: 1}", "-3"}) {
    CAPTURE(channels);
    CHECK(mistakes(std::string("{kind: grabber, channels: ") + channels + ", move: 1 s}")
              .find("channels are numbers from 1") != std::string::npos);
  }
  CHECK(mistakes("{kind: chip clip, pins: 15, row: 0.3 inch, channels: 1-15, move: 1 s}")
            .find("pins is odd") != std::string::npos);
  CHECK(mistakes("{kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-15, move: 1 s}")
            .find("16 pins and 15 channels") != std::string::npos);
  CHECK(mistakes("{kind: plug, package: header 2x3, channels: 1-5, move: 1 s}")
            .find("6 pins and 5 channels") != std::string::npos);
  CHECK(mistakes("{kind: tip, pins: 4, channels: 1, move: 1 s}").find("pins says nothing") !=
        std::string::npos);
  CHECK_THROWS_AS(fixtures_of("padwalk: fixtures/1\n"), BadFile);
  CHECK_THROWS_AS(fixtures_of("padwalk: board/1\nfixtures: {}\n"), BadFile);
  CHECK(mistakes("{kind: tip, channels: 1, move: 4 s}\n"
                 "  y: {kind: tip, channels: 2, move: 4 s}")
            .find("a second tip") != std::string::npos);
}

TEST_CASE("a clip sits flush at pin 1, on chips of its row that leave it room",
          "[graph][fixtures]") {
  const Fixtures bench = fixtures_of(kBench);
  const Board board = bench_board(
      "  U1: {kind: ic, type: A, package: DIP-16, xy: [0, 100]}\n"
      "  U2: {kind: ic, type: A, package: DIP-8, xy: [30, 100]}\n"
      "  U3: {kind: ic, type: A, package: DIP-24 0.6 inch, xy: [60, 100]}\n"
      "  U4: {kind: ic, type: A, package: SOIC-16, xy: [90, 100]}\n"
      "  U5: {kind: ic, type: A, package: DIP-16, xy: [120, 100], chip: pulled}\n"
      "  U6: {kind: ic, type: A, package: DIP-8, xy: [0, 50]}\n"
      "  R1: {kind: resistor, value: 1k, package: axial 10 mm, xy: [2, 40], rotation: 90}\n"
      "  U7: {kind: ic, type: A, package: DIP-16, xy: [30, 50], access: tip}\n"
      "  U8: {kind: ic, type: A, package: DIP-20, xy: [60, 50]}\n"
      "  J1: {kind: connector, package: header 2x3, xy: [90, 50]}\n"
      "  J2: {kind: connector, package: header 2x5, xy: [110, 50]}\n");
  CHECK(on(board, bench, 0, "U1") ==
        "1:1 2:2 3:3 4:4 5:5 6:6 7:7 8:8 9:9 10:10 11:11 12:12 13:13 14:14 15:15 16:16");
  CHECK(on(board, bench, 0, "U2") == "1:1 2:2 3:3 4:4 5:13 6:14 7:15 8:16");
  CHECK(on(board, bench, 0, "U3") == "more pins");
  CHECK(on(board, bench, 1, "U1") == "narrower");
  CHECK(on(board, bench, 1, "U3").substr(0, 9) == "1:17 2:18");
  CHECK(on(board, bench, 0, "U4") == "no chip with two rows of legs");
  CHECK(on(board, bench, 0, "U5") == "no legs");
  CHECK(on(board, bench, 0, "U6") == "no room beside the chip");
  CHECK(on(board, bench, 0, "U7") == "it cannot be clipped");
  CHECK(on(board, bench, 0, "U8") == "more pins");
  CHECK(on(board, bench, 0, "J1") == "no chip with two rows of legs");
  CHECK(on(board, bench, 2, "J1") == "1:57 2:58 3:59 4:60 5:70 6:69");
  CHECK(on(board, bench, 2, "J2") == "another package");
  CHECK(on(board, bench, 3, "U1") == "held by hand");
}
