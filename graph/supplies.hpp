// SPDX-License-Identifier: MIT
//
// Supplies of an assembled board, measured apart: their capacitors would fill anew in every coded
// setting. Each supply is driven against ground alone, then against all that no part joins to it
// with ground sunk too; what flows beyond the first reading has found another way, and is searched
// for by halves. One query at a time; it knows no tester.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "graph/isolation.hpp"
#include "graph/reading.hpp"
#include "graph/scan_units.hpp"

namespace padwalk::graph {

class Supplies {
 public:
  /// Units that are a supply are measured against the others. `conducting_ohm`: as for isolation.
  /// `short_ohm`: a supply that reads so low against ground is ground. `fresh`: as for isolation.
  Supplies(std::span<const ScanUnit> units, double conducting_ohm, double short_ohm,
           const std::vector<bool>& fresh = {});

  std::optional<Isolation::Query> next();
  void answer(const Reading& reading);

  /// Supplies and groups of units that conduct, ground too where no part joins it to them; found
  /// since the last call.
  std::vector<Isolation::Join> take_joins() { return std::exchange(joins_, {}); }

 private:
  using List = PairSearch::List;
  struct Case {
    std::uint32_t supply = 0;
    std::vector<List> others;  ///< units by cluster
    List grounds_apart;        ///< grounds that no part joins to it
  };
  enum class Step : std::uint8_t { ground, others, search };
  void begin_next();
  std::vector<PointId> points_of(const List& units) const;
  double conducting_siemens() const;
  bool conducts(const Reading& reading) const;
  double excess_siemens(const Reading& reading) const;
  void ask_others();

  std::span<const ScanUnit> units_;
  double conducting_ohm_;
  double short_ohm_;
  List grounds_;
  std::vector<Case> cases_;
  std::size_t at_ = 0;
  Step step_ = Step::ground;
  List left_;  ///< indices into the case's others that are not found yet
  double ground_siemens_ = 0;
  double ground_error_siemens_ = 0;
  bool with_ground_ = false;
  std::optional<PairSearch> search_;
  std::vector<Isolation::Join> joins_;
};

}  // namespace padwalk::graph
