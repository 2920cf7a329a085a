// SPDX-License-Identifier: MIT
//
// What a held net's leads do one by one, put together to interruptions: when, how long, which
// points left. Knows no tester and no screen.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::tools {

/// One time that points of a net had no contact with the one that is driven. Units: second.
struct Interruption {
  double at_s = 0;    ///< on the clock of who notes it
  double open_s = 0;  ///< how long; so far where it is not over
  bool over = false;
  std::vector<graph::PointId> points;  ///< that left; ascending
  /// A point with two leads of which only one left: the clip on it, not the board.
  graph::PointId clip = graph::kNoPoint;
  std::string tag;  ///< what the person did
};

class Interruptions {
 public:
  /// `others`: the point of each lead that is watched; a point may have two, and so may `driven`.
  Interruptions(graph::PointId driven, std::vector<graph::PointId> others);

  /// Lead `other` left or came back. `gap_s`: what is shorter is seen of some leads alone, so that
  /// nothing is said of clips. Returns the interruption that ends with it.
  std::optional<Interruption> note(std::size_t other, bool open, double at_s,
                                   const std::string& tag, double gap_s);
  /// The one that lasts, if any.
  const std::optional<Interruption>& present() const { return present_; }
  /// Nobody looks any more: the one that lasts is as long as this at least.
  std::optional<Interruption> end(double at_s, double gap_s);

  bool has_two_leads(graph::PointId point) const;

 private:
  void judge(double gap_s);

  graph::PointId driven_;
  std::vector<graph::PointId> others_;
  std::vector<bool> open_;  ///< by lead, now
  std::vector<bool> left_;  ///< by lead, during the one that lasts
  std::optional<Interruption> present_;
};

}  // namespace padwalk::tools
