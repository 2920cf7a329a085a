// SPDX-License-Identifier: MIT
//
// Groups of conductors that isolation found to conduct, read conductor against conductor: which two
// it is, whether they are shorted, and whether current flows both ways. Not for nets that parts
// join: part_pairs.hpp.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "graph/isolation.hpp"
#include "graph/reading.hpp"
#include "graph/scan_units.hpp"

namespace padwalk::graph {

/// Cuts a reading of sets into readings whose sets the tester can hold; together they meet every
/// pair of points that it would have met.
std::vector<WantedReading> cut_sets(const std::vector<PointId>& source,
                                    const std::vector<PointId>& sink, std::size_t max_set,
                                    Band expected);

/// Of several readings that together stand for one, the one that conducts best.
const Reading& lowest(std::span<const Reading> readings);

/// The most that it may be, at three sigma. Units: ohm.
double may_be(const Reading& reading);

/// Two readings of one pair, driven from either end, differ as only a junction makes them.
bool conducts_one_way(const Reading& a, const Reading& b);

class ConductingPairs {
 public:
  struct Limits {
    double isolation_ohm = 10e3;  ///< conducting at or below
    double short_ohm = 10;        ///< one conductor at or below
    std::size_t max_set = SIZE_MAX;
  };

  /// The board, units and conductors must outlive this; shorts are joined among the conductors.
  ConductingPairs(const Board& board, std::span<const ScanUnit> units, Conductors& conductors,
                  Limits limits)
      : board_(board), units_(units), conductors_(conductors), limits_(limits) {}

  /// One conductor where each group is one and they are shorted; else all pairs are to be read.
  void add(const std::vector<Isolation::Join>& joins);
  void add(std::uint32_t a, std::uint32_t b) { pairs_.push_back({a, b, {}, {}, {}}); }
  bool empty() const { return pairs_.empty(); }

  /// A reading of each pair; then, of what conducts, a second one: a short as it was, anything else
  /// the other way round, and where closed parts tie nets, net by net: a part may be open.
  std::vector<WantedReading> next();
  std::vector<WantedReading> next_again();
  /// The results of the round that was given last, in its order.
  void record(std::span<const Reading> readings);

  /// Joins the shorts; adds to `kept` what readings between nets cannot hold: shorts, and leaks of
  /// points in no net. Forgets all pairs.
  void settle(std::vector<Reading>& kept);
  /// Leaks between nets, and what flows one way only.
  const NetReadings& readings() const { return readings_; }

 private:
  struct Pair {
    std::uint32_t a = 0;  ///< units
    std::uint32_t b = 0;
    std::vector<Reading> first;
    std::vector<Reading> again;
    std::vector<Reading> by_net;  ///< one net of each unit
  };
  int rank(std::uint32_t conductor) const;
  void ask(std::size_t pair, bool turned, std::vector<WantedReading>& round);
  void ask_by_net(std::size_t pair, std::vector<WantedReading>& round);
  void settle_leak(const Pair& pair, std::vector<Reading>& kept);

  const Board& board_;
  std::span<const ScanUnit> units_;
  Conductors& conductors_;
  Limits limits_;
  std::vector<Pair> pairs_;
  struct Asked {
    std::size_t pair = 0;
    bool by_net = false;
  };
  std::vector<Asked> round_;  ///< what each reading is of
  bool again_ = false;
  NetReadings readings_;
};

}  // namespace padwalk::graph
