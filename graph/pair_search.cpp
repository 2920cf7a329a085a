// SPDX-License-Identifier: MIT
#include "graph/pair_search.hpp"

#include <cassert>

namespace padwalk::graph {

namespace {

using List = PairSearch::List;

/// The first half (the larger one of an odd number) and the rest.
std::pair<List, List> halves(const List& list) {
  const auto middle = list.begin() + static_cast<std::ptrdiff_t>((list.size() + 1) / 2);
  return {List(list.begin(), middle), List(middle, list.end())};
}

bool single(const PairSearch::Lists& lists) {
  return lists.first.size() == 1 && lists.second.size() == 1;
}

}  // namespace

PairSearch::PairSearch(List a, List b, bool thorough) : whole_(std::move(a), std::move(b)) {
  assert(!whole_.first.empty() && !whole_.second.empty());
  now_ = whole_;
  thorough_ = thorough && !single(whole_);
  if (thorough_) {
    split(whole_);
    ask_next_of_stack();
  } else {
    ask_half();
  }
}

void PairSearch::answer(bool conducts) {
  assert(!over_);
  if (confirming_) {
    confirming_ = false;
    if (conducts) {
      found_ = {query_.first.front(), query_.second.front()};
      over_ = true;
      return;
    }
    if (!thorough_) {
      thorough_ = true;
      split(whole_);
    }
    ask_next_of_stack();
  } else if (!thorough_) {
    answer_halving(conducts);
  } else if (conducts && single(query_)) {
    confirming_ = true;
  } else {
    if (conducts) {
      split(query_);
    }
    ask_next_of_stack();
  }
}

void PairSearch::answer_halving(bool conducts) {
  List& list = now_.first.size() > 1 ? now_.first : now_.second;
  auto [first, rest] = halves(list);
  list = conducts ? std::move(first) : std::move(rest);
  ask_half();
}

void PairSearch::ask_half() {
  query_ = now_;
  if (single(now_)) {
    confirming_ = true;
  } else if (now_.first.size() > 1) {
    query_.first = halves(now_.first).first;
  } else {
    query_.second = halves(now_.second).first;
  }
}

void PairSearch::split(const Lists& lists) {
  if (single(lists)) {
    return;  // two readings of one pair that disagree: no search can settle it
  }
  const bool first_side = lists.first.size() >= lists.second.size();
  auto [first, rest] = halves(first_side ? lists.first : lists.second);
  if (first_side) {
    stack_.emplace_back(std::move(rest), lists.second);
    stack_.emplace_back(std::move(first), lists.second);
  } else {
    stack_.emplace_back(lists.first, std::move(rest));
    stack_.emplace_back(lists.first, std::move(first));
  }
}

void PairSearch::ask_next_of_stack() {
  if (stack_.empty()) {
    over_ = true;
    return;
  }
  query_ = std::move(stack_.back());
  stack_.pop_back();
}

}  // namespace padwalk::graph
