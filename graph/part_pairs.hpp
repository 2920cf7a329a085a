// SPDX-License-Identifier: MIT
//
// Nets that parts join, held pair by pair against what these parts should read. What is off is read
// again: the other way round, since a junction conducts one way only, and with ground sunk as well,
// since the clamps of a chip's inputs conduct out of a floating ground. One round at a time; it
// knows no tester. Not for saying which part is at fault: part_faults.hpp.
#pragma once

#include <functional>
#include <set>
#include <span>
#include <utility>
#include <vector>

#include "graph/board.hpp"
#include "graph/clamps.hpp"
#include "graph/part_groups.hpp"
#include "graph/part_ohms.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

class PartPairs {
 public:
  /// Shape of `by_net`: the attached points of each net of the board. Two nets that parts join are
  /// read where one of them at least is `fresh`, or that is empty.
  PartPairs(const Board& board, const PartGroups& groups, std::vector<std::vector<PointId>> by_net,
            double short_ohm, const std::set<NetId>& fresh = {});

  /// Readings of one net against one other; empty: finished.
  std::vector<WantedReading> next();
  /// The results of the round that next() gave last. `confirms`: see confirming().
  void record(std::span<const Reading> readings);
  /// The round at hand repeats what was off.
  bool confirming() const { return step_ > 0; }

  /// Nets whose only attached point conducted to nothing although parts should make it.
  std::vector<NetId> silent() const;
  /// Forgets what was read of these nets; next() then hands it out once more.
  void ask_again(const std::vector<NetId>& nets);

  /// One reading a pair, after finished; those that clamps explain are left out.
  const std::vector<PairReading>& readings() const { return readings_; }
  /// Pairs that read as a short and should not.
  const std::vector<std::pair<NetId, NetId>>& shorted() const { return shorted_; }
  const std::vector<OneWay>& one_way() const { return one_way_; }
  /// Pairs with a part whose ohms the file does not give: judged for shorts only.
  const std::vector<std::pair<NetId, NetId>>& unsure() const { return unsure_; }

 private:
  struct Pair {
    NetId a = kNoNet;  ///< driven
    NetId b = kNoNet;
    ExpectedOhm expected;
    Reading first;
    std::vector<Reading> again;
  };
  void list_pairs(const std::function<bool(NetId a, NetId b)>& wanted);
  void add_pair(NetId a, NetId b);
  void add_grounds_of_off();
  Band band(const ExpectedOhm& expected) const;
  bool off(const Pair& pair) const;
  bool both_signals(const Pair& pair) const;
  void settle(const Pair& pair);
  struct ToGrounds {
    double all = 0;
    double beyond_parts = 0;
  };
  ToGrounds to_grounds(NetId net) const;
  bool below_parts(const Pair& pair, const Reading& read) const;
  double through_clamps(const Pair& pair, const Reading& read, const Reading* sunk) const;

  const Board& board_;
  std::vector<std::vector<PointId>> by_net_;
  std::vector<NetId> grounds_;
  std::vector<std::vector<NetId>> clusters_;
  PartOhms ohms_;
  Clamps clamps_;
  double short_ohm_;
  std::vector<Pair> pairs_;
  std::vector<std::size_t> round_;  ///< the pair of each reading
  std::size_t read_ = 0;            ///< of `pairs_`: those that have a first reading
  int step_ = 0;
  std::vector<PairReading> readings_;
  std::vector<std::pair<NetId, NetId>> shorted_;
  std::vector<std::pair<NetId, NetId>> unsure_;
  std::vector<OneWay> one_way_;
};

}  // namespace padwalk::graph
