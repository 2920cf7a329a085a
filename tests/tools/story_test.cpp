// SPDX-License-Identifier: MIT
//
// A whole repair, from a sheet of paper to the record: the float card of a harbour's tide gauge, by
// the commands that a person types.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;
using Words = std::vector<std::string>;

/// One command, with what is typed meanwhile.
test::Outcome say(Words words, const std::string& typed = "") {
  words.insert(words.begin(), PADWALK_PROGRAM);
  test::Running running(words);
  running.send(typed);
  return running.finish();
}

using test::has;

void put_into(const std::string& file, const std::string& before, const std::string& after) {
  std::string text = test::read_text(file);
  const std::size_t at = text.find(before);
  INFO(text);
  REQUIRE(at != std::string::npos);
  std::ofstream(file, std::ios::binary) << text.replace(at, before.size(), after);
}

}  // namespace

TEST_CASE("the whole story: from paper to the record of a repair", "[tools][story]") {
  const test::TemporaryFolder folder;
  const std::string board = folder.path("float.yaml");
  const std::string job = folder.path("float.job");
  const auto done = [](const test::Outcome& outcome, int status, const std::string& says) {
    CAPTURE(outcome.out, outcome.err);
    CHECK(outcome.status == status);
    CHECK(has(outcome.out, says));
  };

  // The sheet.
  done(say({"new", board, "--name", "Tide gauge, float card"}), 0, "float.yaml");
  done(say({"enter", board},
           "U1 DIP-14 74HC14\n\nU2 DIP-16 74HC138\n\nJ1 header 2x5\nR1 axial 10 mm 4k7 5%\n"
           "S1 row 2\nGND J1.1 S1.1\nVCC J1.2 R1.1\nFLOAT J1.3 U1.1 R1.2\nSTEP U1.2 U2.1 J1.5\n"
           "SET U2.2 S1.2\nLAMP U2.15 J1.7\n"),
       0, "");
  // By hand: the via that one sees under the old cell, and what the switch does.
  put_into(board, "  STEP: [U1.2, U2.1, J1.5]",
           "  STEP: {route: [{side: top, chain: [U1.2, V1]}, {side: bottom, chain: [V1, U2.1, "
           "J1.5]}]}");
  put_into(board, "nets:", "points:\n  V1: {xy: [20, 12], via: [top, bottom]}\nnets:");
  put_into(board, "S1: {kind: switch, ",
           "S1: {kind: switch, positions: {out: [], set: [[1, 2]]}, momentary: true, ");
  done(say({"check", board}), 0, "Tide gauge, float card");
  done(say({"plan", board}), 0, "put clip-16 on U1");

  // The board as it came in, and what the person will have done by the end.
  const std::string defects =
      folder.write("float-defects.yaml",
                   "padwalk: defects/1\n"
                   "defects:\n  - open: [V1@top, V1@bottom]\n"
                   "then:\n  mended:\n    - open: [V1@top, V1@bottom]\n"
                   "    - {wire: [U1.2, U2.1], gauge: 30, length: 30 mm}\n");
  const std::string found = folder.path("found.json");
  done(say({"sweep", board, "--simulate", defects, "--job", job, "--json", found}), 1,
       "OPEN   net STEP is in 2 pieces: one break");
  const json finding = json::parse(test::read_text(found)).at("findings").at(0);
  CHECK(finding.at("net") == "STEP");
  done(say({"pinpoint", board, "--after", found, "--simulate", defects, "--job", job}), 1,
       "the barrel of the hole, V1@top to V1@bottom");
  done(say({"settle", job, finding.at("id"), "fault"}), 0, "fault");

  // The wire.
  const std::string before = test::read_text(board);
  done(say({"confirm", board, "--wire", "U1.2", "U2.1", "--gauge", "30", "--length", "30mm",
            "--simulate", defects, "--job", job},
           "\n"),
       0, "RESTORED  net STEP is one piece: U1.2, U2.1, J1.5");
  CHECK(test::read_text(board) ==
        before + "wires:\n  W1: {between: [U1.2@bottom, U2.1@bottom], gauge: 30, length: 30 mm}\n");
  done(say({"audit", board, "--switch", "S1", "--simulate", "--job", job}), 0, "1A");
  done(say({"watch", board, "--net", "STEP", "--for", "1s", "--simulate", "--job", job}), 0,
       "STEP");
  done(say({"note", job, "lacquered over the wire"}), 0, "");

  // What the record tells, in order.
  const test::Outcome told = say({"job", job});
  CAPTURE(told.out);
  CHECK(told.status == 0);
  std::size_t at = 0;
  for (const char* part :
       {"sweep of float.yaml: faulty", "F1  open: STEP", "pinpoint of float.yaml: faulty",
        "settled F1", "confirm of float.yaml: restored",
        "a wire from U1.2@bottom to U2.1@bottom, net STEP", "audit of float.yaml: good",
        "watch of float.yaml: good", "note: lacquered over the wire",
        "Checklist:", "[x] touch: ", "[x] repair: ", "[x] confirm: ", "[ ] power: "}) {
    INFO(part);
    const std::size_t found_at = told.out.find(part, at);
    CHECK(found_at != std::string::npos);
    at = found_at == std::string::npos ? at : found_at;
  }
}
