// SPDX-License-Identifier: MIT
//
// What a scan takes for one conductor before it has read anything, and which of these turned out to
// be joined. Not for what conducts by leaks or parts.
#pragma once

#include <algorithm>
#include <cstdint>
#include <span>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

/// A net, nets that closed parts tie together, or a point that is in no net.
struct ScanUnit {
  std::vector<NetId> nets;                   ///< empty: a point in no net
  std::vector<std::vector<PointId>> points;  ///< net by net, in hookup order
  std::uint32_t cluster = 0;                 ///< units that parts join share one
  bool ground = false;
  bool supply = false;

  std::vector<PointId> all_points() const;
};

/// The units of the attached points, in the order of their first nets; points in no net follow in
/// hookup order. Points that must never be driven are left out.
std::vector<ScanUnit> make_scan_units(const Board& board, std::span<const PointId> attached,
                                      double short_ohm);

/// Units that are one conductor, by label. The label is one of its units.
class Conductors {
 public:
  explicit Conductors(std::size_t units) : label_(units), members_(units) {
    for (std::uint32_t unit = 0; unit < units; ++unit) {
      label_[unit] = unit;
      members_[unit] = {unit};
    }
  }
  std::uint32_t operator[](std::uint32_t unit) const { return label_[unit]; }
  /// Ascending; empty for a label that is no more.
  const std::vector<std::uint32_t>& members(std::uint32_t label) const { return members_[label]; }
  std::size_t size() const { return label_.size(); }
  /// All points of one conductor, unit by unit.
  std::vector<PointId> points_of(std::uint32_t label, std::span<const ScanUnit> units) const;

  void join(std::uint32_t a, std::uint32_t b) {
    std::uint32_t to = label_[a];
    std::uint32_t from = label_[b];
    if (to == from) {
      return;
    }
    if (members_[to].size() < members_[from].size()) {
      std::swap(to, from);
    }
    for (const std::uint32_t unit : members_[from]) {
      label_[unit] = to;
      members_[to].push_back(unit);
    }
    members_[from].clear();
    std::sort(members_[to].begin(), members_[to].end());
  }

 private:
  std::vector<std::uint32_t> label_;
  std::vector<std::vector<std::uint32_t>> members_;
};

}  // namespace padwalk::graph
