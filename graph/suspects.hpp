// SPDX-License-Identifier: MIT
//
// Where the fault may be: for a net in several pieces, the segments whose break explains the
// pieces, each with its likelihood; for a short, the places where the two nets come closest; and
// the touch that narrows them most. Works on a small local graph of the one net.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "graph/board.hpp"

namespace padwalk::graph {

// ---- the abstract problem: a graph, classes of its vertices, weights ---------------------------

/// A net's route as a small graph. Shape: undirected, parallel edges allowed, no self-loops.
struct LocalRoute {
  struct Edge {
    int a = 0;
    int b = 0;
    double weight = 1;  ///< how likely it is to break, against the others
  };
  int vertices = 0;
  std::vector<Edge> edges;
};

/// The smallest sets of breaks after which the classes are exactly the pieces that were measured.
struct Explanation {
  int breaks = 0;              ///< 0: nothing to explain; 3 stands for 'at least 3'
  bool contradiction = false;  ///< no set of breaks leaves these classes: the route cannot be right
  /// For breaks 1 and 2: every smallest consistent set, each ascending, in lexicographic order; of
  /// sets of two the first 100000. For 3: one set, the edges that lie in a smallest cut of some
  /// class from all others (a heuristic).
  std::vector<std::vector<int>> sets;
};

/// Shape: `classes` are disjoint, each holds at least one vertex; vertices in no class are free.
/// Every class must stay connected and apart from all others.
/// Cost: O(V + E) for one break, O(E (V + E)) for two.
Explanation explain(const LocalRoute& route, const std::vector<std::vector<int>>& classes);

/// What touches take. Units: those of the caller, such as s.
struct TouchTimes {
  double touch = 1;
  double turn = 0;  ///< of the board, where the other side must be up
};

/// From which sides of the board a place between two suspects can be touched.
struct RowBoundary {
  bool top = false;
  bool bottom = false;
};

/// Expected time of touches (weighted mean) and the first cut of the best plan for suspects that
/// lie in a row.
struct RowPlan {
  double mean_cost = 0;   ///< over suspects, by weight: the time to isolate one
  int worst = 0;          ///< touches in the worst case
  int first_cut = -1;     ///< touch the boundary behind suspect first_cut - 1 (1 … m-1); -1: none
  Side side = Side::top;  ///< that must be up then
};

/// Dynamic programme over stretches of m suspects in a row and the side that is up: f(i,j,s) = min
/// over boundaries k and sides t of cost(s,t) W(i,j) + f(i,k,t) + f(k,j,t). `boundaries[k]` (size
/// m + 1, ends unused) is the place in front of suspect k; suspects between boundaries that cannot
/// be touched are one group. Above 200 suspects: balanced greedy, sides do not count.
RowPlan plan_row(std::span<const double> weights, std::span<const RowBoundary> boundaries,
                 const TouchTimes& times, Side up);
/// The same where a touch costs 1 and no side counts.
RowPlan plan_row(std::span<const double> weights, const std::vector<bool>& touchable);

// ---- the board ------------------------------------------------------------------------------

/// One suspect of an open: a segment, or the contact of the lead on `contact`.
struct OpenSuspect {
  std::optional<SegmentId> segment;
  PointId contact = kNoPoint;  ///< set where the suspect is the lead's own contact
  double likelihood = 0;       ///< a share; those of one finding sum to 1
};

/// The pieces of one net, as places that are known to belong together. A touch adds its place to
/// the piece that it joined, at its end, or as a piece of its own behind the others.
struct OpenCase {
  NetId net = kNoNet;
  std::vector<std::vector<PlaceId>> pieces;
  /// Points that were silent alone, so that their lead's contact is among the suspects: the first
  /// piece that begins with the place of such a lead means the lead, not the place.
  std::vector<PointId> contact_doubtful;
  /// Places that the tip cannot reach, though the file says so.
  std::vector<PlaceId> not_reached;
  /// How many times likelier than break_weight() says, of segments; others, leads' contacts too,
  /// `other_factor`. See break_history.hpp.
  std::map<SegmentId, double> factors{};
  double other_factor = 1;
};

struct OpenSuspects {
  int breaks = 0;  ///< 3: at least 3
  bool contradiction = false;
  bool way_unknown = false;           ///< 'slide the tip along the copper from here'
  std::vector<OpenSuspect> suspects;  ///< most likely first
  /// For 2 breaks where the way is known: sets, as indices into suspects.
  std::vector<std::vector<std::size_t>> together;
  std::optional<PlaceId> next_touch;  ///< none where no touch can narrow it further
  bool sharpened = false;             ///< by earlier boards: OpenCase::factors
};

/// Where the way of some copper is not known, units of known copper hang by `unknown_way` segments.
/// Where they hang on a route is open: a segment of the route is a suspect if it explains the
/// pieces for some place to hang from. Breaks in unknown copper are sought towards the units that
/// are not with the route, or with the largest group where there is none. Cost: that of explain()
/// on the net's segments. The next touch is the best for `times` where side `up` lies up.
OpenSuspects find_open_suspects(const Board& board, const OpenCase& open,
                                const TouchTimes& times = {}, Side up = Side::top);

/// One suspect of a short: two places of two nets that lie close together on a common side.
struct GapSuspect {
  PlaceId a = kNoPlace;
  PlaceId b = kNoPlace;
  double gap_mm = 0;  ///< between pad edges where sizes are known, else between centres
  double likelihood = 0;
};

/// Finds closest places of any two nets; built once a board, which must outlive it, asked once a
/// short. Not for several threads at once: it keeps the nets that it was asked for.
class ShortSuspects {
 public:
  explicit ShortSuspects(const Board& board);
  ~ShortSuspects();

  /// The closest pairs of places between `nets` (two or more), closest first: at least three where
  /// there are as many, and all that are as close as the third. Empty where positions are unknown.
  std::vector<GapSuspect> find(std::span<const NetId> nets) const;

 private:
  struct Index;
  std::unique_ptr<Index> index_;
};

/// How likely a segment is to be the broken one, against the others: by kind, length and region.
/// One formula, one table; shop experience, common practice, no source.
double break_weight(const Board& board, SegmentId segment);

}  // namespace padwalk::graph
