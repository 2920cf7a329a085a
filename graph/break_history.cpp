// SPDX-License-Identifier: MIT
#include "graph/break_history.hpp"

#include <algorithm>
#include <vector>

#include "graph/pinpoint.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kMostRehearsed = 40;  ///< suspects

/// Hunts for single breaks of known way, gone through in the head.
class HuntRehearsal {
 public:
  HuntRehearsal(const Board& board, const std::vector<OpenSuspect>& suspects,
                const TouchTimes& times)
      : board_(board), suspects_(suspects), times_(times) {}

  /// How many touches each suspect takes if it is the broken one; of leads' contacts 0.
  std::vector<std::size_t> touches(const OpenCase& open) const {
    std::vector<std::size_t> all;
    for (const OpenSuspect& suspect : suspects_) {
      all.push_back(suspect.segment ? touches(open, *suspect.segment) : 0);
    }
    return all;
  }

 private:
  std::size_t touches(const OpenCase& open, SegmentId broken) const {
    const std::map<PlaceId, std::size_t> piece = pieces_without(open.net, broken);
    Pinpoint pinpoint(board_, open, times_);
    std::size_t count = 0;
    Side up = Side::top;
    while (const auto place = pinpoint.next(up)) {
      const Side side = board_[*place].side;
      up = side == Side::top || side == Side::bottom ? side : up;
      std::vector<std::size_t> conducted_to;
      for (std::size_t p = 0; p < pinpoint.pieces().size(); ++p) {
        if (piece.at(*place) == piece.at(pinpoint.pieces()[p].front())) {
          conducted_to.push_back(p);
        }
      }
      pinpoint.heard(*place, conducted_to, true);
      ++count;
    }
    return count;
  }

  /// By place: a number of what is joined with one segment cut.
  std::map<PlaceId, std::size_t> pieces_without(NetId net, SegmentId cut) const {
    std::map<PlaceId, std::size_t> piece;
    for (const SegmentId id : board_[net].segments) {
      piece.emplace(board_[id].a, piece.size());
      piece.emplace(board_[id].b, piece.size());
    }
    for (bool changed = true; changed;) {
      changed = false;
      for (const SegmentId id : board_[net].segments) {
        std::size_t& a = piece[board_[id].a];
        std::size_t& b = piece[board_[id].b];
        if (id != cut && a != b) {
          a = b = std::min(a, b);
          changed = true;
        }
      }
    }
    return piece;
  }

  const Board& board_;
  const std::vector<OpenSuspect>& suspects_;
  TouchTimes times_;
};

double own_breaks(const BreakHistory& history, const OpenSuspect& suspect) {
  const auto own = suspect.segment ? history.breaks.find(*suspect.segment) : history.breaks.end();
  return own == history.breaks.end() ? 0 : own->second;
}

}  // namespace

double history_factor(const Board& board, const BreakHistory& history, SegmentId segment) {
  double all_breaks = 0;
  for (const auto& [broken, count] : history.breaks) {
    all_breaks += count;
  }
  if (all_breaks == 0) {
    return 1;
  }
  double all_weight = 0;
  for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
    all_weight += break_weight(board, SegmentId{i});
  }
  const auto own = history.breaks.find(segment);
  const double expected = all_breaks * break_weight(board, segment) / all_weight;
  return (kPriorBreaks + (own == history.breaks.end() ? 0 : own->second)) /
         (kPriorBreaks + expected);
}

void sharpen(const Board& board, const BreakHistory& history, OpenCase& open,
             const TouchTimes& times) {
  open.factors.clear();
  open.other_factor = 1;
  const OpenSuspects plain = find_open_suspects(board, open, times);
  const std::vector<OpenSuspect>& suspects = plain.suspects;
  if (std::none_of(suspects.begin(), suspects.end(),
                   [&](const OpenSuspect& one) { return own_breaks(history, one) > 0; })) {
    return;
  }
  std::vector<double> factors;
  double mean = 0;
  for (const OpenSuspect& suspect : suspects) {
    factors.push_back(suspect.segment ? history_factor(board, history, *suspect.segment) : 1);
    mean += suspect.likelihood * factors.back();
  }
  // Q / P of a suspect is its factor by the mean factor.
  const double least = *std::min_element(factors.begin(), factors.end()) / mean;
  double part = least >= kLeastShareLeft ? 1 : (1 - kLeastShareLeft) / (1 - least);
  const bool rehearse = plain.breaks == 1 && !plain.way_unknown && open.contact_doubtful.empty() &&
                        suspects.size() <= kMostRehearsed;
  const HuntRehearsal rehearsal(board, suspects, times);
  const std::vector<std::size_t> before =
      rehearse ? rehearsal.touches(open) : std::vector<std::size_t>();
  for (int halved = 0; halved <= 3; ++halved, part /= 2) {
    for (std::size_t i = 0; i < suspects.size(); ++i) {
      if (suspects[i].segment) {
        open.factors[*suspects[i].segment] = part * factors[i] / mean + 1 - part;
      }
    }
    open.other_factor = part / mean + 1 - part;
    if (!rehearse) {
      return;
    }
    const std::vector<std::size_t> after = rehearsal.touches(open);
    bool late = false;
    for (std::size_t i = 0; i < suspects.size(); ++i) {
      late = late ||
             (own_breaks(history, suspects[i]) == 0 && after[i] > before[i] + kMostTouchesLater);
    }
    if (!late) {
      return;
    }
  }
  open.factors.clear();
  open.other_factor = 1;
}

}  // namespace padwalk::graph
