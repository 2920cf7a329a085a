// SPDX-License-Identifier: MIT
//
// `padwalk new` and `padwalk enter` as a person uses them, from a pipe and at a terminal.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <optional>
#include <random>
#include <thread>

#include "graph/board.hpp"
#include "graph/board_splice.hpp"
#include "graph/board_yaml.hpp"
#include "graph/net_entry.hpp"
#include "tests/support/program.hpp"
#include "tests/support/recording.hpp"

namespace {

using namespace padwalk;
using graph::BoardDescription;

/// What a good file says, marks aside. Errors: BadFile.
BoardDescription said_by(const std::string& text) {
  graph::Diagnostics diagnostics("b.yaml");
  BoardDescription board = graph::read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  graph::Board(board, diagnostics);
  return graph::without_marks(std::move(board));
}

test::Outcome enter(const test::TemporaryFolder& folder, const std::string& board,
                    const std::string& lines) {
  const std::string typed = folder.write("lines.txt", lines);
  return test::run(
      {"sh", "-c", "exec \"$0\" enter \"$1\" < \"$2\"", PADWALK_PROGRAM, board, typed});
}

std::size_t lines_of(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

std::size_t count_of(const std::string& text, const std::string& what) {
  std::size_t count = 0;
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += what.size()) {
    ++count;
  }
  return count;
}

/// The counter sheet of a harbour's tide gauge, as one reads it off. An empty line is Enter: it
/// takes the supply pins that are offered.
const std::string kSheet =
    "U1 DIP-40 Z84C00\n\n"
    "U2 DIP-28 0.6 inch 27C64\n\n"
    "U3 DIP-16 74138\n\n"
    "U4-U5 DIP-20 74574\n\n"
    "U6 DIP-16 4060\n\n"
    "J1 header 2x5\n"
    "R1-R4 axial 10 mm 4k7 5%\n"
    "D[0:7] U1.{14,15,12,8,7,9,10,13} U2.{11-13,15-19} U4-U5.{2-9}\n"
    "A[0:7] U1.{30-37} U2.{10-3}\n"
    "A[8:12] U1.{38-40,1,2} U2.{25,24,21,23,2}\n"
    "Q[4:7] U6.{7,5,4,6} J1.{3-6}\n"
    "LATCH[0:1] U3.{15,14} U4-U5.11\n"
    "OSC[1:3] U6.{11,10,9}\n"
    "GND U4-U5.1 U6.12 J1.1\n"
    "VCC R1-R4.1 U1.25 J1.2\n"
    "CLK U1.6 U6.3\n"
    "/RESET U1.26 R1.2 J1.10\n"
    "/RD U1.21 U2.22\n"
    "/WR U1.22 U3.4\n"
    "MREQ* U1.19 U3.5\n"
    "IORQ* U1.20 U3.6\n"
    "~ROM U2.20 U3.7\n"
    "#WAIT U1.24 R2.2 J1.9\n";

/// The same written by hand.
const std::string kByHand = R"(padwalk: board/1
name: Harbour tide gauge, counter
parts:
  U1: {kind: ic, type: Z84C00, package: DIP-40}
  U2: {kind: ic, type: 27C64, package: DIP-28 0.6 inch}
  U3: {kind: ic, type: "74138", package: DIP-16}
  U4: {kind: ic, type: "74574", package: DIP-20}
  U5: {kind: ic, type: "74574", package: DIP-20}
  U6: {kind: ic, type: "4060", package: DIP-16}
  J1: {kind: connector, package: header 2x5}
  R1: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}
  R2: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}
  R3: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}
  R4: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}
nets:
  GND:
    role: ground
    points: [U1.29, U2.14, U3.8, U4.10, U5.10, U6.8, U4.1, U5.1, U6.12, J1.1]
  VCC:
    role: supply
    points: [U1.11, U2.28, U3.16, U4.20, U5.20, U6.16, R1.1, R2.1, R3.1, R4.1, U1.25, J1.2]
  D0: [U1.14, U2.11, U4.2, U5.2]
  D1: [U1.15, U2.12, U4.3, U5.3]
  D2: [U1.12, U2.13, U4.4, U5.4]
  D3: [U1.8, U2.15, U4.5, U5.5]
  D4: [U1.7, U2.16, U4.6, U5.6]
  D5: [U1.9, U2.17, U4.7, U5.7]
  D6: [U1.10, U2.18, U4.8, U5.8]
  D7: [U1.13, U2.19, U4.9, U5.9]
  A0: [U1.30, U2.10]
  A1: [U1.31, U2.9]
  A2: [U1.32, U2.8]
  A3: [U1.33, U2.7]
  A4: [U1.34, U2.6]
  A5: [U1.35, U2.5]
  A6: [U1.36, U2.4]
  A7: [U1.37, U2.3]
  A8: [U1.38, U2.25]
  A9: [U1.39, U2.24]
  A10: [U1.40, U2.21]
  A11: [U1.1, U2.23]
  A12: [U1.2, U2.2]
  Q4: [U6.7, J1.3]
  Q5: [U6.5, J1.4]
  Q6: [U6.4, J1.5]
  Q7: [U6.6, J1.6]
  LATCH0: [U3.15, U4.11]
  LATCH1: [U3.14, U5.11]
  OSC1: [U6.11]
  OSC2: [U6.10]
  OSC3: [U6.9]
  CLK: [U1.6, U6.3]
  /RESET: [U1.26, R1.2, J1.10]
  /RD: [U1.21, U2.22]
  /WR: [U1.22, U3.4]
  MREQ*: [U1.19, U3.5]
  IORQ*: [U1.20, U3.6]
  "~ROM": [U2.20, U3.7]
  "#WAIT": [U1.24, R2.2, J1.9]
)";

/// Lines that are nearly right, and some that are nowhere near.
class RandomLines {
 public:
  explicit RandomLines(unsigned seed) : random_(seed) {}

  std::string next() {
    switch (below(12)) {
      case 0:
        return pick({"U", "R", "J", "TP", "N", "~"}) + number() + " " +
               pick({"DIP-16 74138", "DIP-14 7400", "axial 10 mm 4k7 5%", "header 2x5", "pad",
                     "DIP-24", "axial", "row 3 (x)", "SOIC-8 LM358", "DIP-16 \"#~: {"});
      case 1:
        return pick({"undo", "!", "?", "nets", "", "U1", "CL", "# remark", "n", "y"});
      case 2: {
        std::string noise;
        for (std::size_t n = below(30); n > 0; --n) {
          const char c = static_cast<char>(below(256));
          noise += c == '\n' ? ' ' : c;
        }
        return noise + "x";
      }
      case 3:
        return "B" + number() + pick({"[0:7]", "[7:0]", "[0:", "[1-2]*", "[0:999]"}) + " " +
               part() + "." + pick({"{1-8}", "{8-1}", "{1,2}", "{1,,2}", "3", "{"}) + damage();
      default: {
        std::string line =
            pick({"CLK", "CLX", "CLKK", "/RESET", "RESET*", "~CS", "#W",   "GND", "+5V", "S\"'",
                  "[",   "no",  "1e3",  ":",      "-",      "- a", "A: b", "&x",  "Ω",   "?"}) +
            std::to_string(1 + below(5));
        for (std::size_t n = 1 + below(3); n > 0; --n) {
          line += " " + part() + "." + pin();
        }
        return line + damage();
      }
    }
  }

 private:
  std::size_t below(std::size_t n) { return random_() % n; }
  std::string pick(const std::vector<std::string>& all) { return all[below(all.size())]; }
  std::string number() { return std::to_string(1 + below(below(4) == 0 ? 60 : 16)); }
  std::string part() {
    return below(8) == 0 ? "U" + number() : pick({"U3", "U5", "U7", "U9", "U11", "J2"});
  }
  std::string pin() { return std::to_string(1 + below(41)); }
  std::string damage() {
    return below(4) == 0 ? pick({" !", "}", " ]", ",", "\t", " U1-U9.1", "\r", " \x01", "\xc3"})
                         : "";
  }

  std::mt19937 random_;
};

const std::string kOddFile =
    "padwalk: board/1   # begun by hand\n"
    "parts:\n    U1: {kind: ic, type: '74138', package: DIP-16} # \"{\n"
    "    U3: {package: DIP-40}\n    U5: {package: DIP-40}\n    U7: {package: DIP-40}\n"
    "    U9: {package: DIP-40}\n    U11: {package: DIP-40}\n    J2: {package: row 60}\n"
    "    # more\n\n"
    "nets:\n    CLK1: [ U1.1,\n       ] # [\n    'GND1':\n    - U1.8\n    # end\n"
    "note: |\n  text\n";

}  // namespace

TEST_CASE("enter: a sheet of 40 nets in fewer than 30 lines is what one writes by hand",
          "[tools]") {
  const test::TemporaryFolder folder;
  const std::string board = folder.path("gauge.yaml");
  const test::Outcome begun =
      test::padwalk({"new", board, "--name", "Harbour tide gauge, counter"});
  CHECK(begun.status == 0);
  CHECK(begun.out == "Written: " + board + "\nNext: padwalk enter " + board + "\n");
  CHECK(said_by(test::read_text(board)).name == "Harbour tide gauge, counter");

  CHECK(lines_of(kSheet) < 30);
  const test::Outcome outcome = enter(folder, board, kSheet);
  INFO(outcome.out << outcome.err);
  CHECK(outcome.status == 0);
  const BoardDescription entered = said_by(test::read_text(board));
  CHECK(entered.nets.size() == 40);
  CHECK(entered == said_by(kByHand));
  CHECK(outcome.out.find("One point so far: OSC1, OSC2, OSC3\n") != std::string::npos);
  CHECK(test::padwalk({"check", board}).status == 0);

  // Once more: all is there, nothing is written.
  const std::string text = test::read_text(board);
  const test::Outcome again = enter(folder, board, kSheet);
  CHECK(again.status == 0);
  CHECK(test::read_text(board) == text);
}

TEST_CASE("enter: new does not overwrite, and takes any name", "[tools]") {
  const test::TemporaryFolder folder;
  const std::string there = folder.write("there.yaml", "mine\n");
  const test::Outcome refused = test::padwalk({"new", there, "--name", "x"});
  CHECK(refused.status == 2);
  CHECK(refused.err ==
        "padwalk: " + there + " is there already; 'padwalk enter " + there + "' adds to it\n");
  CHECK(test::read_text(there) == "mine\n");
  CHECK(test::padwalk({"new", folder.path("a.yaml")}).status == 2);

  const std::string odd = "Pegel \"Süd\": #2 {~}";
  REQUIRE(test::padwalk({"new", folder.path("b.yaml"), "--name", odd}).status == 0);
  CHECK(said_by(test::read_text(folder.path("b.yaml"))).name == odd);
  CHECK(test::padwalk({"enter", folder.path("none.yaml")}).status == 2);
}

TEST_CASE("enter: what a person wrote stays byte for byte", "[tools]") {
  const test::TemporaryFolder folder;
  const std::string before =
      "# The float's counter, by hand.\r\n"
      "padwalk:   board/1\r\n"
      "parts:   # all but the relay\r\n"
      "     U1: {package: DIP-16,  type: '74138', kind: ic }   # decoder\r\n"
      "     R1:  { package: axial 10 mm }\r\n"
      "\r\n"
      "     # Still to come: J1\r\n"
      "nets:\r\n"
      "     GND :\r\n"
      "        role:   ground\r\n"
      "        points:\r\n"
      "          -   U1.8   # the star\r\n"
      "\r\n"
      "     CLK: [ U1.1,   # from the buoy\r\n"
      "            R1.1 ,\r\n"
      "          ]\r\n"
      "     # end of sheet 1\r\n"
      "note: \"  odd  \"";
  const std::string board = folder.write("gauge.yaml", before);
  const test::Outcome outcome =
      enter(folder, board,
            "# sheet 2\r\nC1 radial 5 mm 100n\r\nGND C1.2\r\nCLK U1.2\r\nTP1 pad\r\n"
            "~STEP U1.15 TP1\r\nq\r\nSTEP R1.2\r\n");
  INFO(outcome.out);
  CHECK(outcome.status == 0);
  CHECK(test::read_text(board) ==
        "# The float's counter, by hand.\r\n"
        "padwalk:   board/1\r\n"
        "parts:   # all but the relay\r\n"
        "     U1: {package: DIP-16,  type: '74138', kind: ic }   # decoder\r\n"
        "     R1:  { package: axial 10 mm }\r\n"
        "     C1: {kind: capacitor, value: 100n, package: radial 5 mm}\r\n"
        "points:\r\n"
        "     TP1: {}\r\n"
        "\r\n"
        "     # Still to come: J1\r\n"
        "nets:\r\n"
        "     GND :\r\n"
        "        role:   ground\r\n"
        "        points:\r\n"
        "          -   U1.8   # the star\r\n"
        "          - C1.2\r\n"
        "\r\n"
        "     CLK: [ U1.1,   # from the buoy\r\n"
        "            R1.1 , U1.2,\r\n"
        "          ]\r\n"
        "     \"~STEP\": [U1.15, TP1]\r\n"
        "     # end of sheet 1\r\n"
        "note: \"  odd  \"");
}

TEST_CASE("enter: undo goes back line by line, to the first", "[tools]") {
  const test::TemporaryFolder folder;
  const std::string before = "padwalk: board/1\nparts:\n  R1: {package: axial 10 mm}\n# end";
  const std::string board = folder.write("gauge.yaml", before);
  const test::Outcome outcome = enter(folder, board,
                                      "U1 DIP-16 74138\n\nCLK U1.1 R1.1\nCLK R1.2\nbad U9.1\n"
                                      "undo\nCLK\nundo\nundo\nundo\nundo\nCLK R1.2\n");
  INFO(outcome.out);
  CHECK(outcome.out.find("taken back: CLK R1.2\n      CLK: U1.1, R1.1\n"
                         "      taken back: CLK U1.1 R1.1\n"
                         "      taken back: U1 74138: pin 8 GND, pin 16 VCC\n"
                         "      taken back: U1 DIP-16 74138\n"
                         "      nothing to take back of what was entered since the start\n") !=
        std::string::npos);
  CHECK(outcome.out.find("Not taken: 1 line, named above.\n") != std::string::npos);
  CHECK(outcome.out.find("      line 5: there is no part U9\n") != std::string::npos);
  CHECK(outcome.status == 2);
  CHECK(test::read_text(board) ==
        "padwalk: board/1\nparts:\n  R1: {package: axial 10 mm}\nnets:\n  CLK: [R1.2]\n# end");

  const std::string same = folder.write("same.yaml", before);
  enter(folder, same, "U1 DIP-16 74138\nCLK U1.1 R1.1\nTP1 pad\nundo\nundo\nundo\n");
  CHECK(test::read_text(same) == before);
}

TEST_CASE("enter: a file that somebody else writes meanwhile is read again", "[tools]") {
  const test::TemporaryFolder folder;
  const std::string board =
      folder.write("gauge.yaml", "padwalk: board/1\nparts:\n  R1: {package: axial 10 mm}\n");
  test::Running running({PADWALK_PROGRAM, "enter", board});
  running.read_line();
  running.send("CLK R1.1\n");
  CHECK(running.read_line() == "      CLK: new, 1 point");
  const std::string mine = test::read_text(board) + "  STEP: [R1.2] # by hand\n";
  folder.write("gauge.yaml", mine);
  running.send("CLK R1.2\n");
  CHECK(running.read_line() ==
        "      " + board + " was changed by somebody else: read again; undo ends here");
  CHECK(running.read_line() == "      line 2: R1.2 is in net STEP already");
  folder.write("gauge.yaml", mine + "  [\n");
  running.send("undo\n");
  CHECK(running.read_line().find("      line 3: " + board + ":") == 0);
  folder.write("gauge.yaml", mine);
  running.send("TP1 pad\n");
  CHECK(running.read_line() == "      TP1: 1 pad");
  CHECK(running.finish().status == 2);
  CHECK(test::read_text(board) ==
        "padwalk: board/1\nparts:\n  R1: {package: axial 10 mm}\npoints:\n  TP1: {}\nnets:\n"
        "  CLK: [R1.1]\n  STEP: [R1.2] # by hand\n");
}

TEST_CASE("enter: kill -9 at any moment loses no line that was taken", "[tools][slow]") {
  std::mt19937 random(5);
  for (int round = 0; round < 12; ++round) {
    const test::TemporaryFolder folder;
    const std::string board = folder.write(
        "gauge.yaml", "padwalk: board/1\nparts:\n  J1: {package: header 2x50}\nnets:  # all\n");
    std::string lines;
    for (int i = 1; i <= 100; ++i) {
      lines += "N" + std::to_string(i) + " J1." + std::to_string(i) + "\n";
    }
    test::Running running({PADWALK_PROGRAM, "enter", board});
    running.read_line();
    running.send(lines);
    std::size_t taken = 0;
    for (const std::size_t seen = 1 + random() % 90; taken < seen; ++taken) {
      REQUIRE(running.read_line() == "      N" + std::to_string(taken + 1) + ": new, 1 point");
    }
    std::this_thread::sleep_for(std::chrono::microseconds(random() % 3000));
    running.signal(SIGKILL);
    const test::Outcome outcome = running.finish();
    taken += count_of(outcome.out, ": new, 1 point\n");
    const BoardDescription left = said_by(test::read_text(board));
    CHECK(left.nets.size() >= taken);
    CHECK(left.nets.size() <= taken + 1);  // it was written, and the word of it was cut off
    for (std::size_t i = 0; i < left.nets.size(); ++i) {
      CHECK(left.nets[i].name == "N" + std::to_string(i + 1));
    }
  }
}

TEST_CASE("enter: Ctrl-C ends it with all lines in the file", "[tools]") {
  const test::TemporaryFolder folder;
  const std::string board =
      folder.write("gauge.yaml", "padwalk: board/1\nparts:\n  R1: {package: axial 10 mm}\n");
  test::Running running({PADWALK_PROGRAM, "enter", board});
  running.read_line();
  running.send("CLK R1.1\nSTEP R1");
  CHECK(running.read_line() == "      CLK: new, 1 point");
  running.signal(SIGINT);
  const test::Outcome outcome = running.finish();
  CHECK(outcome.status == 5);
  CHECK(outcome.out.find("1 part, 1 net, 1 of 2 pins in nets\n") != std::string::npos);
  CHECK(said_by(test::read_text(board)).nets.size() == 1);
}

TEST_CASE("enter: 2000 random lines, and the file is good after each", "[tools][slow]") {
  RandomLines lines(21);
  std::string text = kOddFile;
  std::optional<graph::Board> board;
  const auto read = [&] {
    graph::Diagnostics diagnostics("b.yaml");
    board.emplace(graph::read_board(text, diagnostics), diagnostics);
    diagnostics.throw_if_errors();
  };
  read();
  std::array<int, 5> kinds{};
  int unwritten = 0;
  for (int i = 0; i < 2000; ++i) {
    const std::string line = lines.next();
    INFO(line);
    const graph::EntryAnswer answer = graph::enter_line(line, *board);
    ++kinds[static_cast<std::size_t>(answer.kind)];
    CHECK(answer.text.find('\n') == std::string::npos);
    if (answer.kind != graph::EntryAnswer::Kind::taken) {
      CHECK((answer.text.empty() == (answer.kind == graph::EntryAnswer::Kind::nothing)));
      continue;
    }
    try {
      const graph::SplicedText after = graph::splice_board(text, answer.additions, "b.yaml");
      REQUIRE(graph::unspliced(after.text, after.insertions) == text);
      text = after.text;
      REQUIRE_NOTHROW(read());
    } catch (const graph::BadFile& bad) {
      UNSCOPED_INFO(bad.what());
      ++unwritten;
    }
  }
  CHECK(unwritten == 0);
  CHECK(kinds[static_cast<std::size_t>(graph::EntryAnswer::Kind::taken)] > 200);
  CHECK(kinds[static_cast<std::size_t>(graph::EntryAnswer::Kind::refused)] > 200);
  CHECK(kinds[static_cast<std::size_t>(graph::EntryAnswer::Kind::doubtful)] > 5);
}

TEST_CASE("enter: the program takes 2000 random lines and leaves a good file", "[tools][slow]") {
  const test::TemporaryFolder folder;
  const std::string board = folder.write("gauge.yaml", kOddFile);
  RandomLines random(22);
  std::string lines;
  for (int i = 0; i < 2000; ++i) {
    lines += random.next() + "\n";
  }
  const test::Outcome outcome = enter(folder, board, lines);
  CHECK(outcome.status == 2);
  CHECK(outcome.err == "");
  CHECK(count_of(outcome.out, "taken back: ") > 10);
  const BoardDescription left = said_by(test::read_text(board));
  CHECK(left.nets.size() > 50);
  CHECK(left.note == "text\n");
}

TEST_CASE("enter: at a terminal, with slips", "[tools][screens][slow]") {
  const test::TemporaryFolder folder;
  const std::string board = folder.path("gauge.yaml");
  REQUIRE(test::padwalk({"new", board, "--name", "Harbour tide gauge"}).status == 0);
  const test::Recording seen =
      test::record({PADWALK_PROGRAM, "enter", board}, {{"the end.\n", "U2 DIP-16 74138"},
                                                       {"n leaves it\n", ""},
                                                       {"taken\n", "U5 DIP-24 27C16"},
                                                       {"0.6 inch\n", "U5 DIP-24 0.6 inch 27C16"},
                                                       {"n leaves it\n", "n"},
                                                       {"VCC\n", "/RESET U2.6 u5.24"},
                                                       {"as it stands)\n", "/RESET U2.6 U5.21"},
                                                       {"2 points\n", "/RESTE U2.4"},
                                                       {"as it stands)\n", "/RESET U2.4"},
                                                       {"3 points\n", "A[0:2] U2.{1-3} U5.{8-5}"},
                                                       {"3 nets\n", "A[0:2] U2.{1-3} U5.{8-6}"},
                                                       {"6 points\n", "STEP U2.1"},
                                                       {"already\n", "STEP U3.1"},
                                                       {"part U3\n", "STEP U2.17"},
                                                       {"pin 17\n", "A"},
                                                       {"A0, A1, A2\n", "U2"},
                                                       {"free: 5, 7, 9-15\n", "undo"},
                                                       {"{8-6}\n", "RAM U5.24"},
                                                       {"as it stands)\n", "!"},
                                                       {"1 point\n", "q"}});
  std::string screen = seen.screen;
  for (std::size_t at = screen.find(board); at != std::string::npos; at = screen.find(board)) {
    screen.replace(at, board.size(), "BOARD");
  }
  CHECK(screen ==
        "BOARD: 0 parts, 0 nets. A part: U2 DIP-16 74138. A net: CLK U2.7 R7.1. ?: more. q: the "
        "end.\n"
        "U2 DIP-16 74138\n"
        "      U2: DIP-16 74138, 16 pins\n"
        "      U2 74138: pin 8 GND, pin 16 VCC: Enter takes it, n leaves it\n"
        "\n"
        "      taken\n"
        "U5 DIP-24 27C16\n"
        "      DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch\n"
        "U5 DIP-24 0.6 inch 27C16\n"
        "      U5: DIP-24 0.6 inch 27C16, 24 pins\n"
        "      U5 27C16: pin 12 GND, pin 24 VCC: Enter takes it, n leaves it\n"
        "n\n"
        "      left: U5 27C16: pin 12 GND, pin 24 VCC\n"
        "/RESET U2.6 u5.24\n"
        "      U5.24 is the supply pin of a 27C16, and /RESET is no supply (!: take it as it "
        "stands)\n"
        "/RESET U2.6 U5.21\n"
        "      /RESET: new, 2 points\n"
        "/RESTE U2.4\n"
        "      there is no net /RESTE; is it /RESET? (!: take it as it stands)\n"
        "/RESET U2.4\n"
        "      /RESET: 1 more, 3 points\n"
        "A[0:2] U2.{1-3} U5.{8-5}\n"
        "      U5.{8-5} is 4 points, A[0:2] is 3 nets\n"
        "A[0:2] U2.{1-3} U5.{8-6}\n"
        "      A0 to A2: 3 nets, all new, 6 points\n"
        "STEP U2.1\n"
        "      U2.1 is in net A0 already\n"
        "STEP U3.1\n"
        "      there is no part U3\n"
        "STEP U2.17\n"
        "      U2 has 16 pins, 1 to 16; there is no pin 17\n"
        "A\n"
        "      A could be A0, A1, A2\n"
        "U2\n"
        "      U2: 1 A0, 2 A1, 3 A2, 4 /RESET, 6 /RESET, 8 GND, 16 VCC; free: 5, 7, 9-15\n"
        "undo\n"
        "      taken back: A[0:2] U2.{1-3} U5.{8-6}\n"
        "RAM U5.24\n"
        "      U5.24 is the supply pin of a 27C16, and RAM is no supply (!: take it as it "
        "stands)\n"
        "!\n"
        "      RAM: new, 1 point\n"
        "q\n"
        "BOARD: 2 parts, 4 nets, 6 of 40 pins in nets\n"
        "One point so far: GND, VCC, RAM\n"
        "Next: padwalk check BOARD --lint\n");
  CHECK(seen.status == 0);
  CHECK(said_by(test::read_text(board)).nets.size() == 4);
}
