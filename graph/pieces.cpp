// SPDX-License-Identifier: MIT
#include "graph/pieces.hpp"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <optional>

namespace padwalk::graph {

namespace {

constexpr double kAtOnceOhm = 10;

}  // namespace

std::pair<PointId, PointId> two_points(const WantedReading& wanted) {
  const bool follow = wanted.purpose == Purpose::follow;
  if (wanted.source.size() != 1 || (!follow && wanted.sink.size() != 1)) {
    return {kNoPoint, kNoPoint};
  }
  return {wanted.source.front(), follow ? wanted.sense : wanted.sink.front()};
}

Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, const OhmLimit& joined_ohm) {
  const std::size_t points = board.points().size();
  std::vector<bool> is_attached(points);
  for (const PointId point : attached) {
    is_attached[index(point)] = true;
  }
  boost::disjoint_sets_with_storage<> joined(points);
  for (const Reading& reading : readings) {
    const auto [a, b] = two_points(reading.wanted);
    if (a == kNoPoint || reading.wanted.purpose == Purpose::isolation || !is_attached[index(a)] ||
        !is_attached[index(b)]) {
      continue;
    }
    const bool same_net = board[a].net == board[b].net && board[a].net != kNoNet;
    // Of what still fills, the ohms are a lower bound: no weak joint, and no short.
    const bool known =
        reading.settled || (same_net && reading.ohm <= kAtOnceOhm && !says_nothing(reading));
    if ((known && reading.ohm <= joined_ohm(a, b)) || (!reading.number && same_net)) {
      joined.union_set(index(a), index(b));
    }
  }
  Pieces pieces;
  pieces.piece_of.assign(points, Pieces::kNotAttached);
  std::vector<std::uint32_t> number(points, Pieces::kNotAttached);  // by a set's representative
  for (std::size_t i = 0; i < points; ++i) {
    if (!is_attached[i]) {
      continue;
    }
    std::uint32_t& piece = number[joined.find_set(i)];
    if (piece == Pieces::kNotAttached) {
      piece = static_cast<std::uint32_t>(pieces.members.size());
      pieces.members.emplace_back();
    }
    pieces.piece_of[i] = piece;
    pieces.members[piece].push_back(PointId{static_cast<std::uint32_t>(i)});
  }
  return pieces;
}

Pieces measured_pieces(const Board& board, std::span<const PointId> attached,
                       std::span<const Reading> readings, double same_net_ohm,
                       double two_nets_ohm) {
  return measured_pieces(board, attached, readings, [&](PointId a, PointId b) {
    const bool same_net = board[a].net == board[b].net && board[a].net != kNoNet;
    return same_net ? same_net_ohm : two_nets_ohm;
  });
}

std::vector<Reading> readings_of_copper(const Board& board, std::span<const Reading> readings,
                                        const Pieces& strong) {
  using Way = std::pair<std::uint32_t, std::uint32_t>;
  const auto way_of = [&](const Reading& reading) -> std::optional<Way> {
    const auto [a, b] = two_points(reading.wanted);
    const bool inside = a != kNoPoint && board[a].net == board[b].net && board[a].net != kNoNet &&
                        reading.wanted.purpose != Purpose::isolation &&
                        strong[a] != Pieces::kNotAttached && strong[b] != Pieces::kNotAttached;
    return inside && strong[a] != strong[b] ? std::optional(Way(strong[a], strong[b]))
                                            : std::nullopt;
  };
  std::map<Way, double> lowest;
  for (const Reading& reading : readings) {
    if (const auto way = way_of(reading); way && reading.settled && reading.number) {
      const auto [at, added] = lowest.emplace(*way, reading.ohm);
      at->second = std::min(at->second, reading.ohm);
    }
  }
  std::vector<Reading> copper;
  copper.reserve(readings.size());
  for (const Reading& reading : readings) {
    const auto way = way_of(reading);
    const auto back = way ? lowest.find({way->second, way->first}) : lowest.end();
    if (back == lowest.end() || reading.ohm >= back->second) {
      copper.push_back(reading);
    }
  }
  return copper;
}

}  // namespace padwalk::graph
