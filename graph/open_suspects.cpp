// SPDX-License-Identifier: MIT
#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <map>

#include "graph/local_net.hpp"
#include "graph/next_touch.hpp"

namespace padwalk::graph {

namespace {

constexpr double kTracePerMm = 0.1;
constexpr double kLeastTrace = 0.2;
constexpr double kTraceOfUnknownLength = 1;

double kind_weight(const Segment& segment) {
  switch (segment.kind) {
    case SegmentKind::trace:
      return segment.length_mm ? std::max(kLeastTrace, *segment.length_mm * kTracePerMm)
                               : kTraceOfUnknownLength;
    case SegmentKind::wire:
      return 2;
    case SegmentKind::joint:
    case SegmentKind::unknown_way:  // some traces, perhaps a via
      return 4;
    case SegmentKind::barrel:
      return 8;
    case SegmentKind::contact:
      return 10;
  }
  return 1;
}

class OpenAnalysis {
 public:
  OpenAnalysis(const Board& board, const OpenCase& open, const TouchTimes& times, Side up)
      : board_(board), open_(open), times_(times), up_(up), net_(board, open) {}

  OpenSuspects run() {
    if (net_.pieces.size() < 2) {
      return {};
    }
    if (net_.one_place_in_two_pieces || !explain_units()) {
      OpenSuspects refuted;
      refuted.contradiction = true;
      return refuted;
    }
    explain_groups();
    set_likelihoods();
    result_.sharpened = !open_.factors.empty();
    const TouchAdvisor advisor(board_, net_, open_, times_, up_);
    const bool in_a_row = !result_.way_unknown && result_.breaks == 1;
    result_.next_touch =
        in_a_row ? advisor.in_a_row(hypotheses_) : advisor.most_informative(hypotheses_);
    return result_;
  }

 private:
  /// The vertices of one piece that lie in one unit.
  struct Share {
    std::size_t piece;
    std::vector<int> vertices;
  };
  /// Pieces that only the breaks inside units part.
  struct Group {
    std::vector<std::size_t> units;
    std::vector<std::size_t> pieces;
  };

  bool explain_units();
  std::vector<Group> groups() const;
  void explain_groups();
  void explain_inside(std::size_t piece, const LocalNet::Way& way);
  void suspect_branches();
  void set_likelihoods();
  void add(std::vector<int> causes, double factor = 1);

  const Board& board_;
  const OpenCase& open_;
  TouchTimes times_;
  Side up_;
  LocalNet net_;
  std::vector<std::vector<Share>> shares_;  ///< by unit
  std::vector<Hypothesis> hypotheses_;
  OpenSuspects result_;
};

void OpenAnalysis::add(std::vector<int> causes, double factor) {
  double weight = factor;
  for (const int cause : causes) {
    weight *= net_.causes[static_cast<std::size_t>(cause)].likelihood;
  }
  hypotheses_.push_back({std::move(causes), weight});
}

/// Breaks inside units whose places are in different pieces. False: a contradiction.
bool OpenAnalysis::explain_units() {
  shares_.resize(net_.units);
  for (std::size_t p = 0; p < net_.pieces.size(); ++p) {
    for (const int v : net_.pieces[p]) {
      std::vector<Share>& shares = shares_[net_.unit[static_cast<std::size_t>(v)]];
      if (shares.empty() || shares.back().piece != p) {
        shares.push_back({p, {}});
      }
      shares.back().vertices.push_back(v);
    }
  }
  for (const std::vector<Share>& shares : shares_) {
    if (shares.size() < 2) {
      continue;
    }
    std::vector<std::vector<int>> classes;
    for (const Share& share : shares) {
      classes.push_back(share.vertices);
    }
    const Explanation explanation = explain(net_.known, classes);
    if (explanation.contradiction) {
      return false;
    }
    result_.breaks += explanation.breaks;
    for (const std::vector<int>& set : explanation.sets) {
      if (explanation.breaks <= 2) {
        add(set);
        continue;
      }
      for (const int edge : set) {
        add({edge});
      }
    }
  }
  return true;
}

std::vector<OpenAnalysis::Group> OpenAnalysis::groups() const {
  const std::size_t count = net_.pieces.size();
  std::vector<std::size_t> rank(count), parent(count);
  boost::disjoint_sets joined(rank.data(), parent.data());
  for (std::size_t p = 0; p < count; ++p) {
    joined.make_set(p);
  }
  for (const std::vector<Share>& shares : shares_) {
    for (const Share& share : shares) {
      joined.union_set(shares.front().piece, share.piece);
    }
  }
  std::map<std::size_t, Group> by_root;
  for (std::size_t p = 0; p < count; ++p) {
    by_root[joined.find_set(p)].pieces.push_back(p);
  }
  for (std::size_t u = 0; u < net_.units; ++u) {
    if (!shares_[u].empty()) {
      by_root[joined.find_set(shares_[u].front().piece)].units.push_back(u);
    }
  }
  std::vector<Group> all;
  for (auto& [root, group] : by_root) {
    all.push_back(std::move(group));
  }
  return all;
}

/// Breaks in copper of unknown way. They lie towards the units that are not with the trunk; where
/// the trunk is in no piece, towards those that are not with the largest group.
void OpenAnalysis::explain_groups() {
  const std::vector<Group> all = groups();
  if (all.size() < 2) {
    return;
  }
  result_.breaks += static_cast<int>(all.size()) - 1;
  result_.way_unknown = true;
  std::map<std::size_t, const LocalNet::Way*> way_of;
  for (const LocalNet::Way& way : net_.ways) {
    way_of[way.unit] = &way;
  }
  std::size_t largest = 0;
  for (const Group& group : all) {
    largest = std::max(largest, group.units.size());
  }
  const auto ties = std::count_if(
      all.begin(), all.end(), [&](const Group& group) { return group.units.size() == largest; });
  const bool trunk_seen = net_.trunk != LocalNet::kNoUnit && !shares_[net_.trunk].empty();
  for (const Group& group : all) {
    const bool is_rest = trunk_seen ? std::find(group.units.begin(), group.units.end(),
                                                net_.trunk) != group.units.end()
                                    : ties == 1 && group.units.size() == largest;
    if (is_rest) {
      continue;
    }
    for (const std::size_t unit : group.units) {
      const LocalNet::Way& way = *way_of.at(unit);  // all have one, but for the trunk
      add({static_cast<int>(net_.known.edges.size() + (&way - net_.ways.data()))});
      if (group.pieces.size() == 1 && group.units.size() == 1) {
        explain_inside(group.pieces.front(), way);
      }
    }
  }
  suspect_branches();
}

/// A piece that lies within one unit may have been cut off from the rest of it.
void OpenAnalysis::explain_inside(std::size_t piece, const LocalNet::Way& way) {
  const std::vector<int>& vertices = net_.pieces[piece];
  if (std::find(vertices.begin(), vertices.end(), way.from) != vertices.end()) {
    return;
  }
  const Explanation explanation = explain(net_.known, {vertices, {way.from}});
  if (explanation.breaks == 1) {
    for (const std::vector<int>& set : explanation.sets) {
      add(set);
    }
  }
}

/// Units may hang from any pad of the trunk, so a break in the trunk may cut them off where one of
/// its sides holds no place of a piece: the likelier, the more pads are there.
void OpenAnalysis::suspect_branches() {
  struct Part {
    bool in_piece = false;
    std::size_t pads = 0;
  };
  for (std::size_t e = 0; e < net_.known.edges.size(); ++e) {
    const LocalRoute::Edge& edge = net_.known.edges[e];
    if (net_.unit[static_cast<std::size_t>(edge.a)] != net_.trunk) {
      continue;
    }
    const int broken = static_cast<int>(e);
    const std::vector<std::size_t> component = components_without(net_.known, {&broken, 1});
    const std::size_t root_a = component[static_cast<std::size_t>(edge.a)];
    if (root_a == component[static_cast<std::size_t>(edge.b)]) {
      continue;
    }
    Part a;
    Part b;
    for (std::size_t v = 0; v < component.size(); ++v) {
      if (net_.unit[v] == net_.trunk) {
        Part& part = component[v] == root_a ? a : b;
        part.in_piece = part.in_piece || net_.in_piece[v];
        part.pads += net_.is_pad[v] ? 1 : 0;
      }
    }
    const std::size_t branch = a.in_piece && b.in_piece ? 0
                               : a.in_piece             ? b.pads
                               : b.in_piece             ? a.pads
                                                        : std::min(a.pads, b.pads);
    if (branch > 0) {
      add({broken}, static_cast<double>(branch) / static_cast<double>(a.pads + b.pads));
    }
  }
}

/// The share of a hypothesis goes to its causes in equal parts.
void OpenAnalysis::set_likelihoods() {
  std::vector<double> share(net_.causes.size(), 0);
  double sum = 0;
  for (const Hypothesis& hypothesis : hypotheses_) {
    sum += hypothesis.weight;
    for (const int cause : hypothesis.causes) {
      share[static_cast<std::size_t>(cause)] +=
          hypothesis.weight / static_cast<double>(hypothesis.causes.size());
    }
  }
  std::vector<std::size_t> ranked;
  for (std::size_t cause = 0; cause < share.size(); ++cause) {
    if (share[cause] > 0) {
      ranked.push_back(cause);
    }
  }
  std::stable_sort(ranked.begin(), ranked.end(),
                   [&](std::size_t a, std::size_t b) { return share[a] > share[b]; });
  std::vector<std::size_t> place(share.size());
  for (std::size_t i = 0; i < ranked.size(); ++i) {
    place[ranked[i]] = i;
    OpenSuspect suspect = net_.causes[ranked[i]];
    suspect.likelihood = share[ranked[i]] / sum;
    result_.suspects.push_back(suspect);
  }
  for (const Hypothesis& hypothesis : hypotheses_) {
    if (hypothesis.causes.size() == 2 && result_.breaks == 2) {
      result_.together.push_back({place[static_cast<std::size_t>(hypothesis.causes[0])],
                                  place[static_cast<std::size_t>(hypothesis.causes[1])]});
    }
  }
  result_.breaks = std::min(result_.breaks, 3);
}

}  // namespace

double break_weight(const Board& board, SegmentId segment) {
  return kind_weight(board[segment]) * board.suspicion(segment);
}

OpenSuspects find_open_suspects(const Board& board, const OpenCase& open, const TouchTimes& times,
                                Side up) {
  return OpenAnalysis(board, open, times, up).run();
}

}  // namespace padwalk::graph
