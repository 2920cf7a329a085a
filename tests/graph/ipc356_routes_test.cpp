// SPDX-License-Identifier: MIT
//
// Conductors (378, 078) and neighbours (379, 079) of a netlist: single boards whose route is known
// by construction, and what cannot be read. Random copper against painted metal:
// ipc356_copper_test.cpp.
#include <algorithm>
#include <catch2/catch.hpp>
#include <sstream>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/neighbours.hpp"
#include "graph/plan.hpp"

namespace {

using namespace padwalk::graph;

using Texts = std::vector<std::string>;

struct RoutedImport {
  BoardDescription board;
  IpcSummary summary;
  Texts errors;
  Texts warnings;
};

/// In 0.001 mm, so that a position reads as it is.
RoutedImport import_lines(const std::string& lines) {
  Diagnostics diagnostics("n.ipc");
  RoutedImport import;
  import.board =
      read_ipc356("P  UNITS CUST 1\n" + lines + "999\n", std::nullopt, diagnostics, import.summary);
  for (const Diagnostic& error : diagnostics.errors()) {
    import.errors.push_back(diagnostics.format(error));
  }
  for (const Diagnostic& warning : diagnostics.warnings()) {
    import.warnings.push_back(diagnostics.format(warning));
  }
  return import;
}

/// No complaint, and the board's own file says the same.
RoutedImport sound(const std::string& lines) {
  RoutedImport import = import_lines(lines);
  CHECK(import.errors == Texts{});
  CHECK(import.warnings == Texts{});
  Diagnostics diagnostics("b.yaml");
  const Board board(import.board, diagnostics);
  CHECK(without_marks(read_board(write_board(import.board), diagnostics)) ==
        without_marks(import.board));
  CHECK(diagnostics.warnings().empty());
  return import;
}

std::string in_columns(std::string text, std::size_t columns) {
  text.resize(columns, ' ');
  return text;
}

std::string number(const char* form, int value) {
  char text[16];
  std::snprintf(text, sizeof text, form, value);
  return text;
}

/// A round pad of 1 mm; a pin "U1.7" or a via. `layer` 0: a through hole.
std::string pad(const std::string& net, const std::string& point, int x, int y, int layer = 0) {
  const std::size_t dot = point.find('.');
  std::string line = (layer == 0 ? "317" : "327") + in_columns(net, 17);
  line += dot == std::string::npos
              ? in_columns("VIA", 11)
              : in_columns(point.substr(0, dot), 6) + "-" + in_columns(point.substr(dot + 1), 4);
  line += layer == 0 ? " D0400P" : "       ";
  line += number("A%02d", layer) + number("X%+07d", x) + number("Y%+07d", y);
  return line + "X1000Y0000R000 S0\n";
}

std::string copper(const std::string& net, int layer, const std::string& positions) {
  return "378" + in_columns(net, 15) + number("L%02d", layer) + " X0300Y0000 " + positions + "\n";
}

/// "top: U1.1 fork1 U2.1; also U3.1".
std::string route_of(const RoutedImport& import, std::size_t net = 0) {
  std::string all;
  for (const ChainDescription& chain : import.board.nets.at(net).route) {
    all += (all.empty() ? "" : "; ") + side_name(chain.side) + ":";
    for (const Reference& point : chain.points) {
      all += " " + point.name;
    }
  }
  for (const Reference& member : import.board.nets.at(net).members) {
    all += (all.empty() ? "also " : "; also ") + member.name;
  }
  return all;
}

/// "U1.1 U2.1 0.3 25.4; …": width and length, - where the file says none.
std::string copper_of(const RoutedImport& import) {
  std::string all;
  for (const CopperDescription& copper : import.board.copper) {
    std::ostringstream one;
    one << copper.between[0].name << " " << copper.between[1].name << " ";
    copper.width_mm ? one << *copper.width_mm : one << "-";
    one << " ";
    copper.length_mm ? one << *copper.length_mm : one << "-";
    all += (all.empty() ? "" : "; ") + one.str();
  }
  return all;
}

const PointDescription& point_of(const RoutedImport& import, const std::string& name) {
  return *std::find_if(import.board.points.begin(), import.board.points.end(),
                       [&](const PointDescription& point) { return point.name == name; });
}

const std::string kTwoPins = pad("TIDE", "U1.1", 10000, 10000) + pad("TIDE", "U2.1", 30000, 10000);
const std::string kThreePins = kTwoPins + pad("TIDE", "U3.1", 20000, 20000);

}  // namespace

TEST_CASE("a conductor becomes a segment with its summed length", "[graph][ipc356]") {
  SECTION("straight: the width alone is to be said") {
    const RoutedImport import =
        sound(kTwoPins + copper("TIDE", 1, "X+010000Y+010000 X+030000Y+010000*"));
    CHECK(route_of(import) == "top: U1.1 U2.1");
    CHECK(copper_of(import) == "U1.1@top U2.1@top 0.3 -");
    CHECK(import.summary.routed == 1);
    CHECK(import.summary.routed_in_part == 0);
  }
  SECTION("bends are no points; 20 + 2 x 6 mm") {
    const RoutedImport import =
        sound(kTwoPins + copper("TIDE", 2, "X+010000Y+010000 X+010000Y+016000 X+030000Y+016000") +
              "078 X+030000Y+010000*\n");
    CHECK(route_of(import) == "bottom: U1.1 U2.1");
    CHECK(copper_of(import) == "U1.1@bottom U2.1@bottom 0.3 32");
  }
  SECTION("modal, without padding, blanks for plus, a pen lift in mid-line") {
    for (const char* positions :
         {"X10000Y10000 Y16000 X30000 Y10000*", "X 10000Y 10000 Y 16000 X 30000 Y10000",
          "X10000Y10000Y16000X30000 Y10000*", "X10000Y10000 Y16000*Y16000 X30000*X30000 Y10000*",
          "X+10000Y+10000 Y+16000 X+30000*X+030000Y+010000 X+030000Y+016000*"}) {
      CAPTURE(positions);
      const RoutedImport import = sound(kTwoPins + copper("TIDE", 1, positions));
      CHECK(route_of(import) == "top: U1.1 U2.1");
      CHECK(copper_of(import) == "U1.1@top U2.1@top 0.3 32");
    }
  }
  SECTION("negative positions; one record a segment; an unpadded aperture") {
    const RoutedImport import =
        sound(pad("TIDE", "U1.1", -10000, -5000, 1) + pad("TIDE", "U2.1", 10000, -5000, 1) +
              "378TIDE           L1 X300Y0 X-10000Y-5000 X-10000Y-9000*\n" +
              "378TIDE           L01 X0300 X-10000Y-9000 X10000*\n" +
              "378TIDE           L01 X0300Y0000 X+010000Y-009000 X+010000Y-005000*\n");
    CHECK(route_of(import) == "top: U1.1 U2.1");
    CHECK(copper_of(import) == "U1.1 U2.1 0.3 28");
  }
  SECTION("of two widths: the width of a uniform track of as many ohms") {
    const RoutedImport import = sound(kTwoPins + copper("TIDE", 1, "X10000Y10000 X20000*") +
                                      "378TIDE           L01 X0100Y0000 X20000Y10000 X30000*\n");
    CHECK(copper_of(import) == "U1.1@top U2.1@top 0.15 -");  // 20 / (10 / 0.3 + 10 / 0.1)
  }
  SECTION("a rectangular aperture is as wide as what it leaves behind") {
    const RoutedImport import =
        sound(kTwoPins + "378TIDE           L01 X0800Y0200 X10000Y10000 X30000*\n");
    CHECK(copper_of(import) == "U1.1@top U2.1@top 0.2 -");
  }
}

TEST_CASE("conductors end where their end lies in a pad, and join where they meet",
          "[graph][ipc356]") {
  SECTION("an end off the middle of a pad is on it, one beside it is not") {
    CHECK(route_of(sound(kTwoPins + copper("TIDE", 1, "X10400Y10200 X29700Y9700*"))) ==
          "top: U1.1 U2.1");
    const RoutedImport beside = import_lines(kTwoPins + copper("TIDE", 1, "X10700Y10000 X30000*"));
    CHECK(route_of(beside) == "also U1.1; also U2.1");
    CHECK(beside.warnings == Texts{"n.ipc: 1 ends of conductors meet neither a point nor other "
                                   "copper of their net; they are left out"});
  }
  SECTION("a pad on the way joins") {
    CHECK(route_of(sound(kTwoPins + pad("TIDE", "U3.1", 20000, 10000) +
                         copper("TIDE", 1, "X10000Y10000 X30000*"))) == "top: U1.1 U3.1 U2.1");
  }
  SECTION("a surface pad is on its side alone") {
    const RoutedImport import = import_lines(kTwoPins + pad("TIDE", "U3.1", 20000, 10000, 2) +
                                             copper("TIDE", 1, "X10000Y10000 X30000*"));
    CHECK(route_of(import) == "top: U1.1 U2.1; also U3.1");
    CHECK(import.summary.routed == 0);
    CHECK(import.summary.routed_in_part == 1);
  }
  SECTION("an end on the middle of another conductor is a fork") {
    for (const char* stem :
         {"X20000Y20000 Y10000*", "X20000Y20000 Y10120*", "X20000Y20000 Y9900*"}) {
      CAPTURE(stem);
      const RoutedImport import =
          sound(kThreePins + copper("TIDE", 1, "X10000Y10000 X30000*") + copper("TIDE", 1, stem));
      CHECK(route_of(import) == "top: U1.1 fork1 U2.1; top: U3.1 fork1");
      CHECK(point_of(import, "fork1").side == Side::top);
      CHECK(point_of(import, "fork1").access == std::vector<Access>{Access::none});
      CHECK(point_of(import, "fork1").xy->x == 20);
      CHECK(point_of(import, "fork1").xy->y == Approx(10).margin(0.2));
      CHECK(import.summary.routed == 1);
    }
  }
  SECTION("what crosses on two layers does not meet") {
    const RoutedImport import =
        import_lines(kThreePins + copper("TIDE", 1, "X10000Y10000 X30000*") +
                     copper("TIDE", 2, "X20000Y20000 Y5000*"));
    CHECK(route_of(import) == "top: U1.1 U2.1; also U3.1");
    CHECK(import.warnings.size() == 1);
  }
  SECTION("a blind end is left out, and so is the fork that it made") {
    const RoutedImport import = import_lines(kTwoPins + copper("TIDE", 1, "X10000Y10000 X30000*") +
                                             copper("TIDE", 1, "X20000Y10000 Y15000*"));
    CHECK(route_of(import) == "top: U1.1 U2.1");
    CHECK(copper_of(import) == "U1.1@top U2.1@top 0.3 -");
    CHECK(import.warnings == Texts{"n.ipc: 1 ends of conductors meet neither a point nor other "
                                   "copper of their net; they are left out"});
  }
  SECTION("drawn twice is one conductor") {
    const RoutedImport import =
        sound(kTwoPins + copper("TIDE", 1, "X10000Y10000 X30000*") +
              copper("TIDE", 1, "X12000Y10000 X28000*X30000Y10000 X10000*"));
    CHECK(route_of(import) == "top: U1.1 U2.1");
  }
  SECTION("an arc of many short pieces is one segment") {
    std::string arc = "X10000Y10000";
    for (int i = 1; i <= 40; ++i) {
      arc += " X" + std::to_string(20000 - std::lround(10000 * std::cos(i * 0.0785398))) + "Y" +
             std::to_string(10000 + std::lround(10000 * std::sin(i * 0.0785398)));
      if (i % 4 == 0) {
        arc += "\n078";
      }
    }
    const RoutedImport import = sound(kTwoPins + copper("TIDE", 1, arc));
    CHECK(route_of(import) == "top: U1.1 U2.1");
    REQUIRE(import.board.copper.size() == 1);
    CHECK(*import.board.copper[0].length_mm == Approx(31.416).margin(0.02));
  }
  SECTION("forks closer than the copper is wide are one") {
    const RoutedImport import =
        sound(kThreePins + pad("TIDE", "U4.1", 20000, 2000) +
              copper("TIDE", 1, "X10000Y10000 X30000*X20000Y20000 Y10000*") +
              copper("TIDE", 1, "X20000Y2000 X20150Y3000 Y10000*"));
    CHECK(route_of(import) == "top: U1.1 fork1 U2.1; top: U3.1 fork1 U4.1");
  }
}

TEST_CASE("two ways round are two tracks, each with its length", "[graph][ipc356]") {
  const RoutedImport import =
      sound(kTwoPins + copper("TIDE", 1, "X10000Y10000 X30000*X10000Y10000 Y15000 X30000 Y10000*"));
  CHECK(route_of(import) == "top: U1.1 U2.1 bend1 U1.1");
  double length = 0;
  Diagnostics diagnostics("b.yaml");
  const Board board(import.board, diagnostics);
  for (const Segment& segment : board.segments()) {
    length += segment.kind == SegmentKind::trace ? *segment.length_mm : 0;
  }
  CHECK(length == Approx(50));
  SECTION("on two sides they need no point between them") {
    CHECK(route_of(sound(kTwoPins + copper("TIDE", 1, "X10000Y10000 X30000*") +
                         copper("TIDE", 2, "X10000Y10000 X30000*"))) ==
          "top: U1.1 U2.1; bottom: U1.1 U2.1");
  }
}

TEST_CASE("holes join the layers", "[graph][ipc356]") {
  SECTION("a via from top to bottom") {
    const RoutedImport import = sound(kTwoPins + pad("TIDE", "VIA", 20000, 10000) +
                                      copper("TIDE", 1, "X10000Y10000 X20000*") +
                                      copper("TIDE", 2, "X20000Y10000 X30000*"));
    CHECK(route_of(import) == "top: U1.1 V1; bottom: U2.1 V1");
    CHECK(copper_of(import) == "U1.1@top V1@top 0.3 -; U2.1@bottom V1@bottom 0.3 -");
  }
  SECTION("a via has a side more for each inner layer on which copper reaches it") {
    const RoutedImport import = sound(
        kTwoPins + pad("TIDE", "VIA", 20000, 10000) + pad("TIDE", "U3.1", 25000, 20000, 4) +
        copper("TIDE", 2, "X10000Y10000 X20000*") + copper("TIDE", 3, "X20000Y10000 X30000*") +
        copper("TIDE", 4, "X20000Y10000 X25000Y20000*"));
    CHECK(route_of(import) == "inner1: U1.1 V1; inner2: U2.1 V1; bottom: V1 U3.1");
    CHECK(point_of(import, "V1").via ==
          std::vector<Side>{Side::top, inner_side(1), inner_side(2), Side::bottom});
    Diagnostics diagnostics("b.yaml");
    const Board board(import.board, diagnostics);
    CHECK(std::count_if(board.segments().begin(), board.segments().end(), [&](const Segment& one) {
            return one.kind == SegmentKind::barrel && board[board[one.a].point].part == kNoPart;
          }) == 3);
    CHECK(board[*board.find_point("V1@inner1")].access == Access::none);
    CHECK(board[*board.find_point("V1@bottom")].access == Access::tip);
    CHECK(board.find_segments("V1@inner1", "V1@inner2").size() == 1);
    CHECK(board.find_segments("V1@top", "V1@bottom").empty());
  }
  SECTION("a blind via does not reach the other side") {
    const RoutedImport import = import_lines(
        kTwoPins +
        "307TIDE             VIA   -    MD0300PA01X+020000Y+010000X0600Y         S0L01L02\n" +
        copper("TIDE", 1, "X10000Y10000 X20000*") + copper("TIDE", 4, "X20000Y10000 X30000*"));
    CHECK(route_of(import) == "top: U1.1 V1; also U2.1");
  }
  SECTION("a via in a pad is on it without a conductor") {
    CHECK(route_of(sound(pad("TIDE", "U1.1", 10000, 10000, 1) + pad("TIDE", "VIA", 10200, 10000) +
                         pad("TIDE", "U2.1", 30000, 10000, 2) +
                         copper("TIDE", 2, "X10200Y10000 X30000*"))) ==
          "top: U1.1 V1; bottom: V1 U2.1");
  }
}

TEST_CASE("points that no conductor reaches keep an unknown way", "[graph][ipc356]") {
  const RoutedImport import =
      sound(kThreePins + copper("TIDE", 1, "X10000Y10000 X30000*") +
            pad("FLOAT", "U1.2", 10000, 30000) + pad("FLOAT", "U2.2", 30000, 30000));
  CHECK(route_of(import) == "top: U1.1 U2.1; also U3.1");
  CHECK(route_of(import, 1) == "also U1.2; also U2.2");
  CHECK(import.summary.routed == 0);
  CHECK(import.summary.routed_in_part == 1);
  Diagnostics diagnostics("b.yaml");
  const Board board(import.board, diagnostics);
  std::string unknown;
  for (const Segment& segment : board.segments()) {
    unknown += segment.kind == SegmentKind::unknown_way ? board[segment.member].name + " " : "";
  }
  CHECK(unknown == "U3.1 U1.2 U2.2 ");
}

TEST_CASE("conductors that cannot be read leave the way unknown and say where",
          "[graph][ipc356][bad-input]") {
  const std::string start = "378TIDE           ";
  const std::string end = "; the way of such a net's copper stays unknown (records like this: 1)";
  const std::vector<std::pair<std::string, std::string>> rows = {
      {start + "X0300Y0000 X10000Y10000 X30000*",
       "n.ipc:4:19: found \"X0300Y0000\"; expected a layer such as L01 in columns 19 to 21"},
      {"378TIDE", "n.ipc:4:19: found \"\"; expected a layer such as L01 in columns 19 to 21"},
      {start + "L00 X0300Y0000 X10000Y10000 X30000*",
       "n.ipc:4:19: found \"L00 X0300Y\"; expected a layer from L01 to L16"},
      {start + "L17 X0300Y0000 X10000Y10000 X30000*",
       "n.ipc:4:19: found \"L17 X0300Y\"; expected a layer from L01 to L16"},
      {start + "L01 X+10000Y+10000 X30000*",
       "n.ipc:4:23: found \"X+10000Y+1\"; expected the size of an aperture, such as X0100Y0000, "
       "behind the layer"},
      {start + "L01",
       "n.ipc:4:22: found \"\"; expected the size of an aperture, such as X0100Y0000, behind the "
       "layer"},
      {start + "L01 X0300Y0000 X10000Y10000 Z30000*",
       "n.ipc:4:47: found \"Z30000*\"; expected positions such as X+038000Y+026800, or * between "
       "them"},
      {start + "L01 X0300Y0000 X10000Y10000 X3000000*",
       "n.ipc:4:47: found \"X3000000*\"; expected positions such as X+038000Y+026800, or * between "
       "them"},
      {start + "L01 X0300Y0000 X10000Y10000 X*",
       "n.ipc:4:47: found \"X*\"; expected positions such as X+038000Y+026800, or * between them"},
      {start + "L01 X0300Y0000 X10000 X30000*",
       "n.ipc:4:40: a conductor begins with X alone; expected both X and Y, such as "
       "X+038000Y+026800"},
      {start + "L01 X0300Y0000 Y10000*",
       "n.ipc:4:40: a conductor begins with Y alone; expected both X and Y, such as "
       "X+038000Y+026800"},
  };
  for (const auto& [line, complaint] : rows) {
    CAPTURE(line);
    const RoutedImport import = import_lines(kTwoPins + line + "\n078 X30000Y10000*\n" +
                                             copper("TIDE", 1, "X10000Y10000 X30000*"));
    CHECK(import.errors == Texts{});
    CHECK(import.warnings == Texts{complaint + end});
    CHECK(route_of(import) == "also U1.1; also U2.1");
    CHECK(import.summary.routed == 0);
  }
  const RoutedImport twice = import_lines(kTwoPins + start + "L00\n" + start + "Q\n");
  CHECK(twice.warnings.front().find("(records like this: 2)") != std::string::npos);
}

TEST_CASE("copper of no net, and copper that is no track, are left out with one sentence",
          "[graph][ipc356][bad-input]") {
  CHECK(import_lines(kTwoPins + copper("TIDAL", 1, "X10000Y10000 X30000*") +
                     copper("N/C", 1, "X10000Y10000 X30000*"))
            .warnings ==
        Texts{"n.ipc:4:4: conductors of a net without points are left out (nets like this: 2)"});
  std::string hatched = kTwoPins;
  for (int i = 0; i <= 40; ++i) {
    const std::string at = std::to_string(10000 + 500 * i);
    hatched += copper("TIDE", 1, "X" + at + "Y10000 Y30000*X10000Y" + at + " X30000*");
  }
  const RoutedImport import = import_lines(hatched);
  CHECK(import.warnings ==
        Texts{"n.ipc:4:1: copper meets copper at more places than a track does, as in a hatched "
              "area; the way of such a net's copper stays unknown (nets like this: 1)"});
  CHECK(route_of(import) == "also U1.1; also U2.1");
}

TEST_CASE("a text of a million crossings or positions costs neither hours nor memory",
          "[graph][ipc356][bad-input]") {
  std::string crossing = kTwoPins;
  for (int i = 0; i < 8000; ++i) {  // each over each: 32 million pairs
    crossing +=
        copper("TIDE", 1, "X0Y" + std::to_string(i) + " X90000Y" + std::to_string(90000 - i));
  }
  const RoutedImport crossed = import_lines(crossing);
  CHECK(crossed.errors.empty());
  CHECK(route_of(crossed) == "also U1.1; also U2.1");
  std::string many = kTwoPins + copper("TIDE", 1, "X10000Y10000 X30000*");
  for (int i = 0; i < 21000; ++i) {
    many += "078";
    for (int k = 0; k < 25; ++k) {
      many += " X1 X2";
    }
    many += "\n";
  }
  const RoutedImport full = import_lines(many);
  CHECK(full.errors.empty());
  CHECK(full.warnings.size() == 1);
  CHECK(full.warnings.front().find("more than 1000000 positions") != std::string::npos);
  CHECK(route_of(full) == "also U1.1; also U2.1");
}

TEST_CASE("neighbours of a netlist are pairs that a plan brings together",
          "[graph][ipc356][plan]") {
  const std::string nets = pad("TIDE", "U1.1", 10000, 10000) + pad("WAVE", "U2.1", 40000, 10000) +
                           pad("GND", "U3.1", 70000, 10000) + pad("BUOY A", "U4.1", 90000, 10000);
  const auto pairs = [&](const std::string& lines) {
    const RoutedImport import = sound(nets + lines);
    std::string all;
    for (const NeighbourDescription& one : import.board.neighbours) {
      all += one.name + ":";
      for (const Reference& net : one.nets) {
        all += " " + net.name;
      }
      all += "; ";
    }
    Diagnostics diagnostics("b.yaml");
    const Board board(import.board, diagnostics);
    std::size_t said = 0;
    for (const NeighbourDescription& one : import.board.neighbours) {
      said += one.nets.size();
    }
    CHECK(board.neighbours().size() == said);
    CHECK(neighbour_nets(board, NeighbourRules()) == board.neighbours());  // nothing else is close
    CHECK(plan_goal(board, NeighbourRules()).pairs == board.neighbours());
    return all;
  };
  CHECK(pairs("").empty());
  CHECK(pairs("379TIDE           GND            BUOY A\n") == "TIDE: GND BUOY A; ");
  CHECK(pairs("379GND            TIDE           WAVE           TIDE           GND\n"
              "379TIDE           GND\n") == "TIDE: GND; WAVE: GND; ");
  CHECK(pairs("379TIDE           WAVE\n079TIDE           GND            BUOY A\n"
              "079               GND\n") == "TIDE: WAVE GND BUOY A; ");
  CHECK(pairs("379TIDE           WAVE\n079 GND            BUOY A\n") == "TIDE: WAVE GND BUOY A; ");
  CHECK(pairs("379TIDE           WAVE GND\n") == "TIDE: WAVE GND; ");
  CHECK(pairs("379TIDE           N/C            WAVE\n") == "TIDE: WAVE; ");
  const RoutedImport strange =
      import_lines(nets + "379TIDE           WAVE           KELP\n379KELP           GND\n");
  CHECK(strange.errors.empty());
  CHECK(strange.warnings == Texts{"n.ipc:6:34: a record of neighbours names a net that has no "
                                  "points here; it is left out (names like this: 2)"});
}
