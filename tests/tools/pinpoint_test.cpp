// SPDX-License-Identifier: MIT
//
// `padwalk pinpoint` as a person runs it after a sweep.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;
using test::kDemoBoard;

/// What a sweep of the corroded demo board writes, as far as pinpoint reads it.
const std::string kSwept = R"({"padwalk": "sweep/1", "findings": [
  {"id": "F1", "kind": "open", "net": "TIDE_CLK", "pieces": [["U1.16", "J1.10", "TP3"], ["U6.3"]],
   "suspects": [{"kind": "contact", "segment": ["U6.3@socket", "U6.3@leg"]},
                {"kind": "contact", "point": "U6.3"}]},
  {"id": "F2", "kind": "open", "net": "FLOAT_B", "pieces": [["RN1.5", "J2.2"], ["U5.6"]],
   "suspects": [{"kind": "contact", "point": "U5.6"}]},
  {"id": "F3", "kind": "short", "nets": ["OSC_OUT", "CPU_CLK"], "suspects": []}]})";

}  // namespace

TEST_CASE("after a sweep the tip finds each break, side by side", "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", kSwept);
  const std::string defects = kDemo + "corroded.yaml";
  const test::Outcome outcome =
      test::padwalk({"pinpoint", kDemoBoard, "--after", swept, "--simulate", defects, "--json",
                     folder.path("pinpoint.json")});
  CHECK(outcome.status == 1);
  CHECK(outcome.err == "");
  CHECK(outcome.out ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "F1  net TIDE_CLK, 7 places may be broken\n"
        "      lead 1 on U1.16\n"
        "      lead 2 on U6.3\n"
        "      the tip is lead 3; press Enter: \n"
        "      touch V4@top, press Enter (l: later, n: cannot reach, s: stop): \n"
        "      with U6.3\n"
        "F2  net FLOAT_B, 4 places may be broken\n"
        "      lead 1 on RN1.5\n"
        "      lead 2 on U5.6\n"
        "      the tip is lead 3; press Enter: \n"
        "      touch V2@top, press Enter (l: later, n: cannot reach, s: stop): \n"
        "      with U5.6\n"
        "      turn the board: solder side up\n"
        "F1  net TIDE_CLK, 2 places may be broken\n"
        "      lead 1 on U1.16\n"
        "      lead 2 on U6.3\n"
        "      the tip is lead 3; press Enter: \n"
        "      touch V4@bottom, press Enter (l: later, n: cannot reach, s: stop): \n"
        "      with U6.3\n"
        "\n"
        "F1  net TIDE_CLK, after 2 touches:\n"
        "      the trace from V4@bottom to TP3, on the bottom\n"
        "F2  net FLOAT_B, after 1 touch:\n"
        "      the barrel of the hole, V2@bottom to V2@top\n"
        "Next: mend the trace from V4@bottom to TP3, on the bottom, then sweep again.\n");
  const json found = json::parse(test::read_text(folder.path("pinpoint.json")));
  CHECK(found["padwalk"] == "pinpoint/1");
  REQUIRE(found["findings"].size() == 2);
  CHECK(found["findings"][0]["id"] == "F1");
  CHECK(found["findings"][0]["touches"] == 2);
  REQUIRE(found["findings"][0]["suspects"].size() == 1);
  CHECK(found["findings"][0]["suspects"][0]["segment"] == json({"V4@bottom", "TP3"}));
  CHECK(found["findings"][1]["suspects"][0]["kind"] == "barrel");
}

TEST_CASE("a place that cannot be reached is left out, and one may stop at any time",
          "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", kSwept);
  // A tester with nothing on its leads: whatever is touched says nothing.
  test::Running tester({PADWALK_PROGRAM, "simulate", kDemoBoard});
  const std::string port = tester.read_line();
  test::Running person({PADWALK_PROGRAM, "pinpoint", kDemoBoard, "--after", swept, "--port", port});
  person.send("\nn\ns\n");
  const test::Outcome outcome = person.finish();
  CHECK(outcome.status == 5);
  CHECK(outcome.out.find("touch V4@top, press Enter") != std::string::npos);
  CHECK(outcome.out.find("F1  net TIDE_CLK, after 0 touches:") != std::string::npos);
  CHECK(outcome.out.find("the barrel of the hole, V4@top to V4@bottom (") != std::string::npos);
  CHECK(outcome.out.find("Next: pinpoint again to go on; what was heard is above.\n") !=
        std::string::npos);
}

TEST_CASE("two needles make silence count: a via that hears nothing is cut off on both sides",
          "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", kSwept);
  const std::string twice = folder.write("twice.yaml",
                                         "padwalk: defects/1\ndefects:\n"
                                         "  - open: [U6.3, V4@top]\n  - open: [V4@bottom, TP3]\n");
  const auto pinpoint = [&](std::vector<std::string> more) {
    std::vector<std::string> words = {
        "pinpoint",   kDemoBoard, "--after", swept,
        "--simulate", twice,      "--json",  folder.path("pinpoint.json")};
    words.insert(words.end(), more.begin(), more.end());
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.status == 1);
    return outcome.out;
  };
  const std::string one_lead = pinpoint({});
  CHECK(one_lead.find("      nothing: once more") != std::string::npos);
  const std::string needles = pinpoint({"--two-needles"});
  CHECK(needles.find("      the needles are leads 3 and 4; press Enter: ") != std::string::npos);
  CHECK(needles.find("      nothing, and both needles bite: it is cut off\n") != std::string::npos);
  CHECK(needles.find("once more") == std::string::npos);
  const json found = json::parse(test::read_text(folder.path("pinpoint.json")));
  // Both breaks, each named: no touch was needed twice.
  std::set<json> segments;
  for (const json& suspect : found["findings"][0]["suspects"]) {
    segments.insert(suspect["segment"]);
  }
  CHECK(segments.count(json({"V4@bottom", "TP3"})) == 1);
  CHECK(segments.size() < 7);
}

TEST_CASE("vias found while sliding are put into the board file, every other byte of which stays",
          "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string text =
      "# The pump relay's board, drawn by hand.\n"
      "padwalk: board/1\nname: pump relay\n"
      "points:\n  A: {xy: [0, 0]}   # by the edge\n  B: {xy: [30, 0]}\n\n"
      "nets:\n  PUMP: [A,  B]   # way not drawn\n";
  const std::string board = folder.write("board.yaml", text);
  const std::string defects =
      folder.write("cut.yaml", "padwalk: defects/1\ndefects:\n  - {split: PUMP, off: [B]}\n");
  const std::string swept = folder.write("sweep.json", R"({"padwalk": "sweep/1", "findings": [
      {"id": "F1", "kind": "open", "net": "PUMP", "pieces": [["A"], ["B"]], "suspects": []}]})");
  const auto pinpoint = [&](const std::string& keys) {
    test::Running person({PADWALK_PROGRAM, "pinpoint", board, "--after", swept, "--simulate",
                          defects, "--keys", "--quiet", "--json", folder.path("pinpoint.json")});
    person.send(keys);
    return person.finish();
  };
  const test::Outcome kept = pinpoint("\nA\nV1 12.5 3\nB\nq\nn\n");
  CHECK(kept.out.find("      V1 noted, A's side\n") != std::string::npos);
  CHECK(test::read_text(board) == text);  // it was asked, and the answer was no
  const test::Outcome outcome = pinpoint("\nA\nV1 12.5 3\nB\nV2\nq\n\n");
  CAPTURE(outcome.out);
  CHECK(outcome.status == 1);
  CHECK(test::read_text(board) ==
        "# The pump relay's board, drawn by hand.\n"
        "padwalk: board/1\nname: pump relay\n"
        "points:\n  A: {xy: [0, 0]}   # by the edge\n  B: {xy: [30, 0]}\n"
        "  V1: {xy: [12.5, 3], via: [top, bottom]}\n  V2: {via: [top, bottom]}\n\n"
        "nets:\n  PUMP: [A,  B, V1, V2]   # way not drawn\n");
  const json found = json::parse(test::read_text(folder.path("pinpoint.json")));
  CHECK(found["findings"][0]["vias"] ==
        json::parse(R"([{"name": "V1", "xy": [12.5, 3.0], "with": "A"},
                        {"name": "V2", "xy": null, "with": "B"}])"));
}

TEST_CASE("pinpoint says what is wrong with what it is given", "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const auto pinpoint = [&](const std::string& after) {
    const test::Outcome outcome =
        test::padwalk({"pinpoint", kDemoBoard, "--after", after, "--simulate"});
    CHECK(outcome.status == 2);
    CHECK(outcome.out == "");
    return outcome.err;
  };
  const std::string expected = "; expected what 'padwalk sweep --json' writes\n";
  const std::string none = folder.path("none.json");
  CHECK(pinpoint(none) ==
        "padwalk: " + none + ": there is no such file; check the name and the folder\n");
  const std::string text = folder.write("text.json", "no JSON");
  CHECK(pinpoint(text) == "padwalk: " + text + ": it cannot be read as JSON of a sweep" + expected);
  const std::string plan = folder.write("plan.json", R"({"padwalk": "plan/1"})");
  CHECK(pinpoint(plan) == "padwalk: " + plan + ": it is \"plan/1\"" + expected);
  const std::string good = folder.write("good.json", R"({"padwalk": "sweep/1", "findings": []})");
  CHECK(pinpoint(good) == "padwalk: " + good + " has no open to pinpoint\n");
  const std::string other =
      folder.write("other.json",
                   R"({"padwalk": "sweep/1", "findings": [{"id": "F1", "kind": "open", "net": "N",
          "pieces": [["U99.1"], ["U1.1"]], "suspects": []}]})");
  CHECK(pinpoint(other) == "padwalk: " + other + ": the board has no point U99.1" + expected);
  const auto swept = [&](const std::string& net, const std::string& pieces) {
    return folder.write("swept.json", R"({"padwalk": "sweep/1", "findings": [{"id": "F1",
        "kind": "open", "suspects": [], "net": ")" +
                                          net + R"(", "pieces": )" + pieces + "}]}");
  };
  const std::string file = folder.path("swept.json");
  CHECK(pinpoint(swept("TIDE_CLK", R"([["U1.16"], ["U1.1"]])")) ==
        "padwalk: " + file + ": U1.1 is not in net TIDE_CLK, or must never be driven" + expected);
  CHECK(pinpoint(swept("TIDE_CLK", R"([["U1.16"], []])")) ==
        "padwalk: " + file + ": a piece of net TIDE_CLK is empty" + expected);
  CHECK(pinpoint(swept("TIDE_CLK", R"([["U1.16"]])")) ==
        "padwalk: " + file + ": net TIDE_CLK is in fewer than two pieces" + expected);
}

TEST_CASE("beside a weak joint the tip is with the side that it conducts to well",
          "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", R"({"padwalk": "sweep/1", "findings": [
      {"id": "F1", "kind": "high resistance", "net": "TIDE_CLK",
       "pieces": [["U1.16", "J1.10", "TP3"], ["U6.3"]], "suspects": []}]})");
  const std::string weak =
      folder.write("weak.yaml",
                   "padwalk: defects/1\ndefects:\n"
                   "  - {high resistance: [V4@top, V4@bottom], value: 3 ohm}\n");
  const test::Outcome outcome =
      test::padwalk({"pinpoint", kDemoBoard, "--after", swept, "--simulate", weak});
  CHECK(outcome.status == 1);
  CHECK(outcome.out.find("closes the break") == std::string::npos);
  CHECK(outcome.out.find("      the barrel of the hole, V4@top to V4@bottom\n") !=
        std::string::npos);
}

TEST_CASE("a board that is live under the tip is refused, net by net", "[tools][pinpoint]") {
  const test::TemporaryFolder folder;
  const std::string swept = folder.write("sweep.json", kSwept);
  const std::string live = folder.write("live.yaml",
                                        "padwalk: defects/1\ndefects:\n"
                                        "  - open: [V4@bottom, TP3]\n"
                                        "  - {voltage: [U6.3, U1.16], value: 2.1 V, behind: 1k}\n");
  const test::Outcome outcome =
      test::padwalk({"pinpoint", kDemoBoard, "--after", swept, "--simulate", live});
  CHECK(outcome.status == 4);
  CHECK(outcome.out.find("REFUSED: there is voltage on the board.") != std::string::npos);
  CHECK(outcome.out.find(" on net TIDE_CLK: ") != std::string::npos);
}
