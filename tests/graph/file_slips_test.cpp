// SPDX-License-Identifier: MIT
//
// Slips of a board file, found by measuring the board as it is, and corrected finding by finding.
#include "graph/file_slips.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>

#include "graph/compare.hpp"
#include "graph/scan.hpp"
#include "graph/values.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk::graph;
using Names = std::vector<std::string>;
using Truth = std::vector<Names>;  ///< the conductors of the real board; other points are alone

Board read_text_board(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  BoardDescription description = read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  return Board(std::move(description), diagnostics);
}

struct Swept {
  Measured measured;
  Findings found;
  FileSlips slips(const Board& board) const {
    return FileSlips(board, limits_for(board), measured, found);
  }
};

/// Sweeps a board whose copper is `truth` with what the file says.
Swept sweep_truth(const Board& board, const Truth& truth) {
  std::map<PointId, std::size_t> conductor;
  Measured measured;
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    measured.attached.push_back(PointId{i});
    conductor[PointId{i}] = truth.size() + i;
  }
  for (std::size_t i = 0; i < truth.size(); ++i) {
    for (const std::string& name : truth[i]) {
      conductor[board.find_point(name).value()] = i;
    }
  }
  ScanLimits limits;
  limits.good_ohm = good_limit(board, limits_for(board));
  Scan run(board, measured.attached, limits);
  for (auto round = run.next(); !round.empty(); round = run.next()) {
    std::vector<Reading> readings;
    for (const WantedReading& wanted : round) {
      Reading reading;
      reading.wanted = wanted;
      reading.volt = 0.2;
      for (const PointId source : wanted.source) {
        for (const PointId sink : wanted.sink) {
          if (conductor[source] == conductor[sink]) {
            reading.ohm = 0.4;
            reading.uncertainty_ohm = 0.1;
          }
        }
      }
      readings.push_back(reading);
    }
    run.record(readings);
  }
  measured.readings = run.readings();
  measured.nets = run.net_readings();
  measured.silent_believed = run.silent();
  Findings found = find_differences(board, limits_for(board), measured);
  return {std::move(measured), std::move(found)};
}

/// What is settled, and by how many corrections.
struct Settled {
  std::string text;
  std::size_t findings = 0;
  std::size_t corrections = 0;
  std::string refused;
  std::vector<std::string> said;
};

Settled settle_all(const std::string& text, const Truth& truth, bool note = false) {
  const Board board = read_text_board(text);
  const Swept swept = sweep_truth(board, truth);
  const Findings& findings = swept.found;
  const FileSlips slips = swept.slips(board);
  Settled settled{text, findings.findings.size(), 0, "", {}};
  for (std::size_t i = 0; i < findings.findings.size(); ++i) {
    const Board now = read_text_board(settled.text);
    if (slips.agrees(i, now)) {
      continue;
    }
    const SlipCorrection slip = slips.correct(i, now);
    INFO(findings.findings[i].id << " " << correction_text(slip.correction) << slip.why_not);
    try {
      settled.refused += slip.why_not;
      if (slip.why_not.empty()) {
        settled.text =
            correct_board(settled.text, slip.correction,
                          note ? "typed wrong, " + findings.findings[i].id : "", "b.yaml");
        settled.said.push_back(correction_text(slip.correction));
        ++settled.corrections;
        CHECK(slips.agrees(i, read_text_board(settled.text)));
      }
    } catch (const BadFile& bad) {
      settled.refused += bad.what();
    }
  }
  return settled;
}

/// The nets of a file by their points, those of one point left out.
std::set<std::set<std::string>> partition(const std::string& text) {
  const Board board = read_text_board(text);
  std::set<std::set<std::string>> nets;
  for (const Net& net : board.nets()) {
    std::set<std::string> names;
    for (const PointId point : net.points) {
      names.insert(board[point].name);
    }
    if (names.size() > 1) {
      nets.insert(names);
    }
  }
  return nets;
}

std::set<std::set<std::string>> partition(const Truth& truth) {
  std::set<std::set<std::string>> nets;
  for (const Names& names : truth) {
    if (names.size() > 1) {
      nets.insert({names.begin(), names.end()});
    }
  }
  return nets;
}

const std::string kSlipsHead =
    "padwalk: board/1\nstate: bare\n# the float's counter\nparts:\n  J1: {package: header 2x10}\n"
    "  U1: {package: DIP-16}\n";

}  // namespace

TEST_CASE("slips: each kind is corrected, and by one edit", "[graph][slips]") {
  struct Case {
    std::string nets;
    Truth truth;
    std::size_t findings;
    std::string said;
    std::string after;
  };
  const std::vector<Case> cases = {
      // A pin in the wrong net.
      {"  A: [J1.1, J1.2]  # a\n  B: [J1.3, J1.4, U1.1]\n",
       {{"J1.1", "J1.2", "U1.1"}, {"J1.3", "J1.4"}},
       2,
       "U1.1 from net B to net A",
       "  A: [J1.1, J1.2, U1.1]  # a\n  B: [J1.3, J1.4]\n"},
      // A pin that was forgotten.
      {"  A: [J1.1, J1.2]\n",
       {{"J1.1", "J1.2", "U1.1"}},
       1,
       "U1.1 to net A",
       "  A: [J1.1, J1.2, U1.1]\n"},
      // A pin too many.
      {"  A:\n    - J1.1\n    - U1.1   # the counter\n    - J1.2\n",
       {{"J1.1", "J1.2"}},
       1,
       "U1.1 out of net A",
       "  A:\n    - J1.1\n       # the counter\n    - J1.2\n"},
      // One net under two names.
      {"  CLK: [J1.1, J1.2]\n  # below\n  CKL: [J1.3, U1.1]  # sheet 2\n  D: [J1.5, J1.6]\n",
       {{"J1.1", "J1.2", "J1.3", "U1.1"}, {"J1.5", "J1.6"}},
       1,
       "J1.3, U1.1 to net CLK; no net CKL",
       "  CLK: [J1.1, J1.2, J1.3, U1.1]\n  # below\n    # sheet 2\n  D: [J1.5, J1.6]\n"},
      // Two nets under one name.
      {"  A: [J1.1, J1.2, J1.5, J1.3, J1.4]\n",
       {{"J1.1", "J1.2", "J1.5"}, {"J1.3", "J1.4"}},
       1,
       "J1.3, J1.4 from net A to net A-2",
       "  A: [J1.1, J1.2, J1.5]\n  A-2: [J1.3, J1.4]\n"},
      // A net that was forgotten.
      {"  A: [J1.1, J1.2]\n",
       {{"J1.1", "J1.2"}, {"J1.3", "J1.4"}},
       1,
       "J1.3, J1.4 to net N-J1.3",
       "  A: [J1.1, J1.2]\n  N-J1.3: [J1.3, J1.4]\n"},
      // Exchanged pins.
      {"  A: [J1.1, J1.2, U1.2]\n  B: [J1.3, J1.4, U1.1]\n",
       {{"J1.1", "J1.2", "U1.1"}, {"J1.3", "J1.4", "U1.2"}},
       3,
       "U1.1 from net B to net A; U1.2 from net A to net B",
       "  A: [J1.1, J1.2, U1.1]\n  B: [J1.3, J1.4, U1.2]\n"},
      // Ends of chains.
      {"  A: {route: [[J1.1, J1.2, U1.2]]}\n  B: [J1.3, J1.4]\n",
       {{"J1.1", "J1.2"}, {"J1.3", "J1.4", "U1.2"}},
       2,
       "U1.2 from net A to net B",
       "  A: {route: [[J1.1, J1.2]]}\n  B: [J1.3, J1.4, U1.2]\n"},
      {"  A:\n    route:\n      - [J1.1, J1.2]\n      - [J1.2, U1.2]  # cut?\n",
       {{"J1.1", "J1.2"}},
       1,
       "U1.2 out of net A",
       "  A:\n    route:\n      - [J1.1, J1.2]\n        # cut?\n"},
      {"  A: {route: [[J1.1, U1.2], [J1.1, J1.5]]}\n",
       {{"J1.1", "J1.5"}},
       1,
       "U1.2 out of net A",
       "  A: {route: [[J1.1, J1.5]]}\n"},
      // The only point of a list that stands one a line.
      {"  A:\n  - U1.1  # ?\n  B: [J1.1, J1.2]\n",
       {{"J1.1", "J1.2", "U1.1"}},
       1,
       "U1.1 to net B; no net A",
       "    # ?\n  B: [J1.1, J1.2, U1.1]\n"},
  };
  for (const Case& one : cases) {
    const std::string text = kSlipsHead + "nets:\n" + one.nets + "# end\n";
    INFO(text);
    const Settled settled = settle_all(text, one.truth);
    CHECK(settled.refused == "");
    CHECK(settled.findings == one.findings);
    REQUIRE(settled.corrections == 1);
    CHECK(settled.said.front() == one.said);
    CHECK(settled.text == kSlipsHead + "nets:\n" + one.after + "# end\n");
    CHECK(partition(settled.text) == partition(one.truth));
  }
}

TEST_CASE("slips: what cannot be told is refused, with what to change by hand", "[graph][slips]") {
  const auto refusal = [](const std::string& nets, const Truth& truth) {
    const std::string text = kSlipsHead + "nets:\n" + nets;
    const Settled settled = settle_all(text, truth);
    CHECK(settled.text == text);
    CHECK(settled.corrections == 0);
    CHECK(settled.refused.find('\n') == std::string::npos);
    return settled.refused;
  };
  CHECK(refusal("  A: {route: [[J1.1, U1.2, J1.2]]}\n", {{"J1.1", "J1.2"}}) ==
        "b.yaml:8:22: U1.2 stands inside a chain of the route, and how the copper runs without it "
        "is not known; nothing was written; change by hand: U1.2 out of net A");
  CHECK(refusal("  A: {route: [[J1.1, J1.2]]}\n  B: {route: [[J1.3, J1.4, J1.5]]}\n",
                {{"J1.1", "J1.2", "J1.3", "J1.4", "J1.5"}}) ==
        "net A would go, and the file knows the way of its copper: put its route into the other "
        "net by hand");
  CHECK(refusal("  A: {route: [[J1.1, J1.2, U1.2]]}\ncopper:\n  - {between: [U1.2, J1.2], width: 1 "
                "mm}\n",
                {{"J1.1", "J1.2"}}) ==
        "b.yaml: with this change, no net's route has copper from U1.2 to J1.2; nothing was "
        "written; change by hand: U1.2 out of net A");
}

TEST_CASE("slips: findings of faults stay while others are corrected", "[graph][slips]") {
  const std::string text = kSlipsHead +
                           "nets:\n  GND: [J1.1, J1.2, J1.3, J1.4]\n  A: [J1.5, J1.6, U1.1]\n"
                           "  B: [J1.7, J1.8]\n  C: [J1.9, J1.10]\n";
  // U1.1 is in GND, J1.4 is broken off, B and C are shorted.
  const Truth truth = {
      {"J1.1", "J1.2", "J1.3", "U1.1"}, {"J1.5", "J1.6"}, {"J1.7", "J1.8", "J1.9", "J1.10"}};
  const Board board = read_text_board(text);
  const Swept swept = sweep_truth(board, truth);
  const Findings& findings = swept.found;
  REQUIRE(findings.findings.size() == 4);
  const FileSlips slips = swept.slips(board);
  const auto open_of = [&](const std::string& net) {
    for (std::size_t i = 0; i < 4; ++i) {
      const Finding& one = findings.findings[i];
      if (one.kind == FindingKind::open && board[one.nets.front()].name == net) {
        return i;
      }
    }
    return std::size_t{99};
  };
  const SlipCorrection slip = slips.correct(open_of("A"), board);
  CHECK(correction_text(slip.correction) == "U1.1 from net A to net GND");
  const Board after = read_text_board(correct_board(text, slip.correction, "", "b.yaml"));
  std::size_t agreed = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    agreed += slips.agrees(i, after) ? 1 : 0;
  }
  CHECK(agreed == 2);  // the open of A, and the short of A and GND
  CHECK_FALSE(slips.agrees(open_of("GND"), after));
  CHECK(sweep_truth(after, truth).found.findings.size() == 2);
  CHECK(correction_text(slips.correct(open_of("GND"), board).correction) == "J1.4 out of net GND");
}

TEST_CASE("slips: random slips of random files all go, and every comment stays", "[graph][slips]") {
  std::mt19937 random(11);
  const auto below = [&](std::size_t n) { return random() % n; };
  std::size_t slips_made = 0;
  std::size_t corrections = 0;
  std::size_t findings = 0;
  std::size_t refused = 0;
  constexpr int kFiles = 60;
  for (int round = 0; round < kFiles; ++round) {
    // A true board of 40 pins.
    Names pins;
    for (int i = 1; i <= 20; ++i) {
      pins.push_back("J1." + std::to_string(i));
    }
    for (int i = 1; i <= 16; ++i) {
      pins.push_back("U1." + std::to_string(i));
    }
    std::shuffle(pins.begin(), pins.end(), random);
    Truth truth;
    for (std::size_t at = 0; at + 6 < pins.size();) {
      const std::size_t size = 2 + below(4);
      truth.emplace_back(pins.begin() + static_cast<std::ptrdiff_t>(at),
                         pins.begin() + static_cast<std::ptrdiff_t>(at + size));
      at += size;
    }
    // As it was typed.
    Truth typed = truth;
    for (std::size_t n = 1 + below(3); n > 0; --n) {
      Names& from = typed[below(typed.size())];
      Names& to = typed[below(typed.size())];
      if (from.size() < 2 || &from == &to) {
        continue;
      }
      ++slips_made;
      const std::size_t which = below(from.size());
      const std::string pin = from[which];
      from.erase(from.begin() + static_cast<std::ptrdiff_t>(which));
      switch (below(4)) {
        case 0:
          to.push_back(pin);
          break;
        case 1:
          break;  // forgotten
        case 2:
          typed.push_back({pin});
          break;
        default:
          to.insert(to.begin(), pin);
      }
    }
    std::string text = kSlipsHead + "nets:  # all\n";
    std::size_t number = 0;
    for (const Names& net : typed) {
      const std::string name = "N" + std::to_string(++number);
      const std::string remark = "  # remark " + name + "\n";
      switch (below(4)) {
        case 0:
          text += "  " + name + ":" + remark;
          for (const std::string& pin : net) {
            text += "    - " + pin + (below(2) == 0 ? "   # at " + pin + "\n" : "\n");
          }
          break;
        case 1:
          text += "  " + name + ": {role: signal, points: [";
          for (const std::string& pin : net) {
            text += pin + (pin == net.back() ? "]}" + remark : ",\n      ");
          }
          break;
        case 2:
          text += "  '" + name + "': [ ";
          for (const std::string& pin : net) {
            text += "\"" + pin + "\" ,";
          }
          text += " ]" + remark;
          break;
        default:
          text += "  " + name + ": [";
          for (const std::string& pin : net) {
            text += pin + (pin == net.back() ? "]" + remark : ", ");
          }
      }
    }
    text += "# end of the sheet";
    INFO(text);
    const Settled settled = settle_all(text, truth, true);
    findings += settled.findings;
    corrections += settled.corrections;
    INFO(settled.text);
    CHECK(settled.refused == "");
    refused += settled.refused.empty() ? 0 : 1;
    CHECK(partition(settled.text) == partition(truth));
    // Comments, in order.
    std::size_t at = 0;
    for (std::size_t begin = 0; (begin = text.find("# ", begin)) != std::string::npos;) {
      const std::size_t end = std::min(text.find('\n', begin), text.size());
      at = settled.text.find(text.substr(begin, end - begin), at);
      CHECK(at != std::string::npos);
      begin = end;
    }
  }
  WARN(slips_made << " slips in " << kFiles << " files: " << findings << " findings, "
                  << corrections << " corrections, " << refused << " files not finished");
  CHECK(slips_made > 80);
  CHECK(corrections <= slips_made);
}

TEST_CASE("slips: ohms as they are printed on parts", "[graph][slips]") {
  CHECK(preferred_ohm_text(4700, 0, 0) == "4k7");
  CHECK(preferred_ohm_text(4850, 10, 0.05) == "4k7");
  CHECK(preferred_ohm_text(4850, 10, 0.01) == "4k85");
  CHECK(preferred_ohm_text(470, 0, 0.05) == "470R");
  CHECK(preferred_ohm_text(46.8, 0.3, 0.05) == "47R");
  CHECK(preferred_ohm_text(0.47, 0.01, 0.05) == "0R47");
  CHECK(preferred_ohm_text(9.9e6, 1e4, 0.05) == "10M");
  CHECK(preferred_ohm_text(999.7, 0.01, 0) == "1k");
  CHECK(preferred_ohm_text(2.2e6, 0, 0) == "2M2");
  for (const double ohm : {0.47, 1.0, 12.0, 333.0, 999.0, 1e3, 4.85e3, 1e5, 1e6, 9.76e7, 2e9}) {
    CAPTURE(ohm);
    CHECK(*parse_value(preferred_ohm_text(ohm, 0, 0), Unit::ohm) == Approx(ohm).epsilon(0.006));
  }
}
