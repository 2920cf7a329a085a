// SPDX-License-Identifier: MIT
//
// What a switch is, from the terminals that conduct in each of its positions: poles, commons,
// throws, contact forms, and what such a table cannot tell. Knows no ohms and no board; a table
// that should be is held against it in switch_compare.hpp.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace padwalk::graph {

/// Groups of two terminals or more that conduct among one another, as indices from 0. Ascending.
using JoinedTerminals = std::vector<std::vector<std::size_t>>;

/// A person's description of a switch's travel, or what was measured of it.
struct SwitchTable {
  struct Position {
    std::string name;
    JoinedTerminals joined;
  };
  std::vector<std::string> terminals;
  std::vector<Position> positions;
  bool rest_known = true;  ///< the first position is the one at rest
};

/// Whether two terminals conduct in each position. Cost: near linear in the table.
class TerminalPartition {
 public:
  TerminalPartition(std::size_t terminals, const JoinedTerminals& joined);
  bool together(std::size_t a, std::size_t b) const { return group_[a] == group_[b]; }
  void join(std::size_t a, std::size_t b);
  /// Groups of two or more, each ascending, by their first.
  JoinedTerminals groups() const;
  friend bool operator==(const TerminalPartition&, const TerminalPartition&) = default;

 private:
  std::vector<std::size_t> group_;  ///< the lowest terminal of its group, so that == compares
};

/// One a position of the table.
std::vector<TerminalPartition> partitions_of(const SwitchTable& table);

/// Forms A, B, C, D, K as knowledge.ni.com kA00Z0000019VEVSA2 defines them; `reversing` from
/// memory.
enum class PoleKind {
  make,         ///< A: open at rest
  break_,       ///< B: closed at rest
  one_throw,    ///< two terminals; rest not known, or more than two positions
  change_over,  ///< C, or D, which makes before it breaks
  both,         ///< D that can be held in the middle, where both throws are on
  centre_off,   ///< K
  one_of,       ///< one throw or none a position, each throw in one position
  reversing,    ///< four terminals joined in pairs, the other way in the other position
  other
};

struct SwitchPole {
  PoleKind kind = PoleKind::other;
  std::vector<std::size_t> terminals;  ///< ascending; of legs that are one, the first
  std::optional<std::size_t> common;   ///< nothing where no terminal is it alone
  std::vector<std::size_t> throws;     ///< the other terminals, in order of positions
};

struct SwitchDescription {
  std::vector<SwitchPole> poles;    ///< by their first terminal
  JoinedTerminals always;           ///< joined in every position
  std::vector<std::size_t> unused;  ///< joined to nothing in any position
  std::size_t throws = 0;           ///< the most that a pole has
  std::size_t one_of = 0;           ///< rotary or interlocked: so many to choose from; 0: neither
  std::string form;                 ///< "1A", "2C", "1A 1B", "2K", "one of 6", "other"
  std::string trade;                ///< "double pole double throw"; empty where there is no word
  std::vector<std::string> ambiguous;  ///< sentences: what this table cannot tell
};

/// Errors: std::invalid_argument for fewer than two positions. Cost: quadratic in terminals.
SwitchDescription describe_switch(const SwitchTable& table);

/// Where a terminal that conducts to nothing would belong if the switch had rows of three with the
/// common in the middle: common practice, no source. Sentences.
std::vector<std::string> middle_common_guesses(const SwitchTable& table);

/// "positions: {out: [[1, 2]], in: [[2, 3]]}", and ", momentary: true" where it is.
std::string positions_line(const SwitchTable& table, bool momentary);

}  // namespace padwalk::graph
