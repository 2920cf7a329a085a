// SPDX-License-Identifier: MIT
//
// What nets read to each other by way of the parts between them, tolerances included. Nets are
// nodes; the copper inside a net counts as nothing. Not for judging: part_faults.hpp.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "graph/board.hpp"
#include "graph/network_faults.hpp"
#include "graph/reading.hpp"

namespace padwalk::graph {

/// One part between two nets as an edge of a network; the caller sets its nodes.
///
/// Tolerance of a resistor: the larger of its own and 5 %, and 1 % more for age. Links, closed
/// switches and fuses may have up to 10 ohm, coils up to 100; silicon at the test voltage 0.3 Mohm
/// or more (common practice, no source). What the file gives no ohms for is not `known`.
NetworkEdge range_of(const Board& board, const PartLink& link);

/// What two groups of nets should read. Units: ohm; kOpenOhm where no part joins them.
struct ExpectedOhm {
  double ohm = kOpenOhm;
  double low_ohm = kOpenOhm;  ///< all tolerances at their worse edges
  double high_ohm = kOpenOhm;
  bool sure = true;  ///< false: parts of unknown ohms take part; `low_ohm` counts them as closed
                     ///< and `high_ohm` as absent
};

class PartOhms {
 public:
  explicit PartOhms(const Board& board);
  ~PartOhms();
  PartOhms(PartOhms&&) noexcept;
  PartOhms& operator=(PartOhms&&) noexcept;

  /// Each group tied. Shape: the groups share no net; nets that are neither float.
  /// Cost: the cube of the nets of a cluster when it is first asked about; then constant for single
  /// nets, and the cube again for groups.
  ExpectedOhm between(std::span<const NetId> source, std::span<const NetId> sink) const;
  ExpectedOhm between(NetId a, NetId b) const { return between({&a, 1}, {&b, 1}); }

  /// Every part that joins two nets, in no order.
  const std::vector<PartLink>& links() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace padwalk::graph
