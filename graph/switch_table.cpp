// SPDX-License-Identifier: MIT
#include "graph/switch_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <stdexcept>

#include "graph/yaml_text.hpp"

namespace padwalk::graph {

namespace {

using Terminals = std::vector<std::size_t>;

bool holds_terminal(const Terminals& group, std::size_t terminal) {
  return std::find(group.begin(), group.end(), terminal) != group.end();
}

/// Finds the poles of one table and names them.
class SwitchReader {
 public:
  explicit SwitchReader(const SwitchTable& table)
      : table_(table),
        partitions_(partitions_of(table)),
        count_(table.terminals.size()),
        always_(count_, {}),
        ever_(count_, {}) {
    for (std::size_t a = 0; a < count_; ++a) {
      for (std::size_t b = a + 1; b < count_; ++b) {
        const auto joined = [&](const TerminalPartition& one) { return one.together(a, b); };
        if (std::all_of(partitions_.begin(), partitions_.end(), joined)) {
          always_.join(a, b);
        }
        if (std::any_of(partitions_.begin(), partitions_.end(), joined)) {
          ever_.join(a, b);
        }
      }
    }
  }

  SwitchDescription read() {
    find_poles();
    for (const SwitchPole& pole : found_.poles) {
      found_.throws = std::max(found_.throws, pole.throws.size());
    }
    found_.one_of = count_one_of();
    found_.form = form();
    found_.trade = trade();
    tell_ambiguous();
    return std::move(found_);
  }

 private:
  const std::string& name(std::size_t terminal) const { return table_.terminals[terminal]; }
  std::size_t positions() const { return partitions_.size(); }

  void find_poles() {
    found_.always = always_.groups();
    for (std::size_t a = 0; a < count_; ++a) {
      Terminals terminals;  // of legs that are one, the first
      bool first = true;
      for (std::size_t b = 0; b < count_; ++b) {
        if (!ever_.together(a, b)) {
          continue;
        }
        first = first && b >= a;
        if (std::none_of(terminals.begin(), terminals.end(),
                         [&](std::size_t c) { return always_.together(b, c); })) {
          terminals.push_back(b);
        }
      }
      if (!first) {
        continue;
      }
      if (terminals.size() > 1) {
        add_pole(std::move(terminals));
      } else if (std::none_of(found_.always.begin(), found_.always.end(),
                              [&](const Terminals& group) { return group.front() == a; })) {
        found_.unused.push_back(a);
      }
    }
  }

  /// Groups of two or more of these terminals in that position.
  JoinedTerminals groups_at(std::size_t position, const Terminals& terminals) const {
    JoinedTerminals groups;
    for (const std::size_t a : terminals) {
      const auto same = std::find_if(groups.begin(), groups.end(), [&](const Terminals& group) {
        return partitions_[position].together(group.front(), a);
      });
      same == groups.end() ? groups.push_back({a}) : same->push_back(a);
    }
    std::erase_if(groups, [](const Terminals& group) { return group.size() < 2; });
    return groups;
  }

  void add_pole(Terminals terminals) {
    SwitchPole pole;
    std::vector<JoinedTerminals> at;
    for (std::size_t position = 0; position < positions(); ++position) {
      at.push_back(groups_at(position, terminals));
    }
    Terminals commons;
    for (const std::size_t candidate : terminals) {
      if (std::all_of(at.begin(), at.end(), [&](const JoinedTerminals& groups) {
            return groups.empty() ||
                   (groups.size() == 1 && holds_terminal(groups.front(), candidate));
          })) {
        commons.push_back(candidate);
      }
    }
    if (commons.size() == 1) {
      pole.common = commons.front();
    } else if (commons.size() > 1 && terminals.size() > 2) {
      found_.ambiguous.push_back(fmt::format("Which of {} is the common: all are joined at once.",
                                             names(commons, " and ")));
    }
    for (const JoinedTerminals& groups : at) {  // throws in order of positions
      for (const Terminals& group : groups) {
        for (const std::size_t terminal : group) {
          if (terminal != pole.common && !holds_terminal(pole.throws, terminal)) {
            pole.throws.push_back(terminal);
          }
        }
      }
    }
    if (terminals.size() == 2) {
      pole.throws = {terminals[1]};  // either may be it
    }
    pole.kind = terminals.size() == 2 ? kind_of_two(at)
                : pole.common         ? kind_with_common(pole, at)
                                      : kind_without(terminals, at);
    pole.terminals = std::move(terminals);
    found_.poles.push_back(std::move(pole));
  }

  PoleKind kind_of_two(const std::vector<JoinedTerminals>& at) const {
    if (positions() != 2 || !table_.rest_known) {
      return PoleKind::one_throw;
    }
    return at.front().empty() ? PoleKind::make : PoleKind::break_;
  }

  PoleKind kind_with_common(const SwitchPole& pole, const std::vector<JoinedTerminals>& at) const {
    std::size_t off = 0;
    std::size_t single = 0;
    std::map<std::size_t, std::size_t> times;  // a throw is on alone
    for (const JoinedTerminals& groups : at) {
      if (groups.empty()) {
        ++off;
      } else if (groups.front().size() == 2) {
        ++single;
        ++times[groups.front()[groups.front().front() == *pole.common ? 1 : 0]];
      }
    }
    const std::size_t throws = pole.throws.size();
    if (throws == 2 && single == positions()) {
      return PoleKind::change_over;
    }
    if (throws == 2 && positions() == 3 && times.size() == 2) {
      return off == 1 ? PoleKind::centre_off : PoleKind::both;
    }
    const bool once =
        std::all_of(times.begin(), times.end(), [](auto one) { return one.second == 1; });
    return once && times.size() == throws && single + off == positions() ? PoleKind::one_of
                                                                         : PoleKind::other;
  }

  PoleKind kind_without(const Terminals& terminals, const std::vector<JoinedTerminals>& at) const {
    const bool pairs =
        positions() == 2 && terminals.size() == 4 && at[0].size() == 2 && at[1].size() == 2;
    return pairs && at[0] != at[1] ? PoleKind::reversing : PoleKind::other;
  }

  /// A rotary switch: every pole chooses among its throws. An interlocked bank: every pole is apart
  /// from its usual state in one position alone, and each position but one has such a pole.
  std::size_t count_one_of() const {
    if (positions() < 3 || found_.poles.empty()) {
      return 0;
    }
    if (std::all_of(found_.poles.begin(), found_.poles.end(),
                    [](const SwitchPole& pole) { return pole.kind == PoleKind::one_of; })) {
      return found_.throws;
    }
    std::set<std::size_t> chosen;
    for (const SwitchPole& pole : found_.poles) {
      std::map<JoinedTerminals, Terminals> states;
      for (std::size_t position = 0; position < positions(); ++position) {
        states[groups_at(position, pole.terminals)].push_back(position);
      }
      if ((pole.kind != PoleKind::one_throw && pole.kind != PoleKind::change_over) ||
          states.size() != 2) {
        return 0;
      }
      const Terminals& fewer = std::min_element(states.begin(), states.end(), [](auto& a, auto& b) {
                                 return a.second.size() < b.second.size();
                               })->second;
      if (fewer.size() != 1) {
        return 0;
      }
      chosen.insert(fewer.front());
    }
    return chosen.size() > 1 && chosen.size() + 1 >= positions() ? chosen.size() : 0;
  }

  std::size_t count(PoleKind kind) const {
    return static_cast<std::size_t>(
        std::count_if(found_.poles.begin(), found_.poles.end(),
                      [&](const SwitchPole& pole) { return pole.kind == kind; }));
  }

  std::string form() const {
    if (found_.one_of > 0) {
      return fmt::format("one of {}", found_.one_of);
    }
    if (found_.poles.empty() || count(PoleKind::other) > 0 || count(PoleKind::one_of) > 0 ||
        (positions() > 2 && count(PoleKind::one_throw) + count(PoleKind::change_over) > 0)) {
      return found_.poles.empty() ? "none" : "other";
    }
    const std::pair<PoleKind, const char*> letters[] = {{PoleKind::make, "A"},
                                                        {PoleKind::break_, "B"},
                                                        {PoleKind::one_throw, "A/B"},
                                                        {PoleKind::change_over, "C"},
                                                        {PoleKind::both, "D"},
                                                        {PoleKind::centre_off, "K"},
                                                        {PoleKind::reversing, " reversing"}};
    std::string text;
    for (const auto& [kind, letter] : letters) {
      if (const std::size_t poles = count(kind); poles > 0) {
        text += fmt::format("{}{}{}", text.empty() ? "" : " ", poles, letter);
      }
    }
    return text;
  }

  static std::string number_word(std::size_t number) {
    static const char* const kWords[] = {"no", "single", "double", "triple"};
    return number < std::size(kWords) ? kWords[number] : fmt::format("{}", number);
  }

  /// Where all poles are alike.
  std::string trade() const {
    if (found_.poles.empty() || found_.form == "other") {
      return {};
    }
    const SwitchPole& first = found_.poles.front();
    if (first.kind == PoleKind::reversing ||
        std::any_of(found_.poles.begin(), found_.poles.end(), [&](const SwitchPole& pole) {
          return pole.kind != first.kind || pole.throws.size() != first.throws.size();
        })) {
      return {};
    }
    std::string text = fmt::format("{} pole {} throw", number_word(found_.poles.size()),
                                   number_word(found_.throws));
    switch (first.kind) {
      case PoleKind::make:
        return text + ", normally open";
      case PoleKind::break_:
        return text + ", normally closed";
      case PoleKind::centre_off:
        return text + ", centre off";
      case PoleKind::both:
        return text + ", both on in the middle";
      default:
        return text;
    }
  }

  std::string names(const Terminals& terminals, const char* between) const {
    std::string text;
    for (const std::size_t terminal : terminals) {
      text += (text.empty() ? "" : between) + name(terminal);
    }
    return text;
  }

  void tell_ambiguous() {
    if (positions() == 2 && count(PoleKind::one_throw) > 0) {
      found_.ambiguous.push_back(
          "Form A or B: two terminals do not tell which position is the one at rest.");
    }
    if (count(PoleKind::change_over) > 0) {
      found_.ambiguous.push_back(
          "Form C or D: what is read at the ends of the travel does not tell whether it breaks "
          "before it makes.");
    }
    if (count(PoleKind::one_of) > 0) {
      found_.ambiguous.push_back(
          "Shorting or not: what is read in its positions does not tell whether it breaks before "
          "it makes.");
    }
    for (const Terminals& group : found_.always) {
      found_.ambiguous.push_back(
          fmt::format("{} conduct in every position: legs of one terminal, or a contact that "
                      "never opens.",
                      names(group, " and ")));
    }
  }

  const SwitchTable& table_;
  std::vector<TerminalPartition> partitions_;
  std::size_t count_;
  TerminalPartition always_;
  TerminalPartition ever_;
  SwitchDescription found_;
};

}  // namespace

TerminalPartition::TerminalPartition(std::size_t terminals, const JoinedTerminals& joined)
    : group_(terminals) {
  std::iota(group_.begin(), group_.end(), std::size_t{0});
  for (const Terminals& group : joined) {
    for (std::size_t n = 1; n < group.size(); ++n) {
      join(group[0], group[n]);
    }
  }
}

void TerminalPartition::join(std::size_t a, std::size_t b) {
  const auto [low, high] = std::minmax(group_[a], group_[b]);
  std::replace(group_.begin(), group_.end(), std::size_t{high}, std::size_t{low});
}

JoinedTerminals TerminalPartition::groups() const {
  std::map<std::size_t, Terminals> by_first;
  for (std::size_t terminal = 0; terminal < group_.size(); ++terminal) {
    by_first[group_[terminal]].push_back(terminal);
  }
  JoinedTerminals groups;
  for (auto& [first, group] : by_first) {
    if (group.size() > 1) {
      groups.push_back(std::move(group));
    }
  }
  return groups;
}

std::vector<TerminalPartition> partitions_of(const SwitchTable& table) {
  std::vector<TerminalPartition> partitions;
  for (const SwitchTable::Position& position : table.positions) {
    partitions.emplace_back(table.terminals.size(), position.joined);
  }
  return partitions;
}

SwitchDescription describe_switch(const SwitchTable& table) {
  if (table.positions.size() < 2) {
    throw std::invalid_argument("a switch has two positions at least");
  }
  return SwitchReader(table).read();
}

std::vector<std::string> middle_common_guesses(const SwitchTable& table) {
  const std::size_t count = table.terminals.size();
  std::set<std::pair<std::size_t, std::size_t>> pairs;
  for (const TerminalPartition& partition : partitions_of(table)) {
    for (std::size_t a = 0; a < count; ++a) {
      for (std::size_t b = a + 1; b < count; ++b) {
        if (partition.together(a, b)) {
          pairs.emplace(a, b);
        }
      }
    }
  }
  const auto in_a_row = [](auto pair) {  // with the middle of its three
    return pair.first / 3 == pair.second / 3 && pair.second == pair.first + 1;
  };
  std::vector<std::string> guesses;
  if (count % 3 != 0 || pairs.empty() || !std::all_of(pairs.begin(), pairs.end(), in_a_row)) {
    return guesses;
  }
  for (std::size_t first = 0; first < count; first += 3) {
    for (const std::size_t side : {first, first + 2}) {
      if (pairs.count(std::minmax(side, first + 1)) == 0) {
        guesses.push_back(fmt::format(
            "If {} is a common in the middle of its row (common practice, no source), {} is a "
            "throw of it that never closes.",
            table.terminals[first + 1], table.terminals[side]));
      }
    }
  }
  return guesses;
}

std::string positions_line(const SwitchTable& table, bool momentary) {
  std::string text;
  for (const SwitchTable::Position& position : table.positions) {
    std::string groups;
    for (const Terminals& group : position.joined) {
      std::string pins;
      for (const std::size_t terminal : group) {
        pins += (pins.empty() ? "" : ", ") + yaml_pin(table.terminals[terminal]);
      }
      groups += fmt::format("{}[{}]", groups.empty() ? "" : ", ", pins);
    }
    text += fmt::format("{}{}: [{}]", text.empty() ? "" : ", ", yaml_text(position.name), groups);
  }
  return fmt::format("positions: {{{}}}{}", text, momentary ? ", momentary: true" : "");
}

}  // namespace padwalk::graph
