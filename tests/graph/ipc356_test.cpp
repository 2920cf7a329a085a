// SPDX-License-Identifier: MIT
//
// What real writers of IPC-D-356 do, row by row: each example line is one that a real writer or a
// public report gave. Then what must be refused, with its place.
#include "graph/ipc356.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "graph/board.hpp"

namespace {

using namespace padwalk::graph;

struct Imported {
  BoardDescription board;
  std::vector<std::string> errors;
  std::vector<std::string> warnings;
  IpcSummary summary;

  const PinDescription& pin(const std::string& part, const std::string& name) const {
    for (const PartDescription& one : board.parts) {
      for (const PinDescription& candidate : one.pins) {
        if (one.name == part && candidate.name == name) {
          return candidate;
        }
      }
    }
    FAIL("there is no pin " << part << "." << name);
    return board.parts.front().pins.front();
  }
  std::vector<std::string> members(const std::string& net) const {
    std::vector<std::string> names;
    for (const NetDescription& one : board.nets) {
      if (one.name == net) {
        for (const Reference& member : one.members) {
          names.push_back(member.name);
        }
      }
    }
    return names;
  }
  bool warned(const std::string& part) const {
    return std::any_of(warnings.begin(), warnings.end(), [&](const std::string& warning) {
      return warning.find(part) != std::string::npos;
    });
  }
};

Imported import(const std::string& text, std::optional<IpcUnits> units = std::nullopt) {
  Diagnostics diagnostics("n.d356");
  Imported result;
  result.board = read_ipc356(text, units, diagnostics, result.summary);
  for (const Diagnostic& error : diagnostics.errors()) {
    result.errors.push_back(diagnostics.format(error));
  }
  for (const Diagnostic& warning : diagnostics.warnings()) {
    result.warnings.push_back(diagnostics.format(warning));
  }
  return result;
}

/// A file around some records, with a second point far off so that the size raises no doubt.
Imported records(const std::string& lines, const std::string& units = "P  UNITS CUST 0\n") {
  const Imported result =
      import(units + lines +
             "\n327FAR              R99   -1          A01X+090000Y+090000X0220Y0220R000S0\n999\n");
  for (const std::string& error : result.errors) {
    UNSCOPED_INFO(error);
  }
  CHECK(result.errors.empty());
  return result;
}

const PointDescription& first_point(const Imported& result) {
  REQUIRE(!result.board.points.empty());
  return result.board.points.front();
}

}  // namespace

TEST_CASE("a mask value is taken wherever it stands and ignored if it is none", "[graph][ipc356]") {
  // 1: one column early. Covered on both sides: no tip can touch the via.
  const Imported early =
      records("317GND              VIA        MD0118PA00X+047200Y-025000X0236Y0000R000S3");
  CHECK(first_point(early).access == std::vector<Access>{Access::none});
  CHECK(first_point(early).xy == Xy{119.888, -63.5});
  CHECK(first_point(early).pad == Xy{0.59944, 0.59944});
  CHECK(early.warnings.empty());
  // 2: rubbish, and a record longer than 80 columns.
  const Imported rubbish = records(
      "317A5               VIA        MD0118PA00X+017922Y-031289X0236Y0000R000S1197471979\n"
      "317A5               VIA        MD0118PA00X+017922Y-031389X0236Y0000R000S-771949357");
  CHECK(first_point(rubbish).access.empty());
  CHECK(rubbish.warnings ==
        std::vector<std::string>{
            "n.d356: 2 records have a solder mask value other than 0 to 3; it is ignored"});
}

TEST_CASE("missing fields of a record are not needed", "[graph][ipc356]") {
  // 3: no dash, or a dash and no pin, is a via all the same.
  CHECK(first_point(records("317GND              VIA   -     D0250PA00X+002000Y+045750")).name ==
        "V1");
  // 4: nothing behind Y.
  const Imported short_record =
      records("327OUT0             R9    -1          A01X+041750Y+051799");
  CHECK(short_record.pin("R9", "1").side == Side::top);
  CHECK(!short_record.pin("R9", "1").pad);
  // 5: turn and mask missing, padded to 80.
  CHECK(records("32712V_IN           C286  -1          A01X+021331Y+022319X0220Y0220             ")
            .members("12V_IN") == std::vector<std::string>{"C286.1"});
  // 6: a single blank field: as high as wide.
  CHECK(
      first_point(records("317m0001            VIA   -    MD0120PA00X+023900Y+014350X0240Y        "
                          " S3      "))
          .pad == Xy{0.6096, 0.6096});
  // 7 and 8: no Y size at all, and a blank sign is plus.
  const Imported blank_sign =
      records("317N/C              J44   -10   D1000PA00X 314170Y 213850X0000          S0");
  CHECK(blank_sign.pin("J44", "10").xy == Xy{797.9918, 543.179});
  CHECK(blank_sign.summary.unconnected == 1);
  // 9: negative coordinates; metric here.
  CHECK(records("317N3{4}            D1    -4    D0800PA00X-000620Y+039140X2540Y1270R200 S0",
                "P  UNITS CUST 1\n")
            .pin("D1", "4")
            .xy == Xy{-0.62, 39.14});
  // 10: blanks before the drill; 11: a plating letter without a hole.
  CHECK(first_point(records("31712V_IN           VIA         D 120PA00X+010351Y+010130X0200Y0000   "
                            "          "))
            .via.size() == 2);
  CHECK(records("317N/C              U32   -5         UA01X 311000Y 251385X0520Y0300R090 S0")
            .pin("U32", "5")
            .pad == Xy{0.762, 1.3208});
}

TEST_CASE("sides and layers of records", "[graph][ipc356]") {
  // 12: any access other than 00 and 01 is the far side.
  CHECK(records("327m0000            J113  -J2         A04X+018150Y+014083X0394Y0315     S2      ")
            .pin("J113", "J2")
            .side == Side::bottom);
  // 13 and 14: a through hole given on one side, its drill in a 017 that is no point of its own.
  const Imported later_drill = records(
      "317N/C              J113  -SH1        A01X+020118Y+015953X0709Y         S3      \n"
      "017N/C                    -     D0512PA00X+020118Y+015953                       ");
  CHECK(later_drill.pin("J113", "SH1").side == Side::unknown);
  CHECK(later_drill.summary.records == 2);
  CHECK(later_drill.board.parts.size() == 2);
  // 15: a blind or buried via with its layers; the 027 names no net.
  const Imported buried = records(
      "307N19830637        VIA   -    MD0080PA01X+044511Y+037251               S1L01L06\n"
      "027                 VIA   -    M      A01X+044511Y+037251X0250Y                 \n"
      "307N19830637        VIA   -    MD0080PA01X+054511Y+037251               S0L01L02");
  CHECK(first_point(buried).via == std::vector<Side>{Side::top, Side::bottom});
  CHECK(buried.board.points[1].via == std::vector<Side>{Side::top, Side::inner1});
  CHECK(buried.board.layers == 6);
  CHECK(buried.members("N19830637") == std::vector<std::string>{"V1", "V2"});
  // 16: tooling holes are never points.
  CHECK(records("367                       -     D0354UA00X+013705Y+008752X0354Y         S3      ")
            .summary.tooling_holes == 1);
}

TEST_CASE("net names of all sorts", "[graph][ipc356]") {
  // 17: N/C is one point a record, and no net.
  const Imported unconnected = records(
      "317N/C              VIA        MD0157PA00X+050693Y-046874X0394Y0000R000S3\n"
      "317N/C              VIA        MD0157PA00X+051693Y-046874X0394Y0000R000S3");
  CHECK(unconnected.summary.unconnected == 2);
  CHECK(unconnected.board.points.size() == 2);
  CHECK(unconnected.summary.nets == 1);  // the far one
  // 18: a net that begins with a digit; 19: blanks inside.
  CHECK(records("31712V_IN           C286  -1    D0250PA00X+021331Y+022319")
            .members("12V_IN")
            .size() == 1);
  CHECK(records("317DF_ RTS          VIA   -    MD0100PA00X+014370Y+013570X0220Y         S0      ")
            .members("DF_ RTS")
            .size() == 1);
  // 20: case is kept; 21: a name that was cut at the front; 22: a suffix in braces.
  CHECK(records("317Plus12V          R11   -1    D0480PA00X+028150Y+016000X0850Y0850R000 S0      ")
            .members("Plus12V")
            .size() == 1);
  CHECK(records("327-VBUS-PADA4)_2   J3    -B4         A01X+047214Y-029951X0236Y0453R180S2")
            .members("-VBUS-PADA4)_2") == std::vector<std::string>{"J3.B4"});
  CHECK(records("317GND{2}           VIA        MD1000PA00X+016000Y+046000X2000Y2000R000 S0")
            .members("GND{2}")
            .size() == 1);
}

TEST_CASE("part names of all sorts", "[graph][ipc356]") {
  // 23: six letters, the dash follows at once.
  CHECK(records("327m0001            R11227-2          A06X+002405Y+014755X0210Y0210     S2      ")
            .members("m0001") == std::vector<std::string>{"R11227.2"});
  // 24: a cut name: one pin in two nets. Both points are kept, and it is said.
  const Imported cut = records(
      "327N265305          RNTCBI-2          A10X+045250Y+017265X0210Y0210R090 S2      \n"
      "327N265306          RNTCBI-2          A10X+046250Y+017265X0210Y0210R090 S2      ");
  CHECK(cut.members("N265305") == std::vector<std::string>{"RNTCBI.2"});
  CHECK(cut.members("N265306") == std::vector<std::string>{"RNTCBI.2~2"});
  CHECK(cut.warned("RNTCBI.2 stands in nets \"N265305\" and \"N265306\""));
  // 25: a name longer than its columns pushes the rest to the right.
  const Imported pushed = records(
      "317SCL              COMMUNICATION-1    D  40PA00X  34000Y  20000X 600Y1200R270         ");
  CHECK(pushed.pin("COMMUNICATION", "1").xy == Xy{86.36, 50.8});
  CHECK(pushed.pin("COMMUNICATION", "1").pad == Xy{3.048, 1.524});
  // 26: a size of five digits pushes the tail.
  CHECK(records("327V_ESD1           ESD1  -1         PA01X 011750Y 000625X0700Y15500R090 S0")
            .pin("ESD1", "1")
            .pad == Xy{39.37, 1.778});
  // 27: two nets at one position.
  CHECK(records("327A                J1    -1          A01X+047214Y-029951X0236Y0453R180S2\n"
                "327B                J1    -2          A02X+047214Y-029951X0236Y0453R180S2")
            .summary.nets == 3);
  // 28: no part and no pin: a test pad of its own.
  const Imported pad =
      records("327NET00000000001         -    M      A01X+087954Y+018724X2000Y1500     S1");
  CHECK(pad.members("NET00000000001") == std::vector<std::string>{"P1"});
  CHECK(first_point(pad).side == Side::top);
  // 29: pins are text.
  CHECK(records("317N/C              J28   -MTG  D1700UA00X 376500Y 154000X0000          S0")
            .pin("J28", "MTG")
            .xy.has_value());
}

TEST_CASE("headers of all sorts", "[graph][ipc356]") {
  const std::string record =
      "327A                R1    -1          A01X+090000Y+090000X0220Y0220R000S0\n"
      "327A                R1    -2          A01X+010000Y+010000X0220Y0220R000S0\n";
  const auto good = [&](const std::string& text) {
    const Imported result = import(text);
    CAPTURE(text);
    CHECK(result.errors.empty());
    return result;
  };
  // 30: one blank, a bare C, stars; 31: an empty job; 32: unknown keywords; 40: blank first line,
  // CRLF, comments behind the end.
  const Imported loose = good(
      "   \r\nP JOB OC LTE BASEBAND BOARD Rev C_20180727\r\nC\r\nC*****\r\n"
      "P  UNITS CUST 0\r\nP  arrayDim   N\r\nP  AREA1 X-      Y-210000X+      "
      "Y+\r\nP  IMAGE NCON POS\r\n" +
      record + "999                  \r\nC after\r\n");
  CHECK(loose.board.name == "OC LTE BASEBAND BOARD Rev C_20180727");
  CHECK(loose.warnings.empty());
  CHECK(good("P  JOB\nP  UNITS CUST 0\n" + record + "999\n").board.name == "imported netlist");
  // 33: units spelt loosely.
  for (const char* units : {"CUST0", "CUST", "CUST 2"}) {
    CHECK(good(std::string("P  UNITS  ") + units + "\n" + record + "999\n").pin("R1", "1").xy ==
          Xy{228.6, 228.6});
  }
  for (const char* units : {"SI", "CUST 1"}) {
    CHECK(good(std::string("P  UNITS ") + units + "\n" + record + "999\n").pin("R1", "1").xy ==
          Xy{90, 90});
  }
  // 34: the key may be the whole word or what follows NNAME; 36: unused, and with blanks.
  const Imported alias = good(
      "P  UNITS CUST 0\nP  NNAMEm0000 SDR_REG_LDO_PGOOD\nP  NNAME00001 THISIS15CHARACT\n"
      "P  NNAME1     I2S_DAC_LOOP_D0\n"
      "327m0000            R1    -1          A01X+090000Y+090000\n"
      "327NNAME00001       R1    -2          A01X+010000Y+010000\n999\n");
  CHECK(alias.members("SDR_REG_LDO_PGOOD").size() == 1);
  CHECK(alias.members("THISIS15CHARACT").size() == 1);
  // 35: long names in comments.
  const Imported comments = good(
      "P  UNITS CUST 0\nC  NNAMEm0000 PASSIVE_POE_ILIM\n"
      "C CAD Netname : 3.3VD_TIVA_CONN --- IPC Netname : NNAME0001\n"
      "327m0000            R1    -1          A01X+090000Y+090000\n"
      "327NNAME0001        R1    -2          A01X+010000Y+010000\n999\n");
  CHECK(comments.members("PASSIVE_POE_ILIM").size() == 1);
  CHECK(comments.members("3.3VD_TIVA_CONN").size() == 1);
  // 41: a byte that is not ASCII in a header.
  CHECK(good("P  JOB  Gerber_\x96_Example_1\nP  UNITS CUST 0\n" + record + "999\n").board.name ==
        "Gerber_?_Example_1");
}

TEST_CASE("conductors, neighbours and outlines are counted and left alone", "[graph][ipc356]") {
  const Imported result = records(
      "378VCC            L01 X0600Y0000 X+038000Y+026800 X+035750Y+026800*\n"
      "078 X+083600Y+018725 X+083600Y+018750*X+063335Y+027310 X+063335Y+030300*\n"
      "389BOARD_EDGE         X0025Y0000 X+004288Y+000051 X+005000Y+000000\n"
      "378VCC            L01 X0600Y0000 X+038000Y+026800 X+035750Y+026800*");
  CHECK(result.warnings ==
        std::vector<std::string>{"n.d356: 1 records 078 are not read by this version",
                                 "n.d356: 2 records 378 are not read by this version",
                                 "n.d356: 1 records 389 are not read by this version"});
}

TEST_CASE("what cannot be read is refused with its place", "[graph][ipc356]") {
  const std::string good =
      "327A                R1    -1          A01X+090000Y+090000X0220Y0220R000S0\n";
  const auto refused = [&](const std::string& text, const std::string& sentence) {
    CAPTURE(text);
    const Imported result = import(text);
    REQUIRE(result.errors.size() == 1);
    CHECK(result.errors.front() == sentence);
  };
  const std::string units = "P  UNITS CUST 0\n";
  refused(units + "317GND              VIA        MD0118PA00X+0472\n999\n",
          "n.d356:2:48: truncated record, no Y coordinate; expected one in columns 50 to 57");
  refused(
      units + "327A                R1    -1          A01Z+090000Y+090000X0220Y0220R000S0\n999\n",
      "n.d356:2:42: found \"Z\"; expected a coordinate that begins with X");
  refused(
      units + "327A                R1    -1          A01X+0900x0Y+090000X0220Y0220R000S0\n999\n",
      "n.d356:2:42: found \"X+0900x0\"; expected a sign and six digits");
  refused(
      units + "327A                R1    -1          A01X+0900000Y+090000X0220Y0220R000S0\n999\n",
      "n.d356:2:42: a coordinate of seven digits or more; expected six");
  refused("P  UNITS FURLONG\n" + good + "999\n",
          "n.d356:1:10: units \"FURLONG\" are not known; expected CUST 0, CUST 1, CUST 2 or SI");
  refused(units + "P  UNITS CUST 1\n" + good + "999\n",
          "n.d356:2:10: these units are not those of an earlier line; expected one unit in a file");
  refused(good + "999\n",
          "n.d356: the file does not say its units; give --units inch (0.0001 inch) or --units mm "
          "(0.001 mm)");
  for (const char* code : {"017", "027", "078", "089", "099", "088"}) {
    refused(units + code + good.substr(3) + good + "999\n",
            std::string("n.d356:2:1: a record ") + code +
                " goes on from a record before it, and there is none");
  }
  refused(units + "327                 R1    -1          A01X+090000Y+090000\n999\n",
          "n.d356:2:4: the record names no net; expected one, or N/C");
  refused(units + "P  NNAME00001 LONG_ONE\nP  NNAME00001 LONG_TWO\n" + good + "999\n",
          "n.d356:3:4: alias NNAME00001 is \"LONG_TWO\" here and \"LONG_ONE\" before; expected one "
          "name for it");
  refused(units + "P  VER   IPC-D-356A" + good + good + "999\n",
          "n.d356:2:1: a data record is glued to this parameter; expected it on a line of its own");
  refused(units + "412" + good.substr(3) + "999\n",
          "n.d356:2:1: record 412 is not known; expected 317, 327, 367, 307 or a continuation");
  refused(units + good + "999\n" + good, "n.d356:4:1: a record 327 stands behind the end (999)");
  refused(units + good + "???\n999\n",
          "n.d356:3:1: found \"???\"; expected C, P or a record number");
}

TEST_CASE("what is doubtful is a warning", "[graph][ipc356]") {
  const std::string two =
      "327NNAME00001       R1    -1          A01X+090000Y+090000\n"
      "327A                R1    -2          A01X+010000Y+010000\n";
  CHECK(import("P  UNITS CUST 0\n" + two + "999\n")
            .warned("n.d356:2:4: alias NNAME00001 is never "
                    "declared; the short name is kept"));
  CHECK(import("P  UNITS CUST 0\n" + two).warned("the file ends without its 999 record"));
  CHECK(import("P  UNITS CUST 0\n"
               "327A                R1    -1          A01X+900000Y+090000\n"
               "327A                R1    -2          A01X-010000Y+010000\n999\n")
            .warned("are the units of the file right?"));
  CHECK(import("P  UNITS CUST 1\n"
               "327A                R1    -1          A01X+000100Y+000100\n"
               "327A                R1    -2          A01X+000900Y+000900\n999\n")
            .warned("are the units of the file right?"));
  CHECK(import("P  UNITS CUST 0\n"
               "327ABCDEFGHIJKLMN   R1    -1          A01X+090000Y+090000\n"
               "327abcdefghijklmn   R1    -2          A01X+010000Y+010000\n999\n")
            .warned("perhaps one net"));
  for (const char* code : {"370", "070", "380", "080", "390", "090", "309", "379", "079"}) {
    CHECK(import("P  UNITS CUST 0\n" + two + code + " anything\n999\n")
              .warned(std::string("1 records ") + code + " are not read"));
  }
}

TEST_CASE("another sort of file is refused in one sentence", "[graph][ipc356]") {
  const auto sentence = [](const std::string& text) {
    try {
      import(text);
    } catch (const BadFile& bad) {
      return std::string(bad.what());
    }
    return std::string("nothing");
  };
  CHECK(
      sentence("[General]\nname=x\n") ==
      "n.d356: its first line is neither a comment (C), a parameter (P) nor a record; expected an "
      "IPC-D-356 netlist");
  CHECK(sentence(std::string("PK\3\4\0\0", 6)) ==
        "n.d356: this is a binary file; expected an IPC-D-356 netlist");
  CHECK(
      sentence("\xff\xfe"
               "P") ==
      "n.d356: its first line is neither a comment (C), a parameter (P) nor a record; expected an "
      "IPC-D-356 netlist");
  CHECK(sentence("\n\n  \n") ==
        "n.d356: the file holds blanks alone; expected an IPC-D-356 netlist");
}

TEST_CASE("units that the caller states are used for a file that does not say", "[graph][ipc356]") {
  const std::string text =
      "327A                R1    -1          A01X+090000Y+090000\n"
      "327A                R1    -2          A01X+010000Y+010000\n999\n";
  CHECK(import(text, IpcUnits::mm_1e3).pin("R1", "1").xy == Xy{90, 90});
  CHECK(import("P  UNITS CUST 0\n" + text, IpcUnits::mm_1e3).pin("R1", "1").xy == Xy{228.6, 228.6});
}

TEST_CASE("mutated netlists never crash and give a sound board or a complaint", "[graph][ipc356]") {
  const std::string good =
      "P  UNITS CUST 0\nP  NNAMEm0001 LONG\n"
      "317GND              VIA        MD0118PA00X+047200Y-025000X0236Y0000R000S3\n"
      "327m0001            R11227-2          A06X+002405Y+014755X0210Y0210     S2      \n"
      "307N19830637        VIA   -    MD0080PA01X+044511Y+037251               S1L01L06\n"
      "317N/C              J28   -MTG  D1700UA00X 376500Y 154000X0000          S0\n999\n";
  std::mt19937 random(356);
  for (int round = 0; round < 3000; ++round) {
    std::string text = good;
    for (std::size_t i = 0; i < 1 + random() % 6; ++i) {
      const std::size_t at = random() % text.size();
      switch (random() % 3) {
        case 0:
          text[at] = static_cast<char>(random() % 256);
          break;
        case 1:
          text.erase(at, 1 + random() % 20);
          break;
        default:
          text.insert(at, good.substr(random() % good.size(), random() % 30));
      }
      if (text.empty()) {
        text = "C";
      }
    }
    INFO("round " << round);
    Diagnostics diagnostics("n.d356");
    IpcSummary summary;
    try {
      BoardDescription description = read_ipc356(text, std::nullopt, diagnostics, summary);
      if (diagnostics.errors().empty()) {
        const Board board(std::move(description), diagnostics);
        CHECK(board.points().size() > 0);
      }
    } catch (const BadFile& bad) {
      CHECK(std::string(bad.what()).find("n.d356") == 0);
    }
  }
}
