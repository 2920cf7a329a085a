// SPDX-License-Identifier: MIT
#include "graph/board_description.hpp"

#include <charconv>

namespace padwalk::graph {

namespace {

constexpr std::string_view kAccessWords[] = {"clip", "tip", "none"};
constexpr std::string_view kStateWords[] = {"assembled", "bare"};
constexpr std::string_view kRoleWords[] = {"signal", "ground", "supply"};
constexpr std::string_view kChipWords[] = {"soldered", "socketed", "pulled"};
constexpr std::string_view kKindWords[] = {
    "resistor", "network", "capacitor", "inductor",  "diode", "transistor",
    "switch",   "fuse",    "ic",        "connector", "relay", "transformer",
    "crystal",  "pot",     "lamp",      "link",      "meter", "other"};
static_assert(std::size(kKindWords) == static_cast<std::size_t>(PartKind::other) + 1);

// Source: secondary pages on IPC-9252A; MIL-PRF-55110G appendix A; MIL-PRF-50884F appendix A.
constexpr std::string_view kLimitClasses[] = {"IPC-9252A level A", "IPC-9252A level B",
                                              "IPC-9252A level C", "MIL-PRF-55110G",
                                              "MIL-PRF-50884F"};

constexpr int kMaxInner = 14;  // of 16 layers

}  // namespace

std::string side_name(Side side) {
  switch (side) {
    case Side::unknown:
      return "unknown";
    case Side::top:
      return "top";
    case Side::bottom:
      return "bottom";
    case Side::inner1:
      break;
  }
  return "inner" + std::to_string(static_cast<int>(side) - static_cast<int>(Side::inner1) + 1);
}

std::optional<Side> find_side(std::string_view name) {
  if (name == "top") {
    return Side::top;
  }
  if (name == "bottom") {
    return Side::bottom;
  }
  constexpr std::string_view kInner = "inner";
  if (name.substr(0, kInner.size()) != kInner) {
    return std::nullopt;
  }
  const std::string_view digits = name.substr(kInner.size());
  int number = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), number);
  if (error != std::errc() || end != digits.data() + digits.size() || number < 1 ||
      number > kMaxInner || digits.front() == '0') {
    return std::nullopt;
  }
  return inner_side(number);
}

Side opposite(Side side) {
  return side == Side::top ? Side::bottom : side == Side::bottom ? Side::top : Side::unknown;
}

template <>
std::span<const std::string_view> words_of<Access>() {
  return kAccessWords;
}
template <>
std::span<const std::string_view> words_of<BoardState>() {
  return kStateWords;
}
template <>
std::span<const std::string_view> words_of<NetRole>() {
  return kRoleWords;
}
template <>
std::span<const std::string_view> words_of<ChipState>() {
  return kChipWords;
}
template <>
std::span<const std::string_view> words_of<PartKind>() {
  return kKindWords;
}

std::span<const std::string_view> limit_classes() {
  return kLimitClasses;
}

BoardDescription without_marks(BoardDescription description) {
  for (PartDescription& part : description.parts) {
    part.mark = {};
    for (PinDescription& pin : part.pins) {
      pin.mark = {};
    }
  }
  for (PointDescription& point : description.points) {
    point.mark = {};
  }
  for (NetDescription& net : description.nets) {
    net.mark = {};
    for (Reference& member : net.members) {
      member.mark = {};
    }
    for (ChainDescription& chain : net.route) {
      chain.mark = {};
      for (Reference& point : chain.points) {
        point.mark = {};
      }
    }
  }
  for (WireDescription& wire : description.wires) {
    wire.mark = {};
    wire.between[0].mark = {};
    wire.between[1].mark = {};
  }
  for (CopperDescription& copper : description.copper) {
    copper.mark = {};
    copper.between[0].mark = {};
    copper.between[1].mark = {};
  }
  for (RegionDescription& region : description.regions) {
    region.mark = {};
  }
  for (NeighbourDescription& neighbours : description.neighbours) {
    neighbours.mark = {};
    for (Reference& net : neighbours.nets) {
      net.mark = {};
    }
  }
  return description;
}

}  // namespace padwalk::graph
