// SPDX-License-Identifier: MIT
//
// `padwalk settle` as a person uses it: what a sweep found is a fault of the board or a slip of the
// file, one key each.
#include <pty.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <functional>
#include <nlohmann/json.hpp>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/compare.hpp"
#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

/// The counter card of a harbour's tide gauge, as it is.
const std::string kTrueCard = R"(padwalk: board/1   # typed from sheets 1 and 2
name: Tide gauge, counter card
parts:
  # The decoder and the latch.
  U1: {kind: ic, type: 74HC138, package: DIP-16}
  U2: {kind: ic, type: 74HC574, package: DIP-20}   # "ours" has no socket
  J1: {kind: connector, package: header 2x10}  # main board
  J2: {kind: connector, package: header 2x10}  # display
  R1: {kind: resistor, value: 4k7, tolerance: 5%, package: axial 10 mm}
  R2: {kind: resistor, value: 10k, tolerance: 5%, package: axial 10 mm}  # brown, black, orange
  R3: {kind: resistor, value: 22k, tolerance: 5%, package: axial 10 mm}
  R4: {kind: resistor, value: 47k, tolerance: 5%, package: axial 10 mm}
nets:
  # sheet 1
  GND:
    role: ground
    points:
      - U1.8
      - U2.10   # the star
      - J1.1
      - J2.1    # ribbon
  VCC: {role: supply, points: [U1.16, U2.20, J1.2, J2.2, R1.1, R2.1, R3.1, R4.1]}
  A0: [U1.1, J1.3, J2.15]  # address
  A1: [U1.2, J1.4]
  A2: [U1.3, J1.5]
  /E1: [U1.4, J1.6, R1.2]   # pulled up
  /E2: [U1.5, J1.7, R2.2]
  E3: [ U1.6,
        J1.8,   # wired to the wheel
        R3.2 ]
  # the data lines
  D0: [U2.2, J1.9]
  D1: [U2.3, J1.10]  # check
  D2: [U2.4, J1.11, J2.16]
  D3: [U2.5, J1.12, J2.17]
  D4: [U2.6, J1.13]
  D5: [U2.7, J1.14]
  D6: [U2.8, J1.15]
  D7: [U2.9, J1.16]   # the last

  # sheet 2
  Q0: [U2.19, J2.3]
  Q1: [U2.18, J2.4]   # to the display
  Q2: [U2.17, J2.5]
  Q3: [U2.16, J2.6]
  Q4: [U2.15, J2.7]
  Q5: [U2.14, J2.8]
  Q6: [U2.13, J2.9]
  Q7: [U2.12, J2.10]
  /Y0: [U1.15, J2.11]
  /Y1: [U1.14, J2.12]
  /Y2: [U1.13, J2.13]
  /Y3: [U1.12, J2.14]
  CLK: [U2.11, J1.17, R4.2]  # the float wheel
  /OE: [U2.1, J1.18]
# end
)";

/// A slip: what stands in the true file, and what was typed.
using Typed = std::vector<std::pair<std::string, std::string>>;

/// 18 slips of many kinds, each of which the sweep reports as one finding.
const Typed kSlips = {
    // pins that were forgotten
    {"      - J2.1    # ribbon\n", "      # ribbon\n"},
    {"  A0: [U1.1, J1.3, J2.15]", "  A0: [U1.1, J1.3]"},
    {"  Q3: [U2.16, J2.6]", "  Q3: [U2.16]"},
    {"  Q0: [U2.19, J2.3]", "  Q0: [U2.19]"},
    {"        J1.8,   # wired", "        # wired"},
    // nets that were forgotten
    {"  Q7: [U2.12, J2.10]\n", ""},
    {"  /Y3: [U1.12, J2.14]\n", ""},
    // names one letter off
    {"  CLK: [U2.11, J1.17, R4.2]  # the float wheel\n",
     "  CLK: [U2.11, J1.17]  # the float wheel\n  CKL: [R4.2]  # pull-up\n"},
    {"  D1: [U2.3, J1.10]  # check\n", "  D1: [U2.3]  # check\n  Dl: [J1.10]\n"},
    {"  Q1: [U2.18, J2.4]   # to the display\n",
     "  'Q1': [U2.18]   # to the display\n  Q1.: [J2.4]\n"},
    {"J2.2, R1.1, R2.1, R3.1, R4.1]}\n",
     "J2.2, R1.1, R2.1, R3.1]}\n  VC: {role: supply, points: [R4.1]}  # why?\n"},
    // pins too many
    {"  A1: [U1.2, J1.4]", "  A1: [U1.2, J1.4, J1.19]"},
    {"  D7: [U2.9, J1.16]", "  D7: [ U2.9 , J1.20 , J1.16 ]"},
    // two nets in one
    {"  D2: [U2.4, J1.11, J2.16]\n  D3: [U2.5, J1.12, J2.17]\n",
     "  D2: [U2.4, J1.11, J2.16, U2.5, J1.12, J2.17]\n"},
    {"  Q5: [U2.14, J2.8]\n  Q6: [U2.13, J2.9]\n",
     "  Q5:\n    - U2.14\n    - J2.8  # pin 8\n    - U2.13\n    - J2.9  # pin 9\n"},
    // values
    {"value: 4k7", "value: 47k"},
    {"value: 10k", "value: 1k"},
    {"value: 22k", "value: \"2k2\""},
};

/// Pins in wrong nets, and exchanged ones: two or three findings each.
const Typed kMoves = {
    {"  A0: [U1.1, J1.3, J2.15]", "  A0: [U1.1, J1.3, J1.5]"},  // J2.15 forgotten, J1.5 of A2
    {"  A2: [U1.3, J1.5]", "  A2: [U1.3]"},
    {"  D2: [U2.4, J1.11, J2.16]\n", "  D2: [U2.4, J1.11, J2.17]\n"},  // exchanged with D3
    {"  D3: [U2.5, J1.12, J2.17]\n", "  D3: [U2.5, J1.12, J2.16]\n"},
    {"  /Y0: [U1.15, J2.11]\n", "  /Y0: [U1.15, J2.11, J2.12]\n"},
    {"  /Y1: [U1.14, J2.12]\n", "  /Y1: [U1.14]\n"},
    {"      - J2.1    # ribbon\n", "      - J2.1    # ribbon\n      - J2.7\n"},
    {"  Q4: [U2.15, J2.7]\n", "  Q4: [U2.15]\n"},
    {"  /E1: [U1.4, J1.6, R1.2]", "  /E1: [U1.4, R1.2]"},  // and R1 seems to leak to J1.6
};

const std::string kFaults =
    "padwalk: defects/1\ndefects:\n  - {split: Q2, off: [J2.5]}\n  - {short: [D4, D6], value: 0.4 "
    "ohm}\n";

std::string as_typed(const Typed& slips) {
  std::string text = kTrueCard;
  for (const auto& [right, wrong] : slips) {
    const std::size_t at = text.find(right);
    REQUIRE(at != std::string::npos);
    text.replace(at, right.size(), wrong);
  }
  return text;
}

graph::Board board_of(const std::string& text) {
  graph::Diagnostics diagnostics("b.yaml");
  graph::BoardDescription description = graph::read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  return graph::Board(std::move(description), diagnostics);
}

struct TypedCard {
  explicit TypedCard(const Typed& slips)
      : typed(as_typed(slips)), board(folder.write("card.yaml", typed)) {}

  json sweep() {
    const std::string found = folder.path("found.json");
    const test::Outcome outcome =
        test::padwalk({"sweep", board, "--simulate", faults, "--simulate-board", truth, "--job",
                       job, "--json", found});
    INFO(outcome.out << outcome.err);
    CHECK(outcome.status == 1);
    CHECK(outcome.out.find("; where the file is wrong: padwalk settle " + job + "\n") !=
          std::string::npos);
    return json::parse(test::read_text(found))["findings"];
  }
  test::Outcome settle(const std::vector<std::string>& more) const {
    std::vector<std::string> words = {"settle", job};
    words.insert(words.end(), more.begin(), more.end());
    return test::padwalk(words);
  }

  test::TemporaryFolder folder;
  std::string typed;
  std::string truth = folder.write("truth.yaml", kTrueCard);
  std::string faults = folder.write("faults.yaml", kFaults);
  std::string job = folder.path("card.job");
  std::string board;
};

struct AtTerminal {
  std::string screen;
  std::size_t keys = 0;
  int status = -1;
};

/// Runs settle at a terminal; at each prompt `key` is told what was shown since the last.
AtTerminal settle_by_keys(const std::string& job,
                          const std::function<char(const std::string&)>& key) {
  winsize size{50, 100, 0, 0};
  int terminal = -1;
  const pid_t child = forkpty(&terminal, nullptr, nullptr, &size);
  if (child == 0) {
    execl(PADWALK_PROGRAM, PADWALK_PROGRAM, "settle", job.c_str(), static_cast<char*>(nullptr));
    _exit(127);
  }
  AtTerminal at;
  termios before{};
  REQUIRE(tcgetattr(terminal, &before) == 0);
  std::size_t shown = 0;
  std::array<char, 4096> buffer{};
  for (ssize_t count = 0; (count = ::read(terminal, buffer.data(), buffer.size())) > 0;) {
    at.screen.append(buffer.data(), static_cast<std::size_t>(count));
    if (at.screen.ends_with("[t d c f l u ? q] ")) {
      const char typed = key(at.screen.substr(shown));
      shown = at.screen.size();
      at.keys += 1;
      REQUIRE(write(terminal, &typed, 1) == 1);
    }
  }
  int status = 0;
  waitpid(child, &status, 0);
  termios after{};
  REQUIRE(tcgetattr(terminal, &after) == 0);
  CHECK(after.c_lflag == before.c_lflag);  // left as it was
  CHECK(after.c_oflag == before.c_oflag);
  CHECK(after.c_iflag == before.c_iflag);
  close(terminal);
  at.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return at;
}

bool is_fault(const std::string& shown) {
  return shown.find("net Q2 is in") != std::string::npos ||
         shown.find("net D4 and net D6") != std::string::npos;
}

void check_is_true(const std::string& text) {
  const graph::Board board = board_of(text);
  const graph::Board truth = board_of(kTrueCard);
  const graph::BoardsCompared compared = graph::compare_boards(board, truth);
  CHECK(compared.differences.empty());
  CHECK(compared.only_a.empty());
  CHECK(compared.only_b.empty());
  CHECK(board.listed_nets() == truth.listed_nets());
  for (std::size_t i = 0; i < truth.parts().size(); ++i) {
    CHECK(board.parts()[i].ohm == truth.parts()[i].ohm);
  }
}

/// Each remark of `before` stands in `after`, in order, byte by byte.
void check_remarks(const std::string& before, const std::string& after) {
  std::size_t at = 0;
  std::size_t remarks = 0;
  for (std::size_t begin = 0; (begin = before.find("# ", begin)) != std::string::npos;) {
    const std::size_t end = before.find('\n', begin) + 1;
    const std::string remark = before.substr(begin, end - begin);
    INFO(remark);
    at = after.find(remark, at);
    CHECK(at != std::string::npos);
    begin = end;
    ++remarks;
  }
  CHECK(remarks >= 15);
}

/// What of `after` is new: the remarks on corrections.
std::size_t notes_in(const std::string& after) {
  std::size_t notes = 0;
  for (std::size_t at = 0; (at = after.find("# typed wrong, F", at)) != std::string::npos; ++at) {
    ++notes;
  }
  return notes;
}

}  // namespace

TEST_CASE("settle: 20 findings, 18 of them typing slips, go in 20 keys", "[tools][settle]") {
  TypedCard card(kSlips);
  const json found = card.sweep();
  INFO(found.dump(1));
  REQUIRE(found.size() == 20);
  const AtTerminal at = settle_by_keys(
      card.job, [](const std::string& shown) { return is_fault(shown) ? 'f' : 't'; });
  INFO(at.screen);
  CHECK(at.keys == 20);
  CHECK(at.status == 0);
  CHECK(at.screen.find("Settled: typed wrong: 18; a fault of the board: 2.") != std::string::npos);
  const std::string after = test::read_text(card.board);
  INFO(after);
  check_is_true(after);
  check_remarks(card.typed, after);
  CHECK(notes_in(after) == 18);

  // What is left are the faults.
  const json left = card.sweep();
  REQUIRE(left.size() == 2);
  CHECK(left[0]["net"] == "Q2");
  CHECK(left[1]["nets"] == json({"D4", "D6"}));
  const test::Outcome story = test::padwalk({"job", card.job});
  CHECK(story.out.find(": a fault of the board\n") != std::string::npos);
  CHECK(story.out.find(": typed wrong; J1.8 to net E3\n") != std::string::npos);
}

TEST_CASE("settle: pins in wrong nets, and exchanged ones, take one key a slip",
          "[tools][settle]") {
  TypedCard card(kMoves);
  const json found = card.sweep();
  INFO(found.dump(1));
  const AtTerminal at = settle_by_keys(
      card.job, [](const std::string& shown) { return is_fault(shown) ? 'f' : 't'; });
  INFO(at.screen);
  CHECK(at.status == 0);
  CHECK(found.size() > at.keys);
  CHECK(at.keys <= 2 + 6);  // two faults, two forgotten pins, three moved ones, a pair
  check_is_true(test::read_text(card.board));
  check_remarks(card.typed, test::read_text(card.board));
}

TEST_CASE("settle: one finding by its name; what is said, kept and refused", "[tools][settle]") {
  TypedCard card({{"  A1: [U1.2, J1.4]", "  A1: {route: [[U1.2, J1.19, J1.4]]}"},
                  {"  D1: [U2.3, J1.10]", "  D1: [U2.3]"}});
  CHECK(card.settle({}).status == 2);  // no job yet
  const std::string other = card.folder.write(
      "other.yaml", "padwalk: board/1\nparts:\n  U1: {kind: ic, package: DIP-16}\n");
  CHECK(test::padwalk({"sweep", card.board, "--simulate", "--simulate-board", other}).err ==
        "padwalk: the simulated board " + other +
            " has no U2.1; it must have the parts, points and state of " + card.board + "\n");
  const json found = card.sweep();
  REQUIRE(found.size() == 4);
  const auto id_of = [&](const char* key, const json& value) -> std::string {
    for (const json& one : found) {
      if (one.value(key, json()) == value) {
        return one["id"];
      }
    }
    return "none";
  };
  const std::string chain = id_of("net", "A1");
  const std::string lacks = id_of("in_no_net", {"J1.10"});
  const std::string fault = id_of("net", "Q2");

  const test::Outcome refused = card.settle({chain, "typed"});
  CHECK(refused.status == 2);
  CHECK(refused.err == "padwalk: " + card.board +
                           ":24:23: J1.19 stands inside a chain of the route, and how the copper "
                           "runs without it is not known; nothing was written; change by hand: "
                           "J1.19 out of net A1\n");
  CHECK(test::read_text(card.board) == card.typed);

  // Keys too fast, and taken back, in the file too.
  const AtTerminal back = settle_by_keys(card.job, [n = 0](const std::string&) mutable {
    constexpr std::array<char, 6> kKeys = {'u', 'l', 't', 'u', 'u', 'q'};
    return kKeys[static_cast<std::size_t>(n++)];
  });
  INFO(back.screen);
  CHECK(back.status == 5);
  CHECK(back.keys == 6);
  CHECK(back.screen.find("nothing was settled since the start") != std::string::npos);
  CHECK(back.screen.find(": typed wrong; J2.5 out of net Q2\r\n") != std::string::npos);
  CHECK(back.screen.find("Settled: nothing.") != std::string::npos);
  CHECK(test::read_text(card.board) == card.typed);
  CHECK(test::padwalk({"job", card.job}).out.find(": taken back\n") != std::string::npos);

  const test::Outcome drawing = card.settle({lacks, "factory"});
  CHECK(drawing.status == 0);
  CHECK(drawing.out == "      " + lacks +
                           ": changed at the factory; J1.10 to net D1\n"
                           "Next: padwalk settle " +
                           card.job + " (3 findings left).\n");
  const std::string text = test::read_text(card.board);
  CHECK(text.find("  # changed at the factory, " + lacks + " of card.job, 20") !=
        std::string::npos);
  CHECK(text.find(": J1.10 to net D1\n  D1: [U2.3, J1.10]  # check\n") != std::string::npos);

  const test::Outcome twice = card.settle({lacks, "typed"});
  CHECK(twice.status == 2);
  CHECK(twice.err.find(lacks + " is settled, and the file is corrected") != std::string::npos);
  CHECK(card.settle({fault, "leave"}).status == 0);
  CHECK(card.settle({fault, "fault"}).status == 0);  // the last word counts
  CHECK(card.settle({"F9", "fault"}).err ==
        "padwalk: " + card.job + ": the last sweep has no finding F9; it has F1 to F4\n");
  CHECK(card.settle({fault, "guess"}).err.find("expected typed, drawing") != std::string::npos);
  CHECK(card.settle({fault}).status == 2);

  // Left at the first, refused at the second.
  const AtTerminal at = settle_by_keys(card.job, [n = 0](const std::string&) mutable {
    constexpr std::array<char, 4> kKeys = {'?', '\r', 't', 'q'};
    return kKeys[static_cast<std::size_t>(n++)];
  });
  INFO(at.screen);
  CHECK(at.status == 5);
  CHECK(at.keys == 4);
  CHECK(at.screen.find(chain + " stays unsettled: " + card.board + ":") != std::string::npos);
  CHECK(at.screen.find("Next: padwalk settle " + card.job + " (2 findings left).") !=
        std::string::npos);
  CHECK(test::read_text(card.board) == text);
}
