// SPDX-License-Identifier: MIT
//
// Which fixture to put where, and what to touch, to learn a board of more points than leads. What
// is held meets all that is brought past it: a group that is new is held in its turn where a
// grabber is free, and otherwise waits for its round. One move or touch at a time, the one that
// makes most pairs of groups meet in a second of a person's time; what it taught decides the next.
// With k loose leads alone that is: hold one lead per group found so far, k - 1 at most, and sweep
// all other points past them; each point once where there are fewer groups than leads.
#pragma once

#include <optional>
#include <set>
#include <span>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/fixtures.hpp"
#include "graph/learn_books.hpp"
#include "graph/plan.hpp"

namespace padwalk::graph {

class LearnMoves {
 public:
  /// Pins and named points that this bench reaches; no vias. `board` and `bench` must outlive this.
  LearnMoves(const Board& board, const Fixtures& bench);

  /// One move or one touch. Nothing: all is known that this bench can bring together.
  /// Cost: points times what is attached.
  std::optional<PlanStep> next();

  /// All leads after the last step, in channel order, the touched point last.
  Hookup hookup() const;
  /// What has a lead now, by groups that met all others of these before the last step.
  std::vector<std::vector<PointId>> known() const;
  /// One point of each other group that has a lead now. Empty: the step teaches nothing by itself.
  std::vector<PointId> fresh() const;

  /// What was learned of known() and fresh().
  void record(const std::vector<std::vector<PointId>>& pieces);
  /// In place of record(): the tip could not get to the point. `later`: it is to be asked for once
  /// more when nothing else is left. Returns whether it will be.
  bool not_reached(bool later);
  /// In place of record(): what was moved last does not fit there, and stays off.
  void does_not_fit();

  const LearnBooks& books() const { return books_; }
  /// Points that nothing of this bench reaches, or that must never be driven.
  std::vector<PointId> not_covered() const;

 private:
  /// Somewhere that a fixture can be.
  struct Spot {
    PartId part = kNoPart;
    std::vector<Lead> leads;
  };
  struct Moving {
    std::size_t fixture = 0;
    std::size_t grabber = 0;
    bool single = false;      ///< a grabber: any point that can be held
    std::vector<Spot> spots;  ///< of a clip or a plug
    std::optional<Spot> at;
    std::size_t since = 0;  ///< when it was put there
  };
  using Groups = LearnBooks::Groups;
  struct Choice {
    std::size_t moving = 0;
    Spot spot;
    double worth = 0;  ///< pairs that meet, or may, in a second
  };

  Groups held_without(std::size_t moving) const;
  Groups groups_of(std::span<const Lead> leads) const;
  std::vector<std::size_t> holders() const;
  bool is_free(const Moving& moving, const std::vector<std::size_t>& holders) const;
  double seconds(std::size_t moving, const Spot& spot) const;
  Spot spot_on(const Moving& grabber, PointId point) const;

  std::optional<PlanStep> next_step();
  std::optional<PlanStep> hold_touched();
  std::optional<PlanStep> best_step();
  std::optional<PlanStep> last_grabber();
  std::optional<PlanStep> begin_anew();
  bool can_bring(const Groups& to, std::size_t except) const;
  PlanStep put(std::size_t moving, Spot spot);
  PlanStep touch(PointId point);

  const Board& board_;
  const Fixtures& bench_;
  std::vector<bool> clip_;  ///< by point: a grabber holds on it
  std::vector<bool> tip_;   ///< by point: the tip reaches it
  std::vector<bool> counted_;
  LearnBooks books_;
  std::vector<Moving> moving_;
  std::vector<Lead> before_;  ///< what had a lead before the last step and has it still
  std::optional<PointId> touched_;
  std::vector<PointId> postponed_;
  std::set<PointId> was_postponed_;
  bool to_be_held_ = false;  ///< what was touched, if it is new
  std::size_t now_ = 0;
  std::size_t anew_at_ = SIZE_MAX;  ///< how many pairs were open when it was begun anew last
  SideUp up_;
};

}  // namespace padwalk::graph
