// SPDX-License-Identifier: MIT
//
// What several hookups of one board measured, as one, and what of it no longer counts. Judges
// nothing.
#pragma once

#include <span>
#include <utility>
#include <vector>

#include "graph/findings.hpp"
#include "graph/plan.hpp"

namespace padwalk::graph {

/// Adds what one hookup measured. Two readings of one pair are both kept, and what conducted once
/// is joined: leads that moved may have had no contact. Of two nets that parts join or that leak,
/// what conducts speaks before what does not, then what was at rest, then the smaller error.
void add_evidence(Measured& all, Measured one);

/// Spells of measuring, each with the same leads from its begin to its end, in order.
class Evidence {
 public:
  /// `board` must outlive this.
  explicit Evidence(const Board& board) : board_(board) {}

  void add(Measured spell) { spells_.push_back(std::move(spell)); }
  /// Spells so far.
  std::size_t size() const { return spells_.size(); }

  /// Forgets what leads said, from the spell `since` on, that were taken for being on these points
  /// and were not, or had no contact: readings of the points, and of whole nets of theirs.
  void forget(const std::vector<PointId>& points, std::size_t since);
  /// Whether the lead on `point` conducted to one other lead from the spell `since` on; `own_net`:
  /// to one of its net.
  bool conducted(PointId point, std::size_t since, bool own_net) const;
  /// Of these pairs of nets those that no spell held together.
  std::vector<std::pair<NetId, NetId>> never_together(
      std::span<const std::pair<NetId, NetId>> pairs) const;

  /// What of a goal is left: of nets that no spells chain together one point of each chain, and
  /// pairs that were never together.
  PlanGoal left_of(const PlanGoal& goal) const;

  Measured merged() const;

 private:
  const Board& board_;
  std::vector<Measured> spells_;
};

}  // namespace padwalk::graph
