// SPDX-License-Identifier: MIT
#include "tests/study/oracle.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <map>
#include <set>

namespace padwalk::study {

namespace {

using namespace padwalk::graph;

constexpr double kOpen = std::numeric_limits<double>::infinity();
constexpr double kOpenAbove = 10e3;
constexpr double kShortUpTo = 10;
/// Verdicts within these factors of a limit are nobody's fault.
constexpr double kNear = 1.25;
constexpr double kClear = 1.5;
/// What leads and copper may add to a reading inside a net.
constexpr double kCopperOhm = 0.3;
/// Beyond this a part's value is not judged at 0.2 V.
constexpr double kJudgedUpTo = 100e3;
/// Silicon at 0.2 V, and the reverse of a Schottky clamp: at least so much. Forward germanium or
/// Schottky parts may be far lower.
constexpr double kSiliconOhm = 300e3;
constexpr double kClampOhm = 100e3;
constexpr double kGermaniumOhm = 500;

bool holds(const std::string& text, const char* word) {
  return text.find(word) != std::string::npos;
}

}  // namespace

Conductor conductor_at(const Board& board, PlaceId place) {
  const NetId net = board[place].net;
  return net == kNoNet ? Conductor{kNoNet, board[place].point} : Conductor{net, kNoPoint};
}

Oracle::Oracle(const Board& board, const tools::Defects& defects, std::span<const PointId> leads,
               double isolation_ohm)
    : board_(board),
      isolation_ohm_(isolation_ohm),
      touched_(board.nets().size()),
      silent_(board.nets().size()),
      doubtful_(board.points().size()),
      expected_low_(board.places().size()),
      expected_high_(board.places().size()),
      actual_low_(board.places().size()),
      actual_high_(board.places().size()) {
  std::vector<std::size_t> leads_of(board.nets().size());
  for (const PointId point : leads) {
    if (board[point].net != kNoNet) {
      ++leads_of[index(board[point].net)];
    }
  }
  for (const PointId point : leads) {
    const NetId net = board[point].net;
    const bool alone = net == kNoNet || leads_of[index(net)] < 2;
    const auto none =
        std::find_if(defects.no_contacts.begin(), defects.no_contacts.end(),
                     [&](const tools::Defects::NoContact& one) { return one.point == point; });
    if (none != defects.no_contacts.end()) {
      doubtful_[index(point)] = alone;  // nothing is expected of it, so nobody asks
      if (none->stays) {
        if (!alone) {
          silent_[index(net)] = true;
        }
        continue;
      }
    }
    if (net == kNoNet) {
      touched_alone_.push_back(point);
    } else {
      touched_[index(net)].push_back(point);
    }
  }
  add_copper(defects);
  if (board.assembled()) {
    add_parts(defects);
  }
  for (const tools::Defects::Bridge& bridge : defects.bridges) {
    join(bridge.a, bridge.b, {kOpen, kOpen}, {bridge.ohm, bridge.ohm});
  }
}

void Oracle::join(PlaceId a, PlaceId b, OhmBand expected, OhmBand actual) {
  expected_low_.add(index(a), index(b), expected.low);
  expected_high_.add(index(a), index(b), expected.high);
  actual_low_.add(index(a), index(b), actual.low);
  actual_high_.add(index(a), index(b), actual.high);
}

void Oracle::add_copper(const tools::Defects& defects) {
  std::map<PointId, std::size_t> other_hub;
  for (const tools::Defects::Split& split : defects.splits) {
    const std::size_t hub = actual_low_.add_node();
    actual_high_.add_node();
    for (const PointId point : split.off) {
      other_hub[point] = hub;
    }
  }
  for (std::uint32_t i = 0; i < board_.segments().size(); ++i) {
    const Segment& segment = board_.segments()[i];
    OhmBand ohm{0, 0};
    for (const tools::Defects::Cut& cut : defects.cuts) {
      if (cut.segment == SegmentId{i}) {
        ohm = {cut.ohm, cut.ohm};
      }
    }
    for (const tools::Defects::Intermittent& one : defects.intermittents) {
      if (one.segment == SegmentId{i}) {
        ohm.high = kOpen;
      }
    }
    const auto hub =
        segment.kind == SegmentKind::unknown_way ? other_hub.find(segment.member) : other_hub.end();
    const std::size_t a = index(segment.a);
    const std::size_t b = index(segment.b);
    expected_low_.add(a, b, 0);
    expected_high_.add(a, b, 0);
    actual_low_.add(a, hub == other_hub.end() ? b : hub->second, ohm.low);
    actual_high_.add(a, hub == other_hub.end() ? b : hub->second, ohm.high);
  }
}

void Oracle::add_parts(const tools::Defects& defects) {
  for (std::uint32_t i = 0; i < board_.parts().size(); ++i) {
    std::optional<double> changed;
    for (const tools::Defects::PartValue& value : defects.part_values) {
      if (value.part == PartId{i}) {
        changed = value.ohm;
      }
    }
    if (board_.parts()[i].chip != ChipState::pulled) {
      add_part(PartId{i}, changed);
    }
  }
}

void Oracle::add_part(PartId id, std::optional<double> changed) {
  const Part& part = board_[id];
  const auto between = [&](std::size_t a, std::size_t b, OhmBand expected, OhmBand actual) {
    join(board_[part.pins[a]].held, board_[part.pins[b]].held, expected, actual);
  };
  const auto tie = [&](std::size_t a, std::size_t b, double most, double usual) {
    const double ohm = changed.value_or(usual);
    between(a, b, {0, most}, {ohm, ohm});
  };
  switch (part.kind) {
    case PartKind::resistor:
    case PartKind::network: {
      const std::string& tolerance = board_.description().parts[index(id)].tolerance;
      const double percent = std::max(5.0, std::strtod(tolerance.c_str(), nullptr)) + 1;
      const OhmBand expected{*part.ohm * (1 - percent / 100), *part.ohm * (1 + percent / 100)};
      const OhmBand actual{changed.value_or(*part.ohm), changed.value_or(*part.ohm)};
      const bool isolated = holds(part.type, "isolated");
      for (std::size_t pin = 1; pin < part.pins.size(); pin += isolated ? 2 : 1) {
        between(isolated ? pin - 1 : 0, pin, expected, actual);
      }
      break;
    }
    case PartKind::link:
    case PartKind::fuse:
      tie(0, 1, kShortUpTo, 0.1);
      break;
    case PartKind::inductor:
      tie(0, 1, 100, 3);
      break;
    case PartKind::switch_:
      for (const auto& joined : part.positions.front().second) {
        for (std::size_t n = 1; n < joined.size(); ++n) {
          tie(joined[n - 1], joined[n], kShortUpTo, 0.07);
        }
      }
      break;
    case PartKind::capacitor:
      if (changed) {
        between(0, 1, {kOpen, kOpen}, {*changed, *changed});
      }
      break;
    case PartKind::diode: {
      const OhmBand junction{holds(part.type, "germanium") ? kGermaniumOhm : kSiliconOhm, kOpen};
      between(0, 1, junction,
              changed && !std::isfinite(*changed) ? OhmBand{kOpen, kOpen} : junction);
      if (changed) {
        between(0, 1, {kOpen, kOpen}, {*changed, *changed});
      }
      break;
    }
    case PartKind::ic:
      add_clamps(part);
      break;
    default:
      break;
  }
}

/// Each signal pin has a diode to a ground pin and one to a supply pin.
void Oracle::add_clamps(const Part& part) {
  const auto rail = [&](NetRole role) {
    for (const PointId pin : part.pins) {
      if (board_[pin].net != kNoNet && board_[board_[pin].net].role == role) {
        return pin;
      }
    }
    return kNoPoint;
  };
  const PointId ground = rail(NetRole::ground);
  const PointId supply = rail(NetRole::supply);
  const OhmBand silicon{kSiliconOhm, kOpen};
  const OhmBand clamp{holds(part.type, "LS") ? kClampOhm : kSiliconOhm, kOpen};
  for (const PointId pin : part.pins) {
    if (board_[pin].net != kNoNet && board_[board_[pin].net].role != NetRole::signal) {
      continue;
    }
    if (ground != kNoPoint) {
      join(board_[ground].held, board_[pin].held, clamp, clamp);
    }
    if (supply != kNoPoint) {
      join(board_[supply].held, board_[pin].held, silicon, silicon);
    }
  }
}

NetState Oracle::net(NetId id) const {
  NetState state;
  // One point of each piece of sound copper.
  std::map<std::size_t, std::size_t> pieces;
  for (const PointId point : touched_[index(id)]) {
    const std::size_t place = index(board_[point].held);
    pieces.emplace(actual_high_.root(place), place);
  }
  state.worst.low = pieces.size() > 1 ? kOpen : 0;
  for (const auto& [from_root, from] : pieces) {
    double worst = 0;
    for (const auto& [to_root, to] : pieces) {
      if (to != from) {
        const double low = actual_low_.between({&from, 1}, {&to, 1});
        worst = std::max(worst, low);
        state.worst.high = std::max(state.worst.high, actual_high_.between({&from, 1}, {&to, 1}));
        state.parts_bridge = state.parts_bridge || (low > kCopperOhm && low < kOpenAbove * kNear);
      }
    }
    state.worst.low = std::min(state.worst.low, worst);
  }
  if (silent_[index(id)]) {
    state.worst = {pieces.empty() ? state.worst.low : kOpen, kOpen};
  }
  const double good = board_[id].role == NetRole::signal ? 1 + kCopperOhm : 0.5 + kCopperOhm;
  state.open = state.worst.low > kOpenAbove * kNear    ? Seen::yes
               : state.worst.high > kOpenAbove / kNear ? Seen::maybe
                                                       : Seen::no;
  state.high = state.worst.low > good * kClear && state.worst.high < kOpenAbove / kNear ? Seen::yes
               : state.worst.high > kCopperOhm && state.worst.low < kOpenAbove * kNear ? Seen::maybe
                                                                                       : Seen::no;
  return state;
}

std::vector<PointId> Oracle::touched(const Conductor& conductor) const {
  if (conductor.net != kNoNet) {
    return touched_[index(conductor.net)];
  }
  return std::find(touched_alone_.begin(), touched_alone_.end(), conductor.point) ==
                 touched_alone_.end()
             ? std::vector<PointId>()
             : std::vector{conductor.point};
}

PairState Oracle::pair(const Conductor& a, const Conductor& b) const {
  PairState state;
  const auto places = [&](const Conductor& conductor) {
    std::vector<std::size_t> held;
    for (const PointId point : touched(conductor)) {
      held.push_back(index(board_[point].held));
    }
    return held;
  };
  const std::vector<std::size_t> at_a = places(a);
  const std::vector<std::size_t> at_b = places(b);
  state.expected = {expected_low_.between(at_a, at_b), expected_high_.between(at_a, at_b)};
  state.actual = {actual_low_.between(at_a, at_b), actual_high_.between(at_a, at_b)};
  const auto sure = [&](const Conductor& conductor) {
    const std::vector<PointId> points = touched(conductor);
    return std::any_of(points.begin(), points.end(),
                       [&](PointId point) { return !doubtful_[index(point)]; });
  };
  state.attached = sure(a) && sure(b);
  const OhmBand& expected = state.expected;
  const OhmBand& actual = state.actual;
  const Seen best = state.attached ? Seen::yes : Seen::maybe;
  if (expected.low < kShortUpTo && expected.high <= kShortUpTo * 10) {
    // Tied by closed parts: one conductor, whatever else joins them.
  } else if (actual.high <= kShortUpTo / kNear && expected.low >= kShortUpTo * kClear) {
    state.short_circuit = best;
  } else if (actual.low <= kShortUpTo * kNear) {
    state.short_circuit = Seen::maybe;
  }
  const bool below = actual.high < expected.low / kClear && actual.high <= isolation_ohm_ / kNear;
  state.leakage = below && actual.high > kShortUpTo * kNear ? best
                  : actual.low < expected.low * 0.97 && actual.low <= isolation_ohm_ * kNear
                      ? Seen::maybe
                      : Seen::no;
  const bool above = expected.high <= kJudgedUpTo && actual.low > expected.high * kClear;
  const bool near_above = std::isfinite(expected.high) && actual.high > expected.high * 1.03;
  const bool near_below = actual.low < expected.low * 0.97 &&
                          (std::isfinite(expected.low) || actual.low <= isolation_ohm_ * kNear);
  state.off = below || above ? best : near_above || near_below ? Seen::maybe : Seen::no;
  return state;
}

}  // namespace padwalk::study
