// SPDX-License-Identifier: MIT
//
// Finds where conductors and pads touch, cuts the conductors there, and joins the ends. The pieces
// that come of it are made few in conductor_tracks.cpp.
#include "graph/conductor_graph.hpp"

#include <algorithm>
#include <array>
#include <boost/geometry.hpp>
#include <boost/geometry/index/rtree.hpp>
#include <cmath>
#include <iterator>
#include <map>
#include <queue>
#include <tuple>
#include <unordered_map>

#include "graph/conductor_shapes.hpp"
#include "graph/conductor_tracks.hpp"

namespace padwalk::graph {

namespace {

constexpr double kSame_mm = 1e-6;
/// Half of a conductor of unknown width: what the last digit of a position is worth.
constexpr double kLeastRadius_mm = 0.0025;
/// Conductors that overlap and are joined by no more copper than so many widths are one bend.
constexpr double kBendWidths = 3;
/// A cut costs memory too: some 150 bytes.
constexpr std::size_t kCutWork = 50;

namespace copper_bg = boost::geometry;
using Spot =
    copper_bg::model::point<double, 3, copper_bg::cs::cartesian>;  // the layer is its height
using Extent = copper_bg::model::box<Spot>;
template <typename Shape>
using Tree =
    copper_bg::index::rtree<std::pair<Shape, std::size_t>, copper_bg::index::quadratic<16>>;

struct OutOfWork {};

double radius_of(const DrawnSegment& segment) {
  return std::max(segment.width / 2, kLeastRadius_mm);
}

Extent extent_of(const DrawnSegment& segment) {
  const double r = radius_of(segment);
  const auto [left, right] = std::minmax(segment.a.x, segment.b.x);
  const auto [low, high] = std::minmax(segment.a.y, segment.b.y);
  const double layer = segment.layer;
  return {Spot(left - r, low - r, layer), Spot(right + r, high + r, layer)};
}

Extent extent_of(const DrawnPad& pad) {
  const double r = reach_of(pad);
  return {Spot(pad.centre.x - r, pad.centre.y - r, pad.first_layer),
          Spot(pad.centre.x + r, pad.centre.y + r, pad.last_layer)};
}

/// Of a convex pad there is one closest place, or a row of them.
OnSegment closest_to_pad(const DrawnSegment& segment, const DrawnPad& pad) {
  const OnSegment foot = closest(segment, pad.centre);
  if (distance_to(pad, point_on(segment, foot.part)) <= 0) {
    return foot;
  }
  double low = 0;
  double high = 1;
  for (int i = 0; i < 60; ++i) {
    const double third = (high - low) / 3;
    const double left = distance_to(pad, point_on(segment, low + third));
    const double right = distance_to(pad, point_on(segment, high - third));
    (left <= right ? high : low) = left <= right ? high - third : low + third;
  }
  return {(low + high) / 2, distance_to(pad, point_on(segment, (low + high) / 2))};
}

class Joiner {
 public:
  Joiner(std::span<const DrawnSegment> segments, std::span<const DrawnPad> pads,
         ConductorWork& work)
      : segments_(segments), pads_(pads), work_(work), cuts_(segments.size()) {}

  ConductorPieces run() {
    add_ends();
    for (std::size_t i = 0; i < segments_.size(); ++i) {
      spend(1);
      touch_segments(i);
    }
    touch_pads();
    settle_ends_in_pads();
    cut();
    std::stable_sort(near_.begin(), near_.end(),
                     [](const Near& a, const Near& b) { return a.distance < b.distance; });
    for (const Near& near : near_) {
      join_if_apart(near);
    }
    for (ConductorPieces::Piece& piece : pieces_.pieces) {
      piece.a = joined_.find(piece.a);
      piece.b = joined_.find(piece.b);
    }
    return std::move(pieces_);
  }

 private:
  struct Cut {
    double part = 0;
    std::size_t node = 0;
  };
  /// Metal that overlaps though the centre lines do not meet.
  struct Near {
    std::size_t a = 0;
    std::size_t b = 0;
    double distance = 0;
    double bend = 0;  ///< no more copper than this between them: a bend
    int layer = 1;
  };

  void spend(std::size_t pairs) {
    if (work_.left < pairs) {
      work_.left = 0;
      throw OutOfWork{};
    }
    work_.left -= pairs;
  }

  /// Places that differ by rounding are one node.
  std::size_t node_at(Xy at, int layer) {
    constexpr double kStep_mm = 1e-4;
    constexpr double kShift = 0.3819;  // positions of files lie away from where cells end
    const auto cell = [](double mm) { return std::llround(std::floor(mm / kStep_mm + kShift)); };
    const auto [found, is_new] =
        node_at_.emplace(std::tuple(layer, cell(at.x), cell(at.y)), pieces_.nodes.size());
    if (is_new) {
      pieces_.nodes.push_back({at, layer, false});
    }
    return found->second;
  }

  void add_ends() {
    for (const DrawnPad& pad : pads_) {
      pieces_.nodes.push_back({pad.centre, pad.first_layer, true});
    }
    std::vector<std::pair<Extent, std::size_t>> extents;
    for (const DrawnSegment& segment : segments_) {
      extents.emplace_back(extent_of(segment), ends_.size());
      ends_.push_back({node_at(segment.a, segment.layer), node_at(segment.b, segment.layer)});
    }
    tree_ = Tree<Extent>(extents);
  }

  /// The node at a place of a segment: an end, or a new one where it is cut.
  std::size_t node_on(std::size_t segment, double part) {
    const double length = length_of(segments_[segment]);
    if (part * length <= kSame_mm) {
      return ends_[segment][0];
    }
    if ((1 - part) * length <= kSame_mm) {
      return ends_[segment][1];
    }
    spend(kCutWork);
    const std::size_t node = node_at(point_on(segments_[segment], part), segments_[segment].layer);
    cuts_[segment].push_back({part, node});
    return node;
  }

  // ---- what touches
  void touch_segments(std::size_t i) {
    for (auto other = tree_.qbegin(copper_bg::index::intersects(extent_of(segments_[i])));
         other != tree_.qend(); ++other) {
      spend(1);
      if (const std::size_t j = other->second; j > i) {
        touch_end(i, j);
        touch_end(j, i);
        if (const auto at = crossing(segments_[i], segments_[j])) {
          cross(i, j, *at);
        }
      }
    }
  }

  bool is_inside(std::size_t segment, double part) const {
    const double length = length_of(segments_[segment]);
    return part * length > kSame_mm && (1 - part) * length > kSame_mm;
  }

  void cross(std::size_t i, std::size_t j, const Crossing& at) {
    if (is_inside(i, at.of_first) && is_inside(j, at.of_second)) {  // else an end touches
      cuts_[j].push_back({at.of_second, node_on(i, at.of_first)});
    }
  }

  /// The ends of one segment and the other segment.
  void touch_end(std::size_t of, std::size_t other) {
    const double reach = radius_of(segments_[of]) + radius_of(segments_[other]);
    for (std::size_t k = 0; k < 2; ++k) {
      const std::size_t node = ends_[of][k];
      if (node == ends_[other][0] || node == ends_[other][1]) {
        continue;
      }
      const OnSegment at = closest(segments_[other], k == 0 ? segments_[of].a : segments_[of].b);
      if (at.distance <= kSame_mm) {
        cuts_[other].push_back({at.part, node});
      } else if (at.distance < reach) {
        near_.push_back(
            {node, node_on(other, at.part), at.distance, kBendWidths * reach, segments_[of].layer});
      }
    }
  }

  void touch_pads() {
    std::vector<std::pair<Extent, std::size_t>> extents;
    for (std::size_t p = 0; p < pads_.size(); ++p) {
      extents.emplace_back(extent_of(pads_[p]), p);
    }
    const Tree<Extent> pad_tree(extents);
    for (std::size_t p = 0; p < pads_.size(); ++p) {
      const Extent around = extent_of(pads_[p]);
      for (auto found = tree_.qbegin(copper_bg::index::intersects(around)); found != tree_.qend();
           ++found) {
        spend(1);
        touch_pad(p, found->second);
      }
      for (auto found = pad_tree.qbegin(copper_bg::index::intersects(around));
           found != pad_tree.qend(); ++found) {
        spend(1);
        if (found->second > p && distance_to(pads_[p], pads_[found->second]) < 0) {
          const int layer = std::max(pads_[p].first_layer, pads_[found->second].first_layer);
          pieces_.overlaps.push_back({p, found->second, layer});
        }
      }
    }
  }

  void touch_pad(std::size_t pad, std::size_t segment) {
    const DrawnSegment& drawn = segments_[segment];
    const double distance = distance_to(pads_[pad], drawn);
    const double radius = radius_of(drawn);
    if (distance >= radius) {
      return;
    }
    const OnSegment at = closest_to_pad(drawn, pads_[pad]);
    if (distance > 0) {
      near_.push_back({pad, node_on(segment, at.part), distance,
                       kBendWidths * 2 * radius + reach_of(pads_[pad]), drawn.layer});
    } else if (is_inside(segment, at.part)) {
      cuts_[segment].push_back({at.part, pad});
    }
  }

  /// A node inside several pads is the one's whose centre is closest.
  void settle_ends_in_pads() {
    std::vector<std::pair<Spot, std::size_t>> spots;
    for (std::size_t n = pads_.size(); n < pieces_.nodes.size(); ++n) {
      const ConductorPieces::Node& node = pieces_.nodes[n];
      spots.emplace_back(Spot(node.at.x, node.at.y, node.layer), n);
    }
    const Tree<Spot> tree(spots);
    std::unordered_map<std::size_t, std::pair<double, std::size_t>> owner;
    for (std::size_t p = 0; p < pads_.size(); ++p) {
      for (auto found = tree.qbegin(copper_bg::index::intersects(extent_of(pads_[p])));
           found != tree.qend(); ++found) {
        spend(1);
        const Xy at = pieces_.nodes[found->second].at;
        if (distance_to(pads_[p], at) <= 0) {
          const std::pair mine(std::hypot(at.x - pads_[p].centre.x, at.y - pads_[p].centre.y), p);
          const auto [known, is_new] = owner.emplace(found->second, mine);
          known->second = std::min(known->second, mine);
        }
      }
    }
    joined_ = JoinedNodes(pieces_.nodes.size());
    for (const auto& [node, pad] : owner) {
      joined_.join(pad.second, node);  // the pad stays the name of both
    }
  }

  // ---- pieces
  void cut() {
    for (std::size_t s = 0; s < segments_.size(); ++s) {
      std::vector<Cut>& cuts = cuts_[s];
      std::stable_sort(cuts.begin(), cuts.end(),
                       [](const Cut& a, const Cut& b) { return a.part < b.part; });
      cuts.push_back({1, ends_[s][1]});
      Cut from{0, ends_[s][0]};
      for (const Cut& to : cuts) {
        add_piece(segments_[s], from, to);
        from = to;
      }
    }
    at_.resize(pieces_.nodes.size());
    for (std::size_t i = 0; i < pieces_.pieces.size(); ++i) {
      at_[joined_.find(pieces_.pieces[i].a)].push_back(i);
      at_[joined_.find(pieces_.pieces[i].b)].push_back(i);
    }
  }

  void add_piece(const DrawnSegment& of, const Cut& from, const Cut& to) {
    if (from.node != to.node) {
      pieces_.pieces.push_back({from.node, to.node, of.layer, (to.part - from.part) * length_of(of),
                                of.width, point_on(of, (from.part + to.part) / 2)});
    }
  }

  void join_if_apart(const Near& near) {
    const std::size_t a = joined_.find(near.a);
    const std::size_t b = joined_.find(near.b);
    if (a == b || copper_between(a, b, near.bend)) {
      return;
    }
    if (pieces_.nodes[a].is_pad && pieces_.nodes[b].is_pad) {
      pieces_.overlaps.push_back({a, b, near.layer});
      return;
    }
    const bool a_stays =
        pieces_.nodes[a].is_pad || (!pieces_.nodes[b].is_pad && at_[a].size() >= at_[b].size());
    const std::size_t stays = a_stays ? a : b;
    const std::size_t goes = a_stays ? b : a;
    spend(at_[goes].size());
    joined_.join(stays, goes);
    at_[stays].insert(at_[stays].end(), at_[goes].begin(), at_[goes].end());
    at_[goes] = {};
  }

  /// Whether two nodes are joined by no more copper than `most`.
  bool copper_between(std::size_t a, std::size_t b, double most) {
    using Reached = std::pair<double, std::size_t>;
    std::priority_queue<Reached, std::vector<Reached>, std::greater<>> open;
    std::unordered_map<std::size_t, double> best;
    open.emplace(0, a);
    best[a] = 0;
    while (!open.empty()) {
      const auto [far, node] = open.top();
      open.pop();
      if (node == b) {
        return true;
      }
      if (far > best[node]) {
        continue;
      }
      for (const std::size_t i : at_[node]) {
        spend(1);
        const ConductorPieces::Piece& piece = pieces_.pieces[i];
        const std::size_t one = joined_.find(piece.a);
        const std::size_t other = one == node ? joined_.find(piece.b) : one;
        const double through = far + piece.length;
        const auto [known, is_new] = best.emplace(other, through);
        if (through <= most && (is_new || through < known->second)) {
          known->second = through;
          open.emplace(through, other);
        }
      }
    }
    return false;
  }

  std::span<const DrawnSegment> segments_;
  std::span<const DrawnPad> pads_;
  ConductorWork& work_;
  ConductorPieces pieces_;
  std::map<std::tuple<int, long long, long long>, std::size_t> node_at_;
  Tree<Extent> tree_;
  std::vector<std::array<std::size_t, 2>> ends_;
  std::vector<std::vector<Cut>> cuts_;
  std::vector<Near> near_;
  JoinedNodes joined_{0};
  std::vector<std::vector<std::size_t>> at_;  ///< by node that stayed: its pieces
};

}  // namespace

std::optional<ConductorGraph> join_conductors(std::span<const DrawnSegment> segments,
                                              std::span<const DrawnPad> pads,
                                              std::size_t most_forks, ConductorWork& work) {
  try {
    ConductorGraph graph = tracks_of(Joiner(segments, pads, work).run(), pads.size());
    return graph.forks.size() > most_forks ? std::nullopt : std::optional(std::move(graph));
  } catch (const OutOfWork&) {
    return std::nullopt;
  }
}

}  // namespace padwalk::graph
