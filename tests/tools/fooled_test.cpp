// SPDX-License-Identifier: MIT
//
// Small invented boards on which a continuity beeper fools the person: capacitors that beep while
// they fill, pull-ups, junctions, coils, a resistor beside broken copper. A healthy one gives no
// finding, the same one with a fault gives it. Whole sweeps, with a tester as good as the reference
// one; verdict and sentence.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/support/effort.hpp"
#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;
using Names = std::set<std::string>;

struct Swept {
  int status = -1;
  json result;
  std::string text;

  bool says(const std::string& part) const { return text.find(part) != std::string::npos; }
};

/// Sweeps a board, written after the first line, with these defects.
Swept sweep(const std::string& board, const std::string& defects = "[]", int random = 1) {
  const test::TemporaryFolder folder;
  const std::string bench = "bench: {like: reference, random: " + std::to_string(random) + "}\n";
  const test::Outcome outcome = test::padwalk(
      {"sweep", folder.write("board.yaml", "padwalk: board/1\n" + board), "--simulate",
       folder.write("defects.yaml", "padwalk: defects/1\ndefects: " + defects + "\n" + bench),
       "--json", folder.path("sweep.json")});
  INFO(outcome.err);
  Swept swept{outcome.status, {}, outcome.out};
  REQUIRE(std::filesystem::exists(folder.path("sweep.json")));
  swept.result = json::parse(test::read_text(folder.path("sweep.json")));
  return swept;
}

/// Good with several testers and contacts: nothing found, nothing left to judge. The last sweep.
Swept healthy(const std::string& board) {
  Swept swept;
  for (int random = 1; random <= 3; ++random) {
    swept = sweep(board, "[]", random);
    INFO(swept.text);
    CHECK(swept.status == 0);
    CHECK(swept.result["verdict"] == "good");
    CHECK(swept.result["findings"].empty());
    CHECK(swept.result["untested"].empty());
    CHECK(swept.result["no_contact"].empty());
    CHECK(swept.says("\nGood as far as tested: "));
  }
  return swept;
}

/// Faulty, with one finding of a kind.
json only_finding(const Swept& swept, const std::string& kind) {
  INFO(swept.text);
  CHECK(swept.status == 1);
  CHECK(swept.result["verdict"] == "faulty");
  REQUIRE(swept.result["findings"].size() == 1);
  CHECK(swept.result["findings"][0]["kind"] == kind);
  return swept.result["findings"][0];
}

Names nets_of(const json& finding) {
  return finding["nets"].get<Names>();
}

/// A counter of the float's pulses, with a capacitor across its supply.
std::string supply_board(const std::string& farad) {
  return "parts:\n"
         "  C1: {kind: capacitor, value: " +
         farad +
         ", package: radial 5 mm, xy: [0, 20]}\n"
         "  R1: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n"
         "  U1: {kind: ic, type: \"4017\", package: DIP-8, xy: [30, 20]}\n"
         "points:\n"
         "  TP1: {xy: [0, 0], side: bottom}\n"
         "  TP2: {xy: [40, 0], side: bottom}\n"
         "nets:\n"
         "  VCC: {role: supply, points: [C1.1, R1.1, U1.8, TP1]}\n"
         "  GND: {role: ground, points: [C1.2, U1.4, TP2]}\n"
         "  COUNT: [R1.2, U1.1]\n"
         "  PULSE: [U1.2, U1.7]\n"
         "  SPARE: [U1.3]\n";
}

/// The same with the capacitor between two of its lines.
std::string signal_board(const std::string& farad) {
  std::string board = supply_board(farad);
  const auto replace = [&](const std::string& from, const std::string& to) {
    board.replace(board.find(from), from.size(), to);
  };
  replace("points: [C1.1, ", "points: [");
  replace("points: [C1.2, ", "points: [");
  replace("COUNT: [", "COUNT: [C1.1, ");
  replace("PULSE: [", "PULSE: [C1.2, ");
  return board;
}

/// Eight lines of a latch, each with 10 kohm to the supply: by itself, or all in one network.
std::string pull_up_board(bool network) {
  std::string parts = "parts:\n  U1: {kind: ic, type: \"4094\", package: DIP-16, xy: [60, 20]}\n";
  std::string supply = "U1.16";
  std::string lines;
  for (int i = 1; i <= 8; ++i) {
    const std::string number = std::to_string(i);
    if (!network) {
      parts += "  R" + number + ": {kind: resistor, value: 10k, tolerance: 5%, " +
               "package: axial 10 mm, xy: [" + std::to_string(5 * i) + ", 40]}\n";
      supply += ", R" + number + ".1";
    }
    lines += "  D" + number + ": [U1." + std::to_string(i < 8 ? i : 9) + ", " +
             (network ? "RN1." + std::to_string(i + 1) : "R" + number + ".2") + "]\n";
  }
  if (network) {
    parts += "  RN1: {kind: network, value: 10k, tolerance: 5%, package: SIP-9, xy: [0, 40]}\n";
    supply += ", RN1.1";
  }
  return parts + "nets:\n  VCC: {role: supply, points: [" + supply +
         "]}\n  GND: {role: ground, points: [U1.8]}\n" + lines;
}

/// Test points TP1 to TP4, two on ground.
const std::string kFourPoints =
    "points:\n"
    "  TP1: {xy: [0, 0], side: bottom}\n"
    "  TP2: {xy: [40, 0], side: bottom}\n"
    "  TP3: {xy: [50, 0], side: bottom}\n"
    "  TP4: {xy: [60, 0], side: bottom}\n";

}  // namespace

TEST_CASE("fooled: 100 uF and 10,000 uF across a supply are no short and no leak",
          "[tools][fooled][slow]") {
  for (const char* farad : {"100u", "10000u"}) {
    INFO(farad);
    healthy(supply_board(farad));
    // The same readings do see a short that the capacitor sits across.
    const Swept shorted = sweep(supply_board(farad), "[{short: [TP1, TP2], value: 0.4 ohm}]");
    const json finding = only_finding(shorted, "part");
    CHECK(finding["part"] == "C1");
    CHECK(finding["ohm"].get<double>() == Approx(0.4).margin(0.2));
    CHECK(shorted.says("PART  C1 (capacitor) between net VCC and net GND: reads as 0."));
    CHECK(shorted.says("      or something bridges its nets; lift one leg and meter it by itself"));
  }
}

TEST_CASE("fooled: a supply that no part joins to ground is held against it",
          "[tools][fooled][slow]") {
  const std::string board = kFourPoints +
                            "nets:\n"
                            "  VCC: {role: supply, points: [TP1, TP2]}\n"
                            "  GND: {role: ground, points: [TP3, TP4]}\n";
  healthy(board);
  const Swept shorted = sweep(board, "[{short: [TP2, TP3]}]");
  CHECK(nets_of(only_finding(shorted, "short")) == Names{"GND", "VCC"});
  CHECK(shorted.says("SHORT  net VCC and net GND are joined: 0."));
  for (const double ohm : {50.0, 500.0, 2e3, 8e3}) {
    const Swept leaky =
        sweep(board, "[{leakage: [TP2, TP3], value: " + std::to_string(ohm) + " ohm}]");
    const json finding = only_finding(leaky, "leakage");
    CHECK(nets_of(finding) == Names{"GND", "VCC"});
    CHECK(finding["ohm"].get<double>() == Approx(ohm).epsilon(0.02));
  }
  // A second ground, which no part joins to the supply, beside one that a resistor does.
  const std::string two_grounds =
      "parts:\n"
      "  R1: {kind: resistor, value: 1k, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n" +
      kFourPoints +
      "nets:\n"
      "  VCC: {role: supply, points: [TP1, R1.1]}\n"
      "  GND: {role: ground, points: [TP3, R1.2]}\n"
      "  AGND: {role: ground, points: [TP2, TP4]}\n";
  healthy(two_grounds);
  const Swept second = sweep(two_grounds, "[{leakage: [TP1, TP2], value: 2k}]");
  CHECK(nets_of(only_finding(second, "leakage")) == Names{"AGND", "VCC"});
  // With a chip and a capacitor on both, and more that leads from the supply.
  const Swept beside = sweep(supply_board("100n"), "[{leakage: [TP1, TP2], value: 2k}]");
  CHECK(nets_of(only_finding(beside, "leakage")) == Names{"GND", "VCC"});
}

TEST_CASE("fooled: 100 uF and 10,000 uF between two lines are no short", "[tools][fooled][slow]") {
  for (const char* farad : {"100u", "10000u"}) {
    INFO(farad);
    healthy(signal_board(farad));
    const Swept shorted = sweep(signal_board(farad), "[{short: [U1.1, U1.2], value: 0.4 ohm}]");
    CHECK(only_finding(shorted, "part")["part"] == "C1");
    CHECK(shorted.says("PART  C1 (capacitor) between net COUNT and net PULSE: reads as 0."));
  }
}

TEST_CASE("fooled: what a capacitor does not let the sweep judge in its time is said, not guessed",
          "[tools][fooled][slow]") {
  // 10,000 uF with 2 kohm beside it takes 20 s: no rest, and a bound below the isolation limit.
  const Swept lines = sweep(signal_board("10000u"), "[{leakage: [U1.1, U1.2], value: 2k}]");
  const Swept supply = sweep(supply_board("10000u"), "[{leakage: [TP1, TP2], value: 2k}]");
  for (const Swept* swept : {&lines, &supply}) {
    INFO(swept->text);
    CHECK(swept->status == 5);
    CHECK(swept->result["verdict"] == "incomplete");
    CHECK(swept->result["findings"].empty());
    CHECK(swept->says("\nNo fault found, but not all could be judged: "));
    // What empties meanwhile has no bound and is no short.
    CHECK(!swept->says("0 ohm to "));
    for (const json& note : swept->result["untested"]) {
      CHECK_THAT(note["why"].get<std::string>(),
                 Catch::Contains(": a capacitor was still ") || Catch::Contains(" gave no ohms: "));
    }
  }
  CHECK(
      lines.says("net COUNT to PULSE: a capacitor was still filling, not judged; no less than 1"));
  CHECK(supply.says("net VCC to GND: a capacitor was still filling, not judged; no less than 1"));
}

TEST_CASE(
    "fooled: eight pull-ups of 10 kohm are no leak, one line shorted to the supply is a short",
    "[tools][fooled][slow]") {
  healthy(pull_up_board(false));
  const Swept shorted = sweep(pull_up_board(false), "[{short: [R4.1, R4.2]}]");
  const json finding = only_finding(shorted, "short");
  CHECK(nets_of(finding) == Names{"D4", "VCC"});
  CHECK(shorted.says("SHORT  net VCC and net D4 are joined: 0."));
  CHECK(shorted.says("R4.1@pad and R4.2@pad, 10 mm apart\n"));
}

TEST_CASE("fooled: ten resistors side by side are no leak, 200 ohm beside them are one",
          "[tools][fooled]") {
  std::string board = "parts:\n";
  std::string sum = "TP1";
  std::string reference = "TP2";
  for (int i = 1; i <= 10; ++i) {
    const std::string name = "R" + std::to_string(i);
    board += "  " + name + ": {kind: resistor, value: 10k, tolerance: 5%, " +
             "package: axial 10 mm, xy: [" + std::to_string(5 * i) + ", 40]}\n";
    sum += ", " + name + ".1";
    reference += ", " + name + ".2";
  }
  board += kFourPoints + "nets:\n  SUM: [" + sum + "]\n  REF: [" + reference +
           "]\n  GND: {role: ground, points: [TP3, TP4]}\n";
  healthy(board);
  const Swept leaky = sweep(board, "[{leakage: [TP1, TP2], value: 200 ohm}]");
  const json finding = only_finding(leaky, "leakage");
  CHECK(nets_of(finding) == Names{"REF", "SUM"});
  CHECK(finding["ohm"].get<double>() == Approx(200).epsilon(0.05));
  // 1 kohm of the ten beside 200 ohm.
  CHECK(finding["measured_ohm"].get<double>() == Approx(1e3 / 6).epsilon(0.02));
  CHECK(leaky.says("LEAKAGE  net SUM and net REF: "));
  CHECK(leaky.says("      the pair reads 167 ohm; its parts explain 940 ohm to 1.06 kohm\n"));
}

namespace {

/// A detector: a part with pins 1 and 2, and maybe 3, on three lines.
std::string detector_board(const std::string& part, bool third) {
  return "parts:\n  X1: {" + part +
         ", xy: [0, 20]}\n"
         "  R1: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n" +
         kFourPoints +
         "nets:\n"
         "  GND: {role: ground, points: [R1.2, TP3]}\n"
         "  TUNED: [X1.1, TP1]\n"
         "  AUDIO: [X1.2, TP2]\n"
         "  BIAS: [R1.1, TP4" +
         (third ? ", X1.3" : "") + "]\n";
}

}  // namespace

TEST_CASE("fooled: a germanium diode between two lines is no short, whichever way it sits",
          "[tools][fooled]") {
  for (const bool turned : {false, true}) {
    std::string board =
        detector_board("kind: diode, type: 1N34A germanium, package: axial 10 mm", false);
    if (turned) {
      board.replace(board.find("X1.1"), 4, "X1.2");
      board.replace(board.find("AUDIO: [X1.2"), 12, "AUDIO: [X1.1");
    }
    const Swept swept = healthy(board);
    CHECK(
        swept.says("1 pair of nets is joined by parts whose ohms the file does not give, and "
                   "judged for shorts only: TUNED and AUDIO\n"));
    const Swept shorted = sweep(board, "[{short: [TP1, TP2]}]");
    CHECK(only_finding(shorted, "part")["part"] == "X1");
    CHECK(shorted.says("PART  X1 (diode) between net TUNED and net AUDIO: reads as "));
  }
}

TEST_CASE("fooled: a junction that conducts is told by the direction of its current",
          "[tools][fooled]") {
  const std::string board =
      detector_board("kind: transistor, type: Schottky NPN, package: row 3", true);
  const Swept swept = healthy(board);
  CHECK(swept.says("current flows one way only from AUDIO to BIAS ("));
  CHECK(swept.says(" ohm): a junction, no short; a leak beside it that conducts less is not seen"));
  // What conducts both ways there is a leak.
  const Swept leaky = sweep(board, "[{leakage: [TP2, TP4], value: 300 ohm}]");
  CHECK(nets_of(only_finding(leaky, "leakage")) == Names{"AUDIO", "BIAS"});
  CHECK(leaky.says("LEAKAGE  net AUDIO and net BIAS: "));
}

TEST_CASE("fooled: inputs with Schottky clamps are no short and no leak", "[tools][fooled][slow]") {
  const std::string board =
      "parts:\n"
      "  U1: {kind: ic, type: \"74LS138\", package: DIP-16, xy: [0, 40]}\n"
      "  U2: {kind: ic, type: \"74LS04\", package: DIP-14, xy: [30, 40]}\n"
      "nets:\n"
      "  VCC: {role: supply, points: [U1.16, U2.14]}\n"
      "  GND: {role: ground, points: [U1.8, U2.7]}\n"
      "  A: [U1.1, U2.2]\n"
      "  B: [U1.2, U2.4]\n"
      "  C: [U1.3, U2.6]\n"
      "  EN: [U1.4, U2.8]\n"
      "  Y0: [U1.15, U2.1]\n"
      "  Y1: [U1.14, U2.3]\n"
      "  Y2: [U1.13, U2.5]\n";
  const Swept swept = healthy(board);
  CHECK(
      swept.says("what is inside the 2 chips is not known: a path through one is not told from "
                 "a leak\n"));
  const Swept leaky = sweep(board, "[{leakage: [U1.1, U1.2], value: 2k}]");
  const json finding = only_finding(leaky, "leakage");
  CHECK(nets_of(finding) == Names{"A", "B"});
  CHECK(finding["ohm"].get<double>() == Approx(2e3).epsilon(0.05));
  CHECK(leaky.says("LEAKAGE  net A and net B: "));
}

TEST_CASE("fooled: eleven clamps on one line leak as much as a leak, and are none",
          "[tools][fooled][slow]" PADWALK_WHOLE_ONLY) {
  // Backwards 1 uA each: 8 kohm at the 0.09 V that are left across them.
  std::string pins;
  std::string grounds;
  std::string supplies;
  std::string chips = "parts:\n";
  for (int chip = 1; chip <= 3; ++chip) {
    const std::string name = "U" + std::to_string(chip);
    chips += "  " + name + ": {kind: ic, type: \"74LS138\", package: DIP-16, xy: [" +
             std::to_string(20 * chip) + ", 40]}\n";
    for (int pin = 1; pin <= 4; ++pin) {
      pins += (pins.empty() ? "" : ", ") + name + "." + std::to_string(pin);
    }
    grounds += (chip > 1 ? ", " : "") + name + ".8";
    supplies += (chip > 1 ? ", " : "") + name + ".16";
  }
  const std::string board = chips + "nets:\n  VCC: {role: supply, points: [" + supplies +
                            "]}\n  GND: {role: ground, points: [" + grounds + "]}\n  BUS: [" +
                            pins + "]\n";
  CHECK(healthy(board).says(
      "the clamps of chips pass a little backwards, and no leak is told from that between "));
  const Swept leaky = sweep(board, "[{leakage: [U1.1, U1.8], value: 1k}]");
  CHECK(nets_of(only_finding(leaky, "leakage")) == Names{"BUS", "GND"});
}

TEST_CASE("fooled: two lines with clamps that leak to each other do not leak into ground",
          "[tools][fooled][slow]" PADWALK_WHOLE_ONLY) {
  // Each reads into ground what both have of clamps; that is no way into ground, and hides no leak.
  const std::string board =
      "parts:\n"
      "  U1: {kind: ic, type: \"74LS138\", package: DIP-40, xy: [0, 40]}\n"
      "nets:\n"
      "  VCC: {role: supply, points: [U1.40]}\n"
      "  GND: {role: ground, points: [U1.20]}\n"
      "  A: [U1.1, U1.2, U1.3, U1.4, U1.5, U1.6, U1.7]\n"
      "  B: [U1.9, U1.10, U1.11, U1.12, U1.13]\n";
  healthy(board);
  const Swept leaky = sweep(board, "[{leakage: [U1.7, U1.9], value: 2k}]");
  CHECK(nets_of(only_finding(leaky, "leakage")) == Names{"A", "B"});
  CHECK(!leaky.says("until the short or leak is cleared"));
}

TEST_CASE("fooled: clamps that a shorted supply makes conduct accuse no part",
          "[tools][fooled][slow]") {
  const std::string board =
      "parts:\n"
      "  U1: {kind: ic, type: \"74LS138\", package: DIP-16, xy: [0, 40]}\n"
      "  R1: {kind: resistor, value: 4.7k, tolerance: 5%, package: axial 10 mm, xy: [20, 40]}\n"
      "  R2: {kind: resistor, value: 1k, tolerance: 5%, package: axial 10 mm, xy: [25, 40]}\n"
      "nets:\n"
      "  VCC: {role: supply, points: [U1.16, R1.1, R2.1]}\n"
      "  GND: {role: ground, points: [U1.8]}\n"
      "  A: [U1.1, U1.2, U1.3, R1.2]\n"
      "  B: [U1.4, U1.5, R2.2]\n";
  healthy(board);
  const Swept shorted = sweep(board, "[{short: [U1.8, U1.16], value: 0.4 ohm}]");
  CHECK(nets_of(only_finding(shorted, "short")) == Names{"GND", "VCC"});
  CHECK(shorted.result["untested"].empty());
  CHECK(shorted.says(
      "parts that read too low on and around nets VCC, GND, A and 1 more, until the short or leak "
      "is cleared: the clamps of chips conduct there\n"));
}

TEST_CASE("fooled: clamps that a leak into ground makes conduct accuse no part",
          "[tools][fooled][slow]" PADWALK_WHOLE_ONLY) {
  // From the supply by R2 and the leak into ground, which floats, and out of the clamps.
  const std::string board =
      "parts:\n"
      "  U1: {kind: ic, type: \"74LS138\", package: DIP-16, xy: [0, 40]}\n"
      "  C1: {kind: capacitor, value: 47u, package: radial 5 mm, xy: [10, 40]}\n"
      "  R1: {kind: resistor, value: 4.7k, tolerance: 5%, package: axial 10 mm, xy: [20, 40]}\n"
      "  R2: {kind: resistor, value: 1k, tolerance: 5%, package: axial 10 mm, xy: [25, 40]}\n"
      "nets:\n"
      "  VCC: {role: supply, points: [U1.16, C1.1, R1.1, R2.1]}\n"
      "  GND: {role: ground, points: [U1.8, C1.2]}\n"
      "  A: [U1.1, U1.2, U1.3, U1.9, U1.10, U1.11, U1.12, R1.2]\n"
      "  B: [U1.4, U1.5, R2.2]\n";
  healthy(board);
  const Swept leaky = sweep(board, "[{leakage: [U1.4, U1.8], value: 1k}]");
  CHECK(nets_of(only_finding(leaky, "leakage")) == Names{"GND", "B"});
}

TEST_CASE("fooled: the clamp of the pin that a break cut off is no weak joint",
          "[tools][fooled][slow]") {
  // From A by R1 into ground, which floats, and out of the pin's clamp: one way only.
  const std::string board =
      "parts:\n"
      "  U1: {kind: ic, type: \"74LS138\", package: DIP-16, xy: [0, 40]}\n"
      "  R1: {kind: resistor, value: 150 ohm, tolerance: 5%, package: axial 10 mm, xy: [20, 40]}\n"
      "points:\n"
      "  TP1: {xy: [30, 40]}\n"
      "nets:\n"
      "  GND: {role: ground, points: [U1.8, R1.2]}\n"
      "  A: [R1.1, TP1, U1.1]\n";
  healthy(board);
  CHECK(only_finding(sweep(board, "[{split: A, off: [U1.1]}]"), "open")["net"] == "A");
  CHECK(only_finding(sweep(board, "[{split: A, off: [U1.1, TP1]}]"), "open")["net"] == "A");
  // What conducts both ways alike is copper.
  const Swept weak = sweep(board, "[{high resistance: [U1.1@pad, U1.1@leg], value: 1800 ohm}]");
  CHECK(only_finding(weak, "high resistance")["ohm"].get<double>() == Approx(1800).epsilon(0.02));
}

TEST_CASE("fooled: a break that a filling capacitor bridges is no weak joint",
          "[tools][fooled][slow]") {
  // From the rest of GND by R1, and through C1 into the lead that was cut off.
  const std::string board =
      "parts:\n"
      "  R1: {kind: resistor, value: 1.2k, tolerance: 5%, package: axial 10 mm, xy: [0, 40]}\n"
      "  C1: {kind: capacitor, value: 47u, package: radial 5 mm, xy: [10, 40]}\n"
      "nets:\n"
      "  GND: {role: ground, points: [R1.2, C1.2]}\n"
      "  VCC: {role: supply, points: [R1.1, C1.1]}\n";
  healthy(board);
  CHECK(only_finding(sweep(board, "[{split: GND, off: [C1.2]}]"), "open")["net"] == "GND");
}

TEST_CASE("fooled: beside a charged capacitor nets of several leads read right",
          "[tools][fooled]") {
  const std::string board =
      "parts:\n"
      "  C1: {kind: capacitor, value: 100u, package: radial 5 mm, xy: [0, 40]}\n"
      "  R1: {kind: resistor, value: 4.7k, tolerance: 1%, package: axial 10 mm, xy: [20, 40]}\n"
      "  R2: {kind: resistor, value: 1k, tolerance: 1%, package: axial 10 mm, xy: [25, 40]}\n" +
      kFourPoints +
      "nets:\n"
      "  OUT: [R2.1]\n"
      "  SUM: [TP1, TP2, C1.1, R1.1]\n"
      "  REF: [TP3, C1.2, R1.2, R2.2]\n"
      "  GND: {role: ground, points: [TP4]}\n";
  healthy(board);
  const Swept low = sweep(board, "[{part: R1, value: 4 kohm}]");  // OUT to SUM charges C1 before
  const json finding = only_finding(low, "part");
  CHECK(finding["ohm"].get<double>() == Approx(4e3).epsilon(0.02));
  CHECK(finding["uncertainty_ohm"].get<double>() < 150);
}

TEST_CASE("fooled: a charge that flows against the source is no open resistor", "[tools][fooled]") {
  for (const char* part : {"value: 220k", "value: 100k", "value: 47k"}) {
    INFO(part);
    healthy(std::string("parts:\n"
                        "  C1: {kind: capacitor, value: 47u, package: radial 5 mm, xy: [0, 40]}\n"
                        "  L1: {kind: inductor, value: 100 uH, package: axial 10 mm, xy: [8, 40]}\n"
                        "  R1: {kind: resistor, ") +
            part + ", tolerance: 10%, package: axial 10 mm, xy: [20, 40]}\n" + kFourPoints +
            "  TP5: {xy: [70, 0], side: bottom}\n  TP6: {xy: [80, 0], side: bottom}\n"
            "nets:\n"
            "  SUM: [TP1, TP2, TP5, L1.2, R1.2]\n"
            "  REF: [TP3, TP4, TP6, C1.1, R1.1]\n"
            "  COIL: [L1.1, C1.2]\n");
  }
}

TEST_CASE("fooled: what fills a capacitor for half a minute is no low resistor",
          "[tools][fooled][slow]") {
  // From VCC by C1, R3 and R2 to TAP: 160 kohm beside R1, and 36 s until C1 is full.
  const std::string board =
      "parts:\n"
      "  C1: {kind: capacitor, value: 220u, package: radial 5 mm, xy: [0, 40]}\n"
      "  R1: {kind: resistor, value: 47k, tolerance: 5%, package: axial 10 mm, xy: [20, 40]}\n"
      "  R2: {kind: resistor, value: 150k, tolerance: 5%, package: axial 10 mm, xy: [25, 40]}\n"
      "  R3: {kind: resistor, value: 12k, tolerance: 5%, package: axial 10 mm, xy: [30, 40]}\n" +
      kFourPoints +
      "nets:\n"
      "  VCC: {role: supply, points: [TP1, C1.1, R1.1]}\n"
      "  GND: {role: ground, points: [TP2, C1.2, R3.2]}\n"
      "  TAP: [TP3, R1.2, R2.1]\n"
      "  LOW: [TP4, R2.2, R3.1]\n";
  const Swept swept = healthy(board);
  CHECK(
      swept.says("a large capacitor, by way of some kilohms, fills for longer than a reading "
                 "waits: what reads low by no more than that is not judged, between VCC and TAP"));
  // More than it could take is a fault all the same.
  CHECK(only_finding(sweep(board, "[{part: R1, value: 15k}]"), "part")["part"] == "R1");
}

TEST_CASE("fooled: 47 ohm across a broken trace is no good trace", "[tools][fooled]") {
  const std::string board =
      "parts:\n"
      "  R1: {kind: resistor, value: 47 ohm, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n"
      "  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [20, 20]}\n" +
      kFourPoints +
      "nets:\n"
      "  GATE: {route: [{side: bottom, chain: [TP1, R1.1, R1.2, TP2]}]}\n"
      "  GND: {role: ground, points: [R2.2, TP3, TP4]}\n"
      "  BIAS: [R2.1]\n";
  healthy(board);
  const Swept broken = sweep(board, "[open: [R1.1, R1.2]]");
  const json beside = only_finding(broken, "high resistance");
  CHECK(beside["net"] == "GATE");
  CHECK(beside["ohm"].get<double>() == Approx(47).epsilon(0.06));
  CHECK(beside["beside"] == json({"R1"}));
  CHECK(beside["pieces"] == json::parse(R"([["R1.1", "TP1"], ["R1.2", "TP2"]])"));
  CHECK(broken.says("HIGH RESISTANCE  net GATE: 2 pieces, 47"));
  CHECK(broken.says("      R1 reads so: the copper beside it is open, most likely\n"));
  // Elsewhere on the net nothing explains as much: corrosion.
  const Swept weak = sweep(board, "[{high resistance: [TP1, R1.1], value: 47 ohm}]");
  const json corroded = only_finding(weak, "high resistance");
  CHECK(corroded["ohm"].get<double>() == Approx(47).epsilon(0.02));
  CHECK((!corroded.contains("beside") || corroded["beside"].empty()));
  CHECK(!weak.says("reads so"));
}

TEST_CASE("fooled: a coil is no short, and an open one is a bad part", "[tools][fooled]") {
  const std::string board =
      "parts:\n"
      "  L1: {kind: inductor, value: 100u, package: axial 10 mm, xy: [10, 20]}\n"
      "  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [20, 20]}\n" +
      kFourPoints +
      "nets:\n"
      "  LAMP_IN: [L1.1, TP1, R2.1]\n"
      "  LAMP_OUT: [L1.2, TP2]\n"
      "  GND: {role: ground, points: [R2.2, TP3, TP4]}\n";
  const Swept swept = healthy(board);
  CHECK(
      swept.says("nets that a link, a fuse, a coil or a switch at rest joins: no short between "
                 "them can be seen: LAMP_IN and LAMP_OUT\n"));
  const Swept open = sweep(board, "[{part: L1, value: open}]");
  CHECK(only_finding(open, "part")["part"] == "L1");
  CHECK(
      open.says("PART  L1 (inductor) between net LAMP_IN and net LAMP_OUT: reads far too high: "
                "open, or nearly so\n"));
}

TEST_CASE("fooled: a network that ties eight lines to one is no short", "[tools][fooled][slow]") {
  healthy(pull_up_board(true));
  const Swept shorted = sweep(pull_up_board(true), "[{short: [RN1.4, RN1.5]}]");
  CHECK(nets_of(only_finding(shorted, "short")) == Names{"D3", "D4"});
  CHECK(shorted.says("SHORT  net D3 and net D4 are joined: 0."));
}

TEST_CASE("fooled: a board that is tied to earth is refused, not measured", "[tools][fooled]") {
  const Swept swept = sweep(pull_up_board(true), "[{earthed: GND, value: 0.5 ohm}]");
  CHECK(swept.status == 4);
  CHECK(swept.result["verdict"] == "refused");
  CHECK(swept.result["findings"].empty());
  CHECK(swept.result["readings"]["scan"] == 0);
  // Ohms of the listening range, whose error is some 10 ohm here.
  CHECK(swept.result["tied_ohm"].get<double>() < 10);
  CHECK(
      swept.says("\nREFUSED: the board is connected to the computer or to earth, through about "));
  CHECK(
      swept.says("\nNext: unplug it: no other cable on the board; laptop on its battery or behind "
                 "an isolator.\n"));
}

TEST_CASE("rule 13: of a short it is said that its place along the copper is not seen",
          "[tools][rules]") {
  const std::string sentence =
      "where along its copper a short lies: a millimetre of track gives 0.4 uV here, and some 20 "
      "uV (10 mA) are needed\n";
  CHECK(sweep(pull_up_board(true), "[{short: [RN1.4, RN1.5]}]").says(sentence));
  CHECK(!sweep(pull_up_board(true)).says(sentence));
}
