// SPDX-License-Identifier: MIT
//
// The importer of netlists. The lines marked with a row number are, or are like, what real CAD
// programs were seen to write; the columns are those of IPC-D-356A. Real files: tests/d356.
#include "graph/ipc356.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"

namespace {

using namespace padwalk::graph;

struct Import {
  BoardDescription board;
  IpcSummary summary;
  std::vector<std::string> errors;
  std::vector<std::string> warnings;
};

Import import_text(const std::string& text, std::optional<IpcUnits> units = std::nullopt) {
  Diagnostics diagnostics("n.ipc");
  Import import;
  import.board = read_ipc356(text, units, diagnostics, import.summary);
  for (const Diagnostic& error : diagnostics.errors()) {
    import.errors.push_back(diagnostics.format(error));
  }
  for (const Diagnostic& warning : diagnostics.warnings()) {
    if (warning.text.rfind("the points span", 0) != 0) {  // as they do with a line or two
      import.warnings.push_back(diagnostics.format(warning));
    }
  }
  return import;
}

/// What an import without errors must hold: a board comes of it, and its file says the same.
void check_sound(const BoardDescription& description) {
  Diagnostics diagnostics("n.yaml");
  const Board board(description, diagnostics);
  CHECK(board.listed_nets() == description.nets.size());
  const BoardDescription again = read_board(write_board(description), diagnostics);
  CHECK(diagnostics.errors().empty());
  CHECK(without_marks(again) == without_marks(description));
}

/// Lines behind "P  UNITS CUST 0", which is line 1.
Import accepted(const std::string& lines) {
  const Import import = import_text("P  UNITS CUST 0\n" + lines + "\n999\n");
  CHECK(import.errors == std::vector<std::string>{});
  check_sound(import.board);
  return import;
}

/// The same, and nothing is doubtful.
Import clean(const std::string& lines) {
  Import import = accepted(lines);
  CHECK(import.warnings == std::vector<std::string>{});
  return import;
}

/// "GND: V1 R9.1; OUT: R9.2".
std::string nets_of(const Import& import) {
  std::string all;
  for (const NetDescription& net : import.board.nets) {
    all += (all.empty() ? "" : "; ") + net.name + ":";
    for (const Reference& member : net.members) {
      all += " " + member.name;
    }
  }
  return all;
}

/// "R9.1 R9.2 V1": every point there is.
std::string points_of(const Import& import) {
  std::string all;
  for (const PartDescription& part : import.board.parts) {
    for (const PinDescription& pin : part.pins) {
      all += (all.empty() ? "" : " ") + part.name + "." + pin.name;
    }
  }
  for (const PointDescription& point : import.board.points) {
    all += (all.empty() ? "" : " ") + point.name;
  }
  return all;
}

const PinDescription& pin_of(const Import& import, std::size_t index = 0) {
  return import.board.parts.at(0).pins.at(index);
}

using Sides = std::vector<Side>;
using Accesses = std::vector<Access>;
using Texts = std::vector<std::string>;

const std::string kVia = "317GND              VIA        MD0118PA00X+047200Y-025000X0236Y0000R000S";

}  // namespace

TEST_CASE("vias become points with two sides, in file order", "[graph][ipc356]") {
  SECTION("row 1: the mask may stand one column early") {
    const Import import = clean(kVia + "3");
    const PointDescription& via = import.board.points.at(0);
    CHECK(nets_of(import) == "GND: V1");
    CHECK(via.xy == Xy{119.888, -63.5});
    CHECK(via.pad == Xy{0.5994, 0.5994});
    CHECK(via.via == Sides{Side::top, Side::bottom});
    CHECK(via.access == Accesses{Access::none});
    CHECK(import.board.state == BoardState::bare);
    CHECK(import.board.layers == 2);
  }
  SECTION("the mask covers one side, the other, or none") {
    const Import import = clean(kVia + "0\n" + kVia + "1\n" + kVia + "2");
    CHECK(nets_of(import) == "GND: V1 V2 V3");
    CHECK(import.board.points.at(0).access.empty());
    CHECK(import.board.points.at(1).access == Accesses{Access::none, Access::tip});
    CHECK(import.board.points.at(2).access == Accesses{Access::tip, Access::none});
  }
  SECTION("row 2: rubbish in the mask is ignored and said once") {
    const std::string odd =
        "317A5               VIA        MD0118PA00X+017922Y-031289X0236Y0000R000S1197471979\n"
        "317A5               VIA        MD0118PA00X+018922Y-031289X0236Y0000R000 S-771949357";
    const Import import = accepted(odd);
    CHECK(import.warnings ==
          Texts{"n.ipc:2:1: the solder mask is not 0 to 3 and is ignored (lines like this: 2)"});
    CHECK(import.board.points.at(0).access.empty());
    CHECK(import.board.points.at(1).access.empty());
  }
  SECTION("row 3: a via with a dash, without one, and with an empty pin") {
    CHECK(nets_of(clean("317GND              VIA   -     D0250PA00X+002000Y+045750\n" + kVia +
                        "0")) == "GND: V1 V2");
  }
  SECTION("row 6: single fields are blank") {
    const Import import =
        clean("317m0001            VIA   -    MD0120PA00X+023900Y+014350X0240Y         S3      ");
    CHECK(import.board.points.at(0).pad == Xy{0.6096, 0.6096});
    CHECK(import.board.points.at(0).access == Accesses{Access::none});
  }
  SECTION("row 10: the drill is padded with a blank") {
    const Import import =
        clean("31712V_IN           VIA         D 120PA00X+010351Y+010130X0200Y0000             ");
    CHECK(nets_of(import) == "12V_IN: V1");
    CHECK(import.board.points.at(0).xy == Xy{26.2915, 25.7302});
    CHECK(import.board.points.at(0).pad == Xy{0.508, 0.508});
  }
  SECTION("row 13: one that shows on one side can be touched there alone") {
    const Import import = clean(
        "317GND              VIA         D0118PA01X+000000Y+000000X0236Y0000R000 S0\n"
        "317GND              VIA         D0118PA10X+001000Y+000000X0236Y0000R000 S0");
    CHECK(import.board.points.at(0).access == Accesses{Access::tip, Access::none});
    CHECK(import.board.points.at(1).access == Accesses{Access::none, Access::tip});
    CHECK(import.board.layers == 10);
  }
  SECTION("row 14: a continuation is a further pad of it, or its hole") {
    const Import import = clean(
        "317N16509904        VIA   -    M      A01X+007807Y+020990X0250Y         S0      \n"
        "017N16509904        VIA   -    M      A06X+007807Y+020990X0220Y         S2      \n"
        "017N16509904              -    MD0100PA00X+007807Y+020990                       ");
    CHECK(nets_of(import) == "N16509904: V1");
    CHECK(import.board.points.at(0).access == Accesses{Access::tip, Access::none});
    CHECK(import.board.layers == 6);
    CHECK(import.summary.records == 1);
    CHECK(import.summary.codes.at(17) == 2);
  }
  SECTION("row 15: a blind via ends on an inner side; the net of its continuation may be blank") {
    const Import import = clean(
        "307N19830637        VIA   -    MD0080PA01X+044511Y+037251               S0L01L06\n"
        "027                 VIA   -    M      A01X+044511Y+037251X0250Y                 \n"
        "307N19830637        VIA   -    MD0080PA01X+054511Y+037251               S1L02L06\n"
        "307N19830637        VIA   -    MD0080PA10X+064511Y+037251               S0L06L10");
    CHECK(nets_of(import) == "N19830637: V1 V2 V3");
    CHECK(import.board.points.at(0).via == Sides{Side::top, inner_side(5)});
    CHECK(import.board.points.at(0).access == Accesses{Access::tip, Access::none});
    CHECK(import.board.points.at(1).via == Sides{inner_side(1), inner_side(5)});
    CHECK(import.board.points.at(1).access == Accesses{Access::none});
    CHECK(import.board.points.at(2).via == Sides{inner_side(5), Side::bottom});
    CHECK(import.board.points.at(2).access == Accesses{Access::none, Access::tip});
    CHECK(import.board.layers == 10);
  }
  SECTION("one whose layers make no sense goes through the board") {
    const Import import = clean(
        "307A                VIA   -    MD0080PA00X+044511Y+037251               S0L03L03\n"
        "307A                VIA   -    MD0080PA00X+054511Y+037251               S0\n"
        "307A                VIA   -    MD0080PA00X+064511Y+037251               S0L99L98");
    for (const PointDescription& via : import.board.points) {
      CHECK(via.via == Sides{Side::top, Side::bottom});
    }
  }
}

TEST_CASE("pins keep their part, number, side and pad", "[graph][ipc356]") {
  SECTION("row 4: the record ends behind the position") {
    const Import import = clean("327OUT0             R9    -1          A01X+041750Y+051799");
    CHECK(nets_of(import) == "OUT0: R9.1");
    CHECK(pin_of(import).xy == Xy{106.045, 131.5695});
    CHECK(pin_of(import).side == Side::top);
    CHECK(!pin_of(import).pad);
    CHECK(import.board.parts.at(0).kind == PartKind::other);
    CHECK(import.board.parts.at(0).package.empty());
  }
  SECTION("row 5: turn and mask are blank") {
    const Import import =
        clean("32712V_IN           C286  -1          A01X+021331Y+022319X0220Y0220             ");
    CHECK(nets_of(import) == "12V_IN: C286.1");
    CHECK(pin_of(import).pad == Xy{0.5588, 0.5588});
  }
  SECTION("rows 7 and 8: no height, and a blank for a plus") {
    const Import import =
        clean("317N/C              J44   -10   D1000PA00X 314170Y 213850X0000          S0");
    CHECK(pin_of(import).xy == Xy{797.9918, 543.179});
    CHECK(!pin_of(import).pad);
    CHECK(pin_of(import).side == Side::unknown);
  }
  SECTION("row 9: negative positions, here in um, and a turn that is no quarter") {
    const Import import = import_text(
        "P  UNITS CUST 1\n"
        "317N3{4}            D1    -4    D0800PA00X-000620Y+039140X2540Y1270R200 S0\n"
        "327N3{4}            D2    -7          A02X+062893Y-031902X2000Y1000R280 S1\n999\n");
    CHECK(import.errors.empty());
    CHECK(nets_of(import) == "N3{4}: D1.4 D2.7");
    CHECK(pin_of(import).xy == Xy{-0.62, 39.14});
    CHECK(pin_of(import).pad == Xy{2.54, 1.27});
    CHECK(import.board.parts.at(1).pins.at(0).pad == Xy{1, 2});
  }
  SECTION("row 11: P or U without a D; a quarter turn exchanges width and height") {
    const Import import =
        clean("317N/C              U32   -5         UA01X 311000Y 251385X0520Y0300R090 S0");
    CHECK(pin_of(import).side == Side::unknown);
    CHECK(pin_of(import).pad == Xy{0.762, 1.3208});
  }
  SECTION("row 12: any layer but the first is the bottom side") {
    for (const char* layer : {"02", "04", "06", "08", "10"}) {
      CAPTURE(layer);
      const Import import = clean("327m0000            J113  -J2         A" + std::string(layer) +
                                  "X+018150Y+014083X0394Y0315     S2      ");
      CHECK(pin_of(import).side == Side::bottom);
      CHECK(import.board.layers == std::stoi(layer));
    }
  }
  SECTION("rows 13 and 14: a hole that comes in a continuation is no further pin") {
    const Import import = clean(
        "317N/C              J113  -SH1        A01X+020118Y+015953X0709Y         S3      \n"
        "017N/C                    -     D0512PA00X+020118Y+015953                       ");
    CHECK(points_of(import) == "J113.SH1");
    CHECK(pin_of(import).side == Side::unknown);
    CHECK(!pin_of(import).access);  // the mask of a pin is not looked at
  }
  SECTION("row 23: the name of the part fills its columns") {
    CHECK(nets_of(clean("327m0001            R11227-2          A06X+002405Y+014755X0210Y0210     "
                        "S2      ")) == "m0001: R11227.2");
  }
  SECTION("row 24: a pin that is in two nets is two points, and doubtful") {
    const Import import = accepted(
        "327N265305          RNTCBI-2          A10X+045250Y+017265X0210Y0210R090 S2      \n"
        "327N265306          RNTCBI-2          A10X+055250Y+017265X0210Y0210R090 S2      ");
    CHECK(nets_of(import) == "N265305: RNTCBI.2; N265306: RNTCBI.2~2");
    CHECK(
        import.warnings ==
        Texts{"n.ipc:3:21: RNTCBI.2 is in net N265306 here, but in net N265305 in line 2: perhaps "
              "two parts whose names were cut; both points are kept, this one as RNTCBI.2~2"});
  }
  SECTION("a pin that occurs more often becomes further points, in file order") {
    const std::string pin = "317GND              SW1   -1    D0394PA00X+00";
    CHECK(nets_of(clean(pin + "0000Y+000000\n" + pin + "1000Y+000000\n" + pin + "2000Y+000000")) ==
          "GND: SW1.1 SW1.1~2 SW1.1~3");
  }
  SECTION("row 25: a name that is too long pushes the rest to the right") {
    const Import import = clean(
        "317SCL              COMMUNICATION-1    D  40PA00X  34000Y  20000X 600Y1200R270         ");
    CHECK(nets_of(import) == "SCL: COMMUNICATION.1");
    CHECK(pin_of(import).xy == Xy{86.36, 50.8});
    CHECK(pin_of(import).pad == Xy{3.048, 1.524});
  }
  SECTION("a pin or a net that is too long does so as well") {
    const Import import = accepted(
        "327SCL              J1    -CASING         A01X+001000Y+002000\n"
        "327A_VERY_LONG_NET_NAME   J1    -2          A01X+001000Y+002000");
    CHECK(nets_of(import) == "SCL: J1.CASING; A_VERY_LONG_NET_NAME: J1.2");
    CHECK(import.warnings == Texts{"n.ipc:3:18: the name of a net runs on behind column 17 (lines "
                                   "like this: 1)"});
  }
  SECTION("row 26: a size of five digits") {
    const Import import =
        accepted("327V_ESD1           ESD1  -1         PA01X 011750Y 000625X0700Y15500R090 S0");
    CHECK(import.warnings ==
          Texts{"n.ipc:2:58: a pad size has more than four digits (lines like this: 1)"});
    CHECK(pin_of(import).pad == Xy{39.37, 1.778});
  }
  SECTION("row 27: several nets at one position, on two sides or on one") {
    CHECK(nets_of(clean("327GND              U1    -1          A02X+032500Y-030100X0600Y2800\n"
                        "327VCC              U1    -19         A01X+032500Y-030100X0600Y2800\n"
                        "327CLK              U2    -1          A01X+032500Y-030100X0600Y2800")) ==
          "GND: U1.1; VCC: U1.19; CLK: U2.1");
  }
  SECTION("a surface pad whose side is not said is taken for the top") {
    const Import import = accepted("327OUT0             R9    -1             X+041750Y+051799");
    CHECK(import.warnings ==
          Texts{"n.ipc:2:39: the side of a surface pad is not said and taken for "
                "the top (lines like this: 1)"});
    CHECK(pin_of(import).side == Side::top);
  }
}

TEST_CASE("pads of no part and holes that are no points", "[graph][ipc356]") {
  SECTION("row 16: a tooling hole is counted, never a point") {
    const Import import = clean(
        "367                       -     D0354UA00X+013705Y+008752X0354Y         S3      \n"
        "367N/C              REF**       D1260UA00X+001378Y-009252X1260Y0000R000S0\n"
        "367GND              VIA         D1260UA00X+001378Y-009252X1260Y0000R000S0\n" +
        kVia + "0");
    CHECK(import.summary.tooling_holes == 3);
    CHECK(import.summary.records == 4);
    CHECK(import.summary.unconnected == 0);
    CHECK(points_of(import) == "V1");
    CHECK(nets_of(import) == "GND: V1");
  }
  SECTION("row 17: N/C is a point of its own each time, in no net") {
    const Import import = clean(
        "317N/C              VIA        MD0157PA00X+050693Y-046874X0394Y0000R000S3\n"
        "317N/C              VIA        MD0157PA00X+060693Y-046874X0394Y0000R000S3\n"
        "327N/C              U3    -12         A01X+016283Y+011410X0500Y0354R090 S1");
    CHECK(points_of(import) == "U3.12 V1 V2");
    CHECK(nets_of(import).empty());
    CHECK(import.summary.nets == 0);
    CHECK(import.summary.unconnected == 3);
  }
  SECTION("row 28: records without part and pin become P1, P2, … with their side") {
    const Import import = clean(
        "327NET00000000001         -    M      A01X+087954Y+018724X2000Y1500     S1\n"
        "327NET00000000001         -    M      A02X+087954Y+018724X2000Y1500     S1\n"
        "317NET00000000002                D0300PA00X+087954Y+018724X2000Y1500     S1\n"
        "327NET00000000002         -7          A01X+097954Y+018724");
    CHECK(nets_of(import) == "NET00000000001: P1 P2; NET00000000002: P3 P4");
    CHECK(import.board.points.at(0).side == Side::top);
    CHECK(import.board.points.at(0).pad == Xy{5.08, 3.81});
    CHECK(import.board.points.at(1).side == Side::bottom);
    CHECK(import.board.points.at(2).side == Side::unknown);
    CHECK(import.board.points.at(3).note == "pin 7 of a part without a name");
  }
  SECTION("a surface pad of a via is a pad") {
    const Import import = clean("327A                VIA               A01X+000954Y+018724");
    CHECK(nets_of(import) == "A: P1");
    CHECK(import.board.points.at(0).via.empty());
  }
}

TEST_CASE("names are text and stay apart", "[graph][ipc356]") {
  const auto line = [](std::string net, std::string part, std::string pin) {
    net.resize(17, ' ');
    part.resize(6, ' ');
    pin.resize(4, ' ');
    return "327" + net + part + "-" + pin + "       A01X+087954Y+018724\n";
  };
  SECTION("row 29: names of parts and pins that are no numbers") {
    CHECK(nets_of(clean(line("A", "REF**", "") + line("A", "BOARD", "P1") +
                        line("A", "J28", "MTG") + line("A", "J28", "0") + line("A", "U1", "AC14") +
                        line("A", "K1", "1B") + line("A", "J1", "SH1"))) ==
          "A: REF**.pad BOARD.P1 J28.MTG J28.0 U1.AC14 K1.1B J1.SH1");
    CHECK(nets_of(clean("317N/C              J28   -MTG  D1700UA00X 376500Y 154000X0000          "
                        "S0"))
              .empty());
  }
  SECTION("row 18: a net begins with a digit") {
    CHECK(nets_of(clean("31712V_IN           C1    -1    D0120PA00X+010351Y+010130\n"
                        "3171V8              C1    -2    D0120PA00X+010351Y+010130\n"
                        "0171V8                    -     D0512PA00X+010351Y+010130")) ==
          "12V_IN: C1.1; 1V8: C1.2");
  }
  SECTION("row 19: blanks inside a name") {
    CHECK(nets_of(clean("317DF_ RTS          VIA   -    MD0100PA00X+014370Y+013570X0220Y         "
                        "S0      ")) == "DF_ RTS: V1");
  }
  SECTION("row 20: signs and small letters are kept as they are") {
    for (const char* net : {"Plus12V", "/SV1", "$N1", "SYNC_INT#", "~{IRQ}", "A(0)", "+5V", "-12V",
                            "A_B", "3.3V", "a", "A: b", "[x]", "\"q\"", "null", "1e3", "*a"}) {
      CHECK(nets_of(clean(line(net, "R1", "1"))) == std::string(net) + ": R1.1");
    }
    CHECK(nets_of(clean(line("clk", "R1", "1") + line("CLK", "R1", "2"))) ==
          "clk: R1.1; CLK: R1.2");
    CHECK(nets_of(clean("317Plus12V          R11   -1    D0480PA00X+028150Y+016000X0850Y0850R000 "
                        "S0      ")) == "Plus12V: R11.1");
  }
  SECTION("row 21: names that were cut keep what is there") {
    const Import import = clean(
        "327-VBUS-PADA4)_2   J3    -B4         A01X+047214Y-029951X0236Y0453R180S2\n"
        "327-VBUS-PADA4)_3   J3    -A9         A01X+047214Y-029951X0236Y0453R180S2");
    CHECK(nets_of(import) == "-VBUS-PADA4)_2: J3.B4; -VBUS-PADA4)_3: J3.A9");
    CHECK(import.summary.nets == 2);
  }
  SECTION("names that fill their columns and could be one net are doubtful") {
    const Import import =
        accepted("P  NNAME00001 OUTER_OSCILLATOR_OUT\n" + line("Oscillator_OUT", "R1", "1") +
                 line("OSCILLATOR_OUT", "R1", "2") + line("NNAME00001", "R1", "3") +
                 line("SHORT", "R1", "4") + line("short", "R1", "5"));
    CHECK(import.warnings ==
          Texts{"n.ipc:4:4: net OSCILLATOR_OUT could be net Oscillator_OUT of line 3, whose name "
                "fills its columns and may have been cut",
                "n.ipc:5:4: net OUTER_OSCILLATOR_OUT could be net Oscillator_OUT of line 3, whose "
                "name fills its columns and may have been cut"});
    CHECK(import.summary.nets == 5);
  }
  SECTION("row 22: a number in braces behind every name") {
    CHECK(nets_of(clean("317GND{2}           VIA        MD1000PA00X+016000Y+046000X2000Y2000R000 "
                        "S0")) == "GND{2}: V1");
  }
  SECTION("a name that runs on into the blanks behind its columns") {
    const Import import =
        accepted(line("ABCDEFGHIJKLMNOP", "R1", "1") + line("ABCDEFGHIJKLMNOQ", "R1", "2"));
    CHECK(import.warnings == Texts{"n.ipc:2:18: the name of a net runs on behind column 17 (lines "
                                   "like this: 2)"});
    CHECK(nets_of(import) == "ABCDEFGHIJKLMNOP: R1.1; ABCDEFGHIJKLMNOQ: R1.2");
  }
  SECTION("signs that mean something in the names of points are replaced") {
    const Import import = accepted(line("A", "U1.2", "3") + line("B", "U1_2", "3") +
                                   line("C", "U1", "2.3") + line("D", "U1", "2@~3"));
    CHECK(nets_of(import) == "A: U1_2.3; B: U1_2.3~2; C: U1.2_3; D: U1.2__3");
    CHECK(import.warnings ==
          Texts{"n.ipc:3:21: U1_2.3 is in net B here, but in net A in line 2: perhaps two parts "
                "whose names were cut; both points are kept, this one as U1_2.3~2",
                "n.ipc:2:21: names of parts or pins hold . @ or ~, which mean something else in a "
                "board file; they became _ (names like this: 3)"});
  }
  SECTION("parts called like vias and pads do not collide with them") {
    const Import import =
        clean(line("A", "V1", "1") + line("A", "P1", "1") + line("A", "", "") + kVia + "0");
    CHECK(nets_of(import) == "A: V1.1 P1.1 P1; GND: V1");
  }
  SECTION("bytes that are no text become question marks, and nets stay apart") {
    const Import import =
        accepted(line("A\x96", "R1", "1") + line("A\x97", "R\xff", "\x01") +
                 "327M\xc3\x9cNZE            R1    -2          A01X+087954Y+018724\n" +
                 line("M\xc3\x9cNZE", "R1", "3"));
    CHECK(nets_of(import) == "A?: R1.1; A? (2): R?.?; M\xc3\x9cNZE: R1.2 R1.3");
    CHECK(import.warnings ==
          Texts{"n.ipc:2:4: the name of net A? holds bytes that are no text; each became ?",
                "n.ipc:3:21: the name R? holds bytes that are no text; each became ?",
                "n.ipc:3:28: the name ? holds bytes that are no text; each became ?",
                "n.ipc:3:4: the name of net A? holds bytes that are no text; each became ?",
                "n.ipc:3:4: another net is called A? too; this one is \"A? (2)\" here"});
  }
}

TEST_CASE("headers, aliases and records that say nothing of points", "[graph][ipc356]") {
  const std::string record = kVia + "3\n";
  SECTION("row 30: one blank behind P or C, and a C alone or with stars") {
    const Import import =
        clean("P JOB OC LTE BASEBAND BOARD Rev C_20180727\nC\nC*****\nC a\n" + record);
    CHECK(import.board.name == "OC LTE BASEBAND BOARD Rev C_20180727");
  }
  SECTION("row 31: the job is empty or missing: the file's name is taken") {
    CHECK(clean("P  JOB\nP\n" + record).board.name == "n");
    CHECK(clean(record).board.name == "n");
    CHECK(clean("P  TITLE Buoy\n" + record).board.name == "Buoy");
  }
  SECTION("row 32: parameters that say nothing of nets") {
    clean(
        "P  arrayDim   N\nP  DIM\nP  FORM\nP  TOL\nP  IMAGE NCON POS\nP  CODE 00\n"
        "P  AREA1 X-      Y-210000X+      Y+\n" +
        record);
  }
  SECTION("row 33: units spelt loosely") {
    const auto x_of = [&](const std::string& units) {
      const Import import = import_text("P  UNITS " + units + "\n" + record + "999\n");
      CHECK(import.errors.empty());
      return import.board.points.at(0).xy->x;
    };
    for (const char* inch : {"CUST", "CUST 0", "CUST0", " CUST  0", "CUST 2", "CUST 0     "}) {
      CHECK(x_of(inch) == 119.888);
    }
    for (const char* mm : {"SI", "CUST 1", "CUST1"}) {
      CHECK(x_of(mm) == 47.2);
    }
    CHECK(clean("P  UNITS CUST0\n" + record).board.points.size() == 1);  // the same, said twice
  }
  SECTION("turns in radians are not read") {
    const Import import = import_text(
        "P  UNITS CUST 2\n327A                R1    -1          A01X+087954Y+018724X0100Y0200R157\n"
        "999\n");
    CHECK(pin_of(import).pad == Xy{0.254, 0.508});
    CHECK(import.warnings == Texts{"n.ipc: CUST 2 counts turns in radians, which are not read; "
                                   "width and height of turned pads may be exchanged"});
  }
  SECTION("the caller's units count where the file does not say") {
    CHECK(import_text(record + "999\n", IpcUnits::mm_1e3).board.points.at(0).xy->x == 47.2);
    CHECK(import_text("P  UNITS CUST 0\n" + record + "999\n", IpcUnits::mm_1e3)
              .board.points.at(0)
              .xy->x == 119.888);
  }
  SECTION("row 34: the whole alias in a record, or five columns of it") {
    CHECK(nets_of(clean("P  NNAMEm0000 SDR_REG_LDO_PGOOD\nP  NNAME00001 THISIS15CHARACT\n"
                        "327m0000            R1    -1          A01X+087954Y+018724\n"
                        "317NNAME00001       R1    -2    D0120PA00X+087954Y+018724")) ==
          "SDR_REG_LDO_PGOOD: R1.1; THISIS15CHARACT: R1.2");
  }
  SECTION("row 35: aliases in comments") {
    CHECK(nets_of(clean("C  NNAMEm0000 PASSIVE_POE_ILIM\n"
                        "C CAD Netname : 3.3VD_TIVA_CONN --- IPC Netname : NNAME0001\n"
                        "327m0000            R1    -1          A01X+087954Y+018724\n"
                        "327NNAME0001        R1    -2          A01X+087954Y+018724")) ==
          "PASSIVE_POE_ILIM: R1.1; 3.3VD_TIVA_CONN: R1.2");
    const Import twice = accepted(
        "C  NNAMEm0000 ONE\nC  NNAMEm0000 TWO\nP  NNAMEm0001 REAL\n"
        "C  NNAMEm0001 FROM COMMENT\n"
        "327m0000            R1    -1          A01X+087954Y+018724\n"
        "327m0001            R1    -2          A01X+087954Y+018724");
    CHECK(nets_of(twice) == "ONE: R1.1; REAL: R1.2");
    CHECK(twice.warnings == Texts{"n.ipc:3:1: this comment calls NNAMEm0000 \"TWO\", but line 2 "
                                  "calls it \"ONE\", which is taken"});
  }
  SECTION("row 36: aliases that nobody uses, and one that holds blanks") {
    CHECK(nets_of(clean("P  NNAME1     I2S_DAC_LOOP_D0\nP  NNAME00002 RIGHT  OUT\n"
                        "3271                R1    -1          A01X+087954Y+018724\n"
                        "327NNAME00002       R1    -2          A01X+087954Y+018724")) ==
          "1: R1.1; RIGHT  OUT: R1.2");
  }
  SECTION("an alias that is never declared stays; two nets of one long name stay apart") {
    const Import import = accepted(
        "P  NNAME00001 CLK\nP  NNAME00002 CLK\n"
        "327NNAME00001       R1    -1          A01X+087954Y+018724\n"
        "327NNAME00002       R1    -2          A01X+087954Y+018724\n"
        "327NNAME00003       R1    -3          A01X+087954Y+018724\n"
        "327CLK              R1    -4          A01X+087954Y+018724");
    CHECK(nets_of(import) == "CLK: R1.1; NNAME00002: R1.2; NNAME00003: R1.3; CLK (2): R1.4");
    CHECK(import.warnings ==
          Texts{"n.ipc:5:4: another net bears \"CLK\", the long name of NNAME00002; the short one "
                "is kept",
                "n.ipc:6:4: the alias NNAME00003 is never declared; it stays the name of its net",
                "n.ipc:7:4: another net is called CLK too; this one is \"CLK (2)\" here"});
  }
  SECTION("row 39: outlines are skipped, with one warning for each code") {
    const Import import = accepted(
        "389BOARD_EDGE         X0025Y0000 X+004288Y+000051 X+005000Y+000000\n"
        "089 X+004288Y+000051 X+005000Y+000000\n" +
        record);
    CHECK(
        import.warnings ==
        Texts{
            "n.ipc:3:1: record 089 is skipped: this version does not read it (lines like this: 1)",
            "n.ipc:2:1: record 389 is skipped: this version does not read it (lines like this: "
            "1)"});
    CHECK(import.summary.records == 1);
    CHECK(import.summary.codes == std::map<int, std::size_t>{{89, 1}, {317, 1}, {389, 1}});
  }
  SECTION("the other codes that are no points are skipped too") {
    for (const char* code : {"370", "380", "390", "309", "070", "080", "090", "099", "088"}) {
      const Import import = accepted(record + code + "VCC\n" + code + "VCC");
      CHECK(import.warnings == Texts{"n.ipc:3:1: record " + std::string(code) +
                                     " is skipped: this version does not read it (lines like this: "
                                     "2)"});
    }
  }
  SECTION("row 40: line ends, trailing blanks, a blank first line, comments anywhere") {
    const std::string blanks(77, ' ');
    for (const char* end : {"\n", "\r\n", "\r"}) {
      const std::string text = "      " + std::string(end) + "C" + end + "P  UNITS CUST 0   " +
                               end + kVia + "0" + end + "C   between   " + end + kVia + "0" +
                               blanks + end + "999" + blanks + end + "C  End-of-Job" + end + "\x1a";
      const Import import = import_text(text);
      CHECK(import.errors.empty());
      CHECK(import.warnings.empty());
      CHECK(nets_of(import) == "GND: V1 V2");
    }
    CHECK(import_text("\xef\xbb\xbfP  UNITS CUST 0\n" + record + "999").errors.empty());
    CHECK(import_text("P  UNITS CUST 0\n" + record + "999").warnings.empty());
  }
  SECTION("row 41: a byte of another encoding in a header") {
    CHECK(clean("P  JOB  PCB_Fabrication_Data_in_Gerber_\x96_Example_1\nC  \x80\xff\n" + record)
              .board.name == "PCB_Fabrication_Data_in_Gerber_?_Example_1");
  }
  SECTION("a record inside a comment is doubtful") {
    CHECK(accepted("C  " + record + record).warnings.front() ==
          "n.ipc:2:4: a comment holds what looks like a data record; it is not read");
  }
  SECTION("a continuation of another net is doubtful") {
    CHECK(accepted(record + "017VCC                    -     D0512PA00X+020118Y+015953").warnings ==
          Texts{"n.ipc:3:4: this continuation names net VCC, but the record that it goes on from "
                "names GND; it is not read"});
  }
  SECTION("a file that was cut off is doubtful") {
    CHECK(
        import_text("P  UNITS CUST 0\n" + record).warnings ==
        Texts{"n.ipc:2:1: the file ends without a record 999: it is probably cut off, and nets or "
              "points are missing"});
  }
}

TEST_CASE("a board of absurd size is doubtful", "[graph][ipc356]") {
  const auto warning = [](const std::string& units, const std::string& x) {
    const std::string pin = "327A                R1    -1          A01X";
    Diagnostics diagnostics("n.ipc");
    IpcSummary summary;
    (void)read_ipc356(
        "P  UNITS " + units + "\n" + pin + "+000000Y+000000\n" + pin + x + "Y+000000\n999\n",
        std::nullopt, diagnostics, summary);
    CHECK(diagnostics.errors().empty());
    return diagnostics.warnings().empty() ? "" : diagnostics.format(diagnostics.warnings().front());
  };
  CHECK(warning("CUST 0", "+787402") ==
        "n.ipc: the points span 2000 x 0 mm: are the units of the file right?");
  CHECK(warning("CUST 0", "+787401").empty());
  CHECK(warning("SI", "-002000").empty());
  CHECK(warning("SI", "-001999") ==
        "n.ipc: the points span 1.999 x 0 mm: are the units of the file right?");
}

TEST_CASE("what cannot be read is refused with line and column", "[graph][ipc356][bad-input]") {
  const std::string units = "P  UNITS CUST 0\n";
  const std::string record = kVia + "3\n";
  const std::string net = "317GND              VIA        MD0118PA00";
  const std::vector<std::pair<std::string, std::string>> rows = {
      {units + net + "X+0472\n999\n",
       "n.ipc:2:48: truncated record, no Y coordinate; expected Y, a sign and six digits in "
       "columns "
       "50 to 57"},
      {units + net + "X+047200\n999\n",
       "n.ipc:2:50: truncated record, no Y coordinate; expected Y, a sign and six digits in "
       "columns "
       "50 to 57"},
      {units + net + "X+047200Y-0250\n999\n",
       "n.ipc:2:56: truncated record, half a Y coordinate; expected Y, a sign and six digits in "
       "columns 50 to 57"},
      {units + net + "\n999\n",
       "n.ipc:2:42: truncated record, no X coordinate; expected X, a sign and six digits in "
       "columns "
       "42 to 49"},
      {units + "317\n999\n",
       "n.ipc:2:4: found no name of a net; expected one in columns 4 to 17, or "
       "N/C"},
      {units + net + "+047200Y-025000X0236Y0000\n999\n",
       "n.ipc:2:42: found \"+047200Y\"; expected X, a sign and six digits in columns 42 to 49"},
      {units + net + "X+047200Z-025000X0236Y0000\n999\n",
       "n.ipc:2:50: found \"Z-025000\"; expected Y, a sign and six digits in columns 50 to 57"},
      {units + net + "X+0O7200Y-025000\n999\n",
       "n.ipc:2:42: found \"X+0O7200Y\"; expected X, a sign and six digits in columns 42 to 49"},
      {units + net + "X+047200Y-02 000\n999\n",
       "n.ipc:2:50: found \"Y-02 000\"; expected Y, a sign and six digits in columns 50 to 57"},
      {units + net + "X+0472001Y-025000\n999\n",
       "n.ipc:2:42: found \"X+0472001\"; expected X, a sign and six digits in columns 42 to 49"},
      {units + net + "X+047200Y-0250001X0236\n999\n",
       "n.ipc:2:50: found \"Y-0250001\"; expected Y, a sign and six digits in columns 50 to 57"},
      {units + net + "X       Y-025000\n999\n",
       "n.ipc:2:42: found \"X       Y\"; expected X, a sign and six digits in columns 42 to 49"},
      {units + "317SCL              COMMUNICATION-1    D  40PA00X  34000Y  2O000\n999\n",
       "n.ipc:2:57: found \"Y  2O000\"; expected Y, a sign and six digits in columns 57 to 64"},
      {"P  UNITS FURLONG\n" + record + "999\n",
       "n.ipc:1:10: found units \"FURLONG\"; expected CUST 0, CUST 1, CUST 2 or SI"},
      {"P  UNITS\n" + record + "999\n",
       "n.ipc:1:9: found units \"\"; expected CUST 0, CUST 1, CUST 2 or SI"},
      {units + "P  UNITS SI\n" + record + "999\n",
       "n.ipc:2:10: found units \"SI\", but others in line 1; expected the same in the whole file"},
      {record + "999\n",
       "n.ipc: the file does not say its units (no P UNITS); pass --units inch for 0.0001 inch or "
       "--units mm for 0.001 mm"},
      {units + "P  NNAME00001 ONE\nP  NNAME00001 TWO\n" + record + "999\n",
       "n.ipc:3:4: found alias NNAME00001 for \"TWO\", but line 2 gives it to \"ONE\"; expected "
       "one "
       "name for an alias"},
      {units + "P  VER   IPC-D-356A" + record + record + "999\n",
       "n.ipc:2:20: found a data record behind a parameter; expected it on a line of its own"},
      {units + record + "555VCC\n999\n",
       "n.ipc:3:1: found a record 555; expected 317, 327, 367 or 307, 017 or 027 behind these, or "
       "999"},
      {units + record + "stray\n999\n",
       "n.ipc:3:1: found \"str\"; expected C, P or a record number of three digits"},
      {units + record + "999\n" + record,
       "n.ipc:4:1: found a record 317 behind 999, the end; expected comments alone there"},
      {units + record +
           "378VCC            L01 X0600Y0000 X+038000Y+026800\n"
           "017GND                    -     D0512PA00X+020118Y+015953\n999\n",
       "n.ipc:4:1: found a record 017; expected a record before it that it goes on from"},
      {units + "999\n", "n.ipc: the file holds no points; expected records 317 or 327"},
  };
  for (const auto& [text, message] : rows) {
    CAPTURE(text);
    CHECK(import_text(text).errors == Texts{message});
  }
  for (const char* code : {"317", "327", "307", "378", "379"}) {
    const std::string blank =
        std::string(code) + "                 VIA        MD0118PA00X+047200Y-025000\n";
    CHECK(import_text(units + record + blank + "999\n").errors ==
          Texts{"n.ipc:3:4: found no name of a net; expected one in columns 4 to 17, or N/C"});
  }
  for (const char* code : {"078", "079"}) {
    CHECK(import_text(units + record + code + " X+038000Y+026800\n999\n").errors ==
          Texts{"n.ipc:3:1: found a record " + std::string(code) +
                "; expected a record before it that it goes on from"});
  }
  for (const char* code : {"017", "027", "078", "079", "089", "099", "088"}) {
    CHECK(import_text(units + code + "GND\n" + record + "999\n").errors ==
          Texts{"n.ipc:2:1: found a record " + std::string(code) +
                "; expected a record before it that it goes on from"});
  }
  CHECK(import_text(units + net + "X+0472\nstray\n555\n999\n").errors.size() == 3);
}

TEST_CASE("a text of another kind is refused at once", "[graph][ipc356][bad-input]") {
  const std::string expected =
      "; expected an IPC-D-356A netlist, whose lines begin with C, P or a record number such as "
      "317";
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"[General]\nname=x\n", "n.ipc:1:1: found \"[General]\""},
      {"\n\n  hello world, this is\n", "n.ipc:3:1: found \"  hello wo\""},
      {"Created by hand\n", "n.ipc:1:1: found \"Created by\""},
      {"Project\n", "n.ipc:1:1: found \"Project\""},
      {"\x7f\x45LF", "n.ipc:1:1: found \"?ELF\""},
      {"PK\x03\x04", "n.ipc: the file is a zip archive"},
      {"\xff\xfeP", "n.ipc: the file is UTF-16 text"},
      {std::string("P\0  U\0", 6), "n.ipc: the file is a binary file"},
      {"", "n.ipc: the file is blank"},
      {"  \r\n \n", "n.ipc: the file is blank"},
  };
  for (const auto& [text, message] : rows) {
    CAPTURE(message);
    CHECK_THROWS_AS(import_text(text), BadFile);
    try {
      import_text(text);
    } catch (const BadFile& bad) {
      CHECK(bad.what() == message + expected);
    }
  }
}

TEST_CASE("damaged netlists never crash, and what is accepted makes a board",
          "[graph][ipc356][bad-input]") {
  const std::string good =
      "P  JOB   Buoy\nP  UNITS CUST 0\nP  NNAME00001 A_LONG_NAME_OF_A_NET\n"
      "C  NNAMEm0000 ANOTHER_LONG_NAME\n" +
      kVia + "3\n" + kVia + "S-771949357\n" +
      "317NNAME00001       R9    -1    D0480PA00X+028150Y+016000X0850Y0850R090 S0\n"
      "327m0000            R9    -2          A04X+041750Y+051799X0700Y15500R200\n"
      "317N16509904        VIA   -    M      A01X+007807Y+020990X0250Y         S3      \n"
      "017N16509904              -    MD0100PA00X+007807Y+020990                       \n"
      "307N19830637        VIA   -    MD0080PA01X+044511Y+037251               S1L01L06\n"
      "027                 VIA   -    M      A01X+044511Y+037251X0250Y                 \n"
      "367                       -     D0354UA00X+013705Y+008752X0354Y         S3      \n"
      "317SCL              COMMUNICATION-1    D  40PA00X  34000Y  20000X 600Y1200R270\n"
      "327NET00000000001         -    M      A01X+087954Y+018724X2000Y1500     S1\n"
      "378m0000          L01 X0600Y0000 X+038000Y+026800 X+041750Y+051799*\n"
      "078 X+041750Y+051799 X+028150Y+016000*X+035750 X+041750\n"
      "378NNAME00001     L01 X0600Y0000 X+038000Y+026800 X+041750Y+051799\n"
      "378GND            L02 X0600Y0100 X 047200Y-025000 Y-25100 Y-25000 X47200Y-25000*\n"
      "379GND            NNAME00001     m0000\n"
      "079 GND            N16509904      SCL\n"
      "327m0000            R8    -2          A01X+028150Y+016000X0700Y15500R200\n"
      "327N/C              U3    -12         A01X+016283Y+011410X0500Y0354R090 S1\n"
      "999\n";
  const std::string pool = "0123456789+-XYARSLPCDM/. @~\"'{}[]:#\n\r\t\x01\x80\xc3\xe2\xff";
  const std::vector<std::string> needles = {
      "317",           "017",      "999\n",
      "N/C",           "X+999999", "NNAME",
      "P  UNITS SI\n", "VIA",      "A99",
      "L16L02",        "\xc2\x85", "378GND            L01 X0100 X+1Y+1 X+2Y+2*\n",
      "078 X1Y1 X5",   "*",        "379"};
  std::size_t imported = 0;
  for (unsigned seed = 0; seed < 3000; ++seed) {
    std::mt19937 random(seed);
    std::string text = good;
    for (std::size_t changes = 1 + random() % 6; changes > 0 && !text.empty(); --changes) {
      const std::size_t at = random() % text.size();
      const std::size_t length = random() % 20;
      switch (random() % 5) {
        case 0:
          text[at] = pool[random() % pool.size()];
          break;
        case 1:
          text.erase(at, length);
          break;
        case 2:
          text.insert(at, needles[random() % needles.size()]);
          break;
        case 3:
          text.insert(at, text.substr(random() % text.size(), 5 * length));
          break;
        default:
          text.resize(random() % 40 == 0 ? at : text.size());
          text += static_cast<char>(random() % 256);
      }
    }
    INFO("seed " << seed);
    try {
      const Import import = import_text(text);
      if (import.errors.empty()) {
        ++imported;
        check_sound(import.board);
      }
    } catch (const BadFile& bad) {
      CHECK(std::string(bad.what()).rfind("n.ipc", 0) == 0);
    }
  }
  CHECK(imported > 300);
}
