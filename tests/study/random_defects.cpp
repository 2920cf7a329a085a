// SPDX-License-Identifier: MIT
#include "tests/study/random_defects.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <optional>
#include <set>

namespace padwalk::study {

namespace {

using namespace padwalk::graph;

constexpr double kBroken = std::numeric_limits<double>::infinity();
constexpr int kTries = 200;
/// How often a further defect lies on a net that has one.
constexpr double kClustered = 0.4;
/// How much of its tolerance a good part uses.
constexpr double kUsedTolerance = 0.95;

double distance_mm(const Board& board, PlaceId a, PlaceId b) {
  const PointId from = board[a].point;
  const PointId to = board[b].point;
  return std::hypot(board[from].xy->x - board[to].xy->x, board[from].xy->y - board[to].xy->y);
}

class Planter {
 public:
  Planter(Draws& draws, const Board& board) : draws_(draws), board_(board) {}

  std::optional<Planted> plant(DefectKind kind) {
    switch (kind) {
      case DefectKind::open:
        return in_segment(kind, kBroken);
      case DefectKind::split:
        return split();
      case DefectKind::short_circuit:
        return bridge(kind, draws_.decades(0.1, 5));
      case DefectKind::high_resistance:
        return in_segment(kind, draws_.decades(5, 500));
      case DefectKind::leakage:
        return bridge(kind, draws_.decades(200, board_.assembled() ? 8e3 : 1e6));
      case DefectKind::part:
        return part();
      case DefectKind::no_contact:
        return no_contact();
      case DefectKind::intermittent: {
        auto planted = in_segment(kind, 0);
        if (planted) {
          planted->every_s = draws_.decades(0.05, 0.5);
          planted->open_s = planted->every_s * draws_.decades(1e-3, 0.5);
        }
        return planted;
      }
    }
    return std::nullopt;
  }

 private:
  bool has_hub(const Segment& segment) const {
    return board_[segment.a].kind == PlaceKind::hub || board_[segment.b].kind == PlaceKind::hub;
  }

  std::optional<Planted> in_segment(DefectKind kind, double ohm) {
    if (board_.segments().empty()) {
      return std::nullopt;
    }
    const SegmentId id{static_cast<std::uint32_t>(draws_.below(board_.segments().size()))};
    if (has_hub(board_[id])) {
      return std::nullopt;  // copper of unknown way is for splits
    }
    Planted planted;
    planted.kind = kind;
    planted.segment = id;
    planted.net = board_[id].net;
    planted.ohm = ohm;
    return planted;
  }

  std::optional<Planted> split() {
    const NetId id{static_cast<std::uint32_t>(draws_.below(board_.nets().size()))};
    const Net& net = board_[id];
    std::vector<PointId> members;
    for (const SegmentId segment : net.segments) {
      if (board_[segment].kind == SegmentKind::unknown_way && has_hub(board_[segment])) {
        members.push_back(board_[segment].member);
      }
    }
    if (members.size() < 2) {
      return std::nullopt;
    }
    draws_.shuffle(members);
    members.resize(draws_.from_to(1, members.size() - 1));
    std::sort(members.begin(), members.end());
    Planted planted;
    planted.kind = DefectKind::split;
    planted.net = id;
    planted.off = std::move(members);
    return planted;
  }

  bool may_bridge(PlaceId a, PlaceId b) const {
    const Place& one = board_[a];
    const Place& other = board_[b];
    if (one.point == kNoPoint || other.point == kNoPoint || one.point == other.point ||
        (one.net == other.net && one.net != kNoNet)) {
      return false;
    }
    return one.side == Side::unknown || other.side == Side::unknown || one.side == other.side;
  }

  /// Mostly of neighbours, as solder and dirt do.
  std::optional<Planted> bridge(DefectKind kind, double ohm) {
    const auto any = [&] {
      return PlaceId{static_cast<std::uint32_t>(draws_.below(board_.places().size()))};
    };
    Planted planted;
    planted.kind = kind;
    planted.a = any();
    planted.b = any();
    planted.ohm = ohm;
    if (draws_.chance(0.7) && board_[planted.a].point != kNoPoint) {
      for (std::uint32_t i = 0; i < board_.places().size(); ++i) {
        if (may_bridge(planted.a, PlaceId{i}) &&
            (!may_bridge(planted.a, planted.b) || distance_mm(board_, planted.a, PlaceId{i}) <
                                                      distance_mm(board_, planted.a, planted.b))) {
          planted.b = PlaceId{i};
        }
      }
    }
    return may_bridge(planted.a, planted.b) ? std::optional(planted) : std::nullopt;
  }

  std::optional<Planted> part() {
    if (!board_.assembled() || board_.parts().empty()) {
      return std::nullopt;
    }
    const PartId id{static_cast<std::uint32_t>(draws_.below(board_.parts().size()))};
    const Part& part = board_[id];
    Planted planted;
    planted.kind = DefectKind::part;
    planted.part = id;
    switch (part.kind) {
      case PartKind::resistor:
      case PartKind::network: {
        const double factor = draws_.decades(3, 30);
        planted.ohm = draws_.chance(0.3)   ? kBroken
                      : draws_.chance(0.5) ? *part.ohm * factor
                                           : *part.ohm / factor;
        return planted;
      }
      case PartKind::fuse:
      case PartKind::inductor:
      case PartKind::link:
        planted.ohm = kBroken;
        return planted;
      case PartKind::diode:
        planted.ohm = draws_.chance(0.8) ? draws_.decades(0.1, 5) : kBroken;
        return planted;
      case PartKind::capacitor:
        planted.ohm = draws_.chance(0.5) ? draws_.decades(0.1, 5) : draws_.decades(200, 8e3);
        return planted;
      default:
        return std::nullopt;
    }
  }

  std::optional<Planted> no_contact() {
    Planted planted;
    planted.kind = DefectKind::no_contact;
    planted.point = PointId{static_cast<std::uint32_t>(draws_.below(board_.points().size()))};
    if (board_[planted.point].access != Access::clip) {
      return std::nullopt;
    }
    planted.net = board_[planted.point].net;
    planted.stays = draws_.chance(0.4);
    return planted;
  }

  Draws& draws_;
  const Board& board_;
};

bool clash(const Planted& one, const Planted& other) {
  const bool both_in_segments = one.net != kNoNet && one.net == other.net &&
                                one.segment == other.segment && one.point == kNoPoint &&
                                other.point == kNoPoint && one.off.empty() && other.off.empty();
  const bool both_split = !one.off.empty() && !other.off.empty() && one.net == other.net;
  const bool same_part = one.part != kNoPart && one.part == other.part;
  const bool same_point = one.point != kNoPoint && one.point == other.point;
  return both_in_segments || both_split || same_part || same_point;
}

std::vector<NetId> nets_of(const Board& board, const Planted& planted) {
  std::vector<NetId> nets = {planted.net};
  for (const PlaceId place : {planted.a, planted.b}) {
    if (place != kNoPlace) {
      nets.push_back(board[place].net);
    }
  }
  if (planted.part != kNoPart) {
    for (const PointId pin : board[planted.part].pins) {
      nets.push_back(board[pin].net);
    }
  }
  std::erase(nets, kNoNet);
  return nets;
}

}  // namespace

std::string_view defect_kind_name(DefectKind kind) {
  constexpr std::array<std::string_view, kDefectKinds> kNames = {
      "open", "split", "short", "high", "leakage", "part", "contact", "intermittent"};
  return kNames[static_cast<std::size_t>(kind)];
}

std::vector<Planted> random_defects(Draws& draws, const Board& board,
                                    std::span<const DefectKind> kinds, std::size_t count) {
  std::vector<Planted> all;
  std::set<NetId> hit;
  Planter planter(draws, board);
  for (bool fits = true; fits && all.size() < count;) {
    // Defects come in clusters, and those that hide each other are the hard ones.
    const bool near = !hit.empty() && draws.chance(kClustered);
    fits = false;
    for (int tries = 0; tries < kTries && !fits; ++tries) {
      const auto planted = planter.plant(kinds[draws.below(kinds.size())]);
      if (!planted || std::any_of(all.begin(), all.end(),
                                  [&](const Planted& other) { return clash(*planted, other); })) {
        continue;
      }
      const std::vector<NetId> nets = nets_of(board, *planted);
      fits = !near || tries >= kTries / 2 ||
             std::any_of(nets.begin(), nets.end(), [&](NetId net) { return hit.count(net) != 0; });
      if (fits) {
        hit.insert(nets.begin(), nets.end());
        all.push_back(*planted);
      }
    }
  }
  return all;
}

std::vector<tools::Defects::PartValue> random_part_values(Draws& draws, const Board& board) {
  std::vector<tools::Defects::PartValue> values;
  if (!board.assembled()) {
    return values;
  }
  for (std::uint32_t i = 0; i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    if (part.kind != PartKind::resistor && part.kind != PartKind::network) {
      continue;
    }
    const std::string& tolerance = board.description().parts[i].tolerance;
    const double percent = tolerance.empty() ? 5 : std::strtod(tolerance.c_str(), nullptr);
    const double off = kUsedTolerance * percent / 100 * draws.between(-1, 1);
    values.push_back({PartId{i}, std::round(*part.ohm * (1 + off) * 1e4) / 1e4});
  }
  return values;
}

tools::Defects make_defects(std::span<const Planted> planted,
                            std::span<const tools::Defects::PartValue> values) {
  tools::Defects defects;
  defects.part_values.assign(values.begin(), values.end());
  for (const Planted& one : planted) {
    switch (one.kind) {
      case DefectKind::open:
      case DefectKind::high_resistance:
        defects.cuts.push_back({one.segment, one.ohm});
        break;
      case DefectKind::split:
        defects.splits.push_back({one.net, one.off});
        break;
      case DefectKind::short_circuit:
      case DefectKind::leakage:
        defects.bridges.push_back({one.a, one.b, one.ohm});
        break;
      case DefectKind::part:
        std::erase_if(defects.part_values, [&](const tools::Defects::PartValue& value) {
          return value.part == one.part;
        });
        defects.part_values.push_back({one.part, one.ohm});
        break;
      case DefectKind::no_contact:
        defects.no_contacts.push_back({one.point, one.stays});
        break;
      case DefectKind::intermittent:
        defects.intermittents.push_back({one.segment, one.open_s, one.every_s});
        break;
    }
  }
  return defects;
}

}  // namespace padwalk::study
