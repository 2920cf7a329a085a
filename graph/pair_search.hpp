// SPDX-License-Identifier: MIT
//
// Finds one conducting pair between two lists whose common reading conducted: by halving, asking
// only one half each time. That is only sound where nothing leaks, so the pair is confirmed; where
// the confirmation fails the lists are searched whole, both halves asked. Knows numbers, not nets.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

namespace padwalk::graph {

class PairSearch {
 public:
  using List = std::vector<std::uint32_t>;
  using Lists = std::pair<List, List>;

  /// `thorough`: the lists are known to leak, so both halves are asked from the start.
  /// Cost: ceil(log2 |a|) + ceil(log2 |b|) queries and a confirmation where nothing leaks.
  PairSearch(List a, List b, bool thorough);

  /// The two lists to read against each other next.
  const Lists& query() const { return query_; }
  /// The query is of one single pair that is about to be taken for conducting.
  bool confirming() const { return confirming_; }
  void answer(bool conducts);

  bool over() const { return over_; }
  /// Nothing, when over: no pair conducts by itself.
  std::optional<std::pair<std::uint32_t, std::uint32_t>> found() const { return found_; }
  bool thorough() const { return thorough_; }

 private:
  void answer_halving(bool conducts);
  void ask_half();
  void split(const Lists& lists);
  void ask_next_of_stack();

  Lists whole_;
  Lists now_;  ///< halving: where the pair must be
  Lists query_;
  std::vector<Lists> stack_;  ///< thorough: to be asked
  bool thorough_ = false;
  bool confirming_ = false;
  bool over_ = false;
  std::optional<std::pair<std::uint32_t, std::uint32_t>> found_;
};

}  // namespace padwalk::graph
