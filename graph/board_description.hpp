// SPDX-License-Identifier: MIT
//
// What a board file says, as plain data in file order, before it is understood: the common ground
// of the YAML reader and writer and of importers. board.hpp turns a description into a Board.
// No check happens here but those of a single field.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// A position. Units: mm, seen from the top, y up.
struct Xy {
  double x = 0;
  double y = 0;
  friend bool operator==(const Xy&, const Xy&) = default;
};

inline double distance_mm(Xy a, Xy b) {
  return std::hypot(a.x - b.x, a.y - b.y);
}

/// A copper side. `inner` layers carry their number in Side's value: inner1 is the first after top.
enum class Side : std::uint8_t { unknown, top, bottom, inner1 };

/// `inner1` for n = 1, `inner2` for n = 2, …
constexpr Side inner_side(int n) {
  return static_cast<Side>(static_cast<int>(Side::inner1) + n - 1);
}
/// "top", "bottom", "inner1", …; "unknown".
std::string side_name(Side side);
/// The side of that name, inner1 to inner14; nothing for any other word, "unknown" included.
std::optional<Side> find_side(std::string_view name);
/// The other outer side; unknown for unknown and inner sides.
Side opposite(Side side);

/// How a point can be reached: a fixture holds on it, only the hand-held tip, or nothing.
enum class Access : std::uint8_t { clip, tip, none };

enum class BoardState : std::uint8_t { assembled, bare };
enum class NetRole : std::uint8_t { signal, ground, supply };
enum class ChipState : std::uint8_t { soldered, socketed, pulled };
enum class PartKind : std::uint8_t {
  resistor,
  network,
  capacitor,
  inductor,
  diode,
  transistor,
  switch_,
  fuse,
  ic,
  connector,
  relay,
  transformer,
  crystal,
  pot,
  lamp,
  link,
  meter,
  other
};

/// The words that a board file uses for an enumeration, in the order of the enumerators. Only for
/// Access, BoardState, NetRole, ChipState and PartKind.
template <typename Enum>
std::span<const std::string_view> words_of();
template <>
std::span<const std::string_view> words_of<Access>();
template <>
std::span<const std::string_view> words_of<BoardState>();
template <>
std::span<const std::string_view> words_of<NetRole>();
template <>
std::span<const std::string_view> words_of<ChipState>();
template <>
std::span<const std::string_view> words_of<PartKind>();

template <typename Enum>
std::string_view word_for(Enum value) {
  return words_of<Enum>()[static_cast<std::size_t>(value)];
}
template <typename Enum>
std::optional<Enum> find_word(std::string_view word) {
  const std::span<const std::string_view> words = words_of<Enum>();
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == word) {
      return static_cast<Enum>(i);
    }
  }
  return std::nullopt;
}

/// The classes that `limits: {class: …}` may name.
std::span<const std::string_view> limit_classes();

/// A name in the file and where it stands: a point in a chain, a member list, a copper pair.
struct Reference {
  std::string name;
  Mark mark;
  friend bool operator==(const Reference&, const Reference&) = default;
};

/// One pin of a part whose package does not say where its pins are.
struct PinDescription {
  std::string name;
  std::optional<Xy> xy;
  /// A side means a surface pad there; unknown means a through hole.
  Side side = Side::unknown;
  std::optional<Access> access;
  /// Pad width and height in mm, as seen from the top; only some sources know it.
  std::optional<Xy> pad;
  Mark mark;
  std::string note;
  friend bool operator==(const PinDescription&, const PinDescription&) = default;
};

/// One position of a switch and the pins that it joins.
struct SwitchPosition {
  std::string name;
  std::vector<std::vector<std::string>> joined;
  friend bool operator==(const SwitchPosition&, const SwitchPosition&) = default;
};

struct PartDescription {
  std::string name;
  PartKind kind = PartKind::other;
  std::string type;       ///< "74138", as printed on it
  std::string value;      ///< as written: "4k7"
  std::string tolerance;  ///< as written: "5%"
  std::string package;    ///< as written: "DIP-16"; empty: `pins` says it all
  std::optional<Xy> xy;   ///< of pin 1
  double rotation = 0;    ///< degrees, counter-clockwise
  Side side = Side::top;
  ChipState chip = ChipState::soldered;
  std::vector<PinDescription> pins;
  std::vector<SwitchPosition> positions;  ///< the first is the position at rest
  bool momentary = false;
  std::optional<Access> access;  ///< of all its pins
  std::string note;
  Mark mark;
  friend bool operator==(const PartDescription&, const PartDescription&) = default;
};

/// A named point that is not a pin: a test pad, or a via with its sides.
struct PointDescription {
  std::string name;
  std::optional<Xy> xy;
  Side side = Side::unknown;   ///< of a test pad
  std::vector<Side> via;       ///< sides of a via, two or more, as its hole meets them; else empty
  std::vector<Access> access;  ///< empty: default; one for all; or one a via side
  std::optional<Xy> pad;       ///< pad width and height, mm
  bool drive_never = false;
  std::string note;
  Mark mark;
  friend bool operator==(const PointDescription&, const PointDescription&) = default;
};

/// One chain of points that copper joins in this order.
struct ChainDescription {
  Side side = Side::unknown;
  std::vector<Reference> points;
  Mark mark;
  friend bool operator==(const ChainDescription&, const ChainDescription&) = default;
};

struct NetDescription {
  std::string name;
  NetRole role = NetRole::signal;
  std::vector<ChainDescription> route;
  std::vector<Reference> members;  ///< `points:` or `also:`: the way of their copper is not known
  bool drive_never = false;
  std::string note;
  Mark mark;
  friend bool operator==(const NetDescription&, const NetDescription&) = default;
};

/// Something to say about the copper between two neighbours of a route.
struct CopperDescription {
  std::array<Reference, 2> between;
  std::optional<double> width_mm;
  std::optional<double> length_mm;
  int count = 1;
  std::string name;
  Mark mark;
  std::string note;
  friend bool operator==(const CopperDescription&, const CopperDescription&) = default;
};

/// A jumper wire that was soldered on: a part of its net beside the copper. Units: mm.
struct WireDescription {
  std::string name;
  std::array<Reference, 2> between;
  std::optional<int> gauge;  ///< American wire gauge
  std::optional<double> length_mm;
  std::string note;
  Mark mark;
  friend bool operator==(const WireDescription&, const WireDescription&) = default;
};

/// A part of the board where a fault is likelier.
struct RegionDescription {
  std::string name;
  Side side = Side::unknown;  ///< unknown: both
  std::vector<Xy> polygon;
  double suspicion = 1;  ///< factor on the likelihood of a fault of what lies inside
  Mark mark;
  std::string note;
  friend bool operator==(const RegionDescription&, const RegionDescription&) = default;
};

/// Nets that run beside a net, as the file says.
struct NeighbourDescription {
  std::string name;
  std::vector<Reference> nets;
  Mark mark;
  friend bool operator==(const NeighbourDescription&, const NeighbourDescription&) = default;
};

/// A whole board/1 file.
struct BoardDescription {
  std::string name;
  BoardState state = BoardState::assembled;
  int layers = 2;
  std::optional<double> isolation_ohm;  ///< `limits: {isolation: …}`
  std::string limit_class;              ///< `limits: {class: …}`
  std::string note;
  std::vector<PartDescription> parts;
  std::vector<PointDescription> points;
  std::vector<NetDescription> nets;
  std::vector<WireDescription> wires;
  std::vector<CopperDescription> copper;
  std::vector<RegionDescription> regions;
  std::vector<NeighbourDescription> neighbours;
  friend bool operator==(const BoardDescription&, const BoardDescription&) = default;
};

/// The same description with every mark cleared, to compare what two files say.
BoardDescription without_marks(BoardDescription description);

}  // namespace padwalk::graph
