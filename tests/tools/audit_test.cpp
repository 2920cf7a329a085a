// SPDX-License-Identifier: MIT
//
// `padwalk audit` as a person runs it: a switch on its board, and loose ones. A contact's limit of
// 1 ohm: low-level life limit of MIL-PRF-22710H 4.5.23.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;
using test::kDemoBoard;

struct Audited {
  int status = -1;
  std::string out;
  json result;

  /// The kinds of its findings, in order.
  std::vector<std::string> kinds() const {
    std::vector<std::string> all;
    for (const json& finding : result.at("findings")) {
      all.push_back(finding.at("kind"));
    }
    return all;
  }
  /// What the two showed there.
  json seen(const std::string& a, const std::string& b, const std::string& position) const {
    for (const json& pair : result.at("pairs")) {
      for (const json& at : pair.at("at")) {
        if (pair.at("between") == json({a, b}) && at.at("position") == position) {
          return at;
        }
      }
    }
    return nullptr;
  }
};

Audited audit(std::vector<std::string> words) {
  const test::TemporaryFolder folder;
  words.insert(words.begin(), "audit");
  words.insert(words.end(), {"--json", folder.path("audit.json")});
  const test::Outcome outcome = test::padwalk(words);
  CAPTURE(outcome.out, outcome.err);
  CHECK(outcome.err == "");
  const std::string text = test::read_text(folder.path("audit.json"));
  return {outcome.status, outcome.out, text.empty() ? json() : json::parse(text)};
}

/// A loose switch with these defects.
Audited loose(const std::string& terminals, const std::string& form, const std::string& defects,
              const std::vector<std::string>& more = {}) {
  const test::TemporaryFolder folder;
  const std::string file =
      folder.write("defects.yaml", "padwalk: defects/1\ndefects: [" + defects + "]\n");
  std::vector<std::string> words = {"--terminals", terminals,           "--simulate",
                                    file,          "--simulate-switch", form};
  words.insert(words.end(), more.begin(), more.end());
  return audit(words);
}

Audited on_demo(const std::string& defects, const std::vector<std::string>& more = {}) {
  const test::TemporaryFolder folder;
  const std::string file =
      folder.write("defects.yaml", "padwalk: defects/1\ndefects: [" + defects + "]\n");
  std::vector<std::string> words = {kDemoBoard, "--switch", "S1", "--simulate", file};
  words.insert(words.end(), more.begin(), more.end());
  return audit(words);
}

}  // namespace

TEST_CASE("the reset key of the demo board is audited where it sits", "[tools][audit]") {
  const Audited healthy = on_demo("", {"--times", "2"});
  CHECK(healthy.status == 0);
  // Parts and clamps of the board lie beside the open contact.
  CHECK(std::regex_replace(healthy.out, std::regex("open, [0-9.]+ kohm"), "open, N kohm") ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "Lead 1 on S1.1, lead 2 on S1.2; no other is needed.\n"
        "1 of 2: leave S1 out, press Enter (s: stop): \n"
        "1 of 2: put S1 in and hold it, press Enter (s: stop): \n"
        "2 of 2: leave S1 out, press Enter (s: stop): \n"
        "2 of 2: put S1 in and hold it, press Enter (s: stop): \n"
        "let go of S1: y: it stays, n: it springs back, Enter: not told: n\n"
        "\n"
        "Contacts of S1, read 2 times at 0.2 V (a dry circuit has 20 mV; more may break through "
        "oxide):\n"
        "      1-2  out: open, N kohm; in: below 0.2 ohm, spread 0.00\n"
        "Heard while it moved, to 0.1 ms:\n"
        "      1-2  closes cleanly  opens cleanly\n"
        "S1: form 1A, single pole single throw, normally open, momentary.\n"
        "Next: nothing: S1 does what the file says.\n");
  CHECK(healthy.result["padwalk"] == "audit/1");
  CHECK(healthy.result["verdict"] == "good");
  CHECK(healthy.result["form"] == "1A");
  CHECK(healthy.result["poles"] == 1);
  CHECK(healthy.result["throws"] == 1);
  CHECK(healthy.result["momentary"] == true);
  CHECK(healthy.result["positions"] == json::parse(R"({"out": [], "in": [["1", "2"]]})"));
  CHECK(healthy.result["volt"].get<double>() == Approx(0.2).epsilon(0.05));
  // 70 mohm and two leads of 25 mohm.
  const json in = healthy.seen("1", "2", "in");
  CHECK(in["reads"] == 2);
  CHECK(in["closed"] == 2);
  CHECK(std::abs(in["worst_ohm"].get<double>() - 0.12) < in["uncertainty_ohm"].get<double>());
  CHECK(in["verdict"] == "below 0.2 ohm");
  CHECK(healthy.seen("1", "2", "out")["verdict"] == "open");
}

TEST_CASE("what is wrong with the reset key is told", "[tools][audit]") {
  const Audited in =
      audit({kDemoBoard, "--switch", "S1", "--simulate", kDemo + "reset-key-stuck.yaml"});
  CHECK(in.status == 1);
  CHECK(in.kinds() == std::vector<std::string>{"stuck"});
  CHECK(in.out.find(
            "F1  S1: nothing changes: it stays as in position 'in', or 1 and 2 never open\n") !=
        std::string::npos);
  CHECK(in.out.find("Next: mend or replace S1, then audit again.\n") != std::string::npos);
  CHECK(on_demo("{switch: S1, stuck: out}").kinds() == std::vector<std::string>{"stuck"});

  const Audited worn = on_demo("{switch: S1, contact: [1, 2], value: 40 ohm}");
  CHECK(worn.status == 1);
  CHECK(worn.kinds() == std::vector<std::string>{"contact"});
  CHECK(worn.seen("1", "2", "in")["worst_ohm"].get<double>() == Approx(40.05).margin(0.5));
  CHECK(worn.out.find("Next: clean the contacts of S1, then audit again.\n") != std::string::npos);

  const Audited varies = on_demo("{switch: S1, contact: [1, 2], spread: 3 ohm}", {"--times", "8"});
  CHECK(varies.kinds() == std::vector<std::string>{"contact"});
  CHECK(varies.seen("1", "2", "in")["spread_ohm"].get<double>() > 1);

  const Audited sometimes =
      on_demo("{switch: S1, contact: [1, 2], fails every: 3}", {"--times", "7"});
  CHECK(sometimes.kinds() == std::vector<std::string>{"intermittent"});
  CHECK(sometimes.seen("1", "2", "in")["closed"] == 5);
  CHECK(sometimes.out.find("1 and 2 close 5 of 7 times in 'in'") != std::string::npos);

  const Audited leaks = on_demo("{leakage: [S1.1, S1.2], value: 3k}");
  CHECK(leaks.kinds() == std::vector<std::string>{"leak"});
  // Beside it a pull-up and a capacitor that fills through it.
  CHECK(leaks.seen("1", "2", "out")["least_open_ohm"].get<double>() == Approx(2700).epsilon(0.12));
}

TEST_CASE("a lead without contact is asked about before the switch is blamed", "[tools][audit]") {
  const Audited cured = on_demo("{no contact: S1.1}");
  CHECK(cured.status == 0);
  CHECK(cured.out.find("nothing from lead 1 on S1.1, lead 2 on S1.2: put them on anew") !=
        std::string::npos);
  CHECK(cured.result["times"] == 1);
  CHECK(on_demo("{no contact: S1.1, stays: true}").kinds() == std::vector<std::string>{"stuck"});
}

TEST_CASE("a live board is refused", "[tools][audit]") {
  const Audited live = on_demo("{voltage: [RESET_N, GND], value: 2 V, behind: 1k}");
  CHECK(live.status == 4);
  CHECK(live.result["verdict"] == "refused");
  CHECK(live.out.find("REFUSED: there is voltage on the board.") != std::string::npos);
  CHECK(live.result["live"].size() == 2);
}

TEST_CASE("parts beside a contact are counted, or said to hide it", "[tools][audit]") {
  const test::TemporaryFolder folder;
  const auto beside = [&](const std::string& ohm, const std::string& defects) {
    const std::string board = folder.write(
        "board.yaml",
        "padwalk: board/1\nname: pump relay\nparts:\n"
        "  S1: {kind: switch, package: row 2, positions: {out: [], in: [[1, 2]]}}\n"
        "  R5: {kind: resistor, value: " +
            ohm +
            ", tolerance: 5%, package: axial 10 mm}\n"
            "nets:\n  PUMP: [S1.1, R5.1]\n  GND: {role: ground, points: [S1.2, R5.2]}\n");
    const std::string file =
        folder.write("defects.yaml", "padwalk: defects/1\ndefects: [" + defects + "]\n");
    return audit({board, "--switch", "S1", "--simulate", file});
  };
  const Audited counted = beside("470 ohm", "");
  CHECK(counted.status == 0);
  CHECK(counted.result["momentary"] == false);
  CHECK(counted.seen("1", "2", "out")["least_open_ohm"].get<double>() == Approx(470).epsilon(0.05));
  CHECK(beside("470 ohm", "{leakage: [S1.1, S1.2], value: 600 ohm}").kinds() ==
        std::vector<std::string>{"leak"});
  CHECK(beside("47 ohm", "").status == 0);
  CHECK(beside("47 ohm", "{switch: S1, stuck: in}").kinds() == std::vector<std::string>{"stuck"});
  const Audited hidden = beside("4.7 ohm", "");
  CHECK(hidden.status == 5);
  CHECK(hidden.kinds().empty());
  CHECK(hidden.out.find("Not judged: 1-2: R5 may join them with 4.4") != std::string::npos);
  CHECK(hidden.out.find("Next: take S1 out, and audit it by itself") != std::string::npos);
}

TEST_CASE("loose switches are told by what they do", "[tools][audit]") {
  const Audited change = loose("3", "C", "");
  CHECK(change.status == 0);
  CHECK(change.result["form"] == "1C");
  CHECK(change.result["commons"] == json({"2"}));
  CHECK(change.out.find("      positions: {out: [[1, 2]], in: [[2, 3]]}, momentary: true\n"
                        "Next: put the line above into the board file.\n") != std::string::npos);
  CHECK(change.out.find("Form C or D") != std::string::npos);
  CHECK(loose("6", "2C latching", "").result["trade"] == "double pole double throw");
  CHECK(loose("3", "K", "").result["form"] == "1K");
  CHECK(loose("4", "1A+1B", "").result["form"] == "1A 1B");
  CHECK(loose("4", "reversing", "").result["form"] == "1 reversing");
  const Audited rotary = loose("14", "rotary 2x6", "");
  CHECK(rotary.result["form"] == "one of 6");
  CHECK(rotary.result["poles"] == 2);
  CHECK(rotary.result["commons"] == json({"1", "8"}));
  const Audited bank = loose("12", "bank 4", "");
  CHECK(bank.result["form"] == "one of 4");
  CHECK(bank.result["momentary"] == false);
  // Two terminals of a switch that stays: which of its positions is rest?
  CHECK(loose("2", "A", "").result["form"] == "1A");
  CHECK(loose("2", "A latching", "").result["form"] == "1A/B");
  CHECK(loose("24", "rotary 1x12", "").result["one_of"] == 12);
  // Its terminals have changed places: another switch, and told so.
  const Audited exchanged = loose("3", "C", "{switch: S1, exchanged: [2, 3]}");
  CHECK(exchanged.result["commons"] == json({"3"}));
  CHECK(exchanged.result["positions"] ==
        json::parse(R"({"out": [["1", "3"]], "in": [["2", "3"]]})"));
  const Audited dead = loose("3", "C", "{switch: S1, contact: [2, 3], value: open}");
  CHECK(dead.result["form"] == "1B");
  CHECK(dead.out.find("3 is a throw of it that never closes") != std::string::npos);
}

TEST_CASE("on a board each fault of a double throw is told", "[tools][audit]") {
  const test::TemporaryFolder folder;
  const std::string board =
      folder.write("board.yaml",
                   "padwalk: board/1\nname: tide or test\nparts:\n"
                   "  S2: {kind: switch, package: header 2x3, positions: {tide: [[1, 2], [4, 5]], "
                   "test: [[2, 3], [5, 6]]}}\n");
  const auto with = [&](const std::string& defects) {
    const std::string file =
        folder.write("defects.yaml", "padwalk: defects/1\ndefects: [" + defects + "]\n");
    return audit({board, "--switch", "S2", "--simulate", file});
  };
  const Audited healthy = with("");
  CHECK(healthy.status == 0);
  CHECK(healthy.out.find("put S2 to test and hold it") != std::string::npos);
  CHECK(healthy.result["form"] == "2C");
  CHECK(with("{switch: S2, exchanged: [4, 6]}").result["findings"][0]["terminals"] ==
        json({"4", "6"}));
  CHECK(with("{switch: S2, contact: [4, 5], value: open}, {switch: S2, contact: [5, 6], value: "
             "open}")
            .kinds() == std::vector<std::string>{"dead pole"});
  const Audited across = with("{short: [S2.1, S2.4], value: 0.3 ohm}");
  CHECK(across.kinds() == std::vector<std::string>{"across"});
  CHECK(across.result["findings"][0]["terminals"] == json({"1", "4"}));
  CHECK(with("{switch: S2, stuck: test}").result["findings"][0]["positions"] == json({"test"}));
}

TEST_CASE("defects of a switch that cannot be are refused by line", "[tools][audit]") {
  const test::TemporaryFolder folder;
  const auto refused = [&](const std::string& defect) {
    const std::string file =
        folder.write("d.yaml", "padwalk: defects/1\ndefects:\n  - " + defect + "\n");
    const test::Outcome outcome =
        test::padwalk({"audit", kDemoBoard, "--switch", "S1", "--simulate", file});
    CHECK(outcome.status == 2);
    return outcome.err.substr(outcome.err.find("d.yaml"));
  };
  CHECK(refused("{switch: S1, exchanged: [1]}") ==
        "d.yaml:3:29: switch: exchanged lists 1 pins; expected 2\n");
  CHECK(refused("{switch: S1, exchanged: [1, 3]}") == "d.yaml:3:33: switch: S1 has no pin 3\n");
  CHECK(refused("{switch: S1, fails every: 3}").find("contact") != std::string::npos);
  CHECK(refused("{switch: S1, contact: [1, 2], fails every: 1}").find("fails every") !=
        std::string::npos);
  CHECK(refused("{switch: S1, contact: [1, 2]}").find("value") != std::string::npos);
}

TEST_CASE("a person operates the switch and may stop", "[tools][audit]") {
  const test::TemporaryFolder folder;
  const auto typed = [&](const std::string& keys) {
    test::Running person({PADWALK_PROGRAM, "audit", "--terminals", "2", "--simulate",
                          "--simulate-switch", "A", "--keys", "--json", folder.path("a.json")});
    person.send(keys);
    return person.finish();
  };
  CHECK(typed("\n\ny\n").status == 0);
  CHECK(json::parse(test::read_text(folder.path("a.json")))["form"] == "1A/B");
  CHECK(typed("\n\nn\n").status == 0);
  CHECK(json::parse(test::read_text(folder.path("a.json")))["momentary"] == true);
  const test::Outcome stopped = typed("\ns\n");
  CHECK(stopped.status == 5);
  CHECK(stopped.out.find("Next: audit again, to the end.\n") != std::string::npos);
  // A real port, a switch that nobody moves: it was never pressed.
  test::Running tester({PADWALK_PROGRAM, "simulate", kDemoBoard});
  const std::string port = tester.read_line();
  test::Running person({PADWALK_PROGRAM, "audit", "--terminals", "2", "--port", port});
  person.send("\n\nn\n\n\nn\n");
  const test::Outcome outcome = person.finish();
  CHECK(outcome.out.find("No position of the switch differs from another.") != std::string::npos);
}

TEST_CASE("audit says what is wrong with what it is given", "[tools][audit]") {
  const auto refused = [](std::vector<std::string> words) {
    words.insert(words.begin(), "audit");
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.status == 2);
    CHECK(outcome.out == "");
    return outcome.err;
  };
  CHECK(refused({"--simulate"}) ==
        "padwalk: audit needs a switch: BOARD --switch S1, or --terminals N for one without a "
        "board\n");
  CHECK(refused({"--terminals", "3"}) ==
        "padwalk: audit needs a tester: --port NAME, or --simulate to try without one\n");
  CHECK(refused({"--terminals", "3", "--simulate"})
            .find("--simulate needs --simulate-switch FORM here") != std::string::npos);
  CHECK(refused({kDemoBoard, "--switch", "U1", "--simulate"}) ==
        "padwalk: --switch U1: it is no switch; its switches: S1\n");
  CHECK(refused({kDemoBoard, "--switch", "S9", "--simulate"}) ==
        "padwalk: --switch S9: the board has no such part; its switches: S1\n");
  const auto form = [&](const std::string& text) {
    return refused({"--terminals", "3", "--simulate", "--simulate-switch", text});
  };
  for (const char* wrong :
       {"Q", "0A", "A+", "K+A", "rotary 1x1", "bank 1", "momentary", "rotary"}) {
    CAPTURE(wrong);
    CHECK(form(wrong).find("is not known; it may be A, B, C, D, K or reversing") !=
          std::string::npos);
  }
  CHECK(form("2C") == "padwalk: --simulate-switch 2C has 6 terminals, and --terminals says 3\n");
  CHECK(refused({"--terminals", "3", "--positions", "up,down,up", "--simulate", "--simulate-switch",
                 "C"}) ==
        "padwalk: --positions needs two names or more, each once, the one at rest first\n");
  CHECK(refused(
            {"--terminals", "3", "--positions", "a,b,c", "--simulate", "--simulate-switch", "C"}) ==
        "padwalk: --positions names 3 positions, and --simulate-switch C has 2\n");
}

TEST_CASE("bounce is heard while a switch moves", "[tools][audit]") {
  const Audited worn = on_demo("{switch: S1, bounce: 15 ms}", {"--times", "2"});
  CHECK(worn.status == 1);
  CHECK(worn.kinds() == std::vector<std::string>{"bounce"});
  const double gap_ms = worn.result["heard_to_ms"];
  CHECK(gap_ms < 0.2);
  const json contact = worn.result["bounce_ms"][0];
  CHECK(contact["between"] == json({"1", "2"}));
  CHECK(contact["closings"] == 2);
  CHECK(contact["openings"] == 1);
  CHECK(std::abs(contact["closing"].get<double>() - 15) <= gap_ms);
  CHECK(std::abs(contact["opening"].get<double>() - 15) <= gap_ms);
  CHECK(worn.out.find("F1  S1: 1 and 2 bounce for 15 ms") != std::string::npos);

  const Audited usual = on_demo("{switch: S1, bounce: 6 ms}", {"--times", "2"});
  CHECK(usual.status == 0);
  CHECK(std::abs(usual.result["bounce_ms"][0]["closing"].get<double>() - 6) <= gap_ms);
  CHECK(usual.out.find("closes with 6 ms of bounce") != std::string::npos);
}

TEST_CASE("15 ms of bounce is the one finding of each form", "[tools][audit]") {
  // Forms by their definitions (relay and switch trade: knowledge.ni.com kA00Z0000019VEVSA2).
  const std::vector<std::pair<std::string, std::string>> forms = {
      {"A", "2"},  {"B", "2"},  {"C", "3"},  {"D", "3"},  {"K", "3"},
      {"2A", "4"}, {"2B", "4"}, {"2C", "6"}, {"2D", "6"}, {"2K", "6"}};
  for (const auto& [form, terminals] : forms) {
    INFO(form);
    const Audited bouncing =
        loose(terminals, form, "{switch: S1, bounce: 15 ms}", {"--times", "4"});
    CHECK(bouncing.status == 1);
    CHECK(bouncing.result["form"] == (form.size() == 1 ? "1" + form : form));
    CHECK(bouncing.result["ambiguous"].empty());
    const double gap_ms = bouncing.result["heard_to_ms"];
    CHECK(gap_ms < 0.2);
    for (const std::string& kind : bouncing.kinds()) {
      CHECK(kind == "bounce");
    }
    CHECK(bouncing.kinds().size() == bouncing.result["bounce_ms"].size());
    for (const json& contact : bouncing.result["bounce_ms"]) {
      CHECK(std::abs(contact["closing"].get<double>() - 15) <= gap_ms);
      CHECK(std::abs(contact["opening"].get<double>() - 15) <= gap_ms);
    }
    const Audited clean = loose(terminals, form, "", {"--times", "4"});
    CHECK(clean.status == 0);
    CHECK(clean.kinds().empty());
  }
}

TEST_CASE("each fault of each form, momentary or latching, is the one finding",
          "[tools][audit][slow][.long]") {
  // Forms by their definitions (relay and switch trade: knowledge.ni.com kA00Z0000019VEVSA2). Which
  // terminal of a double-throw switch is the common: common practice, no source.
  struct Form {
    const char* name;
    std::size_t terminals;
    std::vector<std::string> positions;
    const char* of_one_pole;
    const char* of_two_poles;
  };
  const std::vector<Form> forms = {
      {"A", 2, {"out", "in"}, "out: [], in: [[1, 2]]", "out: [], in: [[1, 2], [3, 4]]"},
      {"B", 2, {"out", "in"}, "out: [[1, 2]], in: []", "out: [[1, 2], [3, 4]], in: []"},
      {"C",
       3,
       {"out", "in"},
       "out: [[1, 2]], in: [[2, 3]]",
       "out: [[1, 2], [4, 5]], in: [[2, 3], [5, 6]]"},
      {"K",
       3,
       {"centre", "up", "down"},
       "centre: [], up: [[1, 2]], down: [[2, 3]]",
       "centre: [], up: [[1, 2], [4, 5]], down: [[2, 3], [5, 6]]"}};
  for (const Form& form : forms) {
    for (const std::size_t poles : {1, 2}) {
      for (const char* momentary : {"true", "false"}) {
        const std::size_t count = poles * form.terminals;
        std::string board =
            "padwalk: board/1\nname: key card\nparts:\n  S1: {kind: switch, package: row " +
            std::to_string(count) + ", positions: {" +
            (poles == 1 ? form.of_one_pole : form.of_two_poles) + "}, momentary: " + momentary +
            "}\n  J1: {kind: connector, package: row " + std::to_string(count) + "}\nnets:\n";
        for (std::size_t n = 1; n <= count; ++n) {
          const std::string pin = std::to_string(n);
          board += "  N" + pin + ": [S1." + pin + ", J1." + pin + "]\n";
        }
        const test::TemporaryFolder folder;
        const std::string file = folder.write("card.yaml", board);
        const auto kinds = [&](const std::string& defect) {
          const std::string defects =
              folder.write("d.yaml", "padwalk: defects/1\ndefects: [" + defect + "]\n");
          const Audited audited =
              audit({file, "--switch", "S1", "--simulate", defects, "--times", "3"});
          const std::vector<std::string> all = audited.kinds();
          CHECK(audited.status == (defect.empty() ? 0 : 1));
          return std::set<std::string>(all.begin(), all.end());
        };
        using Kinds = std::set<std::string>;
        INFO(poles << form.name << ", momentary: " << momentary);
        CHECK(kinds("").empty());
        for (const std::string& position : form.positions) {
          CHECK(kinds("{switch: S1, stuck: " + position + "}") == Kinds{"stuck"});
        }
        CHECK(kinds("{switch: S1, contact: [1, 2], value: 40 ohm}") == Kinds{"contact"});
        CHECK(kinds("{switch: S1, bounce: 15 ms}") == Kinds{"bounce"});
        if (form.terminals == 3) {
          CHECK(kinds("{switch: S1, exchanged: [1, 3]}") == Kinds{"exchanged"});
        }
        if (poles == 2) {
          CHECK(kinds("{leakage: [S1.1, S1." + std::to_string(form.terminals + 1) +
                      "], value: 5k}") == Kinds{"leak"});
        }
      }
    }
  }
}

TEST_CASE("a change-over is heard to make or to break first", "[tools][audit]") {
  for (const std::string bounce : {"", "{switch: S1, bounce: 6 ms}"}) {
    const Audited breaks = loose("3", "C", bounce, {"--times", "2"});
    CHECK(breaks.result["form"] == "1C");
    CHECK(breaks.result["order"] == "break before make");
    CHECK(breaks.result["ambiguous"].empty());
    const Audited makes = loose("3", "D", bounce, {"--times", "2"});
    CHECK(makes.result["form"] == "1D");
    CHECK(makes.result["order"] == "make before break");
    CHECK(makes.result["bounce_ms"].size() == 2);
  }
  // Nothing was known of it before it moved.
  const Audited once = loose("3", "D", "");
  CHECK(once.result["order"].is_null());
  CHECK(once.out.find("Bounce was not heard; with --times 2 it is.") != std::string::npos);
  // Each of two poles once.
  const Audited two = loose("6", "2C", "", {"--times", "3"});
  CHECK(two.result["form"] == "2C");
  CHECK(two.result["bounce_ms"].size() == 4);
}
