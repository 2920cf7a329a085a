// SPDX-License-Identifier: MIT
#include "graph/board_splice.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/small_board.hpp"

using namespace padwalk::graph;

namespace {

const std::string kSpliced =
    "padwalk: board/1  # made by hand\n"
    "parts:\n"
    "  U1: {package: row 9}\n"
    "  R8: {kind: resistor, value: 4k7, package: axial 10 mm}\n";

const FoundVia kFoundVia{"V7", Xy{12.3, 40.1}, {Side::top, Side::bottom}, "VBAT"};
const std::string kEntry = "V7: {xy: [12.3, 40.1], via: [top, bottom]}";

BoardDescription read_back(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  BoardDescription board = read_board(text, diagnostics);
  diagnostics.throw_if_errors();
  return without_marks(std::move(board));
}

std::string splice(const std::string& text, std::vector<FoundVia> vias = {kFoundVia}) {
  return splice_vias(text, vias, "b.yaml");
}

std::string splice_complaint(const std::string& text, std::vector<FoundVia> vias = {kFoundVia}) {
  return padwalk::test::complaint_of([&] { splice(text, std::move(vias)); });
}

/// Whether `after` is `before` with one or two pieces put in.
bool only_put_in(const std::string& before, const std::string& after) {
  if (after.size() <= before.size()) {
    return false;
  }
  const auto differs = std::mismatch(before.begin(), before.end(), after.begin()).first;
  const auto begin = static_cast<std::size_t>(differs - before.begin());
  std::size_t end = 0;  // bytes that are the same from the end on
  while (end < before.size() - begin &&
         before[before.size() - 1 - end] == after[after.size() - 1 - end]) {
    ++end;
  }
  const std::string middle = before.substr(begin, before.size() - begin - end);
  return after.substr(begin, after.size() - begin - end).find(middle) != std::string::npos;
}

/// Whether `after` says what `before` says and the via besides, and is a good board.
bool adds(const std::string& before, const std::string& after, const FoundVia& via) {
  Diagnostics diagnostics("b.yaml");
  const Board board(read_board(after, diagnostics), diagnostics);
  const auto net = board.find_net(via.net);
  for (const Side side : via.sides) {
    const auto point = board.find_point(via.name + "@" + side_name(side));
    if (!net || !point || board[*point].net != *net || board[*point].xy != via.xy) {
      return false;
    }
  }
  BoardDescription rest = read_back(after);
  const auto of_via = [&](const auto& thing) { return thing.name == via.name; };
  const auto points = std::erase_if(rest.points, of_via);
  std::size_t members = 0;
  for (NetDescription& found : rest.nets) {
    members += std::erase_if(found.members, of_via);
  }
  return points == 1 && members == 1 && rest == read_back(before);
}

std::string with_returns(const std::string& text) {
  std::string result;
  for (const char c : text) {
    result += c == '\n' ? "\r\n" : std::string(1, c);
  }
  return result;
}

std::string without_last_end(std::string text) {
  text.erase(text.find_last_not_of('\n') + 1);
  return text;
}

/// A part of a file, and what it must become; "<V7>" stands for the new point.
struct Form {
  std::string before;
  std::string after;
};

void check_form(const std::string& before, std::string after, const FoundVia& via = kFoundVia) {
  for (std::size_t at = 0; (at = after.find("<V7>", at)) != std::string::npos;) {
    after.replace(at, 4, kEntry);
  }
  INFO(before);
  REQUIRE_NOTHROW(read_back(before));
  CHECK(splice(before, {via}) == after);
  CHECK(splice(with_returns(before), {via}) == with_returns(after));
  CHECK(splice(without_last_end(before), {via}) == without_last_end(after));
  CHECK(splice(with_returns(without_last_end(before)), {via}) ==
        with_returns(without_last_end(after)));
  CHECK(only_put_in(before, after));
  CHECK(adds(before, after, via));
}

const std::string kPlainNet = "nets:\n  VBAT: [R8.1, U1.9]\n";
const std::string kPlainNetAfter = "nets:\n  VBAT: [R8.1, U1.9, V7]\n";

/// How `points:` may be written, before the nets.
const std::vector<Form> kPoints = {
    // Lines, each with its point.
    {"points:\n  TP3: {xy: [1, 2]}\n", "points:\n  TP3: {xy: [1, 2]}\n  <V7>\n"},
    {"points:\n  TP3: {}   # \"spare\" {\n\n  # Nets of the board\n\n",
     "points:\n  TP3: {}   # \"spare\" {\n  <V7>\n\n  # Nets of the board\n\n"},
    {"points:   # all\n     TP3:\n       xy: [1, 2]\n       side: bottom\n# nets:\n",
     "points:   # all\n     TP3:\n       xy: [1, 2]\n       side: bottom\n     <V7>\n# nets:\n"},
    {"points:\n  TP3:\n", "points:\n  TP3:\n  <V7>\n"},
    {"points:\n  TP3: ~ # none\n", "points:\n  TP3: ~ # none\n  <V7>\n"},
    {"points:\n  TP3: {}\n  TP4: {side: top,\n\n    pad: [1, # w ]\n    2] }  \n",
     "points:\n  TP3: {}\n  TP4: {side: top,\n\n    pad: [1, # w ]\n    2] }  \n  <V7>\n"},
    {"points:\n  TP3: {note: \"}\\\"# {\"}\n  'it''s': {note: it's # odd\n  }\n",
     "points:\n  TP3: {note: \"}\\\"# {\"}\n  'it''s': {note: it's # odd\n  }\n  <V7>\n"},
    {"points:\n  TP3:\n    note: |\n      it's \"all\n      # text: [\n\n# Nets\n",
     "points:\n  TP3:\n    note: |\n      it's \"all\n      # text: [\n  <V7>\n\n# Nets\n"},
    {"points:\n  TP3:\n    note: >-\n\n\n      one\n\n     \n      two\n",
     "points:\n  TP3:\n    note: >-\n\n\n      one\n\n     \n      two\n  <V7>\n"},
    {"points:\n  TP3:\n    note: Grüße\n      an   alle\n\n      Ω # ~\n",
     "points:\n  TP3:\n    note: Grüße\n      an   alle\n\n      Ω # ~\n  <V7>\n"},
    {"points:\n  TP3:\n    note: 'one\n\n      # two'\n",
     "points:\n  TP3:\n    note: 'one\n\n      # two'\n  <V7>\n"},
    {"points:\n  TP3:\n    note: |\n      text\n    # aside\n",
     "points:\n  TP3:\n    note: |\n      text\n  <V7>\n    # aside\n"},
    {"points:\n  TP3:\n    note: 'it''s, } # x'\n  TP4: {note: \"\\\\\"}\n",
     "points:\n  TP3:\n    note: 'it''s, } # x'\n  TP4: {note: \"\\\\\"}\n  <V7>\n"},
    {"points: {TP3: {note: 'it''s, } # x'}}\n", "points: {TP3: {note: 'it''s, } # x'}, <V7>}\n"},
    // Brackets.
    {"points: {TP3: {xy: [1, 2]}}\n", "points: {TP3: {xy: [1, 2]}, <V7>}\n"},
    {"points: {}\n", "points: {<V7>}\n"},
    {"points: { } # none, so far: {\n", "points: {<V7> } # none, so far: {\n"},
    {"points:\n  {\n  }\n", "points:\n  {<V7>\n  }\n"},
    {"points: {\n  TP3: {xy: [1, 2]},  # a }\n  TP4: {} # 'b'\n  # c, \"\n}\n",
     "points: {\n  TP3: {xy: [1, 2]},  # a }\n  TP4: {}, <V7> # 'b'\n  # c, \"\n}\n"},
    {"points: {\n  TP3: {},  # a }\n}  # }\n", "points: {\n  TP3: {}, <V7>,  # a }\n}  # }\n"},
    {"points: {\"TP[3]\": {}, TP4: }\n", "points: {\"TP[3]\": {}, TP4:, <V7> }\n"},
    {"points: {TP3: {}, TP4}\n", "points: {TP3: {}, TP4, <V7>}\n"},
    {"points: {TP3: ~, TP4: null}\n", "points: {TP3: ~, TP4: null, <V7>}\n"},
    // Nothing.
    {"points:\n", "points:\n  <V7>\n"},
    {"points:   # none: [\n\n# Nets\n", "points:   # none: [\n  <V7>\n\n# Nets\n"},
    {"", "points:\n  <V7>\n"},
    {"note: good\n\n# All the nets: {\n", "note: good\npoints:\n  <V7>\n\n# All the nets: {\n"},
};

/// How the net may be written, indented by two, before another net.
const std::vector<Form> kNets = {
    // A plain list.
    {"VBAT: [R8.1, U1.9]", "VBAT: [R8.1, U1.9, V7]"},
    {"VBAT:   [R8.1,U1.9 ]# x", "VBAT:   [R8.1,U1.9, V7 ]# x"},
    {"VBAT: [R8.1, U1.9,]", "VBAT: [R8.1, U1.9, V7,]"},
    {"VBAT: [R8.1, U1.9 , ]", "VBAT: [R8.1, U1.9 , V7, ]"},
    {"VBAT: []", "VBAT: [V7]"},
    {"VBAT: [\n    ]", "VBAT: [V7\n    ]"},
    {"VBAT:\n    [R8.1,  # the \"first\" ]\n\n     'U1.9' # it's [ the last, }\n  # ]\n    ]",
     "VBAT:\n    [R8.1,  # the \"first\" ]\n\n     'U1.9', V7 # it's [ the last, }\n  # ]\n    ]"},
    {"VBAT: [\n    R8.1, # ,\n    U1.9, # ]\n  ]",
     "VBAT: [\n    R8.1, # ,\n    U1.9, V7, # ]\n  ]"},
    {"'VBAT' : [R8.1]", "'VBAT' : [R8.1, V7]"},
    {"\"V\\x42AT\": [\"R8.1\"]", "\"V\\x42AT\": [\"R8.1\", V7]"},
    {"? VBAT\n  : [R8.1]", "? VBAT\n  : [R8.1, V7]"},
    // A list in lines.
    {"VBAT:\n    - R8.1\n    - U1.9", "VBAT:\n    - R8.1\n    - U1.9\n    - V7"},
    {"VBAT:\n  - R8.1\n  -   \"U1.9\"   # [ '\n  # end",
     "VBAT:\n  - R8.1\n  -   \"U1.9\"   # [ '\n  - V7\n  # end"},
    {"VBAT: # x\n\n       - R8.1", "VBAT: # x\n\n       - R8.1\n       - V7"},
    // A map in brackets.
    {"VBAT: {role: supply, points: [R8.1, U1.9]}",
     "VBAT: {role: supply, points: [R8.1, U1.9, V7]}"},
    {"VBAT: {points: [R8.1], drive: never, note: \"]}\"}",
     "VBAT: {points: [R8.1, V7], drive: never, note: \"]}\"}"},
    {"VBAT: {route: [[R8.1, U1.9]], also: [U1.2]}",
     "VBAT: {route: [[R8.1, U1.9]], also: [U1.2, V7]}"},
    {"VBAT: {route: [[R8.1, U1.9]]}", "VBAT: {route: [[R8.1, U1.9]], also: [V7]}"},
    {"VBAT: {route: [{side: top, chain: [R8.1, U1.9]}], # }\n    role: supply, # ground\n  }",
     "VBAT: {route: [{side: top, chain: [R8.1, U1.9]}], # }\n    role: supply, also: [V7], # "
     "ground\n  }"},
    {"VBAT: {role: supply}", "VBAT: {role: supply, points: [V7]}"},
    {"VBAT: {}", "VBAT: {points: [V7]}"},
    {"VBAT: {also: [], points: [R8.1]}", "VBAT: {also: [V7], points: [R8.1]}"},
    // A map in lines.
    {"VBAT:\n    role: supply\n    points: [R8.1]  # all",
     "VBAT:\n    role: supply\n    points: [R8.1, V7]  # all"},
    {"VBAT:\n    points:\n      - R8.1\n      - U1.9\n    role: supply",
     "VBAT:\n    points:\n      - R8.1\n      - U1.9\n      - V7\n    role: supply"},
    {"VBAT:\n    points:\n    - R8.1\n    role: supply",
     "VBAT:\n    points:\n    - R8.1\n    - V7\n    role: supply"},
    {"VBAT:\n    route:\n      - [R8.1, U1.9]\n    also:\n    - U1.2 # x\n",
     "VBAT:\n    route:\n      - [R8.1, U1.9]\n    also:\n    - U1.2 # x\n    - V7\n"},
    {"VBAT:\n    route:\n      - [R8.1, U1.9]  # long: way\n      # more\n",
     "VBAT:\n    route:\n      - [R8.1, U1.9]  # long: way\n    also: [V7]\n      # more\n"},
    {"VBAT:\n    route:\n    -\n      - R8.1\n      - U1.9\n    - side: bottom\n      chain:\n     "
     " - U1.9\n      - U1.2",
     "VBAT:\n    route:\n    -\n      - R8.1\n      - U1.9\n    - side: bottom\n      chain:\n     "
     " - U1.9\n      - U1.2\n    also: [V7]"},
    {"VBAT:\n    route: [[R8.1, U1.9]]\n    note: |\n      - VBAT: [\n     # '\n",
     "VBAT:\n    route: [[R8.1, U1.9]]\n    note: |\n      - VBAT: [\n     # '\n    also: [V7]\n"},
};

}  // namespace

TEST_CASE("a via goes into points however they are written") {
  for (const Form& form : kPoints) {
    check_form(kSpliced + form.before + kPlainNet, kSpliced + form.after + kPlainNetAfter);
    check_form(kSpliced + kPlainNet + "copper: []\n" + form.before, [&] {
      if (form.after.find("points") == 0 && form.before.find("points") == 0) {
        return kSpliced + kPlainNetAfter + "copper: []\n" + form.after;
      }
      return kSpliced + "points:\n  <V7>\n" + kPlainNetAfter + "copper: []\n" + form.before;
    }());
  }
}

TEST_CASE("a via goes into its net however it is written") {
  for (const Form& form : kNets) {
    for (const std::string behind : {"\n", "\n  GND: [R8.2]\n", "\n\n# the end\nregions: {}\n"}) {
      check_form(kSpliced + "points:\n  TP3: {}\nnets:\n  " + form.before + behind,
                 kSpliced + "points:\n  TP3: {}\n  <V7>\nnets:\n  " + form.after + behind);
    }
  }
}

TEST_CASE("a via goes into a file that is all brackets") {
  const std::string head = "{padwalk: board/1, parts: {R8: {package: axial 10 mm}}, ";
  check_form(head + "nets: {VBAT: [R8.1]}}\n",
             head + "points: {<V7>}, nets: {VBAT: [R8.1, V7]}}\n");
  check_form(head + "\"points\":{\"TP3\":{}},\"nets\":{\"VBAT\":[\"R8.1\"]}}\n",
             head + "\"points\":{\"TP3\":{}, <V7>},\"nets\":{\"VBAT\":[\"R8.1\", V7]}}\n");
  check_form(head + "\n  points: ,\n  nets: {VBAT: [R8.1]},\n}\n",
             head + "\n  points: {<V7>} ,\n  nets: {VBAT: [R8.1, V7]},\n}\n");
}

TEST_CASE("names that need quotes get them, and nets are found by what they say") {
  const std::string before = kSpliced +
                             "points: {}\nnets:\n  'A/B': [R8.1]\n  \"X Y\": [R8.2]\n"
                             "  \"#RESET\": [U1.1]\n  1e3: [U1.2]\n  Ω, \"Ω\": [U1.3]\n";
  const std::vector<FoundVia> vias = {{"#1", {}, {Side::bottom, Side::inner1}, "A/B"},
                                      {"V 8", Xy{-1, 0.5}, {Side::top, Side::bottom}, "#RESET"},
                                      {"12", {}, {Side::top, inner_side(2), Side::bottom}, "X Y"},
                                      {"no", {}, {Side::top, Side::bottom}, "1e3"},
                                      {"Ω[]", {}, {Side::top, Side::bottom}, "Ω, \"Ω\""},
                                      {"V9", {}, {Side::top, Side::bottom}, "A/B"}};
  const std::string after =
      kSpliced +
      "points: {\"#1\": {via: [bottom, inner1]}, V 8: {xy: [-1, 0.5], via: [top, bottom]}, "
      "\"12\": {via: [top, inner2, bottom]}, \"no\": {via: [top, bottom]}, "
      "\"Ω[]\": {via: [top, bottom]}, V9: {via: [top, bottom]}}\n"
      "nets:\n  'A/B': [R8.1, \"#1\", V9]\n  \"X Y\": [R8.2, \"12\"]\n"
      "  \"#RESET\": [U1.1, V 8]\n  1e3: [U1.2, \"no\"]\n  Ω, \"Ω\": [U1.3, \"Ω[]\"]\n";
  CHECK(splice(before, vias) == after);
  CHECK(splice(before, {}) == before);

  const std::string lines =
      kSpliced + "nets:\n    VBAT:\n    - R8.1\n    GND: {route: [[R8.2, U1.2]]}\n";
  CHECK(splice(lines, {{"#1", {}, {Side::top, Side::bottom}, "VBAT"},
                       {"V2", {}, {Side::top, Side::bottom}, "VBAT"},
                       {"V3", {}, {Side::top, Side::bottom}, "GND"}}) ==
        kSpliced +
            "points:\n    \"#1\": {via: [top, bottom]}\n    V2: {via: [top, bottom]}\n"
            "    V3: {via: [top, bottom]}\n"
            "nets:\n    VBAT:\n    - R8.1\n    - \"#1\"\n    - V2\n"
            "    GND: {route: [[R8.2, U1.2]], also: [V3]}\n");
}

TEST_CASE("what cannot be written is said in one line, with what to add by hand") {
  const std::string by_hand =
      "; nothing was written; add by hand to points: " + kEntry + ", and V7 to net VBAT";
  CHECK(splice_complaint(kSpliced) == "b.yaml: there is no net VBAT" + by_hand);
  CHECK(splice_complaint(kSpliced + "nets:\n  GND: [R8.1]\n") ==
        "b.yaml:6:3: there is no net VBAT" + by_hand);
  CHECK(splice_complaint(kSpliced + "points:\n  V7: {}\n" + kPlainNet) ==
        "b.yaml:6:3: there is a point V7 already" + by_hand);
  CHECK(splice_complaint(kSpliced + "points: ~\n" + kPlainNet) ==
        "b.yaml:5:1: points: holds a word for nothing" + by_hand);
  CHECK(splice_complaint(kSpliced + "nets:\n  VBAT: &a [R8.1]\n").find("b.yaml:6:9: an anchor") ==
        0);
  CHECK(splice_complaint(kSpliced + "nets:\n  VBAT: &a [R8.1]\n").find(by_hand) !=
        std::string::npos);
  CHECK(splice_complaint(kSpliced + "nets:\n  VBAT: [R8.1\n").find("this is not YAML") !=
        std::string::npos);
  // Two mistakes: the first one.
  const std::string two = splice_complaint(kSpliced + "x: 1\ny: 2\n" + kPlainNet);
  CHECK(two.find("b.yaml:5:1: the key \"x\"") == 0);
  CHECK(two.find('\n') == std::string::npos);

  const auto of = [&](const FoundVia& via) {
    return splice_complaint(kSpliced + kPlainNet, {via});
  };
  CHECK(of({"R8.2", {}, {Side::top, Side::top}, "VBAT"}).find("expected two different") !=
        std::string::npos);
  CHECK(of({"V7", Xy{1e9, 0}, {Side::top, Side::bottom}, "VBAT"}).find("xy is") !=
        std::string::npos);
  CHECK(of({"", {}, {Side::top, Side::bottom}, "VBAT"}).find("empty") != std::string::npos);
  CHECK(of({"R8.2", {}, {Side::top, Side::bottom}, "VBAT"}).find("two points named R8.2") !=
        std::string::npos);
  CHECK(splice_complaint(kSpliced + kPlainNet, {kFoundVia, kFoundVia})
            .find("two new vias have the name V7") != std::string::npos);
  // With |+ the blank lines belong to the text.
  const std::string keeps = "points:\n  TP3:\n    note: |+\n      all\n\n\n";
  CHECK(splice_complaint(kSpliced + keeps + kPlainNet).find("takes no new via") !=
        std::string::npos);
}

TEST_CASE("a via goes into every net of the demo board") {
  const std::string before =
      read_file(std::string(PADWALK_SOURCE_DIR) + "/boards/tide-gauge/board.yaml");
  const BoardDescription board = read_back(before);
  REQUIRE(board.nets.size() > 40);
  std::vector<FoundVia> all;
  for (const NetDescription& net : board.nets) {
    const FoundVia via{"found in " + net.name, Xy{1.5, 2.25}, {Side::bottom, Side::top}, net.name};
    INFO(net.name);
    for (const bool returns : {false, true}) {
      const std::string text = returns ? with_returns(before) : before;
      std::string after = splice(text, {via});
      CHECK(adds(text, after, via));
      CHECK(only_put_in(text, after));
      // Its point is a line behind the last one, and without it one place is left.
      const std::string end = returns ? "\r\n" : "\n";
      const std::string line =
          "  found in " + net.name + ": {xy: [1.5, 2.25], via: [bottom, top]}" + end;
      const std::size_t at = after.find(line);
      REQUIRE(at != std::string::npos);
      CHECK(after.compare(at + line.size(), 5, "nets:") == 0);
      after.erase(at, line.size());
      CHECK(after.size() - text.size() <= via.name.size() + std::string("\r\n    also: []").size());
    }
    all.push_back(via);
  }
  const std::string after = splice(before, all);
  CHECK(read_back(after).points.size() == board.points.size() + all.size());
}

TEST_CASE("a damaged file is refused, or gets its via and nothing else") {
  const std::string whole =
      kSpliced +
      "points:\n  TP3: {xy: [1, 2]} # \"pad\"\n  'TP4': {note: it's}\n"
      "nets:\n  VBAT: [R8.1,\n    U1.9, # ]\n    ]\n"
      "  GND: {role: ground, points: [R8.2, 'U1.2']}\n"
      "  \"A B\":\n    - U1.3\n    - TP3 # x\n"
      "  CLK:\n    route:\n      - [U1.4, U1.5]\n    note: |\n      slow # '\n"
      "copper:\n  - {between: [U1.4, U1.5], width: 1 mm}\n";
  const std::vector<std::string> nets = {"VBAT", "GND", "A B", "CLK"};
  std::mt19937 random(11);
  const auto below = [&](std::size_t n) { return random() % n; };
  const std::string odd = "[]{},:#'\"|>-?~&*! \t\r\n\\x1TV";
  int refused = 0;
  int spliced = 0;
  for (int i = 0; i < 2000; ++i) {
    std::string text = i % 2 == 0 ? whole : with_returns(whole);
    for (std::size_t n = 1 + below(2); n > 0; --n) {
      const std::size_t at = below(text.size());
      switch (below(5)) {
        case 0:
          text[at] = odd[below(odd.size())];
          break;
        case 1:
          text.insert(at, 1, odd[below(odd.size())]);
          break;
        case 2:
          text.erase(at, 1 + below(3));
          break;
        case 3:
          text.insert(at, text.substr(below(text.size()), below(12)));
          break;
        default:
          text.insert(at, std::string(1 + below(3), ' '));
          break;
      }
    }
    FoundVia via = kFoundVia;
    via.net = nets[below(nets.size())];
    std::string after;
    try {
      after = splice(text, {via});
    } catch (const BadFile& bad) {
      const std::string what = bad.what();
      CHECK(what.find("add by hand to points: " + kEntry) != std::string::npos);
      ++refused;
      continue;
    }
    ++spliced;
    INFO(text);
    INFO(after);
    CHECK(only_put_in(text, after));
    CHECK(adds(text, after, via));
  }
  CHECK(refused > 300);
  CHECK(spliced > 200);
}
