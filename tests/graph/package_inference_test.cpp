// SPDX-License-Identifier: MIT
//
// Parts of a known package are laid anywhere; their package is to be told from the pins alone. Row
// spacings and pitches are those of tests/graph/packages_test.cpp, with their sources.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "graph/package_inference.hpp"
#include "graph/packages.hpp"

using namespace padwalk::graph;

namespace {

/// The pins of a part of that package, each up to `noise_mm` from its place in x and y.
PartDescription laid(const std::string& package, Xy xy, double rotation, Side side,
                     double noise_mm = 0) {
  BadPackage bad;
  const auto found = find_package(package, bad);
  REQUIRE(found);
  PartDescription part;
  part.name = "U1";
  std::mt19937 random(7);
  std::uniform_real_distribution<double> noise(-noise_mm, noise_mm);
  for (const PackagePin& pin : found->pins) {
    PinDescription description;
    description.name = pin.name;
    description.xy = place_pin(xy, rotation, side, pin.offset);
    description.xy->x += noise(random);
    description.xy->y += noise(random);
    description.side = !found->surface ? Side::unknown : pin.far_side ? opposite(side) : side;
    part.pins.push_back(description);
  }
  return part;
}

}  // namespace

TEST_CASE("a package is told from the pins alone, however the part lies",
          "[graph][package_inference]") {
  for (const char* package :
       {"DIP-4",           "DIP-8",           "DIP-14",          "DIP-16",          "DIP-20",
        "DIP-22 0.4 inch", "DIP-24 0.3 inch", "DIP-24 0.6 inch", "DIP-28 0.6 inch", "DIP-40",
        "DIP-64 0.9 inch", "SOIC-8",          "SOIC-14",         "SOIC-16",         "SOIC-16 wide",
        "SOIC-20",         "PLCC-20",         "PLCC-32",         "PLCC-44",         "PLCC-84"}) {
    for (const Side side : {Side::top, Side::bottom}) {
      for (const double rotation : {0.0, 90.0, 180.0, 270.0, 45.0, 22.5}) {
        for (const double noise_mm : {0.0, 0.03}) {
          CAPTURE(package, side_name(side), rotation, noise_mm);
          const auto found = infer_package(laid(package, {31.4, -7.5}, rotation, side, noise_mm));
          REQUIRE(found);
          CHECK(found->name == package);
          CHECK(found->side == side);
          CHECK(std::abs(std::remainder(found->rotation - rotation, 360)) < 1.2);
          if (noise_mm == 0) {
            CHECK(found->rotation == Approx(rotation).margin(1e-9));
          }
        }
      }
    }
  }
}

TEST_CASE("connectors in rows and at an edge are told where they lie on top",
          "[graph][package_inference]") {
  for (const char* package : {"row 3", "row 8", "header 2x5", "header 2x20", "header 3x4"}) {
    CAPTURE(package);
    const auto found = infer_package(laid(package, {0, 0}, 90, Side::top));
    REQUIRE(found);
    CHECK(found->name == package);
    CHECK(found->rotation == 90);
  }
  const auto edge = infer_package(laid("edge 22 3.96 mm", {0, 0}, 270, Side::top));
  REQUIRE(edge);
  CHECK(edge->name == "edge 22 3.96 mm");
  // Numbered the other way round: a header below, or one of another maker above.
  CHECK_FALSE(infer_package(laid("header 2x5", {0, 0}, 0, Side::bottom)));
}

TEST_CASE("what leaves a doubt has no package", "[graph][package_inference]") {
  CHECK_FALSE(infer_package(laid("axial 10 mm", {0, 0}, 0, Side::top)));
  CHECK_FALSE(infer_package(laid("D-sub 9 male", {0, 0}, 0, Side::top)));
  PartDescription chip = laid("DIP-16", {0, 0}, 0, Side::top);
  SECTION("a pin is elsewhere") {
    chip.pins[4].xy->x += 0.2;
  }
  SECTION("a pin is missing") {
    chip.pins.pop_back();
  }
  SECTION("a pin has another name") {
    chip.pins[4].name = "5~2";
  }
  SECTION("a pin has no position") {
    chip.pins[4].xy.reset();
  }
  SECTION("a pin is a pad of one side") {
    chip.pins[4].side = Side::top;
  }
  SECTION("two pins have one name") {
    chip.pins[4].name = "4";
  }
  SECTION("all pins are in one place") {
    for (PinDescription& pin : chip.pins) {
      pin.xy = Xy{};
    }
  }
  CHECK_FALSE(infer_package(chip));
}
