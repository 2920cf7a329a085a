// SPDX-License-Identifier: MIT
//
// correct_board: points, nets and values taken out, put in and changed in texts of many layouts.
// What is to be corrected: file_slips_test.cpp.
#include "graph/board_correct.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;

namespace {

/// TP2 goes from net A to net B, net C into B, and R1 has 47k.
BoardCorrection all_kinds() {
  BoardCorrection correction;
  correction.taken_out = {{"A", "TP2"}};
  correction.removed_nets = {"C"};
  correction.additions = {{"B", NetRole::signal, {"TP2", "TP5"}}};
  correction.values = {{"R1", "47k"}};
  return correction;
}

void corrects(const std::string& before, const std::string& after) {
  INFO(before);
  CHECK(correct_board(before, all_kinds(), "note", "b.yaml") == after);
}

BoardDescription said(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  BoardDescription board = read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  Board(board, diagnostics);
  return without_marks(std::move(board));
}

}  // namespace

TEST_CASE("corrections: in blocks, in brackets, with all kinds of line ends", "[graph]") {
  corrects(
      "padwalk: board/1\r\n# all\r\nparts:\r\n  R1:\r\n    package: row 2\r\n    value:  '4k7'  "
      "# ?\r\npoints: {TP1: {}, TP2: {}, TP3: {}, TP4: {}, TP5: {}}\r\nnets:\r\n  A:\r\n  - TP1\r\n"
      "  - TP2  # two\r\n  - R1.1\r\n  # the other\r\n  B: [TP3, TP4]  # b\r\n  C:  # c\r\n"
      "    - TP5   # five\r\n",
      "padwalk: board/1\r\n# all\r\nparts:\r\n  R1:\r\n    package: row 2\r\n    value:  47k  "
      "# ?\r\npoints: {TP1: {}, TP2: {}, TP3: {}, TP4: {}, TP5: {}}\r\nnets:\r\n  A:\r\n  - TP1\r\n"
      "    # two\r\n  - R1.1\r\n  # the other\r\n  # note\r\n  B: [TP3, TP4, TP2, TP5]  # b\r\n"
      "    # c\r\n   # five\r\n");
  corrects(
      "{padwalk: board/1, parts: {R1: {package: row 2, value: 4k7}}, points: {TP1: , TP2: , TP3: , "
      "TP5: }, nets: {A: [TP1, TP2], B: [TP3], C: [TP5]}}",
      "{padwalk: board/1, parts: {R1: {package: row 2, value: 47k}}, points: {TP1: , TP2: , TP3: , "
      "TP5: }, nets: {A: [TP1], B: [TP3, TP2, TP5]}}\n# note");
  corrects(
      "padwalk: board/1\nnets:\n  C:\n    points: [TP5] # five\n    note: \"# no remark\"\n  B:\n"
      "    points:\n    - TP3\n  A:\n    also: [\n      TP1,   # one\n      TP2\n    ]\n"
      "points: {TP1: {}, TP2: {}, TP3: {}, TP5: {}}\nparts:\n  R1: {value: 4k7, package: row 2}\n",
      "padwalk: board/1\nnets:\n # five\n  # note\n  B:\n    points:\n    - TP3\n    - TP2\n    - "
      "TP5\n  A:\n    also: [\n      TP1,   # one\n    ]\n"
      "points: {TP1: {}, TP2: {}, TP3: {}, TP5: {}}\nparts:\n  R1: {value: 47k, package: row 2}\n");
}

TEST_CASE("corrections: a damaged file is refused, or says what was meant and nothing else",
          "[graph]") {
  const std::string whole =
      "padwalk: board/1 # by hand\nparts:\n  'R1': {package: row 2, value: 4k7} # \"x\"\n"
      "points: {TP1: {},\n  TP2: , TP3: , TP5: } # }\nnets:\n  A: [TP1,\n    TP2, # ]\n    R1.1,\n"
      "    ]\n  B:\n  - TP3   # b\n  C:\n    points:\n    - TP5\n    note: |\n      a\n  # end\n"
      "note: x\n";
  std::mt19937 random(4);
  const auto below = [&](std::size_t n) { return random() % n; };
  const std::string odd = "[]{},:#'\"|>-?~&*! \t\r\n\\x1TV";
  int refused = 0;
  int corrected = 0;
  for (int i = 0; i < 600; ++i) {
    std::string text = whole;
    for (std::size_t n = below(3); n > 0; --n) {
      const std::size_t at = below(text.size());
      if (below(2) == 0) {
        text[at] = odd[below(odd.size())];
      } else {
        text.insert(at, 1, odd[below(odd.size())]);
      }
    }
    INFO(text);
    try {
      const std::string after = correct_board(text, all_kinds(), "note", "b.yaml");
      const BoardDescription was = said(text);
      const BoardDescription is = said(after);
      CHECK(is.parts.size() == was.parts.size());
      CHECK(is.points == was.points);
      const bool has_b = std::any_of(was.nets.begin(), was.nets.end(),
                                     [](const NetDescription& net) { return net.name == "B"; });
      CHECK(is.nets.size() + (has_b ? 1 : 0) == was.nets.size());
      CHECK(is.note == was.note);
      CHECK(after.find("# note") != std::string::npos);
      ++corrected;
    } catch (const BadFile& bad) {
      const std::string what = bad.what();
      CHECK(what.find("; nothing was written; change by hand: ") != std::string::npos);
      CHECK(what.find('\n') == std::string::npos);
      ++refused;
    }
  }
  CHECK(refused > 80);
  CHECK(corrected > 150);
}

TEST_CASE("corrections: what they are, in words", "[graph]") {
  CHECK(correction_text(all_kinds()) ==
        "TP5 to net B; TP2 from net A to net B; no net C; R1 has 47k");
  CHECK(correction_text({{{"A", "TP1"}, {"A", "TP2"}}, {}, {}, {}}) == "TP1, TP2 out of net A");
}
