// SPDX-License-Identifier: MIT
#include "graph/pinpoint.hpp"

#include <algorithm>
#include <iterator>

namespace padwalk::graph {

std::optional<PlaceId> Pinpoint::next(Side up) {
  look(up);
  if (!now_.next_touch && !postponed_.empty()) {
    again_.insert(again_.end(), postponed_.begin(), postponed_.end());
    postponed_.clear();
    look(up);
  }
  return closed_at_ ? std::nullopt : now_.next_touch;
}

void Pinpoint::heard(PlaceId place, const std::vector<std::size_t>& conducted_to,
                     bool metal_proven) {
  if (conducted_to.size() == 1) {
    open_.pieces[conducted_to.front()].push_back(place);
  } else if (conducted_to.size() > 1) {
    closed_at_ = place;
  } else if (metal_proven) {
    open_.pieces.push_back({place});
  } else {
    cannot_reach(place);
  }
}

void Pinpoint::later(PlaceId place) {
  const bool twice = std::find(again_.begin(), again_.end(), place) != again_.end();
  twice ? cannot_reach(place) : postponed_.push_back(place);
}

void Pinpoint::look(Side up) {
  OpenCase open = open_;
  open.not_reached.insert(open.not_reached.end(), postponed_.begin(), postponed_.end());
  now_ = find_open_suspects(board_, std::move(open), times_, up);
}

void Pinpoint::cannot_reach(PlaceId place) {
  open_.not_reached.push_back(place);
}

}  // namespace padwalk::graph
