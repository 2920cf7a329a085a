// SPDX-License-Identifier: MIT
//
// The board that is expected: points, the places where they can be touched, and the segments of
// copper, solder and contact that join the places, held as a Boost.Graph. Everything that a board
// file says is checked here or in the reader before a Board exists, so a Board is always sound.
// Not for what was measured: see pieces.hpp.
#pragma once

#include <boost/graph/adjacency_list.hpp>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

enum class PointId : std::uint32_t {};
enum class PlaceId : std::uint32_t {};
enum class NetId : std::uint32_t {};
enum class PartId : std::uint32_t {};
enum class SegmentId : std::uint32_t {};

inline constexpr PointId kNoPoint{UINT32_MAX};
inline constexpr PlaceId kNoPlace{UINT32_MAX};
inline constexpr NetId kNoNet{UINT32_MAX};
inline constexpr PartId kNoPart{UINT32_MAX};

/// The number behind an id, to index a vector with.
template <typename Id>
constexpr std::size_t index(Id id) {
  return static_cast<std::size_t>(id);
}

enum class PlaceKind : std::uint8_t {
  point,   ///< the only place of a point: a test pad, one side of a via
  pad,     ///< the only pad of a pin, or both pads where the side of its traces is not known
  top,     ///< the top pad of a through-hole pin
  bottom,  ///< the bottom pad of a through-hole pin
  socket,  ///< the socket contact under a socketed chip's leg
  leg,     ///< the leg of the part itself
  hub      ///< untouchable: stands for the copper of a net whose way is not known
};

/// A vertex of the route graph. Its position is its point's.
struct Place {
  PointId point = kNoPoint;  ///< kNoPoint for a hub
  NetId net = kNoNet;
  PlaceKind kind = PlaceKind::point;
  Side side = Side::unknown;  ///< unknown: reaches both outer sides (a through hole), or a hub
  Access access = Access::tip;
};

enum class SegmentKind : std::uint8_t { trace, barrel, joint, contact, wire, unknown_way };
/// "trace", "barrel", "joint", "contact", "wire", "unknown way".
std::string_view segment_kind_name(SegmentKind kind);

/// An edge of the route graph: what joins two neighbouring places of one net.
struct Segment {
  PlaceId a = kNoPlace;
  PlaceId b = kNoPlace;
  SegmentKind kind = SegmentKind::trace;
  Side side = Side::unknown;
  NetId net = kNoNet;
  /// unknown_way: the member that hangs by it. Else kNoPoint.
  PointId member = kNoPoint;
  std::optional<double> length_mm;  ///< as the file says, else the straight line, else unknown
  std::optional<std::size_t> wire;  ///< of a wire: which of the description's
};

/// Place and Segment live in Board's own vectors; vertex v is PlaceId v.
/// Shape: undirected, parallel edges (two tracks between the same pads), no self-loops.
using RouteGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS,
                                         boost::no_property, SegmentId>;

struct Point {
  std::string name;       ///< "U2.7", "TP3", "V12@top"
  PartId part = kNoPart;  ///< of a pin
  std::string pin;        ///< of a pin: "7"
  std::optional<Xy> xy;
  std::optional<Xy> pad;  ///< pad width and height, mm, as seen from the top
  NetId net = kNoNet;
  Access access = Access::clip;
  bool drive_never = false;
  PlaceId held = kNoPlace;   ///< where a fixture's lead sits on it
  PlaceId first = kNoPlace;  ///< its places are first, first + 1, …
  std::uint8_t places = 0;
};

struct Net {
  std::string name;
  NetRole role = NetRole::signal;
  bool listed = true;  ///< false: made for the sides of a via that is in no net
  bool has_route = false;
  std::vector<PointId> points;
  std::vector<SegmentId> segments;
};

struct Part {
  std::string name;
  PartKind kind = PartKind::other;
  std::string type;
  std::optional<double> ohm;  ///< of a resistor; a link and a fuse are 0
  Side side = Side::top;
  ChipState chip = ChipState::soldered;
  std::vector<PointId> pins;
  /// Of a switch, the first at rest: groups of pins joined, as indices into `pins`.
  std::vector<std::pair<std::string, std::vector<std::vector<std::size_t>>>> positions;
};

/// A part that lets direct current pass between two nets at the test voltage.
struct PartLink {
  PartId part = kNoPart;
  NetId a = kNoNet;
  NetId b = kNoNet;
  std::optional<double> ohm;  ///< unknown where the file does not say
};

class Board {
 public:
  /// Builds and checks. Errors: every mistake goes to `diagnostics`; throws BadFile with all of
  /// them if there is any. `description` is kept, for writers.
  Board(BoardDescription description, Diagnostics& diagnostics);

  const BoardDescription& description() const { return description_; }
  const std::string& name() const { return description_.name; }
  BoardState state() const { return description_.state; }
  bool assembled() const { return description_.state == BoardState::assembled; }

  const std::vector<Point>& points() const { return points_; }
  const std::vector<Place>& places() const { return places_; }
  const std::vector<Net>& nets() const { return nets_; }
  const std::vector<Part>& parts() const { return parts_; }
  const std::vector<Segment>& segments() const { return segments_; }
  const RouteGraph& graph() const { return graph_; }

  const Point& operator[](PointId id) const { return points_[index(id)]; }
  const Place& operator[](PlaceId id) const { return places_[index(id)]; }
  const Net& operator[](NetId id) const { return nets_[index(id)]; }
  const Part& operator[](PartId id) const { return parts_[index(id)]; }
  const Segment& operator[](SegmentId id) const { return segments_[index(id)]; }

  /// Number of nets that the file lists.
  std::size_t listed_nets() const { return description_.nets.size(); }

  /// "R7.1@bottom"; just the point's name where the point has one place.
  std::string place_name(PlaceId id) const;

  /// The point of that exact name ("U2.7", "TP3", "V12@top").
  std::optional<PointId> find_point(std::string_view name) const;
  std::optional<NetId> find_net(std::string_view name) const;
  std::optional<PartId> find_part(std::string_view name) const;

  /// The places that a name in a route or a segment defect may mean: a bare pin means its pads, a
  /// bare via all its sides, "U2.7@leg" that place. Empty: no such point or place.
  std::vector<PlaceId> find_places(std::string_view name) const;

  /// The places where solder goes that a name may mean: as find_places, but a bare pin is its pad
  /// on the side that its part is not on.
  std::vector<PlaceId> find_solder_places(std::string_view name) const;

  /// The segments that join the two names, in order; see find_places.
  std::vector<SegmentId> find_segments(std::string_view a, std::string_view b) const;

  /// How suspicious the regions make a place: the largest factor of a region that holds it on its
  /// side, else 1. A segment: the larger one of its ends.
  double suspicion(PlaceId id) const;
  double suspicion(SegmentId id) const;

  /// Pairs of nets that the file calls neighbours, the lower one first, ascending, each once.
  const std::vector<std::pair<NetId, NetId>>& neighbours() const { return neighbours_; }

  /// Nets with a place in the region of that name; nothing where no region has it.
  std::optional<std::vector<NetId>> nets_in(std::string_view region) const;

  /// Parts that join two nets for direct current on an assembled board; empty on a bare one.
  /// Units: ohm. Switches are in their position at rest. Chips and capacitors are taken as open.
  std::vector<PartLink> part_links() const;

 private:
  friend class BoardBuilder;

  BoardDescription description_;
  std::vector<Point> points_;
  std::vector<Place> places_;
  std::vector<Net> nets_;
  std::vector<Part> parts_;
  std::vector<Segment> segments_;
  RouteGraph graph_;
  std::vector<std::pair<NetId, NetId>> neighbours_;
  std::unordered_map<std::string, PointId> point_by_name_;
  std::unordered_map<std::string, NetId> net_by_name_;
  std::unordered_map<std::string, PartId> part_by_name_;
};

}  // namespace padwalk::graph
