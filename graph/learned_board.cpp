// SPDX-License-Identifier: MIT
#include "graph/learned_board.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <utility>

#include "graph/chip_types.hpp"
#include "graph/verdict.hpp"

namespace padwalk::graph {

namespace {

/// A pair is told unless others that are told lead from one to the other with hardly more ohms.
constexpr double kHardlyMore = 1.1;

using PieceNumber = std::size_t;
using Between = std::map<std::pair<PieceNumber, PieceNumber>, LearnedPair>;

/// A reading that says more comes first: a number, at rest, of fewer ohms.
bool says_more(const LearnedPair& one, const LearnedPair& other) {
  return std::tuple(!one.number, !one.settled, one.ohm) <
         std::tuple(!other.number, !other.settled, other.ohm);
}

/// The best reading of each two pieces.
Between best_between(const std::vector<std::vector<PointId>>& pieces,
                     std::span<const LearnedPair> between) {
  std::map<PointId, PieceNumber> piece_of;
  for (PieceNumber i = 0; i < pieces.size(); ++i) {
    for (const PointId point : pieces[i]) {
      piece_of[point] = i;
    }
  }
  Between best;
  for (const LearnedPair& pair : between) {
    const auto key = std::minmax(piece_of.at(pair.a), piece_of.at(pair.b));
    if (key.first == key.second) {
      continue;
    }
    const auto [at, first] = best.emplace(key, pair);
    if (!first && says_more(pair, at->second)) {
      at->second = pair;
    }
  }
  return best;
}

/// The pairs that explain all others: fewest ohms first, each that no way over those before it
/// explains. Source: greedy spanners of graphs (Althofer and others, Discrete Comput. Geom. 1993;
/// from memory).
class Explaining {
 public:
  /// True: it is one of them.
  bool add(PieceNumber a, PieceNumber b, double ohm) {
    if (reaches(a, b, kHardlyMore * ohm)) {
      return false;
    }
    ways_[a].emplace_back(b, ohm);
    ways_[b].emplace_back(a, ohm);
    return true;
  }

 private:
  bool reaches(PieceNumber from, PieceNumber to, double within_ohm) {
    std::map<PieceNumber, double> known;
    std::set<std::pair<double, PieceNumber>> open{{0, from}};
    while (!open.empty()) {
      const auto [ohm, at] = *open.begin();
      open.erase(open.begin());
      if (at == to) {
        return true;
      }
      if (!known.emplace(at, ohm).second) {
        continue;
      }
      for (const auto& [next, more] : ways_[at]) {
        if (ohm + more <= within_ohm && known.count(next) == 0) {
          open.emplace(ohm + more, next);
        }
      }
    }
    return false;
  }

  std::map<PieceNumber, std::vector<std::pair<PieceNumber, double>>> ways_;
};

/// A name that no net of the board has.
std::string free_name(const Board& board, std::string name) {
  while (board.find_net(name)) {
    name += "_";
  }
  return name;
}

/// How many pins of this use a piece has, by the types of its chips.
std::size_t pins_of_use(const Board& board, const std::vector<PointId>& piece, PinUse use) {
  return static_cast<std::size_t>(std::count_if(piece.begin(), piece.end(), [&](PointId point) {
    const PartId id = board[point].part;
    const auto uses =
        id != kNoPart && board[id].kind == PartKind::ic ? pin_uses(board[id].type) : std::nullopt;
    if (!uses || uses->size() != board[id].pins.size()) {
      return false;
    }
    const auto& pins = board[id].pins;
    const auto at = std::find(pins.begin(), pins.end(), point) - pins.begin();
    return static_cast<PinUse>((*uses)[static_cast<std::size_t>(at)]) == use;
  }));
}

/// The net that alone has most pins of this use.
LearnedNet* rail(const Board& board, std::vector<LearnedNet>& nets, PinUse use) {
  LearnedNet* most = nullptr;
  std::size_t pins = 0;
  for (LearnedNet& net : nets) {
    const std::size_t here = pins_of_use(board, net.points, use);
    if (here > pins) {
      most = &net;
      pins = here;
    } else if (here > 0 && here == pins) {
      most = nullptr;
    }
  }
  return most;
}

}  // namespace

LearnedNets name_learned(const Board& blank, const std::vector<std::vector<PointId>>& pieces,
                         std::span<const LearnedPair> between, double link_ohm) {
  LearnedNets learned;
  for (const std::vector<PointId>& piece : pieces) {
    if (piece.size() < 2) {
      learned.alone.insert(learned.alone.end(), piece.begin(), piece.end());
    } else {
      learned.nets.push_back(
          {free_name(blank, fmt::format("N{}", learned.nets.size() + 1)), NetRole::signal, piece});
    }
  }
  LearnedNet* const ground = rail(blank, learned.nets, PinUse::ground);
  LearnedNet* const supply = rail(blank, learned.nets, PinUse::supply);
  if (ground != nullptr && ground != supply) {
    ground->name = free_name(blank, "GND");
    ground->role = NetRole::ground;
  }
  if (supply != nullptr && supply != ground) {
    supply->name = free_name(blank, "VCC");
    supply->role = NetRole::supply;
  }

  std::vector<std::string> names;
  std::size_t net = 0;
  for (const std::vector<PointId>& piece : pieces) {
    names.push_back(piece.size() < 2 ? blank[piece.front()].name : learned.nets[net++].name);
  }
  const Between all = best_between(pieces, between);
  std::vector<Between::const_iterator> best;
  for (auto at = all.begin(); at != all.end(); ++at) {
    best.push_back(at);
  }
  std::stable_sort(best.begin(), best.end(), [](const auto& one, const auto& other) {
    return says_more(one->second, other->second);
  });
  Explaining explaining;
  for (const auto& at : best) {
    const auto [a, b] = at->first;
    const LearnedPair& pair = at->second;
    if (!pair.number || !pair.settled || (pair.ohm <= link_ohm && explaining.add(a, b, pair.ohm))) {
      learned.links.push_back({names[a], names[b], pair});
    }
  }

  std::map<PointId, std::size_t> piece_of;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    for (const PointId point : pieces[i]) {
      piece_of[point] = i;
    }
  }
  for (std::uint32_t i = 0; i < blank.parts().size(); ++i) {
    const std::vector<PointId>& pins = blank.parts()[i].pins;
    if (pins.size() == 2 && piece_of.count(pins[0]) != 0 && piece_of.count(pins[1]) != 0 &&
        piece_of[pins[0]] == piece_of[pins[1]]) {
      learned.across_copper.push_back(PartId{i});
    }
  }
  return learned;
}

std::string link_text(const LearnedLink& link) {
  const std::string_view more = link.pair.intermittent ? ", to and fro" : "";
  return !link.pair.number ? fmt::format("{} and {}: no number{}", link.a, link.b, more)
         : !link.pair.settled
             ? fmt::format("{} and {}: a capacitor, not at rest{}", link.a, link.b, more)
             : fmt::format("{} and {}: about {}{}", link.a, link.b, ohm_text(link.pair.ohm), more);
}

BoardDescription describe_learned(const Board& blank, const LearnedNets& learned) {
  BoardDescription board = blank.description();
  std::set<std::string> kept;
  for (const PointId point : learned.alone) {
    kept.insert(blank[point].name);
  }
  for (const LearnedNet& net : learned.nets) {
    for (const PointId point : net.points) {
      kept.insert(blank[point].name);
    }
  }
  std::erase_if(board.points, [&](const PointDescription& point) {
    return !point.drive_never && kept.count(point.name) == 0 &&
           std::none_of(point.via.begin(), point.via.end(), [&](Side side) {
             return kept.count(point.name + "@" + side_name(side)) != 0;
           });
  });
  std::map<std::string, std::vector<std::string>> notes;
  for (const LearnedLink& link : learned.links) {
    notes[link.a].push_back(link_text(link));
  }
  std::vector<std::string> of_lone_points;
  for (const LearnedNet& net : learned.nets) {
    NetDescription one;
    one.name = net.name;
    one.role = net.role;
    for (const PointId point : net.points) {
      one.members.push_back({blank[point].name, {}});
    }
    if (const auto note = notes.find(net.name); note != notes.end()) {
      one.note = fmt::format("{}", fmt::join(note->second, "; "));
      notes.erase(note);
    }
    board.nets.push_back(std::move(one));
  }
  for (const auto& [name, texts] : notes) {
    of_lone_points.insert(of_lone_points.end(), texts.begin(), texts.end());
  }
  if (!of_lone_points.empty()) {
    board.note +=
        fmt::format("{}{}", board.note.empty() ? "" : "; ", fmt::join(of_lone_points, "; "));
  }
  return board;
}

}  // namespace padwalk::graph
