// SPDX-License-Identifier: MIT
#include "graph/lint.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "graph/chip_types.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;

const std::string kLinted =
    "parts:\n"
    "  U1: {kind: ic, type: SN74LS245N, package: DIP-20, xy: [0, 60]}\n"
    "  U2: {kind: ic, type: 74HC573, package: DIP-20, xy: [20, 60]}\n"
    "  U3: {kind: ic, type: HM6264, package: DIP-28 0.6 inch, xy: [40, 60]}\n"
    "  U4: {kind: ic, type: 7400, package: DIP-14, xy: [60, 60]}\n"
    "  D1: {kind: diode, type: 1N4148, package: axial 8 mm, xy: [80, 60]}\n";

/// Eight data lines over U1's B side, U2's inputs and the memory's data pins; all other inputs tied
/// to the supply, but for what `changed` says: the net that a pin is in instead; empty: none.
std::vector<std::string> doubts(const std::map<std::string, std::string>& changed) {
  std::map<std::string, std::string> net_of;
  const int memory[] = {11, 12, 13, 15, 16, 17, 18, 19};
  for (int bit = 0; bit < 8; ++bit) {
    const std::string line = fmt::format("D{}", bit);
    net_of[fmt::format("U1.{}", 18 - bit)] = line;
    net_of[fmt::format("U2.{}", 2 + bit)] = line;
    net_of[fmt::format("U3.{}", memory[bit])] = line;
  }
  for (const char* pin : {"U1.20", "U2.20", "U3.28", "U4.14", "U1.1",  "U1.19", "U2.1",
                          "U2.11", "U3.20", "U3.22", "U3.26", "U3.27", "U4.1",  "U4.2",
                          "U4.4",  "U4.5",  "U4.9",  "U4.10", "U4.12", "U4.13", "D1.1"}) {
    net_of[pin] = "VCC";
  }
  for (const int address : {2, 3, 4, 5, 6, 7, 8, 9, 10, 21, 23, 24, 25}) {
    net_of[fmt::format("U3.{}", address)] = "VCC";
  }
  for (const char* pin : {"U1.10", "U2.10", "U3.14", "U4.7"}) {
    net_of[pin] = "GND";
  }
  net_of["D1.2"] = "VRAM";
  for (const auto& [pin, net] : changed) {
    net_of[pin] = net;
  }
  std::map<std::string, std::string> nets;
  for (const auto& [pin, net] : net_of) {
    nets[net] += (nets[net].empty() ? "" : ", ") + pin;
  }
  nets.erase("");
  std::string text = kLinted + "nets:\n";
  for (const auto& [net, pins] : nets) {
    text += fmt::format("  {}: [{}]\n", net, pins);
  }
  return lint(test::small_board(text));
}

using Doubts = std::vector<std::string>;

}  // namespace

TEST_CASE("what is printed on a chip names its pins", "[graph][lint]") {
  for (const char* type : {"7400", "74LS00", "SN74HCT00N", "74F00"}) {
    CHECK(pin_uses(type) == "IIOIIOGOIIOIIV");
  }
  CHECK(pin_uses("Z84C00") == pin_uses("Z80"));
  CHECK(pin_uses("27C64") == pin_uses("2764"));
  CHECK(pin_uses("CD4060B")->size() == 16);
  CHECK(pin_uses("LM358")->size() == 8);
  CHECK(!pin_uses("74LS999"));
  CHECK(!pin_uses("custom"));
  CHECK(!pin_uses(""));
}

TEST_CASE("every chip of the table has as many pins as packages have, a supply and a ground",
          "[graph][lint]") {
  for (int number = 0; number < 100000; ++number) {
    const auto uses = pin_uses(std::to_string(number));
    if (uses) {
      CAPTURE(number);
      CHECK((uses->size() == 8 || uses->size() == 14 || uses->size() == 16 || uses->size() == 20 ||
             uses->size() == 24 || uses->size() == 28 || uses->size() == 40));
      CHECK(std::count(uses->begin(), uses->end(), 'V') == 1);
      CHECK(std::count(uses->begin(), uses->end(), 'G') == 1);
      CHECK(uses->find_first_not_of("IOTCVGX") == PinUses::npos);
    }
  }
}

TEST_CASE("a sound netlist raises no doubt", "[graph][lint]") {
  CHECK(doubts({}).empty());
  CHECK(doubts({{"U3.28", "VRAM"}}).empty());               // fed through a diode
  CHECK(doubts({{"U4.3", "N1"}, {"U4.6", "N1"}}).empty());  // gates of one chip side by side
}

TEST_CASE("what the pins of chips say against a netlist", "[graph][lint]") {
  CHECK(doubts({{"U4.14", ""}}) == Doubts{"U4.14 is the supply pin of a 7400, and is in no net"});
  CHECK(doubts({{"U2.10", "N1"}, {"D1.2", "N1"}}) ==
        Doubts{"U2.10 is the ground pin of a 74HC573, and is in net N1, not with the others in "
               "GND"});
  CHECK(doubts({{"U4.5", ""}}) ==
        Doubts{"U4.5 is an input of a 7400, and nothing is joined to it"});
  CHECK(doubts({{"U4.3", "D5"}, {"U2.19", "N9"}, {"U4.6", "N9"}}).empty());
  CHECK(doubts({{"U3.16", ""}}) ==
        Doubts{"net D4 does not reach U3, as D0 and 6 others like it do"});
}

TEST_CASE("outputs of two chips on one net are a doubt", "[graph][lint]") {
  const std::vector<std::string> found = lint(test::small_board(
      "parts:\n"
      "  U1: {kind: ic, type: 7404, package: DIP-14, xy: [0, 60]}\n"
      "  U2: {kind: ic, type: 74LS04, package: DIP-14, xy: [20, 60]}\n"
      "nets:\n  GND: [U1.7, U2.7]\n  VCC: [U1.14, U2.14, U1.1, U1.3, U1.5, U1.9, U1.11, U1.13, "
      "U2.1, U2.3, U2.5, U2.9, U2.11, U2.13]\n  N: [U1.2, U2.4]\n"));
  CHECK(found == std::vector<std::string>{"net N joins two outputs, U1.2 and U2.4"});
}
