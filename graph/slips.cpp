// SPDX-License-Identifier: MIT
#include "graph/slips.hpp"

#include <algorithm>
#include <charconv>
#include <map>
#include <set>

#include "graph/part_groups.hpp"
#include "graph/pieces.hpp"

namespace padwalk::graph {

namespace {

constexpr int kMostAlong = 2;  // pins

/// By channel: the point that a lead sits on, and those of no move at all.
using Places = std::map<std::uint16_t, PointId>;

/// The point of this number on a part; kNoPoint: it has none.
PointId pin_of(const Board& board, PartId part, int number) {
  const std::string name = std::to_string(number);
  for (const PointId pin : board[part].pins) {
    if (board[pin].pin == name) {
      return pin;
    }
  }
  return kNoPoint;
}

int number_of(const Board& board, PointId point) {
  const std::string& pin = board[point].pin;
  int number = 0;
  const auto [end, error] = std::from_chars(pin.data(), pin.data() + pin.size(), number);
  return error == std::errc() && end == pin.data() + pin.size() ? number : 0;
}

/// Two rows of which the second counts back: pin 1 and the last pin face each other.
int along_dip(int number, int pins, int by) {
  const int moved = number <= pins / 2 ? number + by : number - by;
  const bool same_row = (number <= pins / 2) == (moved <= pins / 2);
  return same_row && moved >= 1 && moved <= pins ? moved : 0;
}

int backwards_dip(int number, int pins) {
  return (number - 1 + pins / 2) % pins + 1;
}

/// A plug's rows count side by side, and a half turn exchanges first and last.
int backwards_plug(int number, int pins) {
  return pins + 1 - number;
}

/// Adds the slip that puts each lead from pin p on pin `to(p)`.
template <typename To>
void add(const Board& board, const PlanMove& move, PartId part, Slip slip, To to,
         std::vector<Slip>& slips) {
  for (const Lead& lead : move.leads) {
    const int number = to(number_of(board, lead.point));
    const PointId point = number > 0 ? pin_of(board, part, number) : kNoPoint;
    if (point != kNoPoint) {
      slip.leads.push_back({lead.channel, point});
    }
  }
  slips.push_back(std::move(slip));
}

/// Too many pieces of nets, and too many nets of pieces, with the leads of one move elsewhere.
/// `tie`: by net, the same number for nets that closed parts make one conductor.
std::size_t contradictions(const Board& board, const std::vector<std::uint32_t>& tie,
                           const Pieces& pieces, const Hookup& now, const PlanMove* move,
                           const Slip* slip) {
  Places really;
  std::set<std::uint16_t> moved;
  for (const Lead& lead : now.leads) {
    really[lead.channel] = lead.point;
  }
  if (move != nullptr) {
    for (const Lead& lead : move->leads) {
      really.erase(lead.channel);
    }
    for (const Lead& lead : slip->leads) {
      really[lead.channel] = lead.point;
    }
  }
  std::map<NetId, std::set<std::uint32_t>> pieces_of_net;
  std::map<std::uint32_t, std::set<std::pair<NetId, PointId>>> nets_of_piece;
  for (const Lead& lead : now.leads) {
    const std::uint32_t piece = pieces[lead.point];
    const auto place = really.find(lead.channel);
    if (piece == Pieces::kNotAttached) {
      continue;
    }
    if (place == really.end()) {
      nets_of_piece[piece].emplace(kNoNet, kNoPoint);  // in the air, and yet it may conduct
      continue;
    }
    const NetId net = board[place->second].net;
    nets_of_piece[piece].emplace(net == kNoNet ? net : NetId{tie[index(net)]},
                                 net == kNoNet ? place->second : kNoPoint);
    if (net != kNoNet) {
      pieces_of_net[net].insert(piece);
    }
  }
  std::size_t count = 0;
  for (const auto& [net, its] : pieces_of_net) {
    count += its.size() - 1;
  }
  for (const auto& [piece, nets] : nets_of_piece) {
    count += nets.size() - 1;
  }
  return count;
}

/// What conducts as copper does; parts and junctions do not count.
Pieces copper_pieces(const Board& board, const Limits& limits, const Hookup& now,
                     std::span<const Reading> readings) {
  return measured_pieces(board, now.points(), readings, limits.short_up_to_ohm,
                         limits.short_up_to_ohm);
}

/// The net that a lead conducts to, to nothing of its own.
std::optional<NetId> conducts_instead(const Board& board, const Pieces& pieces, PointId lead) {
  std::optional<NetId> instead;
  if (pieces[lead] == Pieces::kNotAttached) {
    return instead;
  }
  for (const PointId point : pieces.members[pieces[lead]]) {
    const NetId net = board[point].net;
    if (point != lead && net == board[lead].net) {
      return std::nullopt;
    }
    instead = net != kNoNet && net != board[lead].net ? net : instead;
  }
  return instead;
}

/// No lead of it conducts to anything.
bool is_silent(const Pieces& pieces, const PlanMove& move) {
  return std::all_of(move.leads.begin(), move.leads.end(), [&](const Lead& lead) {
    const std::uint32_t piece = pieces[lead.point];
    return piece == Pieces::kNotAttached || pieces.members[piece].size() == 1;
  });
}

}  // namespace

std::vector<Slip> possible_slips(const Board& board, const Fixtures& bench, const PlanMove& move,
                                 std::size_t number) {
  std::vector<Slip> slips;
  if (move.leads.empty()) {
    return slips;
  }
  const Fixture& fixture = bench.fixtures[move.fixture];
  const PartId part = move.part != kNoPart ? move.part : board[move.leads.front().point].part;
  if (part == kNoPart) {
    return slips;
  }
  const int pins = static_cast<int>(board[part].pins.size());
  const bool clip = fixture.kind == FixtureKind::chip_clip;
  if (move.part != kNoPart) {
    add(
        board, move, part, {Slip::Kind::backwards, number, 0, kNoPart, {}},
        [&](int pin) { return clip ? backwards_dip(pin, pins) : backwards_plug(pin, pins); },
        slips);
  }
  for (int by = -kMostAlong; by <= kMostAlong; ++by) {
    if (by != 0 && fixture.kind != FixtureKind::plug) {
      add(
          board, move, part, {Slip::Kind::along, number, by, kNoPart, {}},
          [&](int pin) { return clip ? along_dip(pin, pins, by) : pin + by; }, slips);
    }
  }
  for (std::uint32_t i = 0; move.part != kNoPart && i < board.parts().size(); ++i) {
    std::string why;
    const PartId other{i};
    const auto leads = other == part ? std::nullopt : leads_on(board, fixture, other, why);
    if (leads && !leads->empty()) {
      slips.push_back({Slip::Kind::elsewhere, number, 0, other, *leads});
    }
  }
  return slips;
}

std::optional<Slip> likeliest_slip(const Board& board, const Fixtures& bench, const Limits& limits,
                                   const Placement& placement, std::span<const Reading> readings,
                                   const std::vector<bool>& looked_at) {
  const Pieces pieces = copper_pieces(board, limits, placement.now, readings);
  const std::vector<std::uint32_t> tie = find_part_groups(board, limits.short_up_to_ohm).tie;
  std::size_t fewest = contradictions(board, tie, pieces, placement.now, nullptr, nullptr);
  std::optional<Slip> likeliest;
  for (std::size_t i = 0; fewest > 0 && i < placement.moves.size(); ++i) {
    const PlanMove& move = placement.moves[i];
    if (looked_at[i] || is_silent(pieces, move)) {
      continue;
    }
    // Beside a fault a slip of one lead contradicts the file as much as the plan does.
    const bool elsewhere =
        move.leads.size() == 1 && conducts_instead(board, pieces, move.leads.front().point);
    for (const Slip& slip : possible_slips(board, bench, move, i)) {
      const std::size_t left = contradictions(board, tie, pieces, placement.now, &move, &slip);
      if (left < fewest || (elsewhere && left == fewest && !likeliest)) {
        fewest = left;
        likeliest = slip;
      }
    }
  }
  return likeliest;
}

std::optional<NetId> touched_instead(const Board& board, const Limits& limits, const Hookup& now,
                                     std::span<const Reading> readings) {
  return conducts_instead(board, copper_pieces(board, limits, now, readings),
                          now.leads.back().point);
}

}  // namespace padwalk::graph
