// SPDX-License-Identifier: MIT
#include "graph/pinpoint.hpp"

namespace padwalk::graph {

std::optional<PlaceId> Pinpoint::next(Side up) {
  look(up);
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

void Pinpoint::cannot_reach(PlaceId place) {
  open_.not_reached.push_back(place);
}

}  // namespace padwalk::graph
