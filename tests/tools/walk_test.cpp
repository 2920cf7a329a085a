// SPDX-License-Identifier: MIT
//
// `padwalk walk` as a person does it: what the screen shows, what is heard, and what is kept.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"
#include "tools/large_text.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;
using test::kDemoBoard;

test::Outcome walk(std::vector<std::string> arguments, const std::string& typed,
                   const std::vector<std::string>& before = {}) {
  std::vector<std::string> command = before;
  command.insert(command.end(), {PADWALK_PROGRAM, "walk"});
  command.insert(command.end(), arguments.begin(), arguments.end());
  test::Running running(command);
  running.send(typed);
  return running.finish();
}

bool says(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("a walk over the corroded board names what is touched and keeps it", "[tools][walk]") {
  const test::TemporaryFolder folder;
  // What is expected, another net and again to be sure of it, nothing and again.
  const test::Outcome outcome =
      walk({kDemoBoard, "--hold", "U1.20,U1.40,U1.16,U6.10,J2.2", "--simulate",
            kDemo + "corroded.yaml", "--quiet", "--json", folder.path("walk.json")},
           "J1.10\nU6.9\n\nU6.3\n\n\nU9.99\nq\n");
  CHECK(outcome.err == "");
  CHECK(outcome.status == 1);
  const std::string screen = outcome.out.substr(0, outcome.out.find("Tide gauge logger"));
  CHECK(screen ==
        "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
        "Leads on U1.20, U1.40, U1.16, U6.10, J2.2; the tip is lead 6.\n"
        "Touch anything. A point's name and Enter: you touch it next; a net's: you expect it.\n"
        "Enter alone: the tip is on it now. q and Enter: the end.\n"
        "\n"
        "##### ### ####  #####        #### #     #   #\n"
        "  #    #  #   # #           #     #     #  #\n"
        "  #    #  #   # ####        #     #     ###\n"
        "  #    #  #   # #           #     #     #  #\n"
        "  #   ### ####  ##### #####  #### ##### #   #\n"
        "\n"
        "      TIDE_CLK as expected, at J1.10, not sure yet\n"
        "      sure: 0.11 ohm ± 0.12 to U1.16, at 0.2 V, kept for J1.10\n"
        "\n"
        " ###   ####  ####        ###  #   # #####\n"
        "#   # #     #           #   # #   #   #\n"
        "#   #  ###  #           #   # #   #   #\n"
        "#   #     # #           #   # #   #   #\n"
        " ###  ####   #### #####  ###   ###    #\n"
        "\n"
        "      OSC_OUT: another net, at U6.9; expected CPU_CLK, not sure yet\n"
        "      sure: 0.45 ohm ± 0.12 to U6.10, at 0.2 V\n"
        "      sure: 0.45 ohm ± 0.12 to U6.10, at 0.2 V, kept for U6.9\n"
        "\n"
        "#   #  ###  ##### #   # ### #   #  ####\n"
        "##  # #   #   #   #   #  #  ##  # #\n"
        "# # # #   #   #   #####  #  # # # #  ##\n"
        "#  ## #   #   #   #   #  #  #  ## #   #\n"
        "#   #  ###    #   #   # ### #   #  ####\n"
        "\n"
        "      nothing, at U6.3; expected TIDE_CLK\n"
        "      press harder, or beside it, and Enter once more\n"
        "\n"
        "#   #  ###  ##### #   # ### #   #  ####\n"
        "##  # #   #   #   #   #  #  ##  # #\n"
        "# # # #   #   #   #####  #  # # # #  ##\n"
        "#  ## #   #   #   #   #  #  #  ## #   #\n"
        "#   #  ###    #   #   # ### #   #  ####\n"
        "\n"
        "      nothing, at U6.3; expected TIDE_CLK\n"
        "      sure: nothing, kept for U6.3\n"
        "The board has no point and no net U9.99.\n"
        "\n");

  // What was kept is what a sweep of these points would find.
  const json result = json::parse(test::read_text(folder.path("walk.json")));
  CHECK(result["padwalk"] == "walk/1");
  REQUIRE(result["touches"].size() == 4);
  CHECK(result["touches"][0]["answer"] == "expected");
  CHECK(result["touches"][0]["lead"] == "U1.16");
  CHECK(result["touches"][1]["answer"] == "another");
  CHECK(result["touches"][1]["evidence"] == true);
  CHECK(result["touches"][2]["evidence"] == false);
  CHECK(result["touches"][3]["answer"] == "nothing");
  CHECK(result["touches"][3]["evidence"] == true);
  const json& findings = result["sweep"]["findings"];
  REQUIRE(findings.size() == 2);
  CHECK(findings[0]["kind"] == "open");
  CHECK(findings[0]["net"] == "TIDE_CLK");
  CHECK(findings[1]["kind"] == "short");
  CHECK(findings[1]["nets"] == json({"OSC_OUT", "CPU_CLK"}));
  CHECK(result["sweep"]["touches"] == 3);
}

TEST_CASE("one silence of the tip is no finding, nor is what it touches unasked", "[tools][walk]") {
  const test::Outcome outcome = walk({kDemoBoard, "--hold", "U1.20,U1.40,U1.16,U6.10,J2.2",
                                      "--simulate", kDemo + "corroded.yaml", "--quiet"},
                                     "U6.3\n\nU6.9\nVCC\n");
  CHECK(says(outcome.out, "nothing, at U6.3"));
  CHECK(says(outcome.out, "OSC_OUT: another net, at U6.9; expected CPU_CLK"));
  CHECK(says(outcome.out, "Good as far as tested: 5 of 218 points"));
  CHECK(outcome.status == 0);
}

TEST_CASE("a walk holds what a plan puts on first, and two needles touch", "[tools][walk]") {
  const test::TemporaryFolder folder;
  const test::Outcome outcome = walk({kDemoBoard, "--fixtures", kDemo + "fixtures.yaml",
                                      "--simulate", "--quiet", "--json", folder.path("walk.json")},
                                     "J1.10\nTP3\n");
  CHECK(outcome.err == "");
  CHECK(outcome.status == 0);
  CHECK(says(outcome.out, "clip-40 on U1"));
  CHECK(says(outcome.out, "TIDE_CLK as expected, at J1.10"));
  const json result = json::parse(test::read_text(folder.path("walk.json")));
  REQUIRE(result["touches"].size() == 2);
  CHECK(result["touches"][1]["point"] == "TP3");
  CHECK(result["touches"][1]["evidence"] == true);
}

TEST_CASE("a tip on something live ends the walk, and says so", "[tools][walk]") {
  // The leads are on nets that no part joins to the cell's.
  const test::Outcome outcome = walk(
      {kDemoBoard, "--hold", "U1.20,J1.10", "--simulate", kDemo + "cell-left-in.yaml", "--quiet"},
      "TP4\nJ1.10\n");
  CHECK(outcome.status == 4);
  CHECK(says(outcome.out, "The tip is on something live: +0.7"));
  CHECK(says(outcome.out, "REFUSED: there is voltage on the board."));
  CHECK_FALSE(says(outcome.out, "TIDE_CLK as expected"));
}

TEST_CASE("tones and names are given to what the system has for them", "[tools][walk]") {
  const test::TemporaryFolder folder;
  for (const char* program : {"aplay", "espeak-ng"}) {
    folder.write(program, "#!/bin/sh\nbytes=$(/usr/bin/wc -c)\necho \"$bytes $*\" >> \"$0.log\"\n");
    std::filesystem::permissions(folder.path(program), std::filesystem::perms::owner_all);
  }
  const std::vector<std::string> path = {"env", "PATH=" + folder.path("")};
  const std::vector<std::string> arguments = {kDemoBoard, "--hold", "U1.20,U1.16", "--simulate"};
  const auto heard = [&](const std::string& program) {
    return test::read_text(folder.path(program + ".log"));
  };
  walk(arguments, "J1.10\nU6.9\n\n", path);
  // Expected, then nothing: 0.12 s and 0.25 s of 16000 samples a second, two bytes each. The
  // programs are not waited for.
  for (int tries = 0; tries < 100 && (heard("aplay").size() < 80 || heard("espeak-ng").size() < 20);
       ++tries) {
    usleep(20'000);
  }
  CHECK(says(heard("aplay"), "3840 -q -t raw -f S16_LE -r 16000 -\n"));
  CHECK(says(heard("aplay"), "8000 -q -t raw -f S16_LE -r 16000 -\n"));
  CHECK(says(heard("espeak-ng"), "0 -- TIDE_CLK\n"));
  CHECK(says(heard("espeak-ng"), "0 -- nothing\n"));

  std::filesystem::remove(folder.path("aplay.log"));
  std::vector<std::string> quiet = arguments;
  quiet.push_back("--quiet");
  walk(quiet, "J1.10\n", path);
  usleep(100'000);
  CHECK(heard("aplay").empty());
}

TEST_CASE("a walk says what is wrong with what it is given", "[tools][walk]") {
  const auto complaint = [](std::vector<std::string> arguments) {
    const test::Outcome outcome = walk(std::move(arguments), "");
    CHECK(outcome.status == 2);
    return outcome.err;
  };
  CHECK(complaint({kDemoBoard, "--simulate", "--hold", "U9.99,U1.1"}) ==
        "padwalk: --hold U9.99: the board has no such point\n");
  CHECK(complaint({kDemoBoard, "--simulate", "--hold", "U1.1"}) ==
        "padwalk: a walk needs two leads at least beside the tip\n");
  CHECK(complaint({kDemoBoard}) ==
        "padwalk: walk needs a tester: --port NAME, or --simulate to try without one\n");
  const test::TemporaryFolder folder;
  const std::string bench = folder.write(
      "bench.yaml",
      "padwalk: fixtures/1\nfixtures:\n  g: {kind: grabber, channels: 1-9, move: 9 s}\n");
  CHECK(complaint({kDemoBoard, "--simulate", "--fixtures", bench}) ==
        "padwalk: " + bench + " has no tip to walk with\n");
}

TEST_CASE("large letters keep the end of a name that is too wide", "[tools][walk]") {
  CHECK(tools::large_text("A1", 80) ==
        std::vector<std::string>{" ###   #", "#   # ##", "#####  #", "#   #  #", "#   # ###"});
  CHECK(tools::large_text("XA1", 12) == tools::large_text("A1", 80));
  CHECK(tools::large_text("\x01", 80).front() == "#####");  // a box
  CHECK(tools::large_text("", 80) == std::vector<std::string>(5));
}
