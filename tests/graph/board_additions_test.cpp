// SPDX-License-Identifier: MIT
//
// splice_board: parts, points and nets put into texts of many layouts. Vias, and how points and
// nets may be written: board_splice_test.cpp.
#include <catch2/catch.hpp>
#include <random>

#include "graph/board.hpp"
#include "graph/board_splice.hpp"
#include "graph/board_yaml.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;

namespace {

BoardDescription read_good(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  BoardDescription board = read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  Board(board, diagnostics);
  return without_marks(std::move(board));
}

/// A buoy's lamp: a part, a pad, a new net and a member of an old one, if there is `old_net`.
BoardAdditions lamp(bool old_net) {
  BoardAdditions additions;
  PartDescription part;
  part.name = "LP1";
  part.kind = PartKind::lamp;
  part.package = "row 3";
  additions.parts.push_back(part);
  PointDescription pad;
  pad.name = "TP9";
  additions.points.push_back(pad);
  additions.nets.push_back({"~LAMP", NetRole::supply, {"LP1.1", "TP9"}});
  if (old_net) {
    additions.nets.push_back({"OLD", NetRole::signal, {"LP1.2", "LP1.3"}});
  }
  return additions;
}

void splices(const std::string& before, const std::string& after) {
  INFO(before);
  const bool old_net = before.find("OLD") != std::string::npos;
  const BoardDescription said = read_good(before);
  const SplicedText spliced = splice_board(before, lamp(old_net), "b.yaml");
  CHECK(spliced.text == after);
  CHECK(unspliced(spliced.text, spliced.insertions) == before);
  BoardDescription expected = said;
  const BoardAdditions additions = lamp(old_net);
  expected.parts.push_back(additions.parts[0]);
  expected.points.push_back(additions.points[0]);
  if (old_net) {
    for (const char* name : {"LP1.2", "LP1.3"}) {
      expected.nets[0].members.push_back({name, {}});
    }
  }
  NetDescription net;
  net.name = "~LAMP";
  net.role = NetRole::supply;
  net.members = {{"LP1.1", {}}, {"TP9", {}}};
  expected.nets.push_back(net);
  CHECK(read_good(spliced.text) == expected);
}

const std::string kPart = "LP1: {kind: lamp, package: row 3}";
const std::string kPoint = "TP9: {}";
const std::string kNet = "\"~LAMP\": {role: supply, points: [LP1.1, TP9]}";

}  // namespace

TEST_CASE("additions: sections that are there, empty or missing") {
  const std::string head = "padwalk: board/1\n";
  const std::string all = "parts:\n  " + kPart + "\npoints:\n  " + kPoint + "\nnets:\n  " + kNet;
  splices(head, head + all + "\n");
  splices("padwalk: board/1", head + all);
  splices(head + "name: x  # y\n\n# end\n", head + "name: x  # y\n" + all + "\n\n# end\n");
  splices(head + "nets:\nparts:\n",
          head + "points:\n  " + kPoint + "\nnets:\n  " + kNet + "\nparts:\n  " + kPart + "\n");
  splices(head + "parts: {}\npoints: {}\nnets: {}\n",
          head + "parts: {" + kPart + "}\npoints: {" + kPoint + "}\nnets: {" + kNet + "}\n");
  splices(head + "parts:\n# their nets\nnets: # all\n    OLD: [] # none\n",
          head + "parts:\n    " + kPart + "\npoints:\n    " + kPoint +
              "\n# their nets\nnets: # all\n    OLD: [LP1.2, LP1.3] # none\n    " + kNet + "\n");
  splices(head + "nets:\n  OLD:\n  - TP1 # pad\n\n# pads\npoints:\n   TP1:\n",
          head + "nets:\n  OLD:\n  - TP1 # pad\n  - LP1.2\n  - LP1.3\n  " + kNet + "\nparts:\n  " +
              kPart + "\n\n# pads\npoints:\n   TP1:\n   " + kPoint + "\n");
  splices(head + "parts:\r\n  R1: {package: row 2}\r\nnets:\r\n",
          head + "parts:\r\n  R1: {package: row 2}\r\n  " + kPart + "\r\npoints:\r\n  " + kPoint +
              "\r\nnets:\r\n  " + kNet + "\r\n");
}

TEST_CASE("additions: a file that is all brackets") {
  splices("{padwalk: board/1}", "{padwalk: board/1, parts: {" + kPart + "}, points: {" + kPoint +
                                    "}, nets: {" + kNet + "}}");
  splices("{padwalk: board/1, nets: {OLD: []}, }\n",
          "{padwalk: board/1, parts: {" + kPart + "}, points: {" + kPoint +
              "}, nets: {OLD: [LP1.2, LP1.3], " + kNet + "}, }\n");
}

TEST_CASE("additions: a wire, in a section of its own behind the nets") {
  BoardAdditions additions;
  WireDescription wire;
  wire.name = "W1";
  wire.between = {Reference{"TP1", {}}, Reference{"TP2", {}}};
  wire.gauge = 30;
  wire.length_mm = 45;
  additions.wires.push_back(wire);
  const std::string nets = "padwalk: board/1\npoints:\n  TP1:\n  TP2:\nnets:\n  A: [TP1, TP2]\n";
  const std::string after = "wires:\n  W1: {between: [TP1, TP2], gauge: 30, length: 45 mm}\n";
  CHECK(splice_board(nets + "# end\n", additions, "b.yaml").text == nets + after + "# end\n");
  additions.wires[0].name = "W2";
  CHECK(splice_board(nets + after + "copper: []\n", additions, "b.yaml").text ==
        nets + after + "  W2: {between: [TP1, TP2], gauge: 30, length: 45 mm}\ncopper: []\n");
}

TEST_CASE("additions: what cannot be written is said, with what to add by hand") {
  const auto complaint = [](const std::string& text, const BoardAdditions& additions) {
    return padwalk::test::complaint_of([&] { splice_board(text, additions, "b.yaml"); });
  };
  const std::string by_hand = "; nothing was written; add by hand to parts: " + kPart +
                              ", and to points: " + kPoint + ", and to nets: " + kNet;
  CHECK(complaint("padwalk: board/1\nparts:\n  LP1: {package: row 3}\n", lamp(false)) ==
        "b.yaml:3:3: there is a part LP1 already" + by_hand);
  CHECK(complaint("padwalk: board/1\nnets: ~\n", lamp(false)) ==
        "b.yaml:2:1: nets: holds a word for nothing" + by_hand);
  CHECK(complaint("padwalk: board/1\nnets: [\n", lamp(false)).find(by_hand) != std::string::npos);
  BoardAdditions two = lamp(false);
  two.nets.push_back({"STEP", NetRole::signal, {"TP9"}});
  CHECK(complaint("padwalk: board/1\n", two).find("b.yaml: with the new lines, ") !=
        std::string::npos);
  CHECK(complaint("padwalk: board/1\n", two).find('\n') == std::string::npos);
  CHECK(
      complaint("padwalk: board/1\nnets:\n  OLD: [TP1]\npoints:\n  TP1:\n    note: |+\n      x\n\n",
                lamp(true))
          .find("takes no new line") != std::string::npos);
}

TEST_CASE("additions: a damaged file is refused, or gets them and nothing else") {
  const std::string whole =
      "padwalk: board/1 # by hand\nparts:\n  'R1': {package: row 2} # \"x\"\n"
      "points: {TP1: {},\n  TP2: } # }\nnets:\n  OLD: [TP1,\n    R1.1, # ]\n    ]\n"
      "  GND:\n    route:\n    - [TP2, R1.2]\n    note: |\n      a\n  # end\nnote: x\n";
  std::mt19937 random(3);
  const auto below = [&](std::size_t n) { return random() % n; };
  const std::string odd = "[]{},:#'\"|>-?~&*! \t\r\n\\x1TV";
  int refused = 0;
  int spliced = 0;
  for (int i = 0; i < 1500; ++i) {
    std::string text = whole;
    for (std::size_t n = 1 + below(2); n > 0; --n) {
      const std::size_t at = below(text.size());
      if (below(2) == 0) {
        text[at] = odd[below(odd.size())];
      } else {
        text.insert(at, 1, odd[below(odd.size())]);
      }
    }
    INFO(text);
    try {
      const SplicedText after = splice_board(text, lamp(true), "b.yaml");
      REQUIRE(unspliced(after.text, after.insertions) == text);
      const BoardDescription board = read_good(after.text);
      CHECK(board.parts.size() == read_good(text).parts.size() + 1);
      ++spliced;
    } catch (const BadFile& bad) {
      CHECK(std::string(bad.what()).find("; nothing was written; add by hand to parts: " + kPart) !=
            std::string::npos);
      ++refused;
    }
  }
  CHECK(refused > 200);
  CHECK(spliced > 150);
}

TEST_CASE("additions: what was put in is not taken out of another text") {
  const std::string before = "padwalk: board/1\nnote: x\n";
  const SplicedText spliced = splice_board(before, lamp(false), "b.yaml");
  CHECK(unspliced(spliced.text, spliced.insertions) == before);
  CHECK_FALSE(unspliced(before, spliced.insertions));
  CHECK_FALSE(unspliced("", spliced.insertions));
  CHECK(unspliced(before, {}) == before);
}
