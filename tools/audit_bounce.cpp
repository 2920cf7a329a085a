// SPDX-License-Identifier: MIT
#include "tools/audit_bounce.hpp"

#include <algorithm>
#include <limits>
#include <map>
#include <utility>

namespace padwalk::tools {

namespace {

ContactBounce& contact_of(SwitchMoves& moves, std::size_t one, std::size_t other) {
  const auto [a, b] = std::minmax(one, other);
  const auto found = std::find_if(
      moves.contacts.begin(), moves.contacts.end(),
      [a = a, b = b](const auto& contact) { return contact.a == a && contact.b == b; });
  if (found != moves.contacts.end()) {
    return *found;
  }
  ContactBounce fresh;
  fresh.a = a;
  fresh.b = b;
  const auto behind =
      std::find_if(moves.contacts.begin(), moves.contacts.end(), [&](const ContactBounce& contact) {
        return std::pair(contact.a, contact.b) > std::pair(fresh.a, fresh.b);
      });
  return *moves.contacts.insert(behind, fresh);
}

}  // namespace

std::vector<SwitchWatch> watches_of(std::size_t terminals,
                                    const std::vector<graph::JoinedTerminals>& positions) {
  graph::TerminalPartition ever(terminals, {});
  std::vector<std::size_t> contacts(terminals);
  for (const graph::JoinedTerminals& joined : positions) {
    for (const std::vector<std::size_t>& group : joined) {
      for (const std::size_t terminal : group) {
        ever.join(group.front(), terminal);
        ++contacts[terminal];
      }
    }
  }
  std::vector<SwitchWatch> watches;
  for (const std::vector<std::size_t>& pole : ever.groups()) {
    SwitchWatch watch;
    watch.common = *std::max_element(pole.begin(), pole.end(), [&](std::size_t a, std::size_t b) {
      return contacts[a] < contacts[b];
    });
    std::copy_if(pole.begin(), pole.end(), std::back_inserter(watch.throws),
                 [&](std::size_t terminal) { return terminal != watch.common; });
    watches.push_back(std::move(watch));
  }
  return watches;
}

void add_move(const SwitchWatch& watched, const std::vector<session::WatchChange>& changes,
              double gap_s, SwitchMoves& moves) {
  constexpr double kNever = -1;
  moves.gap_s = std::max(moves.gap_s, gap_s);
  double last_opened_s = kNever;
  double first_closed_s = kNever;
  for (std::size_t which = 0; which < watched.throws.size(); ++which) {
    std::vector<session::WatchChange> own;
    std::copy_if(changes.begin(), changes.end(), std::back_inserter(own),
                 [&](const session::WatchChange& change) { return change.other == which; });
    // What is open from the start is told with the first looks.
    const bool was_open = !own.empty() && own.front().open && own.front().at_s <= 2 * gap_s;
    if (was_open) {
      own.erase(own.begin());
    }
    if (own.empty() || own.back().open == was_open) {
      continue;
    }
    ContactBounce& contact = contact_of(moves, watched.common, watched.throws[which]);
    const double seconds = own.back().at_s - own.front().at_s;
    if (own.back().open) {
      ++contact.openings;
      contact.opening_s = std::max(contact.opening_s, seconds);
      last_opened_s = std::max(last_opened_s, own.back().at_s);
    } else {
      ++contact.closings;
      contact.closing_s = std::max(contact.closing_s, seconds);
      first_closed_s =
          first_closed_s < 0 ? own.front().at_s : std::min(first_closed_s, own.front().at_s);
    }
  }
  if (last_opened_s >= 0 && first_closed_s >= 0) {
    ++(first_closed_s < last_opened_s ? moves.makes_first : moves.breaks_first);
  }
}

}  // namespace padwalk::tools
