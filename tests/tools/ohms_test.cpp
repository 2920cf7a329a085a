// SPDX-License-Identifier: MIT
//
// `padwalk ohms` as a person runs it: what it says, its exit statuses, its JSON, and that what it
// expects fits what a simulated board measures, whose ohms come from other code.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

const std::string kFloatBoard =
    "padwalk: board/1\n"
    "name: float sensor\n"
    "parts:\n"
    "  R1: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [0, 20]}\n"
    "  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n"
    "  R3: {kind: resistor, value: 10M, tolerance: 5%, package: axial 10 mm, xy: [20, 20]}\n"
    "  L1: {kind: inductor, package: axial 10 mm, xy: [30, 20]}\n"
    "  D1: {kind: diode, type: 1N4148, package: axial 10 mm, xy: [40, 20]}\n"
    "  D2: {kind: diode, type: 1N34A, package: axial 10 mm, xy: [45, 20]}\n"
    "  U1: {kind: ic, package: DIP-8, xy: [50, 20]}\n"
    "points:\n"
    "  TP1: {xy: [0, 0], side: bottom}\n"
    "  TP2: {xy: [100, 0], side: bottom}\n"
    "  TP3: {xy: [100, 40], side: bottom, drive: never}\n"
    "  TP4: {xy: [60, 40], side: bottom, access: none}\n"
    "  V1: {xy: [50, 0], via: [bottom, top]}\n"
    "nets:\n"
    "  WHEEL: {route: [{side: bottom, chain: [TP1, TP2]}, {side: bottom, chain: [TP2, R1.1]}]}\n"
    "  MID: [R1.2, R2.1]\n"
    "  GND: {role: ground, points: [R2.2, R3.1, L1.2, D1.2, D2.2]}\n"
    "  FAR: [R3.2]\n"
    "  COIL: [L1.1]\n"
    "  AUDIO: [D2.1, U1.4]\n"
    "  LOGIC: [D1.1, U1.1]\n"
    "  HEAD: [TP3]\n"
    "  HIDDEN: [TP4]\n"
    "  SIDES: {route: [{side: bottom, chain: [V1@bottom, U1.3]}]}\n"
    "copper:\n"
    "  - {between: [TP1, TP2], width: 0.5 mm, length: 100 mm}\n";

/// The board and a defects file in a folder, and `padwalk ohms` on them.
struct OhmsBench {
  test::TemporaryFolder folder;
  std::string board = folder.write("float.yaml", kFloatBoard);

  test::Outcome ohms(std::vector<std::string> words) const {
    words.insert(words.begin(), {"ohms", board});
    return test::padwalk(words);
  }
  test::Outcome measured(const std::string& a, const std::string& b,
                         const std::string& defects = "[]") const {
    return ohms({a, b, "--measure", "--simulate",
                 folder.write("defects.yaml", "padwalk: defects/1\ndefects: " + defects + "\n"),
                 "--json", folder.path("ohms.json")});
  }
  json result() const { return json::parse(test::read_text(folder.path("ohms.json"))); }
};

using test::has;

}  // namespace

TEST_CASE("ohms: what the copper of a net consists of") {
  const OhmsBench bench;
  const test::Outcome outcome = bench.ohms({"TP1", "TP2"});
  CHECK(outcome.status == 0);
  CHECK(outcome.err.empty());
  // 100 mm by 0.5 mm by 35 um is 98.3 mohm at 1.72e-8 ohm m (public page, see copper_test); the
  // range by hand: 20 % of width, 18 to 70 um of foil, 10 to 35 C.
  CHECK(outcome.out ==
        "TP1 to TP2, both on net WHEEL\n"
        "It should be 98.5 mohm, 39.4 mohm to 254 mohm\n"
        "       98.5 mohm  trace TP1 to TP2, 100 mm by 0.5 mm\n"
        "Assumed or not known:\n"
        "      foil of 35 um, plating, solder and contacts as is common\n"
        "Next: --measure with --port NAME or --simulate says what it is.\n");
  const test::Outcome further = bench.ohms({"TP1", "R1.1"});
  CHECK(has(further.out, "  solder joint R1.1@bottom to R1.1@leg\n"));
  CHECK(has(further.out, "      the width of 1; copper: in the file can say it\n"));
  CHECK(has(further.out, "      the length of 1: the straight line and a quarter for bends\n"));
  CHECK(has(bench.ohms({"R1.2", "R2.1"}).out, "      the way of 2: the file gives no route\n"));
}

TEST_CASE("ohms: what the parts between two nets add up to") {
  const OhmsBench bench;
  const test::Outcome outcome = bench.ohms({"WHEEL", "GND"});
  CHECK(outcome.status == 0);
  CHECK(outcome.out ==
        "net WHEEL to net GND\n"
        "It should be 20 kohm, 18.8 kohm to 21.2 kohm\n"
        "         10 kohm  R1, 10 kohm between WHEEL and MID\n"
        "         10 kohm  R2, 10 kohm between MID and GND\n"
        "Next: --measure with --port NAME or --simulate says what it is.\n");
  CHECK(has(bench.ohms({"TP1", "FAR"}).out, "TP1 on net WHEEL to net FAR\n"));
  const test::Outcome coil = bench.ohms({"COIL", "MID"});
  CHECK(has(coil.out, "It should be 10 kohm, 9.4 kohm or more\n"));
  CHECK(has(coil.out, "L1 (inductor): the file does not say its ohms; taken as 0 ohm\n"));
  const test::Outcome diode = bench.ohms({"LOGIC", "GND"});
  CHECK(has(diode.out, "It should be open, 600 kohm or more\n"));
  CHECK(has(diode.out, "silicon junctions join them: 600 kohm or more each at 0.2 V"));
  const test::Outcome germanium = bench.ohms({"AUDIO", "GND"});
  CHECK(has(germanium.out, "It should be open, or any\n"));
  CHECK(has(germanium.out, "D2 (germanium diode) may conduct at 0.2 V; taken as open\n"));
  CHECK(has(bench.ohms({"HEAD", "GND"}).out, "It should be open\n"));
  CHECK(has(bench.ohms({"U1.2", "GND"}).out,
            "U1.2 is in no net, so what it should show is not known\n"));
}

TEST_CASE("ohms: measured on a healthy board it agrees, with two leads") {
  const OhmsBench bench;
  const test::Outcome wheel = bench.measured("TP1", "TP2");
  CHECK(wheel.status == 0);
  CHECK(
      has(wheel.out,
          "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
          "Lead 1 on TP1, lead 2 on TP2; no other is needed.\n"));
  CHECK(has(wheel.out, "\nIt is "));
  CHECK(has(wheel.out, " at 0.2 V\nAgrees: for this copper up to 1.1 ohm is good.\n"));
  json result = bench.result();
  CHECK(result["padwalk"] == "ohms/1");
  CHECK(result["between"] == json({"TP1", "TP2"}));
  CHECK(result["nets"] == json({"WHEEL", "WHEEL"}));
  CHECK(result["expected_ohm"].get<double>() == Approx(98.5e-3).epsilon(1e-3));
  CHECK(result["consists_of"][0]["kind"] == "trace");
  CHECK(result["consists_of"][0]["segment"] == json({"TP1", "TP2"}));
  CHECK(result["consists_of"][0]["width_from"] == "file");
  CHECK(result["consists_of"][0]["length_from"] == "file");
  CHECK(result["leads"][1] == json({{"channel", 2}, {"point", "TP2"}}));
  CHECK(result["volt"].get<double>() == Approx(0.2).epsilon(0.1));
  CHECK(result["agrees"] == true);

  const test::Outcome parts = bench.measured("WHEEL", "GND");
  CHECK(parts.status == 0);
  CHECK(has(parts.out, "Agrees: 18.8 kohm to 21.2 kohm is good, the leads counted.\n"));
  result = bench.result();
  CHECK(result["low_ohm"].get<double>() == Approx(18.8e3));
  CHECK(result["high_ohm"].get<double>() == Approx(21.2e3));
  CHECK(result["measured_ohm"].get<double>() == Approx(20e3).epsilon(0.02));
  CHECK(result["uncertainty_ohm"].get<double>() > 0);
  CHECK(result["consists_of"][0] == json({{"kind", "resistor"},
                                          {"part", "R1"},
                                          {"nets", {"WHEEL", "MID"}},
                                          {"part_ohm", result["consists_of"][0]["part_ohm"]},
                                          {"ohm", 10e3}}));

  const test::Outcome apart = bench.measured("WHEEL", "LOGIC");
  CHECK(apart.status == 0);
  CHECK(has(apart.out, "Agrees: nothing should conduct; above 10 kohm is good.\n"));
  CHECK(bench.result()["expected_ohm"].is_null());
}

TEST_CASE("ohms: what does not agree is status 1") {
  const OhmsBench bench;
  const test::Outcome open = bench.measured("TP1", "TP2", "[open: [TP1, TP2]]");
  CHECK(open.status == 1);
  CHECK(has(open.out,
            "It is open, nothing flows at 0.2 V\n"
            "DOES NOT AGREE: for this copper up to 1.1 ohm is good.\n"
            "Next: re-seat both leads and measure again; then padwalk sweep " +
                bench.board + " says where.\n"));
  CHECK(bench.result()["agrees"] == false);
  CHECK(bench.result()["measured_ohm"].is_null());
  const test::Outcome weak =
      bench.measured("TP2", "TP1", "[{high resistance: [TP1, TP2], value: 35 ohm}]");
  CHECK(weak.status == 1);
  CHECK(bench.result()["measured_ohm"].get<double>() == Approx(35).margin(1));
  const test::Outcome part = bench.measured("MID", "GND", "[{part: R2, value: 47k}]");
  CHECK(part.status == 1);
  CHECK(has(part.out, "DOES NOT AGREE: 9.4 kohm to 10.6 kohm is good, the leads counted.\n"));
  const test::Outcome low = bench.measured("GND", "MID", "[{part: R2, value: 1k}]");
  CHECK(low.status == 1);
  CHECK(has(low.out, "DOES NOT AGREE: it should have at least 9.4 kohm.\n"));
  const test::Outcome leak =
      bench.measured("WHEEL", "LOGIC", "[{leakage: [TP1, U1.1], value: 2k}]");
  CHECK(leak.status == 1);
  CHECK(has(leak.out, "DOES NOT AGREE: nothing should conduct; above 10 kohm is good.\n"));
}

TEST_CASE("ohms: where the file or the tester cannot tell, it does not judge") {
  const OhmsBench bench;
  const test::Outcome coil = bench.measured("COIL", "MID");
  CHECK(coil.status == 0);
  CHECK(has(coil.out, "Not judged: the file does not say enough to judge it.\n"));
  CHECK(bench.result()["agrees"].is_null());
  CHECK(bench.result()["sure"] == false);
  CHECK(bench.result()["high_ohm"].is_null());
  // 10 Mohm and 1 Gohm look alike at 0.2 V.
  const test::Outcome far = bench.measured("FAR", "GND", "[{part: R3, value: 1000M}]");
  CHECK(far.status == 0);
  CHECK(has(far.out, "Not judged: above 1 Mohm this tester cannot tell at 0.2 V.\n"));
}

TEST_CASE("ohms: a live board is refused, and only the two points are asked") {
  const OhmsBench bench;
  const std::string cell = "[{voltage: [U1.1, GND], value: 2.1 V, behind: 1k}]";
  const test::Outcome live = bench.measured("LOGIC", "GND", cell);
  CHECK(live.status == 4);
  CHECK(has(live.out, "REFUSED: there is voltage on the board. Nothing was driven.\n"));
  CHECK(has(live.out, " V on net LOGIC: D1.1\n"));
  const json result = bench.result();
  CHECK(result["live"].size() == 2);
  CHECK(result["measured_ohm"].is_null());
  CHECK(bench.measured("TP1", "TP2", cell).status == 0);
}

TEST_CASE("ohms: what cannot be asked is one sentence and status 2") {
  const OhmsBench bench;
  struct Row {
    std::vector<std::string> words;
    std::string sentence;
  };
  for (const Row& row : {
           Row{{"TP9", "GND"},
               "the board has no point and no net named 'TP9'; names are as in its file, capital "
               "and small letters told apart"},
           Row{{"V1", "GND"}, "V1 has two sides; name one: V1@top or V1@bottom"},
           Row{{"R1.1@leg", "GND"}, "R1.1@leg is one place of the point R1.1; name the point"},
           Row{{"TP1", "TP1"}, "TP1 is named twice; name two points or two nets"},
           Row{{"TP1", "WHEEL"}, "TP1 and WHEEL are one net; name two of its points"},
           Row{{"TP1", "TP2", "--measure"},
               "--measure needs a tester: --port NAME, or --simulate to try without one"},
           Row{{"TP1", "TP2", "--simulate"}, "--port and --simulate go with --measure"},
           Row{{"TP3", "TP2", "--measure", "--simulate"},
               "TP3 must not be driven: its net says drive: never"},
           Row{{"TP4", "TP2", "--measure", "--simulate"}, "TP4 cannot be touched: access: none"},
           Row{{"FAR", "GND", "--measure", "--passive", "--simulate"},
               "--passive: D1 (diode) hangs on the pair or on what parts join to it, and 5 V may "
               "harm it; measure without --passive"},
           Row{{"HEAD", "TP2", "--measure", "--simulate"}, "no point of net HEAD can be touched"},
       }) {
    const test::Outcome outcome = bench.ohms(row.words);
    CHECK(outcome.status == 2);
    CHECK(outcome.out.empty());
    CHECK(outcome.err == "padwalk: " + row.sentence + "\n");
  }
}

TEST_CASE("rule 4: ohms at 5 V between nets that passive parts alone join") {
  const std::string divider =
      "padwalk: board/1\n"
      "name: divider\n"
      "parts:\n"
      "  R1: {kind: resistor, value: 4.7M, tolerance: 5%, package: axial 10 mm, xy: [0, 20]}\n"
      "  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm, xy: [10, 20]}\n"
      "  C1: {kind: capacitor, value: 10n, package: radial 5 mm, xy: [20, 20]}\n"
      "  U1: {kind: ic, package: DIP-8, xy: [50, 20], chip: CHIP}\n"
      "nets:\n"
      "  HIGH: [R1.1]\n"
      "  TAP: [R1.2, R2.1]\n"
      "  LOW: [R2.2, C1.1]\n"
      "  SENSE: [C1.2, U1.3]\n";
  const test::TemporaryFolder folder;
  const auto ohms = [&](const std::string& chip, const std::vector<std::string>& more) {
    std::string board = divider;
    board.replace(board.find("CHIP"), 4, chip);
    std::vector<std::string> words = {
        "ohms", folder.write("divider.yaml", board), "HIGH", "TAP", "--measure", "--simulate"};
    words.insert(words.end(), more.begin(), more.end());
    return test::padwalk(words);
  };
  const test::Outcome low = ohms("pulled", {});
  CHECK(low.status == 0);
  CHECK(has(low.out, " at 0.2 V\n"));
  const test::Outcome high = ohms("pulled", {"--passive", "--json", folder.path("ohms.json")});
  CHECK(high.status == 0);
  CHECK(has(high.out, " at 5.0 V\n"));
  CHECK(has(high.out, "Agrees: "));
  const json result = json::parse(test::read_text(folder.path("ohms.json")));
  CHECK(result["volt"] == 5);
  CHECK(result["measured_ohm"].get<double>() == Approx(4.7e6).epsilon(0.05));
  // By way of a resistor and a capacitor 5 V would reach the chip.
  const test::Outcome seated = ohms("soldered", {"--passive"});
  CHECK(seated.status == 2);
  CHECK(has(seated.err, "--passive: U1 (ic) hangs on the pair or on what parts join to it"));
  CHECK(has(seated.err, ", or pull it and say 'chip: pulled' in the file\n"));
}

TEST_CASE("ohms: --json - gives the standard output to the JSON alone") {
  const OhmsBench bench;
  const test::Outcome outcome = bench.ohms({"TP1", "TP2", "--json", "-"});
  CHECK(outcome.status == 0);
  const json result = json::parse(outcome.out);
  CHECK(result["measured_ohm"].is_null());
  CHECK(result["agrees"].is_null());
  CHECK(has(outcome.err, "TP1 to TP2, both on net WHEEL\n"));
}

TEST_CASE("ohms: what is expected of the demo board's copper fits what its simulation measures") {
  const std::string board = test::source("boards/tide-gauge/board.yaml");
  for (const auto& [a, b] : {std::pair{"U6.3", "J1.10"},
                             {"U1.30", "J1.7"},
                             {"J1.1", "U4.16"},
                             {"J1.2", "R3.2"},
                             {"U1.39", "U3.22"},
                             {"U4.1", "U1.1"}}) {
    const test::Outcome outcome = test::padwalk({"ohms", board, a, b, "--measure", "--simulate"});
    INFO(outcome.out);
    CHECK(outcome.status == 0);
    CHECK(has(outcome.out, "\nAgrees: "));
  }
}
