// SPDX-License-Identifier: MIT
#include "graph/packages.hpp"

#include <catch2/catch.hpp>
#include <set>

using namespace padwalk::graph;

namespace {

Package package(const std::string& name) {
  BadPackage bad;
  const auto found = find_package(name, bad);
  INFO(name << ": " << bad.text);
  REQUIRE(found);
  return *found;
}

std::string package_complaint(const std::string& name) {
  BadPackage bad;
  return find_package(name, bad) ? "nothing" : bad.text;
}

void check_pin(const Package& package, std::size_t number, double x, double y) {
  INFO("pin " << number);
  REQUIRE(number <= package.pins.size());
  CHECK(package.pins[number - 1].name == std::to_string(number));
  CHECK(package.pins[number - 1].offset.x == Approx(x).margin(1e-9));
  CHECK(package.pins[number - 1].offset.y == Approx(y).margin(1e-9));
}

}  // namespace

TEST_CASE("a DIP is numbered down its first row and up the other", "[graph][packages]") {
  // Source: JEDEC MS-001 from memory: pitch 0.1 inch, rows 0.3 inch apart, counter-clockwise.
  const Package dip = package("DIP-16");
  REQUIRE(dip.pins.size() == 16);
  CHECK_FALSE(dip.surface);
  check_pin(dip, 1, 0, 0);
  check_pin(dip, 8, 0, -17.78);
  check_pin(dip, 9, 7.62, -17.78);
  check_pin(dip, 16, 7.62, 0);
}

TEST_CASE("corners of packages", "[graph][packages]") {
  // Common practice, no source, but where a standard is named.
  struct Row {
    const char* name;
    std::size_t pins;
    std::size_t last_of_row;
    Xy row_end;
    Xy last;
  };
  const std::vector<Row> rows = {
      {"DIP-4", 4, 2, {0, -2.54}, {7.62, 0}},
      {"DIP-20", 20, 10, {0, -22.86}, {7.62, 0}},
      {"DIP-22 0.4 inch", 22, 11, {0, -25.4}, {10.16, 0}},
      {"DIP-24 0.3 inch", 24, 12, {0, -27.94}, {7.62, 0}},
      {"DIP-24 0.6 inch", 24, 12, {0, -27.94}, {15.24, 0}},
      {"DIP-28 15.24 mm", 28, 14, {0, -33.02}, {15.24, 0}},
      {"DIP-40", 40, 20, {0, -48.26}, {15.24, 0}},
      {"DIP-64 0.9 inch", 64, 32, {0, -78.74}, {22.86, 0}},
      {"SOIC-8", 8, 4, {0, -3.81}, {5.4, 0}},         // pitch: JEDEC MS-012, from memory
      {"SOIC-16 wide", 16, 8, {0, -8.89}, {9.3, 0}},  // pitch: JEDEC MS-013, from memory
      {"SOIC-20", 20, 10, {0, -11.43}, {9.3, 0}},
      {"SIP-9", 9, 9, {0, -20.32}, {0, -20.32}},
      {"row 3", 3, 3, {0, -5.08}, {0, -5.08}},
      {"axial 10 mm", 2, 2, {0, -10}, {0, -10}},
      {"radial 5 mm", 2, 2, {0, -5}, {0, -5}},
      {"axial 0.4 inch", 2, 2, {0, -10.16}, {0, -10.16}},
      {"header 1x4", 4, 4, {0, -7.62}, {0, -7.62}},
      {"header 2x5", 10, 9, {0, -10.16}, {2.54, -10.16}},
      {"header 3x32", 96, 94, {0, -78.74}, {5.08, -78.74}},
  };
  for (const Row& row : rows) {
    INFO(row.name);
    const Package found = package(row.name);
    REQUIRE(found.pins.size() == row.pins);
    check_pin(found, 1, 0, 0);
    check_pin(found, row.last_of_row, row.row_end.x, row.row_end.y);
    check_pin(found, row.pins, row.last.x, row.last.y);
    std::set<std::pair<double, double>> places;
    for (const PackagePin& pin : found.pins) {
      places.insert({pin.offset.x, pin.offset.y});
    }
    CHECK(places.size() == row.pins);
    CHECK(found.surface == (std::string(row.name).substr(0, 4) == "SOIC"));
  }
}

TEST_CASE("a header is numbered across its rows first", "[graph][packages]") {
  const Package header = package("header 2x5");
  check_pin(header, 2, 2.54, 0);
  check_pin(header, 3, 0, -2.54);
  check_pin(header, 4, 2.54, -2.54);
}

TEST_CASE("a chip carrier is numbered from the middle of its top edge", "[graph][packages]") {
  // Numbering: JEDEC MS-018 and MS-016, from memory; the first pin of each edge.
  struct Row {
    const char* name;
    std::size_t left, bottom, right, top;
  };
  for (const Row& row : {Row{"PLCC-20", 4, 9, 14, 19},
                         {"PLCC-28", 5, 12, 19, 26},
                         {"PLCC-32", 5, 14, 21, 30},
                         {"PLCC-44", 7, 18, 29, 40},
                         {"PLCC-68", 10, 27, 44, 61},
                         {"PLCC-84", 12, 33, 54, 75}}) {
    CAPTURE(row.name);
    const Package plcc = package(row.name);
    CHECK(plcc.surface);
    const auto at = [&](std::size_t pin) { return plcc.pins[pin - 1].offset; };
    check_pin(plcc, 1, 0, 0);
    CHECK(at(row.left - 1).y == 0);
    CHECK(at(row.left).x < at(row.left - 1).x);
    CHECK(at(row.left).x == Approx(at(row.bottom - 1).x));
    CHECK(at(row.bottom).y < at(row.bottom - 1).y);
    CHECK(at(row.bottom).y == Approx(at(row.right - 1).y));
    CHECK(at(row.right).x > at(row.right - 1).x);
    CHECK(at(row.right).x == Approx(at(row.top - 1).x));
    CHECK(at(row.top).y == 0);
    CHECK(at(row.top).x == Approx(-at(row.left - 1).x));
    // All pins are apart, and the last is one pitch beside the first.
    CHECK(plcc.pins.back().offset.x == Approx(1.27));
    std::set<std::pair<double, double>> places;
    for (const PackagePin& pin : plcc.pins) {
      places.emplace(pin.offset.x, pin.offset.y);
    }
    CHECK(places.size() == plcc.pins.size());
  }
}

TEST_CASE("the two rows of a D connector lie as its sex has them", "[graph][packages]") {
  // IEC 60807-2, from memory.
  const Package male = package("D-sub 9 male");
  check_pin(male, 1, 0, 0);
  check_pin(male, 5, 0, -11.08);
  check_pin(male, 6, -2.84, -1.385);
  check_pin(male, 9, -2.84, -9.695);
  const Package female = package("d-sub 25 female");
  CHECK(female.pins.size() == 25);
  check_pin(female, 13, 0, -33.24);
  check_pin(female, 14, 2.84, -1.385);
  CHECK_FALSE(female.surface);
}

TEST_CASE("an edge has numbers on its side and letters behind", "[graph][packages]") {
  // Common practice, no source: 22 letters, without G, I, O and Q.
  const Package edge = package("edge 22");
  REQUIRE(edge.pins.size() == 44);
  check_pin(edge, 22, 0, -83.16);
  std::string letters;
  for (std::size_t i = 22; i < 44; ++i) {
    CHECK(edge.pins[i].far_side);
    CHECK(edge.pins[i].offset.y == edge.pins[i - 22].offset.y);
    letters += edge.pins[i].name;
  }
  CHECK(letters == "ABCDEFHJKLMNPRSTUVWXYZ");
  CHECK(package("edge 30 2.54 mm").pins.back().name == "JJ");
  CHECK(package("edge 30 2.54 mm").pins[1].offset.y == -2.54);
  const Package ribbon = package("ribbon 26");
  CHECK(ribbon.pins.size() == 26);
  check_pin(ribbon, 2, 2.54, 0);
  check_pin(ribbon, 26, 2.54, -30.48);
  CHECK(package_complaint("edge 1").find("2 to 44 places") != std::string::npos);
  CHECK(package_complaint("ribbon 5").find("4 to 64 pins, even") != std::string::npos);
  CHECK(package_complaint("D-sub 9").find("with male or female") != std::string::npos);
  CHECK(package_complaint("D-sub 10 male").find("expected D-sub 9, 15, 25 or 37") !=
        std::string::npos);
  CHECK(package_complaint("PLCC-40").find("expected PLCC-20") != std::string::npos);
  CHECK(package_complaint("d").find("is not known") != std::string::npos);
}

TEST_CASE("package names are taken in any case, with a blank or a dash", "[graph][packages]") {
  for (const char* name : {"dip-16", "DIP16", "DIP 16", " Dip-16 ", "DIP-16 0.3 inch"}) {
    CHECK(package(name).pins.size() == 16);
  }
  CHECK(package("Axial 10mm").pins.size() == 2);
  CHECK(package("AXIAL-10 mm").pins.size() == 2);
  CHECK(package("Header 2X5").pins.size() == 10);
}

TEST_CASE("what is wrong with a package's name is said", "[graph][packages]") {
  CHECK(package_complaint("DIP-24") == "DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch");
  CHECK(package_complaint("DIP-22") ==
        "DIP-22 comes 0.3, 0.4 and 0.6 inch wide; write DIP-22 0.6 inch");
  CHECK(package_complaint("DIP-28") == "DIP-28 comes 0.3 and 0.6 inch wide; write DIP-28 0.6 inch");
  CHECK(package_complaint("DIP-15") ==
        "package DIP-15 does not exist; a DIP has an even number of pins, 4 to 64");
  CHECK(package_complaint("DIP-99999999999") ==
        "package DIP-99999999999 does not exist; a DIP has an even number of pins, 4 to 64");
  CHECK(package_complaint("DIP") ==
        "package DIP does not exist; a DIP has an even number of pins, 4 to 64");
  CHECK(package_complaint("DIP-16 0.6 inch") ==
        "package DIP-16 0.6 inch: a DIP-16 is 0.3 inch wide; write DIP-16");
  CHECK(package_complaint("DIP-24 wide") ==
        "package DIP-24 wide: a DIP-24 comes 0.3 and 0.6 inch wide; write DIP-24 0.6 inch");
  CHECK(package_complaint("SOIC-15") ==
        "package SOIC-15 does not exist; expected SOIC-4 to SOIC-32, even, or SOIC-16 wide");
  CHECK(package_complaint("row 0") ==
        "package row 0 does not exist; expected SIP-9 or row 3, 1 to 100 pins");
  CHECK(package_complaint("axial") ==
        "package axial does not say how far apart its two pins are; write axial 10 mm");
  CHECK(package_complaint("radial 5") ==
        "package radial 5 does not say how far apart its two pins are; write radial 10 mm");
  CHECK(package_complaint("header 5x2") ==
        "package header 5x2 has its rows behind; write header 2x5");
  CHECK(package_complaint("header 2x") ==
        "package header 2x does not exist; expected header 2x5: 1 to 4 rows, 1 to 100 pins a row");
  for (const char* name : {"QFP-44", "DE-9", "", "-", "16"}) {
    CHECK(package_complaint(name) ==
          "package " + std::string(name) +
              " is not known to this version; give pins: {1: [x, y], …} instead, or use DIP-n, "
              "SIP-n, SOIC-n, PLCC-n, row n, axial d mm, radial d mm, header RxC, ribbon n, edge n "
              "or "
              "D-sub n");
  }
}

TEST_CASE("a part's turn is counter-clockwise seen from its side, its bottom mirrored",
          "[graph][packages]") {
  const Xy pin1{30, 22.5};
  const Xy below{0, -2.54};
  const auto is = [](Xy a, double x, double y) {
    CHECK(a.x == Approx(x));
    CHECK(a.y == Approx(y));
  };
  is(place_pin(pin1, 0, Side::top, below), 30, 19.96);
  is(place_pin(pin1, 90, Side::top, below), 32.54, 22.5);
  is(place_pin(pin1, 180, Side::top, below), 30, 25.04);
  is(place_pin(pin1, 270, Side::top, below), 27.46, 22.5);
  is(place_pin(pin1, -90, Side::top, below), 27.46, 22.5);
  is(place_pin(pin1, 45, Side::top, {1, 0}), 30 + 0.70710678118, 22.5 + 0.70710678118);
  is(place_pin(pin1, 0, Side::bottom, {7.62, 0}), 22.38, 22.5);
  is(place_pin(pin1, 90, Side::bottom, below), 27.46, 22.5);
  // Quarter turns leave no dust behind the decimal point.
  CHECK(place_pin({0, 0}, 90, Side::top, {1, 0}) == Xy{0, 1});
}
