// SPDX-License-Identifier: MIT
//
// What is found where the clamps of chips' inputs conduct, from readings as the tester brings them.
// The scan and the bench that make such readings: tests/tools/fooled_test.cpp and the study.
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>

#include "graph/board_yaml.hpp"
#include "graph/findings.hpp"

namespace {

using namespace padwalk::graph;

/// An assembled board with one chip of Schottky clamps, A on seven of its inputs, B on five, C on
/// one that a resistor leads to ground. U1.19 is in no net.
Board clamped_board(const std::string& type = "74LS138") {
  Diagnostics diagnostics("pier.yaml");
  return Board(
      read_board("padwalk: board/1\nname: pier\nparts:\n"
                 "  U1: {kind: ic, type: " +
                     type +
                     ", package: DIP-40, xy: [0, 50]}\n"
                     "  R1: {kind: resistor, value: 1k, package: axial 10 mm, xy: [30, 50]}\n"
                     "  R2: {kind: resistor, value: 33k, package: axial 10 mm, xy: [40, 50]}\n"
                     "nets:\n"
                     "  VCC: {role: supply, points: [U1.40, R1.1]}\n"
                     "  GND: {role: ground, points: [U1.20, R1.2, R2.2]}\n"
                     "  A: [U1.1, U1.2, U1.3, U1.4, U1.5, U1.6, U1.7]\n"
                     "  B: [U1.9, U1.10, U1.11, U1.12, U1.13]\n"
                     "  C: [U1.15, R2.1]\n",
                 diagnostics),
      diagnostics);
}

/// All of it is attached, and each net whole; two nets read what is given.
class Readings {
 public:
  explicit Readings(const Board& board) : board_(board) {
    for (std::uint32_t i = 0; i < board.points().size(); ++i) {
      measured_.attached.push_back(PointId{i});
    }
    for (const Net& net : board.nets()) {
      for (const PointId point : net.points) {
        if (point != net.points.front()) {
          Reading reading;
          reading.wanted.source = {net.points.front()};
          reading.wanted.sink = {point};
          reading.ohm = 0.05;
          measured_.readings.push_back(reading);
        }
      }
    }
  }
  Readings& pair(const char* a, const char* b, double ohm, double across_volt) {
    PairReading reading;
    reading.a = *board_.find_net(a);
    reading.b = *board_.find_net(b);
    reading.ohm = ohm;
    reading.uncertainty_ohm = ohm / 200;
    reading.volt = 0.2;
    reading.across_volt = across_volt;
    measured_.nets.pairs.push_back(reading);
    return *this;
  }
  Readings& pin(const char* net, const char* point, double ohm, double across_volt) {
    Reading reading;
    reading.wanted.source = board_[*board_.find_net(net)].points;
    reading.wanted.sink = {*board_.find_point(point)};
    reading.wanted.purpose = Purpose::isolation;
    reading.ohm = ohm;
    reading.uncertainty_ohm = ohm / 200;
    reading.across_volt = across_volt;
    measured_.readings.push_back(reading);
    return *this;
  }
  /// "A B" for each leak, "part R1" for each part.
  std::vector<std::string> found() {
    findings_ = find_differences(board_, limits_for(board_), measured_);
    std::vector<std::string> all;
    for (const Finding& finding : findings_.findings) {
      std::string text = finding.kind == FindingKind::part ? "part" : "";
      for (const NetId net : finding.nets) {
        text += (text.empty() ? "" : " ") + board_[net].name;
      }
      all.push_back(text);
    }
    return all;
  }
  bool says(const std::string& text) const {
    return std::any_of(findings_.cannot_see.begin(), findings_.cannot_see.end(),
                       [&](const std::string& note) { return note.find(text) != note.npos; });
  }

 private:
  const Board& board_;
  Measured measured_;
  Findings findings_;
};

using Found = std::vector<std::string>;

}  // namespace

TEST_CASE("what clamps pass backwards is no leak, and that is said", "[graph][clamps]") {
  const Board board = clamped_board();
  // Seven clamps of 1 uA, or half as much more, with 0.09 V across them; this is four times that.
  Readings readings(board);
  CHECK(readings.pair("A", "GND", 0.09 / 7e-6 / 4, 0.09).found() == Found{"GND A"});
  Readings fewer(board);
  CHECK(fewer.pair("A", "GND", 9e3, 0.06).found().empty());
  CHECK(fewer.says("no leak is told from that between A and GND (9 kohm)"));
  // Without such clamps the same is a leak.
  const Board plain = clamped_board("74HC138");
  CHECK(Readings(plain).pair("A", "GND", 9e3, 0.06).found() == Found{"GND A"});
}

TEST_CASE("two lines that leak to each other read both lines' clamps into ground",
          "[graph][clamps]") {
  const Board board = clamped_board();
  Readings readings(board);
  readings.pair("A", "GND", 0.076 / 12e-6, 0.076).pair("B", "GND", 0.076 / 12e-6, 0.076);
  readings.pair("A", "B", 1.7e3, 0.04);
  CHECK(readings.found() == Found{"A B"});
  CHECK(!readings.says("until the short or leak is cleared"));
}

TEST_CASE("a supply that a part joins to ground makes clamps conduct out of ground",
          "[graph][clamps]") {
  const Board board = clamped_board();
  Readings readings(board);
  readings.pair("VCC", "GND", 1000, 0.16).pair("VCC", "B", 4e3, 0.08);
  CHECK(readings.found().empty());
  CHECK(readings.says("between VCC and B (4 kohm)"));
  const Board plain = clamped_board("74HC138");
  Readings leak(plain);
  leak.pair("VCC", "GND", 1000, 0.16).pair("VCC", "B", 4e3, 0.08);
  CHECK(leak.found() == Found{"VCC B"});
}

TEST_CASE("a pin in no net conducts through its own clamp", "[graph][clamps]") {
  const Board board = clamped_board();
  CHECK(Readings(board).pin("A", "U1.19", 9e3, 0.08).found().empty());
  CHECK(Readings(board).pin("A", "U1.19", 2e3, 0.03).found() == Found{"A"});
  const Board plain = clamped_board("74HC138");
  CHECK(Readings(plain).pin("A", "U1.19", 9e3, 0.08).found() == Found{"A"});
}
