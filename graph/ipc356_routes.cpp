// SPDX-License-Identifier: MIT
#include "graph/ipc356_routes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "graph/conductor_graph.hpp"
#include "graph/conductor_tracks.hpp"

namespace padwalk::graph {

namespace {

/// More are no track but an area that was hatched.
constexpr std::size_t kMostForks = 1000;
/// Pairs of conductors looked at in a whole file; a crowded real board takes some tens an end.
constexpr std::size_t kWork = 10'000'000;
constexpr std::size_t kWorkEachEnd = 200;

/// What a board file takes; no real track is longer.
constexpr double kLongest_mm = 100'000;

double to_tenth_um(double mm) {
  return std::round(mm * 1e4) / 1e4;
}

/// One stretch of copper between two neighbours of a route, by names of points.
struct RouteLink {
  std::size_t a = 0;  ///< node: a point of the net, then what was added
  std::size_t b = 0;
  Side side = Side::unknown;
  std::optional<double> length;
  std::optional<double> width;
};

class RouteMaker {
 public:
  RouteMaker(const IpcNetlist& netlist, const std::vector<IpcPoint>& points,
             BoardDescription& board)
      : netlist_(netlist), points_(points), board_(board) {
    work_.left = kWork + kWorkEachEnd * netlist.conductors.points.size();
  }

  enum class Outcome { none, part, whole, too_dense };

  /// `points` are indices of the net's points; `strokes` of its strokes.
  Outcome make(std::size_t net, const std::vector<std::size_t>& points,
               const std::vector<std::size_t>& strokes) {
    std::vector<DrawnSegment> segments;
    for (const std::size_t stroke : strokes) {
      draw(netlist_.conductors.strokes[stroke], segments);
    }
    std::vector<DrawnPad> pads;
    for (const std::size_t point : points) {
      pads.push_back(pad_of(*points_[point].record));
    }
    const auto graph = join_conductors(segments, pads, kMostForks, work_);
    if (!graph) {
      return Outcome::too_dense;
    }
    blind_ends_ += graph->blind_ends;
    if (graph->tracks.empty()) {
      return Outcome::none;
    }
    begin(points, *graph);
    JoinedNodes joined(points.size() + graph->forks.size());
    for (const ConductorGraph::Track& track : graph->tracks) {
      add(track);
      joined.join(track.a, track.b);
    }
    write(net, points);
    std::set<std::size_t> pieces;
    for (std::size_t i = 0; i < points.size(); ++i) {
      pieces.insert(joined.find(i));
    }
    return pieces.size() == 1 ? Outcome::whole : Outcome::part;
  }

  std::size_t blind_ends() const { return blind_ends_; }

 private:
  // ---- geometry
  Xy at(IpcStrokePoint point) const { return {netlist_.mm(point.x), netlist_.mm(point.y)}; }

  /// The width of what an aperture of that size leaves behind: a round one is as wide everywhere.
  double width_of(const IpcStroke& stroke, Xy a, Xy b) const {
    const double width = netlist_.mm(stroke.width);
    const double height = netlist_.mm(stroke.height);
    const double length = std::hypot(b.x - a.x, b.y - a.y);
    if (width == 0 || height == 0 || length == 0) {
      return std::max(width, height);
    }
    return (width * std::abs(b.y - a.y) + height * std::abs(b.x - a.x)) / length;
  }

  void draw(const IpcStroke& stroke, std::vector<DrawnSegment>& segments) const {
    const IpcStrokePoint* points = &netlist_.conductors.points[stroke.first];
    for (std::size_t i = stroke.points == 1 ? 0 : 1; i < stroke.points; ++i) {
      const Xy from = at(points[i == 0 ? 0 : i - 1]);
      const Xy to = at(points[i]);
      segments.push_back({from, to, width_of(stroke, from, to), stroke.layer});
    }
  }

  DrawnPad pad_of(const IpcRecord& record) const {
    DrawnPad pad;
    pad.centre = {netlist_.mm(record.x), netlist_.mm(record.y)};
    if (record.width > 0 && record.height > 0) {
      pad.half = {netlist_.mm(record.width) / 2, netlist_.mm(record.height) / 2};
      pad.turn_rad = netlist_.turns_in_radians
                         ? 0
                         : static_cast<double>(record.rotation % 360) * std::numbers::pi / 180;
    } else {  // round; where nothing is said of a pad, its hole
      const long own = std::max(record.width, record.height);
      pad.radius = netlist_.mm(own > 0 ? own : std::max(record.widest, record.drill)) / 2;
    }
    pad.first_layer = 1;
    pad.last_layer = netlist_.layers;
    if (record.code == 327) {
      pad.first_layer = pad.last_layer = record.sides == kIpcPrimary ? 1 : netlist_.layers;
    } else if (record.from_layer > 0 && record.to_layer > 0) {
      const auto [first, last] = std::minmax(record.from_layer, record.to_layer);
      if (first != last && last <= netlist_.layers) {
        pad.first_layer = first;
        pad.last_layer = last;
      }
    }
    return pad;
  }

  Side side_of_layer(int layer) const {
    return layer <= 1 ? Side::top : layer >= netlist_.layers ? Side::bottom : inner_side(layer - 1);
  }

  // ---- nodes: the points of the net, then forks and bends
  struct Node {
    std::string name;
    Xy at;
    std::optional<std::size_t> via;
    bool is_hole = false;  ///< of a pin: it has a top and a bottom pad
  };

  void begin(const std::vector<std::size_t>& points, const ConductorGraph& graph) {
    nodes_.clear();
    links_.clear();
    taken_.clear();
    for (const std::size_t point : points) {
      const IpcRecord& record = *points_[point].record;
      const bool is_pin = !record.part.empty() && record.part != "VIA";
      nodes_.push_back({points_[point].name,
                        {netlist_.mm(record.x), netlist_.mm(record.y)},
                        points_[point].via,
                        is_pin && record.code != 327});
    }
    for (const ConductorGraph::Fork& fork : graph.forks) {
      add_point(fmt::format("fork{}", ++forks_), fork.at, side_of_layer(fork.layer));
    }
  }

  std::size_t add_point(std::string name, Xy at, Side side) {
    PointDescription point;
    point.name = name;
    point.xy = Xy{to_tenth_um(at.x), to_tenth_um(at.y)};
    point.side = side;
    point.access = {Access::none};
    board_.points.push_back(point);
    nodes_.push_back({std::move(name), *point.xy, std::nullopt, false});
    return nodes_.size() - 1;
  }

  /// The place at which copper on a side meets a node; two tracks between the same two places are
  /// told apart by a point on the way of the second.
  std::pair<std::size_t, Side> place_of(std::size_t node, Side side) const {
    const Node& one = nodes_[node];
    if (one.via) {
      return {node, side};
    }
    return {node, !one.is_hole ? Side::unknown : side == Side::top ? Side::top : Side::bottom};
  }

  void add(const ConductorGraph::Track& track) {
    const Side side = side_of_layer(track.layer);
    for (const std::size_t end : {track.a, track.b}) {
      if (nodes_[end].via) {
        reach(board_.points[*nodes_[end].via], side);
      }
    }
    std::pair ends(place_of(track.a, side), place_of(track.b, side));
    if (ends.second < ends.first) {
      std::swap(ends.first, ends.second);
    }
    if (taken_.insert(ends).second) {
      add_link(track.a, track.b, side, track.length, track.width);
      return;
    }
    const std::size_t bend = add_point(fmt::format("bend{}", ++bends_), track.bend, side);
    add_link(track.a, bend, side, track.to_bend, track.width);
    add_link(bend, track.b, side, track.length - track.to_bend, track.width);
  }

  void add_link(std::size_t a, std::size_t b, Side side, double length, double width) {
    RouteLink link{a, b, side, std::nullopt, std::nullopt};
    const double straight = distance_mm(nodes_[a].at, nodes_[b].at);
    if (to_tenth_um(length) > 0 && to_tenth_um(length - straight) != 0 && length <= kLongest_mm) {
      link.length = to_tenth_um(length);
    }
    if (to_tenth_um(width) > 0) {
      link.width = to_tenth_um(width);
    }
    links_.push_back(link);
  }

  /// A via has a side for each layer on which copper reaches it, in their order through the board.
  static void reach(PointDescription& via, Side side) {
    if (std::find(via.via.begin(), via.via.end(), side) != via.via.end()) {
      return;
    }
    const auto depth = [](Side one) {
      return one == Side::top ? 0 : one == Side::bottom ? 1000 : static_cast<int>(one);
    };
    const auto place = std::find_if(via.via.begin(), via.via.end(),
                                    [&](Side one) { return depth(one) > depth(side); });
    const auto before = place - via.via.begin();
    via.via.insert(place, side);
    if (via.access.size() > 1) {
      via.access.insert(via.access.begin() + before, Access::none);
    }
  }

  // ---- what a board file says
  void write(std::size_t net, const std::vector<std::size_t>& points) {
    NetDescription& to = board_.nets[net];
    write_chains(to);
    std::vector<bool> reached(nodes_.size(), false);
    for (const RouteLink& link : links_) {
      reached[link.a] = reached[link.b] = true;
      if (link.length || link.width) {
        CopperDescription copper;
        copper.between = {Reference{place_name(link.a, link.side), to.mark},
                          Reference{place_name(link.b, link.side), to.mark}};
        copper.length_mm = link.length;
        copper.width_mm = link.width;
        copper.mark = to.mark;
        board_.copper.push_back(std::move(copper));
      }
    }
    std::vector<Reference> rest;  // the members are in the order of `points`
    for (std::size_t i = 0; i < points.size(); ++i) {
      if (!reached[i]) {
        rest.push_back(to.members[i]);
      }
    }
    to.members = std::move(rest);
  }

  std::string place_name(std::size_t node, Side side) const {
    const Node& one = nodes_[node];
    const Side at = place_of(node, side).second;
    return at == Side::unknown ? one.name : one.name + "@" + side_name(at);
  }

  /// Long chains, each on one side.
  void write_chains(NetDescription& to) const {
    std::map<std::pair<Side, std::size_t>, std::vector<std::size_t>> at;
    for (std::size_t i = links_.size(); i-- > 0;) {  // the first is taken first, from the back
      at[{links_[i].side, links_[i].a}].push_back(i);
      at[{links_[i].side, links_[i].b}].push_back(i);
    }
    std::vector<bool> used(links_.size(), false);
    const auto follow = [&](Side side, std::size_t node, std::vector<std::size_t>& chain) {
      for (bool goes_on = true; goes_on;) {
        goes_on = false;
        std::vector<std::size_t>& here = at[{side, node}];
        while (!here.empty() && !goes_on) {
          const std::size_t link = here.back();
          here.pop_back();
          if (!used[link]) {
            used[link] = true;
            node = links_[link].a == node ? links_[link].b : links_[link].a;
            chain.push_back(node);
            goes_on = true;
          }
        }
      }
    };
    for (std::size_t i = 0; i < links_.size(); ++i) {
      if (used[i]) {
        continue;
      }
      used[i] = true;
      std::vector<std::size_t> back{links_[i].a};
      std::vector<std::size_t> on{links_[i].b};
      follow(links_[i].side, links_[i].b, on);
      follow(links_[i].side, links_[i].a, back);
      ChainDescription chain;
      chain.side = links_[i].side;
      chain.mark = to.mark;
      for (auto node = back.rbegin(); node != back.rend(); ++node) {
        chain.points.push_back({nodes_[*node].name, to.mark});
      }
      for (const std::size_t node : on) {
        chain.points.push_back({nodes_[node].name, to.mark});
      }
      to.route.push_back(std::move(chain));
    }
  }

  const IpcNetlist& netlist_;
  const std::vector<IpcPoint>& points_;
  BoardDescription& board_;
  ConductorWork work_;
  std::vector<Node> nodes_;
  std::vector<RouteLink> links_;
  std::set<std::pair<std::pair<std::size_t, Side>, std::pair<std::size_t, Side>>> taken_;
  std::size_t forks_ = 0;
  std::size_t bends_ = 0;
  std::size_t blind_ends_ = 0;
};

}  // namespace

void add_ipc_routes(const IpcNetlist& netlist, const std::vector<IpcPoint>& points,
                    const IpcNetIndex& nets, BoardDescription& board, Diagnostics& diagnostics,
                    IpcSummary& summary) {
  const IpcConductors& conductors = netlist.conductors;
  if (conductors.strokes.empty()) {
    return;
  }
  std::vector<std::vector<std::size_t>> strokes(board.nets.size());
  std::vector<std::vector<std::size_t>> members(board.nets.size());
  std::set<std::string_view> of_no_net;
  Mark first_of_no_net;
  for (std::size_t i = 0; i < conductors.strokes.size(); ++i) {
    const IpcStroke& stroke = conductors.strokes[i];
    if (conductors.half_read.count(stroke.net) != 0) {
      continue;
    }
    if (const auto net = nets.find(stroke.net); net != nets.end()) {
      strokes[net->second].push_back(i);
    } else {
      first_of_no_net = of_no_net.empty() ? Mark{stroke.line, 4} : first_of_no_net;
      of_no_net.insert(stroke.net);
    }
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    members[points[i].net].push_back(i);
  }
  RouteMaker maker(netlist, points, board);
  std::size_t dense = 0;
  Mark first_dense;
  for (std::size_t net = 0; net < board.nets.size(); ++net) {
    if (strokes[net].empty()) {
      continue;
    }
    switch (maker.make(net, members[net], strokes[net])) {
      case RouteMaker::Outcome::none:
        break;
      case RouteMaker::Outcome::part:
        ++summary.routed_in_part;
        break;
      case RouteMaker::Outcome::whole:
        ++summary.routed;
        break;
      case RouteMaker::Outcome::too_dense:
        first_dense =
            dense++ == 0 ? Mark{conductors.strokes[strokes[net].front()].line, 1} : first_dense;
        break;
    }
  }
  if (dense > 0) {
    diagnostics.warning(first_dense,
                        fmt::format("copper meets copper at more places than a track does, as in "
                                    "a hatched area; the way of such a net's copper stays unknown "
                                    "(nets like this: {})",
                                    dense));
  }
  if (!of_no_net.empty()) {
    diagnostics.warning(first_of_no_net,
                        fmt::format("conductors of a net without points are left out (nets like "
                                    "this: {})",
                                    of_no_net.size()));
  }
  if (maker.blind_ends() > 0) {
    diagnostics.warning({}, fmt::format("{} ends of conductors meet neither a point nor other "
                                        "copper of their net; they are left out",
                                        maker.blind_ends()));
  }
}

}  // namespace padwalk::graph
