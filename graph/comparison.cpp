// SPDX-License-Identifier: MIT
#include "graph/comparison.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>

#include "graph/filling.hpp"
#include "graph/hookup.hpp"

namespace padwalk::graph {

namespace {

/// The instrument's own part of a lead. Pieces of a net have a lead each, and the voltage is read
/// at one of them.
constexpr double kLeadOhm = 480;

std::vector<PointId> judged_points(const Board& board, std::vector<PointId> attached) {
  const std::vector<bool> never = never_driven(board);
  std::erase_if(attached, [&](PointId point) { return never[index(point)]; });
  std::sort(attached.begin(), attached.end());
  return attached;
}

}  // namespace

Comparison::Comparison(const Board& the_board, const Limits& the_limits,
                       const Measured& the_measured)
    : board(the_board),
      limits(the_limits),
      measured(the_measured),
      attached(judged_points(board, measured.attached)),
      by_net(board.nets().size()),
      good(good_limit(board, limits)),
      strong(measured_pieces(board, attached, measured.readings, good)),
      readings(readings_of_copper(board, measured.readings, strong)),
      pieces(measured_pieces(board, attached, readings, limits.open_above_ohm,
                             limits.short_up_to_ohm)),
      in_net(board.nets().size()),
      parts(find_part_groups(board, limits.short_up_to_ohm)),
      unproven(board.points().size()),
      clamps(board, parts) {
  for (const PointId point : attached) {
    if (board[point].net != kNoNet) {
      by_net[index(board[point].net)].push_back(point);
    }
  }
  for (const PointId point : measured.silent_unproven) {
    unproven[index(point)] = true;
  }
  for (const Reading& reading : readings) {
    const auto [a, b] = two_points(reading.wanted);
    if (a != kNoPoint && same_net(a, b) && reading.wanted.purpose != Purpose::isolation) {
      in_net[index(board[a].net)].push_back(&reading);
    }
  }
  judge_net_pairs();
}

std::vector<std::vector<PointId>> Comparison::read_together(
    const std::vector<PointId>& points) const {
  std::map<std::uint32_t, std::size_t> number;  // of a piece
  for (const PointId point : points) {
    number.emplace(pieces[point], number.size());
  }
  std::vector<std::size_t> rank(number.size());
  std::vector<std::size_t> parent(number.size());
  boost::disjoint_sets<std::size_t*, std::size_t*> sets(rank.data(), parent.data());
  for (std::size_t piece = 0; piece < number.size(); ++piece) {
    sets.make_set(piece);
  }
  for (const Reading* reading : readings_of(board[points.front()].net)) {
    const auto [a, b] = two_points(reading->wanted);
    if (!says_nothing(*reading)) {
      sets.union_set(number.at(pieces[a]), number.at(pieces[b]));
    }
  }
  std::map<std::size_t, std::vector<PointId>> groups;
  for (const PointId point : points) {
    groups[sets.find_set(number.at(pieces[point]))].push_back(point);
  }
  std::vector<std::vector<PointId>> sorted;
  for (auto& [root, group] : groups) {
    sorted.push_back(std::move(group));
  }
  std::sort(sorted.begin(), sorted.end(), [](const auto& a, const auto& b) {
    return a.size() != b.size() ? a.size() > b.size() : a.front() < b.front();
  });
  return sorted;
}

bool Comparison::read_against(const std::vector<PointId>& a, const std::vector<PointId>& b) const {
  const auto in = [](const std::vector<PointId>& points, PointId point) {
    return std::find(points.begin(), points.end(), point) != points.end();
  };
  const std::vector<const Reading*>& of_net = readings_of(board[a.front()].net);
  return std::any_of(of_net.begin(), of_net.end(), [&](const Reading* reading) {
    const auto [from, to] = two_points(reading->wanted);
    return !says_nothing(*reading) && ((in(a, from) && in(b, to)) || (in(a, to) && in(b, from)));
  });
}

/// Nets without proof of contact are left out; shorts count as one conductor.
void Comparison::judge_net_pairs() {
  const auto proven = [&](NetId net) {
    const std::vector<PointId>& points = by_net[index(net)];
    return std::any_of(points.begin(), points.end(),
                       [&](PointId point) { return !unproven[index(point)]; });
  };
  // A net in pieces is no single node of the network of parts.
  std::set<std::uint32_t> broken;
  for (const std::vector<PointId>& points : by_net) {
    const bool whole = std::all_of(points.begin(), points.end(), [&](PointId point) {
      return strong[point] == strong[points.front()];
    });
    if (!whole) {
      const NetId net = board[points.front()].net;
      broken_nets.insert(net);
      broken.insert(parts.cluster[index(net)]);
    }
  }
  std::vector<std::pair<NetId, NetId>> shorted;
  for (const std::vector<PointId>& piece : pieces.members) {
    for (const PointId point : piece) {
      const NetId net = board[point].net;
      const NetId first = board[piece.front()].net;
      // What a part of next to no ohms ties is no short; its ohms are in the network of parts.
      if (net != kNoNet && first != kNoNet && parts.tie[index(net)] != parts.tie[index(first)]) {
        shorted.emplace_back(first, net);
      }
    }
  }
  std::sort(shorted.begin(), shorted.end());
  shorted.erase(std::unique(shorted.begin(), shorted.end()), shorted.end());
  for (const auto& [a, b] : shorted) {
    clamps.add_short(a, b);
  }
  const auto cluster = [&](NetId net) { return parts.cluster[index(net)]; };
  const auto leaks = [&](const PairReading& pair) {
    return cluster(pair.a) != cluster(pair.b) && pair.ohm <= limits.isolation_ohm;
  };
  const std::set<NetId> grounded = shorted_to_ground();
  const auto into_ground = [&](const PairReading& pair) {
    return grounded.count(pair.a) + grounded.count(pair.b) > 0;
  };
  for (const PairReading& pair : measured.nets.pairs) {
    if (leaks(pair) && !into_ground(pair)) {
      clamps.add_leak(pair.a, pair.b);
    }
  }
  for (const PairReading& pair : measured.nets.pairs) {
    if (leaks(pair) && into_ground(pair) &&
        1 / pair.ohm > clamps.backward_siemens(pair.a, pair.b, pair.across_volt)) {
      clamps.add_leak_into_ground(pair.a, pair.b);
    }
  }
  // A supply that parts join to ground drives ground, which floats, and that the clamps of inputs.
  const auto drives_ground = [&](NetId net) {
    return board[net].role == NetRole::supply &&
           std::any_of(
               measured.nets.pairs.begin(), measured.nets.pairs.end(),
               [&](const PairReading& pair) {
                 return into_ground(pair) && pair.ohm <= limits.isolation_ohm &&
                        (cluster(pair.a) == cluster(net) || cluster(pair.b) == cluster(net));
               });
  };
  for (std::uint32_t i = 0; i < by_net.size(); ++i) {
    if (drives_ground(NetId{i})) {
      drive_ground.insert(NetId{i});
    }
  }
  const auto by_ground = [&](const PairReading& pair) {
    return cluster(pair.a) != cluster(pair.b) &&
           ((drive_ground.count(pair.a) > 0 && clamps.any(pair.b)) ||
            (drive_ground.count(pair.b) > 0 && clamps.any(pair.a)));
  };
  const Filling filling(board);
  std::vector<PairReading> pairs;
  for (PairReading pair : measured.nets.pairs) {
    if (proven(pair.a) && proven(pair.b)) {
      pair.broken = broken.count(cluster(pair.a)) + broken.count(cluster(pair.b)) > 0;
      pair.uneven_ohm =
          kLeadOhm * static_cast<double>(broken_nets.count(pair.a) + broken_nets.count(pair.b));
      const double backward = clamps.backward_siemens(pair.a, pair.b, pair.across_volt);
      pair.tied_ohm = tied_ohm(pair.a) + tied_ohm(pair.b);
      if (pair.ohm > limits.short_up_to_ohm &&
          (clamps.forward_way(pair.a, pair.b) || by_ground(pair))) {
        pair.stray_siemens += 1 / pair.ohm;
        if (!clamps.forward_way(pair.a, pair.b)) {
          clamped_pairs.push_back(pair);
        }
      } else {
        pair.stray_siemens += backward;
        if (leaks(pair) && 1 / pair.ohm - backward < 1 / limits.isolation_ohm) {
          clamped_pairs.push_back(pair);
        }
      }
      if (const double siemens = filling.siemens(pair.a, pair.b); siemens > 0) {
        pair.stray_siemens += siemens;
        filling_pairs.emplace_back(pair.a, pair.b);
      }
      pairs.push_back(pair);
    }
  }
  verdicts = explain_pairs(board, limits, pairs, shorted);
}

/// Where a short joins this net to more than one net of a tie, each is read as all of them.
double Comparison::tied_ohm(NetId net) const {
  if (by_net[index(net)].empty()) {
    return 0;
  }
  std::set<NetId> nets;
  std::set<std::uint32_t> ties;
  for (const PointId point : pieces.members[pieces[by_net[index(net)].front()]]) {
    if (board[point].net != kNoNet) {
      nets.insert(board[point].net);
      ties.insert(parts.tie[index(board[point].net)]);
    }
  }
  return ties.size() > 1 && nets.size() > ties.size() ? limits.short_up_to_ohm : 0;
}

/// And the grounds themselves.
std::set<NetId> Comparison::shorted_to_ground() const {
  std::set<NetId> nets;
  for (const std::vector<PointId>& piece : pieces.members) {
    const bool ground = std::any_of(piece.begin(), piece.end(), [&](PointId point) {
      return board[point].net != kNoNet && board[board[point].net].role == NetRole::ground;
    });
    for (const PointId point : piece) {
      if (ground && board[point].net != kNoNet) {
        nets.insert(board[point].net);
      }
    }
  }
  return nets;
}

bool Comparison::same_net(PointId a, PointId b) const {
  return board[a].net != kNoNet && board[a].net == board[b].net;
}

bool Comparison::parts_join(PointId a, PointId b) const {
  return board[a].net != kNoNet && board[b].net != kNoNet &&
         parts.cluster[index(board[a].net)] == parts.cluster[index(board[b].net)];
}

bool Comparison::share_a_piece(const WantedReading& wanted) const {
  std::set<std::uint32_t> driven;
  for (const PointId point : wanted.source) {
    driven.insert(pieces[point]);
  }
  return std::any_of(wanted.sink.begin(), wanted.sink.end(),
                     [&](PointId point) { return driven.count(pieces[point]) != 0; });
}

const std::string& Comparison::conductor_name(PointId point) const {
  const NetId net = board[point].net;
  return net == kNoNet ? board[point].name : board[net].name;
}

}  // namespace padwalk::graph
