// SPDX-License-Identifier: MIT
//
// Screens of sweeps by plan, of pinpoint and of walk at a real terminal, key by key.
#include <catch2/catch.hpp>

#include "tests/support/program.hpp"
#include "tests/support/recording.hpp"

namespace {

using namespace padwalk;

using test::kDemo;
using test::kDemoBoard;

/// Without the report, which other tests read.
std::string until_report(const std::string& screen) {
  return screen.substr(0, screen.find("\nTide gauge logger, main board (assembled)"));
}

}  // namespace

TEST_CASE("screens: a sweep by plan, with a clip backwards and a lead that stays silent",
          "[tools][screens][slow]") {
  const test::Recording seen =
      test::record({PADWALK_PROGRAM, "sweep", kDemoBoard, "--fixtures", kDemo + "fixtures.yaml",
                    "--nets", "TIDE_CLK", "--simulate", kDemo + "corroded.yaml", "--keys"},
                   {{"does not fit): ", "slip"},
                    {"n and Enter: it was right: ", ""},
                    {"reach it): ", ""},
                    {"when it is done: ", ""},
                    {"touch TP3: ", "n"}});
  CHECK(until_report(seen.screen) ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "Tide gauge logger, main board: 1 hookup, 2 moves, 2 touches, 1 turn: about 51 s\n"
        "      put display plug on J1\n"
        "      put clip-40 on U1, notch away from you\n"
        "      press Enter when all sit right (x: one does not fit): slip\n"
        "      clip-40 on U1 sits backwards: turn it\n"
        "      press Enter when it is right; n and Enter: it was right: \n"
        "      touch U6.3, hold it, press Enter (l: later, n: cannot reach it): \n"
        "Silent: rock the clip, or take a single lead off and put it on again:\n"
        "      U6.3 (lead 97)\n"
        "      press Enter when it is done: \n"
        "      turn the board: solder side up\n"
        "      touch TP3: n");
  CHECK(seen.status == 1);
}

TEST_CASE("screens: a clip that does not fit, and a touch that is put off",
          "[tools][screens][slow]") {
  const test::Recording seen =
      test::record({PADWALK_PROGRAM, "sweep", kDemoBoard, "--fixtures", kDemo + "fixtures.yaml",
                    "--nets", "TIDE_CLK", "--simulate", "--keys"},
                   {{"does not fit): ", "x"},
                    {"which one, 1 to 2: ", "2"},
                    {"all others sit right: ", ""},
                    {"reach it): ", "l"},
                    {"touch U6.3: ", ""},
                    {"touch U1.16: ", ""},
                    {"touch TP3: ", ""}});
  CHECK(until_report(seen.screen) ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "Tide gauge logger, main board: 1 hookup, 2 moves, 2 touches, 1 turn: about 51 s\n"
        "      put display plug on J1\n"
        "      put clip-40 on U1, notch away from you\n"
        "      press Enter when all sit right (x: one does not fit): x\n"
        "      1: display plug on J1\n"
        "      2: clip-40 on U1, notch away from you\n"
        "      which one, 1 to 2: 2\n"
        "      leave it off; the plan is made anew without it\n"
        "      press Enter when all others sit right: \n"
        "      touch U1.16, hold it, press Enter (l: later, n: cannot reach it): l\n"
        "      touch U6.3: \n"
        "      touch U1.16: \n"
        "      turn the board: solder side up\n"
        "      touch TP3: ");
  CHECK(seen.screen.find("Does not fit, planned around: clip-40 on U1\n") != std::string::npos);
  CHECK(seen.status == 0);
}

TEST_CASE("screens: the tip slides along copper of unknown way", "[tools][screens][slow]") {
  const test::TemporaryFolder folder;
  const std::string board = folder.write("pump.yaml",
                                         "padwalk: board/1\nname: pump relay\n"
                                         "points:\n  A: {xy: [0, 0]}\n  B: {xy: [30, 0]}\n"
                                         "nets:\n  PUMP: [A, B]\n");
  const std::string cut =
      folder.write("cut.yaml", "padwalk: defects/1\ndefects:\n  - {split: PUMP, off: [B]}\n");
  const std::string swept = folder.write("sweep.json", R"({"padwalk": "sweep/1", "findings": [
      {"id": "F1", "kind": "open", "net": "PUMP", "pieces": [["A"], ["B"]], "suspects": []}]})");
  const test::Recording seen = test::record(
      {PADWALK_PROGRAM, "pinpoint", board, "--after", swept, "--simulate", cut, "--keys"},
      {{"the tip is lead 3; press Enter: ", ""},
       {"done\n", "A"},
       {"high: A's side\n", "V1 12.5 3"},
       {"V1 noted, A's side\n", "B"},
       {"tip was before\n", "q"},
       {"n: no: ", ""}});
  std::string screen = seen.screen;
  for (std::size_t at = screen.find(board); at != std::string::npos; at = screen.find(board)) {
    screen.replace(at, board.size(), "BOARD");
  }
  CHECK(screen ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "F1  net PUMP, 2 places may be broken\n"
        "      lead 1 on A\n"
        "      lead 2 on B\n"
        "      the tip is lead 3; press Enter: \n"
        "      slide the tip along the copper, from A on: high tone, its side; low tone, the other "
        "side\n"
        "      a name and Enter: a new via is under the tip (V7, or V7 12.5 40.1 in mm); q and "
        "Enter: done\n"
        "A\n"
        "      high: A's side\n"
        "V1 12.5 3\n"
        "      V1 noted, A's side\n"
        "B\n"
        "      low: B's side\n"
        "      the break is between here and where the tip was before\n"
        "q\n"
        "\n"
        "F1  net PUMP, after 0 touches:\n"
        "      V1: A's side\n"
        "      the copper that leads to A; its way is not known (about 5 in 10)\n"
        "      the copper that leads to B; its way is not known (about 5 in 10)\n"
        "Put V1 into BOARD, where every other byte stays? Enter: yes, n: no: \n"
        "BOARD has V1 now.\n"
        "Next: look at the copper where the tone changed, mend it, then sweep again.\n");
  CHECK(seen.status == 1);
}

TEST_CASE("screens: pinpoint, a place that cannot be reached, and the board turned",
          "[tools][screens][slow]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", R"({"padwalk": "sweep/1", "findings": [
    {"id": "F1", "kind": "open", "net": "TIDE_CLK",
     "pieces": [["U1.16", "J1.10", "TP3"], ["U6.3"]],
     "suspects": [{"kind": "contact", "point": "U6.3"}]}]})");
  const test::Recording seen =
      test::record({PADWALK_PROGRAM, "pinpoint", kDemoBoard, "--after", swept, "--simulate",
                    kDemo + "corroded.yaml", "--keys"},
                   {{"lead 3; press Enter: ", ""},
                    {"s: stop): ", "n"},
                    {"s: stop): ", ""},
                    {"lead 3; press Enter: ", ""},
                    {"s: stop): ", ""}});
  CHECK(seen.screen ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "F1  net TIDE_CLK, 7 places may be broken\n"
        "      lead 1 on U1.16\n"
        "      lead 2 on U6.3\n"
        "      the tip is lead 3; press Enter: \n"
        "      touch V4@top, press Enter (l: later, n: cannot reach, s: stop): n\n"
        "      touch U6.3@leg, press Enter (l: later, n: cannot reach, s: stop): \n"
        "      with U6.3\n"
        "      turn the board: solder side up\n"
        "F1  net TIDE_CLK, 6 places may be broken\n"
        "      lead 1 on U1.16\n"
        "      lead 2 on U6.3\n"
        "      the tip is lead 3; press Enter: \n"
        "      touch V4@bottom, press Enter (l: later, n: cannot reach, s: stop): \n"
        "      with U6.3\n"
        "\n"
        "F1  net TIDE_CLK, after 2 touches:\n"
        "      the trace from V4@bottom to TP3, on the bottom\n"
        "Next: mend the trace from V4@bottom to TP3, on the bottom, then sweep again.\n");
  CHECK(seen.status == 1);
}

TEST_CASE("screens: walk, what is expected and nothing", "[tools][screens][slow]") {
  const test::Recording seen =
      test::record({PADWALK_PROGRAM, "walk", kDemoBoard, "--hold", "U1.20,U1.16", "--simulate",
                    kDemo + "corroded.yaml", "--quiet"},
                   {{"q and Enter: the end.\n", "J1.10"},
                    {"kept for J1.10\n", "U6.3"},
                    {"U6.3\n", ""},
                    {"once more\n", "q"}});
  CHECK(until_report(seen.screen) ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "Leads on U1.20, U1.16; the tip is lead 3.\n"
        "Touch anything. A point's name and Enter: you touch it next; a net's: you expect it.\n"
        "Enter alone: the tip is on it now. q and Enter: the end.\n"
        "J1.10\n"
        "\n"
        "##### ### ####  #####        #### #     #   #\n"
        "  #    #  #   # #           #     #     #  #\n"
        "  #    #  #   # ####        #     #     ###\n"
        "  #    #  #   # #           #     #     #  #\n"
        "  #   ### ####  ##### #####  #### ##### #   #\n"
        "\n"
        "      TIDE_CLK as expected, at J1.10, not sure yet\n"
        "      sure: 0.11 ohm ± 0.12 to U1.16, at 0.2 V, kept for J1.10\n"
        "U6.3\n"
        "\n"
        "\n"
        "#   #  ###  ##### #   # ### #   #  ####\n"
        "##  # #   #   #   #   #  #  ##  # #\n"
        "# # # #   #   #   #####  #  # # # #  ##\n"
        "#  ## #   #   #   #   #  #  #  ## #   #\n"
        "#   #  ###    #   #   # ### #   #  ####\n"
        "\n"
        "      nothing, at U6.3; expected TIDE_CLK\n"
        "      press harder, or beside it, and Enter once more\n"
        "q\n");
  CHECK(seen.status == 0);
}
