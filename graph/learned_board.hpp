// SPDX-License-Identifier: MIT
//
// A board file of what was learned: the parts and points that were given, nets by what copper
// joined, and what is only joined through parts as notes. Readings are not judged here.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "graph/board.hpp"
#include "graph/learn_scan.hpp"

namespace padwalk::graph {

/// Points that copper joins, two at least, and what the net is called.
struct LearnedNet {
  std::string name;
  NetRole role = NetRole::signal;
  std::vector<PointId> points;
};

/// Two nets (or lone points) that parts or a leak join, not by way of others.
struct LearnedLink {
  std::string a;
  std::string b;
  LearnedPair pair;
};

struct LearnedNets {
  std::vector<LearnedNet> nets;  ///< by their first point
  std::vector<PointId> alone;
  std::vector<LearnedLink> links;     ///< fewest ohms first, then those without a number
  std::vector<PartId> across_copper;  ///< two-pin parts whose pins copper, or the part, joins
};

/// Names what was learned. Nets are N1, N2, …; one that the types of chips say is ground or supply
/// is GND or VCC, where one net alone has most of such pins. `link_ohm`: what conducts less is
/// left out.
LearnedNets name_learned(const Board& blank, const std::vector<std::vector<PointId>>& pieces,
                         std::span<const LearnedPair> between, double link_ohm);

/// `blank`, its parts and nets, with these nets of unknown way besides; named points of which
/// nothing was learned are left out.
BoardDescription describe_learned(const Board& blank, const LearnedNets& learned);

/// "N1 and N4: about 4.7 kohm".
std::string link_text(const LearnedLink& link);

}  // namespace padwalk::graph
