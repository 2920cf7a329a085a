// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <boost/geometry.hpp>
#include <boost/geometry/index/rtree.hpp>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <tuple>
#include <utility>

#include "graph/suspects.hpp"

namespace padwalk::graph {

namespace {

namespace bg = boost::geometry;
namespace bgi = boost::geometry::index;

using Position = bg::model::point<double, 3, bg::cs::cartesian>;
using Box = bg::model::box<Position>;
using Entry = std::pair<Box, std::size_t>;
using Tree = bgi::rtree<Entry, bgi::quadratic<16>>;

// The sides of a board are levels so far apart that what shares no side comes last; a through hole
// reaches from one to the other.
constexpr double kSidesApartMm = 1e7;
constexpr double kSameGapMm = 1e-6;
constexpr double kSofteningMm = 0.2;  // closer than this, distance says little
constexpr std::size_t kFewest = 3;

/// A place that can be bridged to another: on an outer side, its position known.
struct Pad {
  PlaceId place = kNoPlace;
  Side side = Side::unknown;  ///< unknown: both
  Xy xy;
  std::optional<Xy> size;
};

Box box(const Pad& pad, Xy size) {
  const double low = pad.side == Side::top ? kSidesApartMm : 0;
  const double high = pad.side == Side::bottom ? 0 : kSidesApartMm;
  return {Position(pad.xy.x - size.x / 2, pad.xy.y - size.y / 2, low),
          Position(pad.xy.x + size.x / 2, pad.xy.y + size.y / 2, high)};
}

Box centre(const Pad& pad) {
  return box(pad, {0, 0});
}

bool share_a_side(const Pad& a, const Pad& b) {
  return a.side == b.side || a.side == Side::unknown || b.side == Side::unknown;
}

/// Units: mm, between edges where both sizes are known, else between centres.
double gap_mm(const Pad& a, const Pad& b) {
  double dx = std::abs(a.xy.x - b.xy.x);
  double dy = std::abs(a.xy.y - b.xy.y);
  if (a.size && b.size) {
    dx = std::max(0.0, dx - (a.size->x + b.size->x) / 2);
    dy = std::max(0.0, dy - (a.size->y + b.size->y) / 2);
  }
  return std::hypot(dx, dy);
}

/// A net's pads, to find the closest one to a place of another net.
class NetPads {
 public:
  NetPads(const Board& board, NetId net) {
    for (const PointId id : board[net].points) {
      const Point& point = board[id];
      for (std::size_t i = 0; point.xy && i < point.places; ++i) {
        const PlaceId place{static_cast<std::uint32_t>(index(point.first) + i)};
        const auto& [of, on, kind, side, access] = board[place];
        if (kind != PlaceKind::leg && kind != PlaceKind::socket && side < Side::inner1) {
          pads_.push_back({place, side, *point.xy, point.pad});
        }
      }
    }
    std::vector<Entry> sized, sized_centres, unsized;
    for (std::size_t i = 0; i < pads_.size(); ++i) {
      if (pads_[i].size) {
        sized.emplace_back(box(pads_[i], *pads_[i].size), i);
        sized_centres.emplace_back(centre(pads_[i]), i);
      } else {
        unsized.emplace_back(centre(pads_[i]), i);
      }
    }
    sized_ = Tree(sized);
    sized_centres_ = Tree(sized_centres);
    unsized_ = Tree(unsized);
  }

  const std::vector<Pad>& pads() const { return pads_; }

  /// Hands this net's pads that share a side with `from` to `take`, closest first, until `take`
  /// returns false. Pads whose size is known come in a series of their own.
  template <typename Take>
  void visit_near(const Pad& from, Take take) const {
    if (from.size) {
      visit(sized_, box(from, *from.size), from, take);
    } else {
      visit(sized_centres_, centre(from), from, take);
    }
    visit(unsized_, centre(from), from, take);
  }

 private:
  template <typename Take>
  void visit(const Tree& tree, const Box& near, const Pad& from, Take& take) const {
    if (tree.empty()) {
      return;
    }
    const auto count = static_cast<unsigned>(tree.size());
    for (auto found = tree.qbegin(bgi::nearest(near, count)); found != tree.qend(); ++found) {
      const Pad& pad = pads_[found->second];
      if (!share_a_side(from, pad) || !take(pad)) {
        return;
      }
    }
  }

  std::vector<Pad> pads_;
  Tree sized_, sized_centres_, unsized_;
};

/// Keeps the closest pairs: at least three, and all that are as close as the third.
class ClosestPairs {
 public:
  /// False: too far apart to count.
  bool take(const Pad& a, const Pad& b) {
    const double gap = gap_mm(a, b);
    if (gap > third() + kSameGapMm) {
      return false;
    }
    pairs_.push_back({a.place, b.place, gap, 0});
    if (gap < third()) {
      closest_.back() = gap;
      std::sort(closest_.begin(), closest_.end());
    }
    return true;
  }

  std::vector<GapSuspect> result() {
    pairs_.erase(
        std::remove_if(pairs_.begin(), pairs_.end(),
                       [&](const GapSuspect& pair) { return pair.gap_mm > third() + kSameGapMm; }),
        pairs_.end());
    std::sort(pairs_.begin(), pairs_.end(), [](const GapSuspect& x, const GapSuspect& y) {
      return std::tie(x.gap_mm, x.a, x.b) < std::tie(y.gap_mm, y.a, y.b);
    });
    return std::move(pairs_);
  }

 private:
  static constexpr double kFar = std::numeric_limits<double>::infinity();
  double third() const { return closest_.back(); }

  std::array<double, kFewest> closest_ = {kFar, kFar, kFar};
  std::vector<GapSuspect> pairs_;
};

void set_likelihoods(const Board& board, std::vector<GapSuspect>& pairs) {
  double sum = 0;
  for (GapSuspect& pair : pairs) {
    pair.likelihood = std::max(board.suspicion(pair.a), board.suspicion(pair.b)) /
                      std::pow(pair.gap_mm + kSofteningMm, 2);
    sum += pair.likelihood;
  }
  for (GapSuspect& pair : pairs) {
    pair.likelihood /= sum;
  }
}

}  // namespace

/// The pads of nets that were asked for once.
struct ShortSuspects::Index {
  const NetPads& pads(NetId net) { return nets.try_emplace(net, board, net).first->second; }

  const Board& board;
  std::map<NetId, NetPads> nets = {};
};

ShortSuspects::ShortSuspects(const Board& board) : index_(new Index{board}) {}

ShortSuspects::~ShortSuspects() = default;

std::vector<GapSuspect> ShortSuspects::find(std::span<const NetId> nets) const {
  ClosestPairs closest;
  for (std::size_t i = 0; i < nets.size(); ++i) {
    for (std::size_t j = i + 1; j < nets.size(); ++j) {
      const NetPads& one = index_->pads(nets[i]);
      const NetPads& other = index_->pads(nets[j]);
      const bool one_is_smaller = one.pads().size() <= other.pads().size();
      const NetPads& larger = one_is_smaller ? other : one;
      for (const Pad& from : (one_is_smaller ? one : other).pads()) {
        larger.visit_near(from, [&](const Pad& near) {
          return one_is_smaller ? closest.take(from, near) : closest.take(near, from);
        });
      }
    }
  }
  std::vector<GapSuspect> pairs = closest.result();
  set_likelihoods(index_->board, pairs);
  return pairs;
}

}  // namespace padwalk::graph
