// SPDX-License-Identifier: MIT
//
// Switches from the terminals that conduct in their positions, whole and with each fault. Contact
// forms A, B, C, D, K: knowledge.ni.com kA00Z0000019VEVSA2. Two rows of three, common in the
// middle: common practice, no source.
#include "graph/switch_table.hpp"

#include <catch2/catch.hpp>
#include <numeric>
#include <random>

#include "graph/switch_compare.hpp"

namespace {

using namespace padwalk::graph;

/// Terminals by their printed numbers, which count from 1.
SwitchTable table(std::size_t terminals,
                  const std::vector<std::pair<std::string, JoinedTerminals>>& positions) {
  SwitchTable made;
  for (std::size_t n = 1; n <= terminals; ++n) {
    made.terminals.push_back(std::to_string(n));
  }
  for (const auto& [name, joined] : positions) {
    made.positions.push_back({name, joined});
    for (auto& group : made.positions.back().joined) {
      for (std::size_t& terminal : group) {
        --terminal;
      }
    }
  }
  return made;
}

bool says(const std::vector<std::string>& sentences, const std::string& part) {
  return std::any_of(sentences.begin(), sentences.end(),
                     [&](const std::string& one) { return one.find(part) != std::string::npos; });
}

const SwitchTable kMake = table(2, {{"out", {}}, {"in", {{1, 2}}}});
const SwitchTable kBreak = table(2, {{"out", {{1, 2}}}, {"in", {}}});
const SwitchTable kChange = table(3, {{"out", {{1, 2}}}, {"in", {{2, 3}}}});
const SwitchTable kCentreOff = table(3, {{"centre", {}}, {"up", {{1, 2}}}, {"down", {{2, 3}}}});
const SwitchTable kTwoRows = table(6, {{"out", {{1, 2}, {4, 5}}}, {"in", {{2, 3}, {5, 6}}}});
const SwitchTable kRotary =
    table(5, {{"1", {{1, 5}}}, {"2", {{2, 5}}}, {"3", {{3, 5}}}, {"4", {{4, 5}}}});
const SwitchTable kBank = table(9, {{"none", {{1, 2}, {4, 5}, {7, 8}}},
                                    {"a", {{2, 3}, {4, 5}, {7, 8}}},
                                    {"b", {{1, 2}, {5, 6}, {7, 8}}},
                                    {"c", {{1, 2}, {4, 5}, {8, 9}}}});
const SwitchTable kReversing = table(4, {{"1", {{1, 3}, {2, 4}}}, {"2", {{1, 4}, {2, 3}}}});

using Fault = SwitchFault;
using FaultKind = SwitchFaultKind;

}  // namespace

TEST_CASE("each form of switch is named from its table", "[graph][switch]") {
  SwitchDescription is = describe_switch(kMake);
  CHECK(is.form == "1A");
  CHECK(is.trade == "single pole single throw, normally open");
  CHECK(is.ambiguous.empty());
  CHECK(!is.poles.at(0).common);
  CHECK(describe_switch(kBreak).form == "1B");
  is = describe_switch(kChange);
  CHECK(is.form == "1C");
  CHECK(is.trade == "single pole double throw");
  CHECK(is.poles.at(0).common == 1);
  CHECK(is.poles[0].throws == std::vector<std::size_t>{0, 2});
  CHECK(says(is.ambiguous, "Form C or D"));
  is = describe_switch(kCentreOff);
  CHECK(is.form == "1K");
  CHECK(is.trade == "single pole double throw, centre off");
  CHECK(is.ambiguous.empty());
  is = describe_switch(kTwoRows);
  CHECK(is.form == "2C");
  CHECK(is.trade == "double pole double throw");
  CHECK(is.poles.at(0).common == 1);
  CHECK(is.poles.at(1).common == 4);
  is = describe_switch(kRotary);
  CHECK(is.form == "one of 4");
  CHECK(is.one_of == 4);
  CHECK(is.poles.at(0).common == 4);
  CHECK(says(is.ambiguous, "Shorting or not"));
  is = describe_switch(kBank);
  CHECK(is.form == "one of 3");
  CHECK(is.poles.size() == 3);
  CHECK(describe_switch(kReversing).form == "1 reversing");
  CHECK(describe_switch(table(4, {{"out", {{1, 2}}}, {"in", {{3, 4}}}})).form == "1A 1B");
  is =
      describe_switch(table(3, {{"left", {{1, 2}}}, {"middle", {{1, 2, 3}}}, {"right", {{2, 3}}}}));
  CHECK(is.form == "1D");
  CHECK(is.trade == "single pole double throw, both on in the middle");
}

TEST_CASE("what a table cannot tell is said", "[graph][switch]") {
  SwitchTable toggle = kMake;
  toggle.rest_known = false;
  SwitchDescription is = describe_switch(toggle);
  CHECK(is.form == "1A/B");
  CHECK(says(is.ambiguous, "which position is the one at rest"));
  // A key with two legs a side.
  is = describe_switch(table(4, {{"out", {{1, 2}, {3, 4}}}, {"in", {{1, 2, 3, 4}}}}));
  CHECK(is.form == "1A");
  CHECK(is.poles.at(0).terminals == std::vector<std::size_t>{0, 2});
  CHECK(says(is.ambiguous, "1 and 2 conduct in every position"));
  is = describe_switch(table(3, {{"out", {}}, {"in", {{1, 2, 3}}}}));
  CHECK(is.form == "other");
  CHECK(says(is.ambiguous, "Which of 1 and 2 and 3 is the common"));
  is = describe_switch(table(3, {{"out", {{1, 2}}}, {"in", {}}}));
  CHECK(is.form == "1B");
  CHECK(is.unused == std::vector<std::size_t>{2});
  is = describe_switch(table(2, {{"out", {}}, {"in", {}}}));
  CHECK(is.form == "none");
  CHECK_THROWS_AS(describe_switch(table(2, {{"out", {}}})), std::invalid_argument);

  CHECK(middle_common_guesses(kTwoRows).empty());
  const auto guesses =
      middle_common_guesses(table(6, {{"out", {{1, 2}}}, {"in", {{2, 3}, {5, 6}}}}));
  REQUIRE(guesses.size() == 1);
  CHECK(guesses[0] ==
        "If 5 is a common in the middle of its row (common practice, no source), 4 is "
        "a throw of it that never closes.");
  CHECK(middle_common_guesses(table(3, {{"out", {{1, 3}}}, {"in", {}}})).empty());
}

TEST_CASE("a table is written as a board file has it", "[graph][switch]") {
  CHECK(positions_line(kMake, true) == "positions: {out: [], in: [[1, 2]]}, momentary: true");
  CHECK(positions_line(table(6, {{"no", {{1, 2}, {4, 5}}}, {"a: b", {}}}), false) ==
        "positions: {\"no\": [[1, 2], [4, 5]], \"a: b\": []}");
}

TEST_CASE("each fault of each form is told", "[graph][switch]") {
  using Faults = std::vector<Fault>;
  for (const SwitchTable& whole :
       {kMake, kBreak, kChange, kCentreOff, kTwoRows, kRotary, kBank, kReversing}) {
    CHECK(compare_switch(whole, whole).empty());
    for (std::size_t stays = 0; stays < whole.positions.size(); ++stays) {
      SwitchTable stuck = whole;
      for (auto& position : stuck.positions) {
        position.joined = whole.positions[stays].joined;
      }
      CHECK(compare_switch(whole, stuck) == Faults{{FaultKind::stuck, 0, 0, {stays}}});
    }
  }
  CHECK(switch_fault_text(kMake, {FaultKind::stuck, 0, 0, {0}}) ==
        "nothing changes: it stays as in position 'out', or 1 and 2 never close");

  // Throws and positions the other way round.
  CHECK(compare_switch(kMake, kBreak) == Faults{{FaultKind::exchanged_positions, 0, 0, {0, 1}}});
  CHECK(compare_switch(kChange, table(3, {{"out", {{2, 3}}}, {"in", {{1, 2}}}})) ==
        Faults{{FaultKind::exchanged, 0, 2, {}}});
  CHECK(compare_switch(kCentreOff, table(3, {{"c", {}}, {"u", {{2, 3}}}, {"d", {{1, 2}}}})) ==
        Faults{{FaultKind::exchanged, 0, 2, {}}});
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{1, 2}, {5, 6}}}, {"in", {{2, 3}, {4, 5}}}})) ==
        Faults{{FaultKind::exchanged, 3, 5, {}}});
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{2, 3}, {5, 6}}}, {"in", {{1, 2}, {4, 5}}}})) ==
        Faults{{FaultKind::exchanged_positions, 0, 0, {0, 1}}});
  CHECK(compare_switch(
            kRotary,
            table(5, {{"1", {{1, 5}}}, {"2", {{3, 5}}}, {"3", {{2, 5}}}, {"4", {{4, 5}}}})) ==
        Faults{{FaultKind::exchanged, 1, 2, {}}});
  CHECK(compare_switch(kChange, table(3, {{"out", {{1, 2}}}, {"in", {{1, 3}}}})) ==
        Faults{{FaultKind::exchanged, 0, 1, {}}});
  // Of two poles: 3 and 6.
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{1, 2}, {4, 5}}}, {"in", {{2, 6}, {3, 5}}}})) ==
        Faults{{FaultKind::exchanged, 2, 5, {}}});

  // A pole that is dead, a contact that is.
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{1, 2}}}, {"in", {{2, 3}}}})) ==
        Faults{{FaultKind::dead_pole, 4, 0, {}}});
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{1, 2}, {4, 5}}}, {"in", {{2, 3}}}})) ==
        Faults{{FaultKind::never_closes, 4, 5, {}}});
  CHECK(compare_switch(kBank, table(9, {{"none", {{1, 2}, {7, 8}}},
                                        {"a", {{2, 3}, {7, 8}}},
                                        {"b", {{1, 2}, {7, 8}}},
                                        {"c", {{1, 2}, {8, 9}}}})) ==
        Faults{{FaultKind::dead_pole, 4, 0, {}}});
  CHECK(compare_switch(kBank, table(9, {{"none", {{1, 2}, {4, 5}, {7, 8}}},
                                        {"a", {{2, 3}, {7, 8}}},
                                        {"b", {{1, 2}, {5, 6}, {7, 8}}},
                                        {"c", {{1, 2}, {4, 5}, {8, 9}}}})) ==
        Faults{{FaultKind::misses, 3, 4, {1}}});
  CHECK(compare_switch(kReversing, table(4, {{"1", {{1, 3}, {2, 4}}}, {"2", {{2, 3}}}})) ==
        Faults{{FaultKind::never_closes, 0, 3, {}}});

  // Welded, and touching.
  CHECK(compare_switch(kChange, table(3, {{"out", {{1, 2}}}, {"in", {{1, 2, 3}}}})) ==
        Faults{{FaultKind::never_opens, 0, 1, {1}}});
  CHECK(compare_switch(kChange, table(3, {{"out", {{1, 2, 3}}}, {"in", {{1, 2, 3}}}})) ==
        Faults{{FaultKind::closes_too, 0, 2, {0, 1}}});
  CHECK(compare_switch(kRotary, table(5, {{"1", {{1, 5}}},
                                          {"2", {{2, 3, 5}}},
                                          {"3", {{2, 3, 5}}},
                                          {"4", {{4, 5}, {2, 3}}}})) ==
        Faults{{FaultKind::closes_too, 1, 2, {1, 2, 3}}});
  CHECK(compare_switch(kTwoRows,
                       table(6, {{"out", {{1, 2, 4, 5}}}, {"in", {{2, 3}, {5, 6}, {1, 4}}}})) ==
        Faults{{FaultKind::across, 0, 3, {0, 1}}});
  CHECK(switch_fault_text(kTwoRows, {FaultKind::across, 0, 3, {0, 1}}) ==
        "1 and 4 touch across poles in 'out', 'in'");
  // Two at once.
  CHECK(compare_switch(kTwoRows, table(6, {{"out", {{2, 3}}}, {"in", {{1, 2}}}})) ==
        Faults{{FaultKind::exchanged, 0, 2, {}}, {FaultKind::dead_pole, 4, 0, {}}});
  CHECK_THROWS_AS(compare_switch(kTwoRows, kChange), std::invalid_argument);
}

namespace {

/// A switch as somebody made it: its poles, and the table that follows from them.
struct MadeSwitch {
  struct Pole {
    PoleKind kind;
    std::vector<std::size_t> terminals;  ///< the common first, then throws
  };
  std::vector<Pole> poles;
  SwitchTable table;
  bool rotary = false;
};

MadeSwitch make_switch(std::mt19937& random) {
  const auto draw = [&](std::size_t from, std::size_t to) {
    return std::uniform_int_distribution<std::size_t>(from, to)(random);
  };
  MadeSwitch made;
  const std::size_t terminals = draw(2, 12);
  std::vector<std::size_t> order(terminals);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::shuffle(order.begin(), order.end(), random);
  for (std::size_t n = 0; n < terminals; ++n) {
    made.table.terminals.push_back("t" + std::to_string(n));
  }
  // 0: two positions; 1: centre off; 2: rotary of three positions or more.
  const std::size_t style = draw(0, 2);
  const std::size_t throws = style == 2 ? draw(3, 6) : 2;
  made.rotary = style == 2;
  const std::size_t positions = style == 0 ? 2 : style == 1 ? 3 : throws;
  made.table.positions.resize(positions);
  for (std::size_t p = 0; p < positions; ++p) {
    made.table.positions[p].name = "p" + std::to_string(p);
  }
  made.table.rest_known = draw(0, 3) > 0;
  std::size_t used = 0;
  while (used < terminals) {
    PoleKind kind = style == 1   ? PoleKind::centre_off
                    : style == 2 ? PoleKind::one_of
                                 : std::vector{PoleKind::make, PoleKind::break_,
                                               PoleKind::change_over}[draw(0, 2)];
    const std::size_t needs = kind == PoleKind::make || kind == PoleKind::break_ ? 2 : throws + 1;
    if (used + needs > terminals || (!made.poles.empty() && draw(0, 5) == 0)) {
      break;
    }
    MadeSwitch::Pole pole{kind,
                          {order.begin() + static_cast<std::ptrdiff_t>(used),
                           order.begin() + static_cast<std::ptrdiff_t>(used + needs)}};
    used += needs;
    for (std::size_t p = 0; p < positions; ++p) {
      std::optional<std::size_t> on;
      switch (kind) {
        case PoleKind::make:
          on = p == 1 ? std::optional<std::size_t>(1) : std::nullopt;
          break;
        case PoleKind::break_:
          on = p == 0 ? std::optional<std::size_t>(1) : std::nullopt;
          break;
        case PoleKind::centre_off:
          on = p == 0 ? std::nullopt : std::optional(p);
          break;
        default:
          on = p + 1;
      }
      if (on) {
        made.table.positions[p].joined.push_back({pole.terminals[0], pole.terminals[*on]});
      }
    }
    made.poles.push_back(std::move(pole));
  }
  return made;
}

}  // namespace

TEST_CASE("a thousand random switches are told from their tables, or said to be ambiguous",
          "[graph][switch]") {
  std::mt19937 random(11);
  std::size_t rotary = 0, ambiguous = 0, faulty = 0;
  for (int run = 0; run < 1000; ++run) {
    const MadeSwitch made = make_switch(random);
    const SwitchDescription is = describe_switch(made.table);
    CAPTURE(run, positions_line(made.table, false));
    REQUIRE(is.poles.size() == made.poles.size());
    bool c_or_d = false, shorting = false, rest = false;
    std::size_t used = 0;
    for (const MadeSwitch::Pole& pole : made.poles) {
      std::vector<std::size_t> terminals = pole.terminals;
      std::sort(terminals.begin(), terminals.end());
      used += terminals.size();
      const auto found = std::find_if(is.poles.begin(), is.poles.end(), [&](const SwitchPole& one) {
        return one.terminals == terminals;
      });
      REQUIRE(found != is.poles.end());
      const bool two = terminals.size() == 2;
      const bool unknown = two && !made.table.rest_known;
      CHECK(found->kind == (unknown ? PoleKind::one_throw : pole.kind));
      CHECK(found->common.has_value() != two);
      if (!two) {
        CHECK(found->common == pole.terminals[0]);
        CHECK(found->throws ==
              std::vector<std::size_t>(pole.terminals.begin() + 1, pole.terminals.end()));
      }
      c_or_d = c_or_d || pole.kind == PoleKind::change_over;
      shorting = shorting || pole.kind == PoleKind::one_of;
      rest = rest || unknown;
    }
    CHECK(is.unused.size() == made.table.terminals.size() - used);
    // Exactly where another description has the same table: D for C, shorting, B for A turned
    // round.
    CHECK(says(is.ambiguous, "Form C or D") == c_or_d);
    CHECK(says(is.ambiguous, "Shorting or not") == shorting);
    CHECK(says(is.ambiguous, "Form A or B") == rest);
    CHECK(is.ambiguous.size() == std::size_t{c_or_d} + shorting + rest);
    CHECK((is.one_of > 0) == (made.rotary && !made.poles.empty()));
    rotary += made.rotary && !made.poles.empty();
    ambiguous += !is.ambiguous.empty();

    // Two of its terminals joined for good that never meet: one fault, of that pair.
    const std::size_t count = made.table.terminals.size();
    const std::vector<TerminalPartition> whole = partitions_of(made.table);
    for (std::size_t a = 0; a < count; ++a) {
      const std::size_t b = (a + 1 + static_cast<std::size_t>(run)) % count;
      const auto meets = [&](const TerminalPartition& one) { return one.together(a, b); };
      if (a == b || std::any_of(whole.begin(), whole.end(), meets)) {
        continue;
      }
      SwitchTable bridged = made.table;
      std::vector<std::size_t> everywhere;
      for (std::size_t p = 0; p < bridged.positions.size(); ++p) {
        TerminalPartition joined = whole[p];
        joined.join(a, b);
        bridged.positions[p].joined = joined.groups();
        everywhere.push_back(p);
      }
      const std::vector<SwitchFault> faults = compare_switch(made.table, bridged);
      REQUIRE(faults.size() == 1);
      CHECK(std::pair(faults[0].a, faults[0].b) == std::pair(std::min(a, b), std::max(a, b)));
      CHECK(faults[0].positions == everywhere);
      ++faulty;
      break;
    }
  }
  CHECK(rotary > 100);
  CHECK(ambiguous > 300);
  CHECK(faulty > 500);
}
