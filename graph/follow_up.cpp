// SPDX-License-Identifier: MIT
#include "graph/follow_up.hpp"

#include <algorithm>
#include <functional>
#include <map>
#include <tuple>

#include "graph/comparison.hpp"

namespace padwalk::graph {

namespace {

using Points = std::vector<PointId>;

/// The pieces of one net, ascending.
std::vector<Points> pieces_of(const Comparison& compared, const Points& of_net) {
  std::map<std::uint32_t, Points> by_piece;
  for (const PointId point : of_net) {
    by_piece[compared.pieces[point]].push_back(point);
  }
  std::vector<Points> pieces;
  for (auto& [piece, points] : by_piece) {
    pieces.push_back(std::move(points));
  }
  return pieces;
}

/// The first grabber; none: nothing.
std::optional<Mover> grabber_of(const Fixtures& bench) {
  for (std::size_t i = 0; i < bench.fixtures.size(); ++i) {
    if (bench.fixtures[i].kind == FixtureKind::grabber) {
      return Mover(i, 0);
    }
  }
  return std::nullopt;
}

std::optional<PointId> first_of(const Points& points, const std::function<bool(PointId)>& good) {
  const auto found = std::find_if(points.begin(), points.end(), good);
  return found == points.end() ? std::nullopt : std::optional<PointId>(*found);
}

}  // namespace

std::optional<PlanStep> follow_up(const Board& board, const Fixtures& bench, const Limits& limits,
                                  const Measured& measured, const std::set<PointId>& held,
                                  std::set<std::pair<PointId, PointId>>& tried) {
  if (bench.tip() == nullptr) {
    return std::nullopt;
  }
  const std::optional<Mover> grabber = grabber_of(bench);
  const Comparison compared(board, limits, measured);
  const auto can_touch = [&](PointId point) { return board[point].access != Access::none; };
  const auto can_hold = [&](PointId point) { return board[point].access == Access::clip; };
  for (const Points& of_net : compared.by_net) {
    const std::vector<Points> pieces = pieces_of(compared, of_net);
    for (const Points& piece : pieces) {
      auto hold = first_of(piece, [&](PointId point) { return held.count(point) != 0; });
      const bool is_held = hold.has_value();
      if (!is_held && grabber) {
        hold = first_of(piece, can_hold);
      }
      PlanStep step;
      for (const Points& other : pieces) {
        const auto touch = first_of(other, can_touch);
        if (hold && touch && &other != &piece && !compared.read_against(piece, other) &&
            tried.emplace(*hold, *touch).second) {
          step.touches.push_back(*touch);
        }
      }
      if (step.touches.empty()) {
        continue;
      }
      if (!is_held) {
        PlanMove move;
        std::tie(move.fixture, move.grabber) = *grabber;
        move.leads = {{bench.fixtures[move.fixture].channels[move.grabber], *hold}};
        step.moves.push_back(std::move(move));
      }
      return step;
    }
  }
  return std::nullopt;
}

}  // namespace padwalk::graph
