// SPDX-License-Identifier: MIT
//
// What a person, a file, a port and a tester can do wrong: one clear sentence, the right exit
// status, nothing half-written. The program runs as its users run it.
#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>

#include "firmware-host/simulated/simulated_tester.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using test::Outcome;
using test::TemporaryFolder;

/// The sentence on standard error must be this, and nothing must be on standard output.
void expect(const Outcome& outcome, int status, const std::string& sentence) {
  CHECK(outcome.err == "padwalk: " + sentence + "\n");
  CHECK(outcome.out.empty());
  CHECK(outcome.status == status);
}

/// `padwalk check` of a text refuses it with "FILE" + `sentence`.
void expect_file(const std::string& text, const std::string& sentence) {
  const TemporaryFolder folder;
  const std::string path = folder.write("b.yaml", text);
  expect(test::padwalk({"check", path}), 2, path + sentence);
}

const std::string kGoodBoard =
    "padwalk: board/1\n"
    "name: bench test\n"
    "parts:\n"
    "  U1: {kind: ic, package: DIP-8, xy: [10, 20]}\n"
    "  R1: {kind: resistor, value: 4k7, package: axial 10 mm, xy: [30, 20]}\n"
    "nets:\n"
    "  A: {route: [[U1.1, R1.1]]}\n"
    "  B: [U1.2, R1.2]\n";

simulated::SimulatedTesterOptions tester_with(const simulated::LineFaults& faults,
                                              std::uint16_t version = 0) {
  simulated::SimulatedTesterOptions options;
  options.faults = faults;
  options.protocol_version = version;
  return options;
}

/// A tester with 16 channels and nothing on its leads.
simulated::Circuit bare_leads(std::size_t channels = 16) {
  simulated::Circuit circuit;
  circuit.leads.resize(channels);
  return circuit;
}

/// A sweep of kGoodBoard on a tester with these faults.
struct FaultySweep {
  TemporaryFolder folder;
  simulated::SimulatedTester tester;
  std::string port;
  Outcome outcome;

  explicit FaultySweep(const simulated::SimulatedTesterOptions& options, std::size_t channels = 16)
      : tester(bare_leads(channels), options), port(tester.port_name()) {
    outcome = test::padwalk({"sweep", folder.write("b.yaml", kGoodBoard), "--port", port, "--ask",
                             "no", "--json", folder.path("out.json")});
  }
};

}  // namespace

TEST_CASE("a board file that cannot be read", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string missing = folder.path("none.yaml");
  expect(test::padwalk({"check", missing}), 2,
         missing + ": there is no such file; check the name and the folder");
  expect(test::padwalk({"check", folder.path("")}), 2,
         folder.path("") + ": this is a folder; name a file in it");
  const std::string empty = folder.write("empty.yaml", "");
  expect(test::padwalk({"check", empty}), 2, empty + ": the file is empty; is it the right file?");
}

TEST_CASE("a board file that the user may not read", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string path = folder.write("b.yaml", kGoodBoard);
  std::filesystem::permissions(folder.path(""), std::filesystem::perms(0755));
  std::filesystem::permissions(path, std::filesystem::perms(0600));
  const std::string program = folder.path("padwalk");
  std::filesystem::copy_file(PADWALK_PROGRAM, program);
  expect(test::run({"setpriv", "--reuid", "65534", "--clear-groups", program, "check", path}), 2,
         path + ": no permission to read it; ask its owner, or try chmod +r");
}

TEST_CASE("a file that is no YAML of ours", "[tools][bad-input]") {
  expect_file(std::string("\x7f"
                          "ELF\0\1\2",
                          7),
              ":1:1: found the byte 0x7f, which no text holds; this looks like a binary file, "
              "expected YAML text");
  expect_file("padwalk: board/2\n",
              ":1:10: this file is board/2, which this program does not know; expected board/1");
  expect_file("padwalk: defects/1\n", ":1:10: this file is defects/1; expected board/1");
  expect_file("name: x\n",
              ":1:1: this is not a padwalk file; expected \"padwalk: board/1\" as its first line");
  expect_file("padwalk: board/1\na: &x [1]\nb: [*x, *x]\n",
              ":2:4: an anchor (&name) is not allowed; quote a name that begins with &");
}

TEST_CASE("a hundred megabytes of brackets are refused", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string path = folder.write("b.yaml", std::string(100'000'000, '['));
  expect(test::padwalk({"check", path}), 2,
         path + ": the file has more than 64 MB, which no board needs; is it the right file?");
  const std::string less =
      folder.write("c.yaml", "padwalk: board/1\nnets: " + std::string(60'000'000, '['));
  expect(test::padwalk({"check", less}), 2,
         less + ":2:39: brackets or lists nest deeper than 32; no padwalk file needs that");
}

TEST_CASE("mistakes of content in a board file", "[tools][bad-input]") {
  expect_file(kGoodBoard + "nets:\n  C: [U1.3]\n",
              ":9:1: \"nets\" stands here and in line 6; expected once");
  expect_file(kGoodBoard + "  A: [U1.3]\n", ":9:3: \"A\" stands here and in line 7; expected once");
  expect_file(kGoodBoard + "  C: [U1.9]\n", ":9:7: net \"C\" lists U1.9; package DIP-8 has 8 pins");
  expect_file(kGoodBoard + "  C: [U1.2]\n",
              ":9:7: net \"C\" lists U1.2, which net \"B\" has already in line 8; a point belongs "
              "to one net");
  const TemporaryFolder folder;
  const std::string path =
      folder.write("b.yaml", kGoodBoard + "layers: 99\ncolour: green\nregions: {}\n");
  expect(
      test::padwalk({"check", path}), 2,
      path + ":9:9: layers is \"99\"; expected a whole number from 1 to 16\n" + path +
          ":10:1: the key \"colour\" is not known; expected one of padwalk, name, state, layers, "
          "limits, note, parts, points, nets, wires, copper, regions, neighbours");
}

TEST_CASE("a net that is a comment by mistake is doubtful", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string path = folder.write("b.yaml", kGoodBoard + "  #RESET: [U1.3]\n");
  const Outcome outcome = test::padwalk({"check", path});
  CHECK(outcome.status == 0);
  CHECK(outcome.out.find(path + ":9:3: #RESET: … is a comment, because it begins with #; if it is "
                                "a net, write \"#RESET\": … in quotes") != std::string::npos);
}

TEST_CASE("a defects file that does not fit the board", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  const auto refused = [&](const std::string& defect, const std::string& sentence) {
    const std::string path =
        folder.write("d.yaml", "padwalk: defects/1\ndefects:\n  - " + defect + "\n");
    const Outcome outcome = test::padwalk({"sweep", board, "--simulate", path});
    CHECK(outcome.status == 2);
    CHECK(outcome.err == "padwalk: " + path + sentence + "\n");
  };
  refused("open: [U1.1, U1.2]",
          ":3:11: open: no segment joins U1.1 and U1.2; U1.1 is joined with U1.1@leg, R1.1@pad");
  refused("{intermittent: [U1.1, R1.1], open for: 8 ms, every: 2 us}",
          ":3:44: intermittent: open for is 0.008 s and every is 2e-06 s; expected it shorter");
  refused("{switch: R1, stuck: in}", ":3:14: switch: R1 is no switch with positions on this board");
}

TEST_CASE("a netlist that cannot be imported leaves no file behind", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string netlist = folder.write(
      "n.d356", "P  UNITS CUST 0\n317GND              VIA        MD0118PA00X+0472\n999\n");
  const std::string board = folder.path("b.yaml");
  expect(test::padwalk({"import", netlist, "-o", board}), 2,
         netlist +
             ":2:48: truncated record, no Y coordinate; expected Y, a sign and six digits in "
             "columns 50 to 57");
  CHECK(!std::filesystem::exists(board));
  CHECK(std::distance(std::filesystem::directory_iterator(folder.path("")), {}) == 1);
  const std::string no_units = folder.write(
      "u.d356", "327GND              U1    -1          A01X+032500Y-030100X0600Y2800R000S3\n999\n");
  expect(test::padwalk({"import", no_units, "-o", board}), 2,
         no_units +
             ": the file does not say its units (no P UNITS); pass --units inch for 0.0001 "
             "inch or --units mm for 0.001 mm");
  const Outcome with_units = test::padwalk({"import", no_units, "-o", board, "--units", "inch"});
  CHECK(with_units.status == 0);
  CHECK(std::filesystem::exists(board));
  CHECK(with_units.out.find("the way of the copper is known of 0 nets, in part of 0\n") !=
        std::string::npos);
}

TEST_CASE("an output file that cannot be written is said before anything is measured",
          "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  const std::string nowhere = folder.path("none/out.json");
  expect(test::padwalk({"sweep", board, "--simulate", "--json", nowhere}), 2,
         "cannot write " + nowhere + ": No such file or directory; name another file");
  expect(test::padwalk({"check", board, "--rewrite", folder.path("")}), 2,
         "cannot write " + folder.path("") + ": it is a directory; name another file");
}

TEST_CASE("a wrong command line", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  expect(test::padwalk({"sweep", board}), 2,
         "sweep needs a tester: --port NAME, or --simulate to try without one");
  expect(test::padwalk({}), 2, "A subcommand is required; 'padwalk --help' lists the commands");
  for (const std::vector<std::string>& words : {std::vector<std::string>{"sweep"},
                                                {"swep", board},
                                                {"sweep", board, "--port"},
                                                {"sweep", board, "--port", "x", "--channels", "8"},
                                                {"sweep", board, "--simulate", "--ask", "maybe"},
                                                {"sweep", board, "--simulate", "--channels", "0"},
                                                {"import", board}}) {
    const Outcome outcome = test::padwalk(words);
    INFO(outcome.err);
    CHECK(outcome.status == 2);
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
  }
}

TEST_CASE("more points than channels", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  expect(test::padwalk({"sweep", board, "--simulate", "--channels", "4"}), 2,
         "the board has 10 points to attach and the tester on the simulated bench has 4 channels; "
         "a tester with 10 channels is needed, or fewer points with access: clip");
  const FaultySweep sweep(tester_with({}), 8);
  expect(sweep.outcome, 2,
         "the board has 10 points to attach and the tester on " + sweep.port +
             " has 8 channels; a tester with 10 channels is needed, or fewer points with access: "
             "clip");
}

TEST_CASE("a port that cannot be opened", "[tools][bad-input]") {
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  const auto sweep = [&](const std::string& port) {
    return test::padwalk({"sweep", board, "--port", port});
  };
  CHECK(sweep("/dev/ttyNONE7").status == 2);
  CHECK(sweep("/dev/ttyNONE7").err ==
        "padwalk: /dev/ttyNONE7: no such port; `padwalk ports` lists what is there\n");
  CHECK(sweep(board).status == 2);
  CHECK(sweep(board).err ==
        "padwalk: " + board +
            ": not a serial port but a file; `padwalk ports` lists what is there\n");
  CHECK(sweep(folder.path("")).status == 2);

  const simulated::SimulatedTester tester(bare_leads(), {});
  const auto held = transport::open_port(tester.port_name());
  expect(
      sweep(tester.port_name()), 2,
      tester.port_name() + ": another program holds this port; close that program and try again");
}

TEST_CASE("a port that the user may not open names the group to join", "[tools][bad-input]") {
  const TemporaryFolder folder;
  std::filesystem::permissions(folder.path(""), std::filesystem::perms(0755));
  const std::string board = folder.write("b.yaml", kGoodBoard);
  const std::string program = folder.path("padwalk");
  std::filesystem::copy_file(PADWALK_PROGRAM, program);
  const simulated::SimulatedTester tester(bare_leads(), {});
  const std::string port = tester.port_name();
  REQUIRE(chown(port.c_str(), 0, 20) == 0);  // 20 is dialout on every Debian (base-passwd)
  REQUIRE(chmod(port.c_str(), 0660) == 0);
  const Outcome outcome = test::run(
      {"setpriv", "--reuid", "65534", "--clear-groups", program, "sweep", board, "--port", port});
  CHECK(outcome.status == 2);
  CHECK(outcome.err ==
        "padwalk: " + port +
            ": no permission to use this port; add yourself to the group dialout: sudo adduser "
            "$USER dialout, then log in again\n");
}

TEST_CASE("a device that is no tester, or none that is understood", "[tools][bad-input][slow]") {
  simulated::LineFaults silent;
  silent.silent = true;
  const FaultySweep none(tester_with(silent));
  expect(none.outcome, 3,
         "nothing answers on " + none.port + "; is the tester connected and switched on?");
  CHECK(!std::filesystem::exists(none.folder.path("out.json")));

  simulated::LineFaults garbage;
  garbage.garbage = true;
  const FaultySweep noise(tester_with(garbage));
  expect(noise.outcome, 3,
         noise.port + " answers, but not as a padwalk tester; is it the right port?");

  const FaultySweep version(tester_with({}, 9));
  expect(version.outcome, 3,
         "the tester on " + version.port +
             " speaks version 9, this padwalk version 1: update the program");
}

TEST_CASE("a tester that vanishes in mid-sweep ends in status 3 with what was read",
          "[tools][bad-input]") {
  for (const std::uint64_t bytes : {200u, 400u, 600u}) {
    INFO("gone after " << bytes << " bytes");
    simulated::LineFaults faults;
    faults.vanish_after_bytes = bytes;
    const FaultySweep sweep(tester_with(faults));
    CHECK(sweep.outcome.status == 3);
    if (sweep.outcome.err.empty()) {
      const auto result = nlohmann::json::parse(test::read_text(sweep.folder.path("out.json")));
      CHECK(result["verdict"] == "failed");
      CHECK(result["findings"].empty());
      const std::string gone = "the tester on " + sweep.port + " is gone: ";
      const std::string why = result["failure"];
      CHECK((why == gone + "the port was closed; check cable and supply" ||
             why == gone + "the port takes no more bytes; check cable and supply"));
    } else {  // gone before hello was over
      CHECK(!std::filesystem::exists(sweep.folder.path("out.json")));
    }
  }
}

TEST_CASE("Ctrl-C ends a sweep with status 5 and a whole result", "[tools][bad-input]") {
  const TemporaryFolder folder;
  simulated::LineFaults slow;
  slow.delay_ms = 150;
  const simulated::SimulatedTester tester(bare_leads(), tester_with(slow));
  test::Running sweep({PADWALK_PROGRAM, "sweep", folder.write("b.yaml", kGoodBoard), "--port",
                       tester.port_name(), "--ask", "no", "--json", folder.path("out.json")});
  sweep.read_line();  // the sweep begins
  sweep.read_line();
  sweep.signal(SIGINT);
  const Outcome outcome = sweep.finish();
  CHECK(outcome.status == 5);
  const auto result = nlohmann::json::parse(test::read_text(folder.path("out.json")));
  CHECK(result["verdict"] == "incomplete");
  CHECK(result["findings"].empty());
}

TEST_CASE("random bytes as any input file never crash the program", "[tools][bad-input][slow]") {
  std::mt19937 random(356);
  const TemporaryFolder folder;
  const std::string board = folder.write("b.yaml", kGoodBoard);
  for (int round = 0; round < 25; ++round) {
    std::string text = round % 2 == 0 ? kGoodBoard : "";
    for (int i = 0; i < 60; ++i) {
      const auto byte = static_cast<char>(random() % 256);
      if (text.empty() || round % 2 != 0) {
        text += byte;
      } else {
        text[random() % text.size()] = byte;
      }
    }
    const std::string path = folder.write("x", text);
    INFO("round " << round);
    CHECK(test::padwalk({"check", path}).status <= 2);
    CHECK(test::padwalk({"import", path, "-o", folder.path("o.yaml")}).status <= 2);
    CHECK(test::padwalk({"sweep", board, "--simulate", path}).status <= 2);
  }
}
