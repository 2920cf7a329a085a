// SPDX-License-Identifier: MIT
//
// What copper joins among the points that have a lead at one time, where nothing is known of some
// of them. First who follows whom (learn.hpp), which joins whatever conducts a little; then each
// such group is split by readings with current, since parts join too. Who follows only just may
// have been put with others, or be alone: so at last sets of pieces are read against each other
// with current, by codes (isolation.hpp), and what conducts there as copper does is looked for.
// Pulled like a scan; no I/O.
#pragma once

#include <optional>
#include <set>
#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/isolation.hpp"
#include "graph/learn.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

/// Two points that conduct to each other, and not as copper does. Units: ohm.
struct LearnedPair {
  PointId a = kNoPoint;
  PointId b = kNoPoint;
  double ohm = kOpenOhm;
  double uncertainty_ohm = 0;  ///< k = 2
  bool settled = true;         ///< false: a capacitor hides what it is
  bool number = true;          ///< false: over range, or a voltage of the board's own
  bool intermittent = false;   ///< it went to and fro
};

class LearnScan {
 public:
  /// `known`: points that copper joins, each list apart from each other one; `fresh`: points of
  /// which nothing is known. `joined_ohm`: copper has no more. `max_set`: of the tester.
  LearnScan(std::vector<std::vector<PointId>> known, std::vector<PointId> fresh, double joined_ohm,
            std::size_t max_set = SIZE_MAX);

  /// The next round; empty: finished. `follow` readings of one round share a source set.
  std::vector<WantedReading> next();
  /// The results of the round that next() gave last, in its order.
  void record(std::span<const Reading> readings);

  /// Points that copper joins, after finished; each point once, ascending.
  std::vector<std::vector<PointId>> pieces() const;
  /// What was read with current between points that copper does not join.
  const std::vector<LearnedPair>& between() const { return between_; }
  /// Fresh points that conducted to nothing at all: joined to nothing, or not touched.
  std::vector<PointId> silent() const;

  /// All points of pieces that conducted to something, within themselves or beyond.
  std::vector<PointId> heard() const;

  std::size_t follow_settings() const { return follow_settings_; }
  std::size_t follow_readings() const { return follow_readings_; }
  std::size_t current_readings() const { return current_readings_; }

 private:
  using Numbers = std::vector<std::size_t>;  ///< of pieces
  enum class Step : std::uint8_t { follow, split, verify, finished };

  std::vector<WantedReading> next_follow();
  std::vector<Numbers> followed() const;
  std::vector<WantedReading> next_split();
  std::vector<WantedReading> next_close();
  std::vector<WantedReading> next_verify();
  void begin_verify();
  void ask_about_joins();
  std::size_t alive(std::size_t number) const;
  WantedReading current(std::size_t from, std::size_t to, bool once) const;
  void record_lone(std::span<const Reading> readings);
  void begin_split(std::vector<Numbers> groups);
  void record_split(std::span<const Reading> readings);
  void join(std::size_t a, std::size_t b);
  void part(std::size_t a, std::size_t b);

  double joined_ohm_;
  std::size_t max_set_;
  std::vector<std::vector<PointId>> pieces_;  ///< by number; empty: went into another
  std::vector<std::set<std::size_t>> apart_;  ///< by number: which are known to be apart from it
  std::vector<std::size_t> into_;             ///< by number: which it went into, or itself
  std::vector<bool> heard_;                   ///< by number: it conducted to something
  std::size_t fresh_from_ = 0;                ///< number of the first that was fresh
  std::optional<std::size_t> lone_;           ///< the only fresh one

  Step step_ = Step::follow;
  std::optional<Learn> learn_;
  bool asked_lone_ = false;
  std::vector<Numbers> groups_;  ///< being split: who is left in each
  std::optional<Isolation> isolation_;
  Numbers units_;     ///< the piece of each of its units
  Numbers query_of_;  ///< by reading of the round: which query of its batch it is of
  std::vector<std::pair<std::size_t, std::size_t>> round_;
  std::vector<std::pair<std::size_t, std::size_t>> close_;  ///< to the limit, or found by sets
  bool deciding_ = false;                                   ///< the round is of these
  std::vector<LearnedPair> between_;
  std::size_t follow_settings_ = 0;
  std::size_t follow_readings_ = 0;
  std::size_t current_readings_ = 0;
};

}  // namespace padwalk::graph
