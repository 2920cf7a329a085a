// SPDX-License-Identifier: MIT
//
// `padwalk confirm` as a person runs it on the float card of a harbour's tide gauge: via V1 of net
// STEP has lost its barrel, and a wire goes from U1.2 to U2.1.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

const std::string kCard = R"(padwalk: board/1
name: Tide gauge, float card
parts:
  U1: {kind: ic, type: 74HC14, package: DIP-14, xy: [20, 60], chip: socketed}
  U2: {kind: ic, type: 74HC138, package: DIP-16, xy: [50, 60]}
  J1: {kind: connector, package: header 2x5, xy: [80, 60]}
  R1: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm, xy: [20, 30]}
points:
  V1: {xy: [35, 58], via: [top, bottom]}
nets:
  GND: {role: ground, points: [J1.1, U1.7, U2.8]}
  VCC: {role: supply, route: [{side: bottom, chain: [J1.2, U1.14, U2.16, R1.1]}]}
  STEP: {route: [{side: top, chain: [U1.2, V1]}, {side: bottom, chain: [V1, U2.1, J1.5]}]}
  FLOAT: {route: [{side: bottom, chain: [J1.3, U1.1, R1.2]}]}
  SET: {route: [{side: bottom, chain: [U2.2, J1.7]}]}
  LAMP: {route: [{side: bottom, chain: [U2.3, J1.9]}]}
copper:
  - {between: [J1.2, U1.14], width: 1.2 mm}
)";  // the float wheel's counter
const std::string kBreak = "{open: [V1@top, V1@bottom]}";
const std::string kWire = "{wire: [U1.2, U2.1], gauge: 30, length: 60 mm}";

/// The card's file, in a folder of its own.
struct Card {
  test::TemporaryFolder folder;
  std::string board = folder.write("card.yaml", kCard);
};

using test::has;

struct Confirmed {
  int status = -1;
  std::string out;
  json result;

  std::string verdict() const { return result.at("verdict"); }
  /// Kinds and nets of what changed.
  std::vector<std::string> changed() const {
    std::vector<std::string> all;
    for (const json& finding : result.at("changed")) {
      std::string one = finding.at("kind");
      one += finding.contains("net") ? " " + finding.at("net").get<std::string>() : "";
      for (const json& net : finding.value("nets", json::array())) {
        one += " " + net.get<std::string>();
      }
      for (const json& point : finding.value("in_no_net", json::array())) {
        one += " " + point.get<std::string>();
      }
      all.push_back(one);
    }
    return all;
  }
};

using Words = std::vector<std::string>;

/// A sweep that finds `before`, then the repair that leaves `after`, confirmed.
Confirmed confirm(const std::string& before, const std::string& after,
                  const Words& joint = {"--wire", "U1.2", "U2.1", "--gauge", "30", "--length",
                                        "60mm"},
                  const std::string& bench = "{}") {
  const Card card;
  const test::TemporaryFolder& folder = card.folder;
  const std::string job = folder.path("gauge.job");
  const std::string defects = folder.write(
      "defects.yaml", "padwalk: defects/1\ndefects: [" + before + "]\nthen: {mended: [" + after +
                          "]}\nbench: " + bench + "\n");
  test::padwalk({"sweep", card.board, "--simulate", defects, "--job", job});
  Words words = {"confirm", card.board, "--simulate", defects,
                 "--job",   job,        "--json",     folder.path("c.json")};
  words.insert(words.end(), joint.begin(), joint.end());
  const test::Outcome outcome = test::padwalk(words);
  CHECK(outcome.err == "");
  INFO(outcome.out);
  return {outcome.status, outcome.out, json::parse(test::read_text(folder.path("c.json")))};
}

}  // namespace

TEST_CASE("confirm: a good wire restores the net and nothing else changed", "[tools][confirm]") {
  const std::string other = "{short: [U2.2, U2.3], value: 0.4 ohm}";
  const Confirmed good = confirm(kBreak + ", " + other, kBreak + ", " + kWire + ", " + other);
  CAPTURE(good.out);
  CHECK(good.status == 0);
  CHECK(good.verdict() == "restored");
  CHECK(has(good.out, "RESTORED  net STEP is one piece: U1.2, U2.1, J1.5\n"));
  CHECK(has(good.out, "Nothing else changed: "));
  CHECK(has(good.out, "As before: short SET, LAMP"));
  CHECK(good.changed().empty());
  CHECK(good.result.at("as_before").size() == 1);
  // 60 mm of 30 AWG, 338.6 ohm/km (computed from 1.7241e-8 ohm m and the rule of ASTM B258, from
  // memory): 20.3 mohm, and what the copper from the leads to the joint has.
  const double wire = 60e-6 * 338.6;
  CHECK(good.result.at("expected_ohm").get<double>() >= 0.999 * wire);
  CHECK(good.result.at("expected_ohm").get<double>() < wire + 0.02);
  const double ohm = good.result.at("ohm");
  CHECK(std::abs(ohm - wire - 2e-3) <= good.result.at("uncertainty_ohm").get<double>());
  // Only what is needed has a lead.
  CHECK(good.result.at("attached").get<int>() < 20);
  CHECK_FALSE(good.result.at("thin_wire").get<bool>());
}

TEST_CASE("confirm: a pin in no net that was bridged before is as before", "[tools][confirm]") {
  const std::string bridge = "{short: [U1.1, U1.3], value: 0.4 ohm}";
  const Confirmed good = confirm(kBreak + ", " + bridge, kBreak + ", " + kWire + ", " + bridge);
  CAPTURE(good.out);
  CHECK(good.verdict() == "restored");
  CHECK(good.changed().empty());
  CHECK(good.result.at("as_before").size() == 1);
}

TEST_CASE("confirm: leads keep their channels where the tester has them", "[tools][confirm]") {
  const Words joint = {"--wire", "U1.2", "U2.1"};
  Words few = joint;
  few.insert(few.end(), {"--channels", "14"});
  const Confirmed kept = confirm(kBreak, kBreak + ", " + kWire, joint);
  CAPTURE(kept.out);
  CHECK(has(kept.out, "Of the leads that the sweep had only these are needed, lead 1 on U1.1"));
  const Confirmed anew = confirm(kBreak, kBreak + ", " + kWire, few);
  CAPTURE(anew.out);
  CHECK(anew.verdict() == "restored");
  CHECK(has(anew.out, "Only these leads are needed, lead "));
  CHECK(anew.result.at("tester").at("channels") == 14);
  few.back() = "4";
  const Confirmed fewest = confirm(kBreak, kBreak + ", " + kWire, few);
  CAPTURE(fewest.out);
  CHECK(fewest.verdict() == "restored");
  CHECK_FALSE(fewest.result.at("not_read").empty());
  CHECK(has(fewest.out, "Not read again, for lack of channels: "));
}

TEST_CASE("confirm: a cold joint is weak, or no joint at all", "[tools][confirm]") {
  const auto cold = [](const std::string& ohm) {
    return confirm(kBreak, kBreak + ", {wire: [U1.2, U2.1], length: 60 mm, joint: " + ohm + "}",
                   {"--wire", "U1.2", "U2.1"}, "reference");
  };
  const Confirmed weak = cold("0.8 ohm");
  CAPTURE(weak.out);
  CHECK(weak.status == 1);
  CHECK(weak.verdict() == "restored, but weak");
  CHECK(has(weak.out, "a cold joint, most likely"));
  CHECK(has(weak.out, "Next: flux and reflow U1.2@bottom and U2.1@bottom, then confirm again."));
  CHECK(std::abs(weak.result.at("ohm").get<double>() - 0.82) <
        weak.result.at("uncertainty_ohm").get<double>());

  const Confirmed bad = cold("12 ohm");
  CAPTURE(bad.out);
  CHECK(bad.status == 1);
  CHECK(bad.verdict() == "not restored");
  CHECK(bad.result.at("of_net")[0].at("kind") == "high resistance");
  CHECK(has(bad.out, "a cold joint, most likely"));
  CHECK(bad.changed().empty());
}

TEST_CASE("confirm: no wire at all is said to be as before", "[tools][confirm]") {
  const Confirmed none = confirm(kBreak, kBreak);
  CAPTURE(none.out);
  CHECK(none.status == 1);
  CHECK(none.verdict() == "not restored");
  CHECK(has(none.out, "NOT RESTORED  net STEP is in the same pieces as before"));
  CHECK(has(none.out, "the joint does not conduct, or both its ends sit on one piece"));
}

TEST_CASE("confirm: a wire on the wrong pad is told from one that does nothing",
          "[tools][confirm]") {
  SECTION("on the pad of another net") {
    const Confirmed wrong = confirm(kBreak, kBreak + ", {wire: [U1.2, U2.2], length: 60 mm}");
    CAPTURE(wrong.out);
    CHECK(wrong.status == 1);
    CHECK(wrong.verdict() == "not restored");
    CHECK(has(wrong.out,
              "net SET has joined a piece of it: one end is on the wrong pad, "
              "U2.2 instead of U2.1@bottom?"));
    CHECK(wrong.changed() == Words{"short STEP SET"});
  }
  SECTION("on a pin in no net") {
    const Confirmed wrong = confirm(kBreak, kBreak + ", {wire: [U1.3, U2.1], length: 60 mm}");
    CAPTURE(wrong.out);
    CHECK(wrong.verdict() == "not restored");
    CHECK(has(wrong.out, "one end is on the wrong pad, U1.3 instead of U1.2"));
  }
}

TEST_CASE("confirm: what changed besides is said, and where", "[tools][confirm]") {
  SECTION("a bridge beside the joint") {
    const Confirmed bridged = confirm(kBreak, kBreak + ", " + kWire + ", {short: [U2.1, U2.2]}");
    CAPTURE(bridged.out);
    CHECK(bridged.status == 1);
    CHECK(bridged.verdict() == "restored, but something else changed");
    CHECK(bridged.changed() == Words{"short STEP SET"});
    CHECK(has(bridged.out, "RESTORED, BUT SOMETHING ELSE CHANGED  net STEP is one piece"));
    CHECK(has(bridged.out, "NEW since the sweep:\n"));
    CHECK(has(bridged.out, "U2.2 is 2.5 mm from the joint at U2.1@bottom"));
    CHECK(has(bridged.out, "Next: look for a bridge of solder at U1.2@bottom and U2.1@bottom"));
  }
  SECTION("a neighbour's pad lifted") {
    const Confirmed lifted = confirm(kBreak, kBreak + ", " + kWire + ", {open: [U2.2, U2.2@leg]}");
    CAPTURE(lifted.out);
    CHECK(lifted.status == 1);
    CHECK(lifted.verdict() == "restored, but something else changed");
    CHECK(lifted.changed() == Words{"open SET"});
    CHECK(has(lifted.out,
              "Next: look for a lifted pad or a cut trace round U1.2@bottom and "
              "U2.1@bottom, then confirm again."));
  }
  SECTION("another fault is gone") {
    const Confirmed gone = confirm(kBreak + ", {short: [U2.2, U2.3]}", kBreak + ", " + kWire);
    CAPTURE(gone.out);
    CHECK(gone.verdict() == "restored");
    CHECK(has(gone.out, "Gone since: short LAMP, SET"));
  }
}

TEST_CASE("confirm: a joint that opens while the board is bent is weak", "[tools][confirm]") {
  const Card card;
  const test::TemporaryFolder& folder = card.folder;
  const auto flexed = [&](const std::string& bent) {
    const std::string defects = folder.write(
        "d.yaml", "padwalk: defects/1\nthen: {mended: [" + kBreak + ", " + kWire + "], flexed: [" +
                      kBreak + ", " + bent + "]}\nbench: reference\n");
    return test::padwalk({"confirm", card.board, "--wire", "U1.2", "U2.1", "--simulate", defects,
                          "--flex", "--for", "2s"});
  };
  const test::Outcome flutters = flexed("{wire: [U1.2, U2.1], open for: 3 ms, every: 450 ms}");
  CAPTURE(flutters.out, flutters.err);
  CHECK(flutters.status == 1);
  CHECK(has(flutters.out, "RESTORED, BUT WEAK  net STEP is one piece"));
  CHECK(has(flutters.out, "bent and tapped for 2 s: "));
  CHECK(has(flutters.out, "Next: flux and reflow U1.2@bottom and U2.1@bottom, then confirm"));

  const test::Outcome steady = flexed(kWire);
  CAPTURE(steady.out, steady.err);
  CHECK(steady.status == 0);
  CHECK(has(steady.out, "bent and tapped for 2 s: no interruption of "));
}

TEST_CASE("confirm: a mended trace, without a wire and without a sweep before",
          "[tools][confirm]") {
  const Card card;
  const test::Outcome outcome =
      test::padwalk({"confirm", card.board, "--repaired", "V1@top", "V1@bottom", "--simulate"});
  CAPTURE(outcome.out, outcome.err);
  CHECK(outcome.status == 0);
  CHECK(has(outcome.out, "RESTORED  net STEP is one piece"));
  CHECK(has(outcome.out, "the copper from V1@top to V1@bottom, read from "));
  CHECK(has(outcome.out, "No sweep before is known"));
  CHECK_FALSE(has(outcome.out, "Put it into"));
}

TEST_CASE("confirm: a thin wire on a supply is warned of", "[tools][confirm]") {
  const Confirmed thin = confirm("{open: [J1.2, U1.14]}", "{wire: [J1.2, U2.16], gauge: 36}",
                                 {"--wire", "J1.2", "U2.16", "--gauge", "36", "--length", "50mm"});
  CAPTURE(thin.out);
  CHECK(thin.result.at("thin_wire").get<bool>());
  // 36 AWG: 0.127 mm, 0.0127 mm2 (ASTM B258 rule, from memory).
  CHECK(has(thin.out, "CAUTION  a thin wire on a supply: it has 0.013 mm2 of copper"));
}

TEST_CASE("confirm: the wire goes into the board file, and nothing else in it changes",
          "[tools][confirm]") {
  const Card card;
  const test::TemporaryFolder& folder = card.folder;
  const std::string& text = kCard;
  const std::string& board = card.board;
  const std::string defects =
      folder.write("d.yaml", "padwalk: defects/1\ndefects: [" + kBreak + ", " + kWire + "]\n");
  test::Running running({PADWALK_PROGRAM, "confirm", board, "--wire", "U1.2", "U2.1", "--gauge",
                         "30", "--length", "60mm", "--simulate", defects});
  running.send("\n");
  const test::Outcome outcome = running.finish();
  CAPTURE(outcome.out, outcome.err);
  CHECK(has(outcome.out, "card.yaml has wire W1 now.\nNext: "));
  const std::string wires =
      "wires:\n  W1: {between: [U1.2@bottom, U2.1@bottom], gauge: 30, length: 60 mm}\n";
  CHECK(test::read_text(board) == text + wires);
  // The board with it is whole where the copper alone is not.
  CHECK(test::padwalk({"check", board}).status == 0);
  CHECK(test::padwalk({"sweep", board, "--simulate", defects}).status == 0);
}

TEST_CASE("confirm: what cannot be is said in a sentence", "[tools][confirm]") {
  const Card card;
  const auto complaint = [](Words words) {
    words.insert(words.begin(), "confirm");
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.status == 2);
    return outcome.err;
  };
  CHECK(complaint({card.board, "--wire", "U1.2", "U2.2", "--simulate"}) ==
        "padwalk: U1.2@bottom is in net STEP and U2.2@bottom is in net SET: a joint "
        "between them would make one net of two; is a name mistyped?\n");
  CHECK(complaint({card.board, "--wire", "U1.2", "U1.22", "--simulate"}) ==
        "padwalk: the board has no point named 'U1.22'; names are as in its file\n");
  CHECK(complaint({card.board, "--wire", "U1.2", "V1", "--simulate"}) ==
        "padwalk: V1 has several sides; name one, such as V1@top\n");
  CHECK(complaint({card.board, "--wire", "U1.2", "U1.2", "--simulate"}) ==
        "padwalk: U1.2 and U1.2 are one place; name two\n");
  CHECK(complaint({card.board, "--wire", "U1.2", "U2.1", "--length", "45", "--simulate"}) ==
        "padwalk: --length 45: expected a length such as 45mm or 1.5inch\n");
  CHECK(has(complaint({card.board, "--simulate"}), "--wire A B, or --repaired A B"));
}
