// SPDX-License-Identifier: MIT
#include "graph/conductor_tracks.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

namespace padwalk::graph {

namespace {

constexpr std::size_t kComparedPieces = 8;
constexpr std::size_t kNoNode = SIZE_MAX;

/// A chain of pieces.
struct Run {
  std::size_t a = 0;
  std::size_t b = 0;
  int layer = 1;
  double length = 0;
  double squares = 0;     ///< length over width, summed
  bool has_width = true;  ///< all of it
  double widest = 0;
  Xy bend;
  double to_bend = 0;
  bool is_there = true;

  std::size_t other(std::size_t node) const { return a == node ? b : a; }
  void begin_at(std::size_t node) {
    if (a != node) {
      std::swap(a, b);
      to_bend = length - to_bend;
    }
  }
};

class Tracks {
 public:
  Tracks(ConductorPieces pieces, std::size_t pads)
      : nodes_(std::move(pieces.nodes)), pads_(pads), at_(nodes_.size()) {
    add_runs(pieces.pieces);
    for (const ConductorPieces::Overlap& overlap : pieces.overlaps) {
      overlaps_.emplace(std::minmax(overlap.a, overlap.b), overlap.layer);
    }
  }

  ConductorGraph run() {
    for (std::size_t node = pads_; node < nodes_.size(); ++node) {
      if (clean(node).size() == 2) {
        pass(node);
      }
    }
    for (std::size_t node = pads_; node < nodes_.size(); ++node) {
      doubtful_.push_back(node);
    }
    settle();
    join_close_forks();
    drop_what_joins_no_pads();
    return result();
  }

 private:
  void add_runs(std::vector<ConductorPieces::Piece>& pieces) {
    std::stable_sort(pieces.begin(), pieces.end(), [](const auto& a, const auto& b) {
      return std::minmax(a.a, a.b) < std::minmax(b.a, b.b);
    });
    for (const ConductorPieces::Piece& piece : pieces) {
      if (piece.a == piece.b || is_drawn_already(piece)) {
        continue;
      }
      Run run;
      run.a = piece.a;
      run.b = piece.b;
      run.layer = piece.layer;
      run.length = piece.length;
      run.has_width = piece.width > 0;
      run.squares = run.has_width ? piece.length / piece.width : 0;
      run.widest = piece.width;
      run.bend = piece.middle;
      run.to_bend = piece.length / 2;
      add(run);
    }
  }

  /// Over another piece: one conductor of the wider one's width.
  bool is_drawn_already(const ConductorPieces::Piece& piece) {
    for (std::size_t i = 0; i < std::min(kComparedPieces, runs_.size()); ++i) {
      Run& run = runs_[runs_.size() - 1 - i];
      if (std::minmax(run.a, run.b) != std::minmax(piece.a, piece.b)) {
        return false;
      }
      const double reach = std::max((run.widest + piece.width) / 2, 1e-6);
      if (run.layer == piece.layer && std::abs(run.length - piece.length) <= reach &&
          std::hypot(run.bend.x - piece.middle.x, run.bend.y - piece.middle.y) <= reach) {
        if (piece.width > run.widest) {
          run.widest = piece.width;
          run.has_width = true;
          run.squares = run.length / piece.width;
        }
        return true;
      }
    }
    return false;
  }

  void add(const Run& run) {
    at_[run.a].push_back(runs_.size());
    at_[run.b].push_back(runs_.size());
    runs_.push_back(run);
  }

  /// The runs that still meet at a node.
  std::vector<std::size_t>& clean(std::size_t node) {
    std::vector<std::size_t>& all = at_[node];
    all.erase(std::remove_if(all.begin(), all.end(),
                             [&](std::size_t run) { return !runs_[run].is_there; }),
              all.end());
    return all;
  }

  /// Two runs that meet at a node become one.
  void pass(std::size_t node) {
    const std::vector<std::size_t> two = clean(node);
    Run first = runs_[two[0]];
    Run second = runs_[two[1]];
    runs_[two[0]].is_there = false;
    runs_[two[1]].is_there = false;
    first.begin_at(first.other(node));
    second.begin_at(node);
    if (first.a == second.b) {  // a loop that joins nothing
      doubtful_.push_back(first.a);
      return;
    }
    first.b = second.b;
    first.bend = nodes_[node].at;
    first.to_bend = first.length;
    first.length += second.length;
    first.squares += second.squares;
    first.has_width = first.has_width && second.has_width;
    first.widest = std::max(first.widest, second.widest);
    add(first);
  }

  void settle() {
    while (!doubtful_.empty()) {
      const std::size_t node = doubtful_.back();
      doubtful_.pop_back();
      if (nodes_[node].is_pad) {
        continue;
      }
      const std::size_t degree = clean(node).size();
      if (degree == 1) {
        Run& stub = runs_[at_[node].front()];
        blind_ends_ += stub.length > stub.widest ? 1 : 0;
        stub.is_there = false;
        doubtful_.push_back(stub.other(node));
      } else if (degree == 2) {
        pass(node);
      }
    }
  }

  void join_close_forks() {
    for (std::size_t i = 0; i < runs_.size(); ++i) {  // settling may add runs
      const Run run = runs_[i];
      if (!run.is_there || nodes_[run.a].is_pad || nodes_[run.b].is_pad ||
          run.length > run.widest) {
        continue;
      }
      const bool a_stays = at_[run.a].size() >= at_[run.b].size();
      const std::size_t stays = a_stays ? run.a : run.b;
      const std::size_t goes = a_stays ? run.b : run.a;
      for (const std::size_t moved : clean(goes)) {
        Run& other = runs_[moved];
        (other.a == goes ? other.a : other.b) = stays;
        if (other.a == other.b) {
          other.is_there = false;
        } else {
          at_[stays].push_back(moved);
        }
      }
      at_[goes].clear();
      doubtful_.push_back(stays);
      settle();
    }
  }

  void drop_what_joins_no_pads() {
    JoinedNodes joined(nodes_.size());
    for (const Run& run : runs_) {
      if (run.is_there) {
        joined.join(run.a, run.b);
      }
    }
    std::vector<std::size_t> pads(nodes_.size());
    for (std::size_t pad = 0; pad < pads_; ++pad) {
      ++pads[joined.find(pad)];
    }
    for (Run& run : runs_) {
      run.is_there = run.is_there && pads[joined.find(run.a)] > 1;
    }
  }

  ConductorGraph result() {
    ConductorGraph graph;
    graph.blind_ends = blind_ends_;
    for (const auto& [pads, layer] : overlaps_) {
      ConductorGraph::Track track;
      track.a = pads.first;
      track.b = pads.second;
      track.layer = layer;
      const Xy a = nodes_[pads.first].at;
      const Xy b = nodes_[pads.second].at;
      track.bend = {(a.x + b.x) / 2, (a.y + b.y) / 2};
      graph.tracks.push_back(track);
    }
    std::vector<std::size_t> number(nodes_.size(), kNoNode);
    const auto numbered = [&](std::size_t node) {
      if (nodes_[node].is_pad) {
        return node;
      }
      if (number[node] == kNoNode) {
        number[node] = pads_ + graph.forks.size();
        graph.forks.push_back({nodes_[node].at, nodes_[node].layer});
      }
      return number[node];
    };
    for (Run& run : runs_) {
      run.begin_at(std::min(run.a, run.b));
    }
    std::stable_sort(runs_.begin(), runs_.end(), [](const Run& one, const Run& other) {
      return std::tie(one.a, one.b, one.length) < std::tie(other.a, other.b, other.length);
    });
    for (const Run& run : runs_) {
      if (run.is_there && !is_inside_overlap(run)) {
        const std::size_t a = numbered(run.a);
        const std::size_t b = numbered(run.b);
        graph.tracks.push_back({a, b, run.layer, run.length,
                                run.has_width && run.squares > 0 ? run.length / run.squares : 0,
                                run.bend, run.to_bend});
      }
    }
    return graph;
  }

  /// From one pad to another that it overlaps, and no way round.
  bool is_inside_overlap(const Run& run) const {
    const auto found = overlaps_.find(std::minmax(run.a, run.b));
    const Xy a = nodes_[run.a].at;
    const Xy b = nodes_[run.b].at;
    return found != overlaps_.end() && found->second == run.layer &&
           run.length <= std::hypot(a.x - b.x, a.y - b.y) + run.widest;
  }

  std::vector<ConductorPieces::Node> nodes_;
  std::size_t pads_;
  std::vector<Run> runs_;
  std::vector<std::vector<std::size_t>> at_;  ///< by node: runs, some of which may be gone
  std::map<std::pair<std::size_t, std::size_t>, int> overlaps_;
  std::vector<std::size_t> doubtful_;
  std::size_t blind_ends_ = 0;
};

}  // namespace

ConductorGraph tracks_of(ConductorPieces pieces, std::size_t pads) {
  return Tracks(std::move(pieces), pads).run();
}

}  // namespace padwalk::graph
