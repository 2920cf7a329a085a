// SPDX-License-Identifier: MIT
#include "graph/net_entry.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "graph/board_yaml.hpp"
#include "graph/typed_names.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk;
using namespace padwalk::graph;

namespace {

using Names = std::vector<std::string>;
using Kind = EntryAnswer::Kind;

const std::string kGauge =
    "parts:\n"
    "  U1: {kind: ic, type: Z84C00, package: DIP-40}\n"
    "  U2: {kind: ic, type: '74138', package: DIP-16}\n"
    "  U10: {kind: ic, type: '7400', package: DIP-14}\n"
    "  U11: {kind: ic, type: '7400', package: DIP-14}\n"
    "  U12: {kind: ic, type: '7400', package: DIP-14}\n"
    "  R7: {kind: resistor, value: 4k7, package: axial 10 mm}\n"
    "points:\n"
    "  TP3: {}\n"
    "  V1: {via: [top, bottom]}\n"
    "nets:\n"
    "  RESET: [U1.26]\n"
    "  CLK: {route: [[U1.6, V1, R7.1]], also: [U2.1]}\n"
    "  CLOCK: [U2.2]\n"
    "  GND: {role: ground, points: [U2.8]}\n"
    "  +5V: {role: supply, points: [U2.16]}\n";

EntryAnswer entered(const std::string& line, const std::string& board = kGauge) {
  return enter_line(line, test::small_board(board));
}

/// "CLK: U2.7, R7.1; A: …" of what a line adds to nets.
std::string nets_of(const EntryAnswer& answer) {
  std::string text;
  for (const NetAddition& net : answer.additions.nets) {
    text += (text.empty() ? "" : "; ") + net.name + ":";
    for (const std::string& member : net.members) {
      text += " " + member;
    }
  }
  return text;
}

void takes(const std::string& line, const std::string& nets, const std::string& said) {
  INFO(line);
  const EntryAnswer answer = entered(line);
  CHECK(answer.kind == Kind::taken);
  CHECK(nets_of(answer) == nets);
  CHECK(answer.text == said);
}

void answers(const std::string& line, Kind kind, const std::string& said) {
  INFO(line);
  const EntryAnswer answer = entered(line);
  CHECK(answer.kind == kind);
  CHECK(answer.text == said);
  CHECK(answer.additions.nets.empty());
  CHECK(answer.additions.parts.empty());
  CHECK(answer.additions.points.empty());
}

void refuses(const std::string& line, const std::string& said) {
  answers(line, Kind::refused, said);
}

/// Doubted, and taken with a "!" behind it.
void doubts(const std::string& line, const std::string& said) {
  answers(line, Kind::doubtful, said);
  CHECK(entered(line + " !").kind == Kind::taken);
}

PartDescription part_of(const std::string& line) {
  const EntryAnswer answer = entered(line);
  INFO(line << ": " << answer.text);
  REQUIRE(answer.kind == Kind::taken);
  REQUIRE(answer.additions.parts.size() == 1);
  return answer.additions.parts.front();
}

}  // namespace

TEST_CASE("net entry: points of a net") {
  takes("STEP U2.7 U10.3 R7.2", "STEP: U2.7 U10.3 R7.2", "STEP: new, 3 points");
  takes("  STEP:\tU2.7, U10.3,R7.2 \r", "STEP: U2.7 U10.3 R7.2", "STEP: new, 3 points");
  takes("RESET U2.7 U1.26", "RESET: U2.7", "RESET: 1 more, 2 points");
  takes("CLK U2.7 U2.3", "CLK: U2.7 U2.3", "CLK: 2 more, 7 points");
  takes("STEP TP3 u2.7", "STEP: TP3 U2.7", "STEP: new, 2 points");
  takes("STEP U2.{3-5,7}", "STEP: U2.3 U2.4 U2.5 U2.7", "STEP: new, 4 points");
  takes("STEP U2.{ 7, 5-3 }", "STEP: U2.7 U2.5 U2.4 U2.3", "STEP: new, 4 points");
  takes("+5V U10-U12.14", "+5V: U10.14 U11.14 U12.14", "+5V: 3 more, 4 points");
  takes("GND U10-12.7 R7.2", "GND: U10.7 U11.7 U12.7 R7.2", "GND: 4 more, 5 points");
  takes("GND U{10,12}.{7,1}", "GND: U10.7 U12.7 U10.1 U12.1", "GND: 4 more, 5 points");
}

TEST_CASE("net entry: names stay as they stand on paper") {
  for (const std::string name : {"/STEP", "STEP*", "~CS", "#CS", "STEP_L", "STEP>", "1.8432MHZ"}) {
    takes(name + " U2.7", name + ": U2.7", name + ": new, 1 point");
  }
  // An active-low name is another net than the one without its mark.
  takes("/RESET U2.7", "/RESET: U2.7", "/RESET: new, 1 point");
  takes("Ωmega U2.7", "Ωmega: U2.7", "Ωmega: new, 1 point");
}

TEST_CASE("net entry: a role by name") {
  const auto role = [](const std::string& net) {
    const EntryAnswer answer = entered(net + " R7.2");
    REQUIRE(answer.additions.nets.size() == 1);
    return answer.additions.nets.front().role;
  };
  for (const char* name : {"AGND", "VSS", "0V", "dgnd"}) {
    CHECK(role(name) == NetRole::ground);
  }
  for (const char* name : {"VCC", "+12V", "-5V", "+3.3V", "+3V3", "5V", "+5", "V+"}) {
    CHECK(role(name) == NetRole::supply);
  }
  for (const char* name : {"STEP", "D5", "5VOK", "V5", "1V2V", "12", "-", "+"}) {
    CHECK(role(name) == NetRole::signal);
  }
  takes("VCC R7.2", "VCC: R7.2", "VCC: new supply, 1 point");
  takes("AGND R7.2", "AGND: R7.2", "AGND: new ground, 1 point");
}

TEST_CASE("net entry: buses") {
  takes("D[0:3] U1.{14,15,12,8} U2.{7,9-11}",
        "D0: U1.14 U2.7; D1: U1.15 U2.9; D2: U1.12 U2.10; D3: U1.8 U2.11",
        "D0 to D3: 4 nets, all new, 8 points");
  takes("D[2..0] U1.{14-12}", "D2: U1.14; D1: U1.13; D0: U1.12",
        "D2 to D0: 3 nets, all new, 3 points");
  takes("/D[8-9]* U1.{1,2}", "/D8*: U1.1; /D9*: U1.2", "/D8* to /D9*: 2 nets, all new, 2 points");
  // One pin of each of so many chips, and a pin a line of alike chips.
  takes("Q[0:2] U10-U12.3", "Q0: U10.3; Q1: U11.3; Q2: U12.3",
        "Q0 to Q2: 3 nets, all new, 3 points");
  takes("S[0:1] U10-U12.{1,2}", "S0: U10.1 U11.1 U12.1; S1: U10.2 U11.2 U12.2",
        "S0 to S1: 2 nets, all new, 6 points");
  takes("T[0:0] U10.1", "T0: U10.1", "T0: new, 1 point");

  refuses("D[0:7] U1.{33-27}", "U1.{33-27} is 7 points, D[0:7] is 8 nets");
  refuses("D[0:7] U1.14", "U1.14 is 1 point, D[0:7] is 8 nets");
  refuses("D[0:1] U1.{14,14}", "U1.14 stands twice in this line");
  refuses("D[0:1] U1.{14,6}", "U1.6 is in net CLK already");
  refuses("D[0:1 U1.14", "a [ is not closed");
  refuses("D] U1.14", "a ] closes nothing");
  refuses("D[0] U1.14", "D[0] is no bus; D[0:7] is one");
  refuses("D[a:b] U1.14", "D[a:b] is no bus; D[0:7] is one");
  refuses("[0:3] U1.14", "[0:3] is no bus; D[0:7] is one");
  refuses("D[0:1][0:1] U1.14", "D[0:1][0:1] is no bus; D[0:7] is one");
  refuses("D[0:999] U1.14", "D[0:999] makes more than 256 names");
}

TEST_CASE("net entry: parts and pads") {
  const PartDescription chip = part_of("U9 DIP-16 74LS138");
  CHECK(chip.name == "U9");
  CHECK(chip.kind == PartKind::ic);
  CHECK(chip.package == "DIP-16");
  CHECK(chip.type == "74LS138");
  CHECK(part_of("U9 DIP-16 (74LS138)") == chip);

  const PartDescription resistor = part_of("R8 axial 10 mm 4k7");
  CHECK(resistor.kind == PartKind::resistor);
  CHECK(resistor.package == "axial 10 mm");
  CHECK(resistor.value == "4k7");
  CHECK(resistor.tolerance.empty());
  CHECK(part_of("R8 axial 10 mm 4k7 5%").tolerance == "5%");
  CHECK(part_of("R8 axial 10 mm 4k7 5%").value == "4k7");
  CHECK(part_of("R8 axial 10 mm blue").type == "blue");
  CHECK(part_of("C8 radial 5 mm 100n").value == "100n");
  CHECK(part_of("U9 DIP-24 0.6 inch 2716").package == "DIP-24 0.6 inch");
  CHECK(part_of("J1 header 2x5").type.empty());
  CHECK(part_of("Q1 row 3 2N3904").type == "2N3904");
  CHECK(part_of("XTAL row 2").kind == PartKind::other);

  const EntryAnswer alike = entered("U20-U22 DIP-14 7400");
  CHECK(alike.text == "U20 to U22: DIP-14 7400, 14 pins each");
  REQUIRE(alike.additions.parts.size() == 3);
  CHECK(alike.additions.parts[1].name == "U21");
  CHECK(entered("U11-U13 DIP-14 7400").text ==
        "U11 to U13: DIP-14 7400, 14 pins each, 2 there already");
  CHECK(entered("R{8,10} axial 10 mm 1k").additions.parts.size() == 2);

  const EntryAnswer pads = entered("TP4-TP6 pads");
  CHECK(pads.kind == Kind::taken);
  CHECK(pads.text == "TP4 to TP6: 3 pads");
  CHECK(pads.additions.points.size() == 3);
  CHECK(entered("TP4 pad").text == "TP4: 1 pad");

  refuses("U2 DIP-14 7400", "there is a U2 already: DIP-16 74138");
  answers("U2 DIP-16 74138", Kind::told, "U2: there already, and the same");
  refuses("U9 DIP-24 2716", "DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch");
  CHECK(entered("U9 DIL16 74138").kind == Kind::refused);
  CHECK(entered("U9 DIL16 74138").text.find("package") == 0);
  CHECK(entered("R8 axial 4k7").text.find("how far apart") != std::string::npos);
  refuses("U{9,9} DIP-16", "U9 stands twice in this line");
  refuses("TP3 pad", "there is a TP3 already");
  refuses("TP{4,4} pads", "TP4 stands twice in this line");
  refuses("U1-U9999 DIP-16", "U1-U9999 makes more than 256 names");
  CHECK(entered("U/9 DIP-16").text.find("does not begin with a name") != std::string::npos);
  CHECK(entered("U9 DIP-16 74138, U20 DIP-14").kind == Kind::refused);
  doubts("U9 DIP-14 74138", "a 74138 has 16 pins, DIP-14 has 14");
  CHECK(entered("U9 PLCC-20 74138").kind == Kind::taken);
}

TEST_CASE("net entry: each slip is said in one line") {
  refuses("STEP U3.7", "there is no part U3");
  refuses("STEP U.7", "there is no part U; it could be U1, U2, U10, U11, U12");
  refuses("STEP U10-U13.7", "there is no part U13, of those in this word");
  refuses("STEP U2.17", "U2 has 16 pins, 1 to 16; there is no pin 17");
  refuses("STEP U2.", "U2. lacks a pin: U2 has 16 pins, 1 to 16");
  refuses("STEP U2", "U2 is a part; say which pin: U2 has 16 pins, 1 to 16");
  refuses("STEP TP9", "there is no point TP9");
  refuses("STEP U", "there is no point U; a pin of U1, U2, U10, U11, U12?");
  refuses("STEP U2.1", "U2.1 is in net CLK already");
  refuses("STEP V1", "V1 is in net CLK already");
  refuses("STEP U2.7 U2.7", "U2.7 stands twice in this line");
  refuses("STEP U2.{7,,9}", "{7,,9} holds an empty name");
  refuses("STEP U2.{7", "a { is not closed");
  refuses("STEP U2.{1-999}", "{1-999} makes more than 256 names");
  refuses("U2.7 U10.3", "U2.7 is a point; a line begins with the name of its net");
  refuses("U2 U10.3", "U2 is a part; a line begins with the name of its net");
  refuses("U2.99 U10.3", "U2 has 16 pins, 1 to 16; a line begins with the name of its net");
  refuses(std::string(65, 'X') + " U2.7", "the name is longer than 64 characters");
  refuses(std::string(5000, 'X'), "the line is longer than 4096 characters");
  refuses("A{1} U2.7", "A{1} is no name of a net");
  refuses("ST\x01P U2.7", "the line holds bytes that are no text in UTF-8");
  refuses("ST\xffP U2.7", "the line holds bytes that are no text in UTF-8");
  refuses(", ,",
          "there is no name; a net is CLK U2.7 R7.1, a part is U2 DIP-16 74138, ? says more");
}

TEST_CASE("net entry: what is likelier a slip is taken when said again") {
  doubts("RESTE U2.7", "there is no net RESTE; is it RESET?");
  doubts("RESE U2.7", "there is no net RESE; is it RESET?");
  doubts("RESEET U2.7", "there is no net RESEET; is it RESET?");
  doubts("RASET U2.7", "there is no net RASET; is it RESET?");
  doubts("Reset U2.7", "there is no net Reset; is it RESET?");
  doubts("CLKS U2.7", "there is no net CLKS; is it CLK?");
  doubts("STEP U10.14", "U10.14 is the supply pin of a 7400, and STEP is no supply");
  doubts("STEP U10.7", "U10.7 is the ground pin of a 7400, and STEP is no ground");
  doubts("GND U10.14", "U10.14 is the supply pin of a 7400, and GND is no supply");
  doubts("RESET U10-U12.14", "U10.14 is the supply pin of a 7400, and RESET is no supply");
  takes("VDD U10.14", "VDD: U10.14", "VDD: new supply, 1 point");
  // Once such a pin is on it, the net is known to carry it.
  const std::string backed_up = kGauge + "  RAM: [U10.14]\n";
  CHECK(entered("RAM U11.14", backed_up).kind == Kind::taken);
  CHECK(entered("RAM U11.7", backed_up).kind == Kind::doubtful);
  // Of an amplifier the ground pin of the table is the negative supply.
  const std::string amplifier = "parts:\n  U5: {kind: ic, type: LM358, package: DIP-8}\n";
  CHECK(entered("-12V U5.4", amplifier).kind == Kind::taken);
  CHECK(entered("-12V U5.8", amplifier).kind == Kind::taken);
}

TEST_CASE("net entry: names one letter apart") {
  CHECK(one_letter_apart("RESET", "RESTE"));
  CHECK(one_letter_apart("ADDR7", "ADR7"));
  CHECK(one_letter_apart("a0", "A0"));
  CHECK(one_letter_apart("/RESET", "/REST"));
  for (const auto& [a, b] : std::vector<std::pair<std::string, std::string>>{{"D0", "D1"},
                                                                             {"D1", "D11"},
                                                                             {"D0", "A0"},
                                                                             {"RD", "WR"},
                                                                             {"OE", "CE"},
                                                                             {"RESET", "/RESET"},
                                                                             {"RESET", "RESET*"},
                                                                             {"CLK1", "CLK2"},
                                                                             {"CLK", "CLK2"},
                                                                             {"ADDR7", "ADDR8"},
                                                                             {"CLK", "CLK"},
                                                                             {"MREQ", "IORQ"},
                                                                             {"", ""},
                                                                             {"A", ""}}) {
    INFO(a << " and " << b);
    CHECK_FALSE(one_letter_apart(a, b));
    CHECK_FALSE(one_letter_apart(b, a));
  }
}

TEST_CASE("net entry: a name alone is a question") {
  answers("RESET", Kind::told, "RESET: U1.26");
  answers("u2", Kind::told, "U2: 1 CLK, 2 CLOCK, 8 GND, 16 +5V; free: 3-7, 9-15");
  answers("U10", Kind::told, "U10: no pin in a net; free: 1-14");
  answers("U2.1", Kind::told, "U2.1 is in net CLK");
  answers("U2.7", Kind::told, "U2.7 is in no net");
  answers("V1", Kind::told, "V1 is in net CLK");
  answers("GND U2.8", Kind::told, "GND: all of that is there already");
  refuses("CL", "CL could be CLK, CLOCK");
  refuses("cl", "cl could be CLK, CLOCK");
  refuses("U1.",
          "U1. alone is no name that is there; a net is CLK U2.7 R7.1, a part is "
          "U2 DIP-16 74138, ? says more");
  for (const char* line : {"", "   ", "\t\r", "#", "# sheet [2", "# U2.7"}) {
    answers(line, Kind::nothing, "");
  }
}

TEST_CASE("net entry: supply pins of chips are offered") {
  const auto offer = [](const std::string& board, const Names& parts) {
    BoardAdditions taken;
    for (const std::string& name : parts) {
      PartDescription part;
      part.name = name;
      taken.parts.push_back(part);
    }
    return offer_supplies(taken, test::small_board(board));
  };
  const auto two = offer(kGauge, {"U10", "U12"});
  REQUIRE(two);
  CHECK(two->text == "U10 to U12 7400: pin 7 GND, pin 14 +5V");
  REQUIRE(two->additions.nets.size() == 2);
  CHECK(two->additions.nets[0].members == Names{"U10.7", "U12.7"});
  CHECK(two->additions.nets[1].members == Names{"U10.14", "U12.14"});
  CHECK_FALSE(offer(kGauge, {"U2"}));  // its pins are in nets
  CHECK_FALSE(offer(kGauge, {"R7"}));

  const std::string chip = "parts:\n  U1: {kind: ic, type: '74138', package: DIP-16}\n";
  const auto fresh = offer(chip, {"U1"});
  REQUIRE(fresh);
  CHECK(fresh->text == "U1 74138: pin 8 GND, pin 16 VCC");
  CHECK(fresh->additions.nets[0].role == NetRole::ground);
  CHECK(fresh->additions.nets[1].role == NetRole::supply);
  // Where such pins are, before what is called so, and never a negative supply.
  const std::string more =
      "parts:\n  U1: {kind: ic, type: '74138', package: DIP-16}\n"
      "  U2: {kind: ic, type: '74138', package: DIP-16}\n"
      "nets:\n  -12V: {role: supply, points: [U2.1]}\n  VDD: [U2.2]\n  P5: [U2.16]\n";
  CHECK(offer(more, {"U1"})->text == "U1 74138: pin 8 GND, pin 16 P5");
  CHECK_FALSE(offer("parts:\n  U1: {kind: ic, type: '74138', package: DIP-14}\n", {"U1"}));
}
