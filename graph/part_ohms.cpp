// SPDX-License-Identifier: MIT
#include "graph/part_ohms.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

// New contacts have 15 to 100 mohm, a small slide switch 70 mohm (a switch maker's page); 1 ohm is
// the life limit of MIL-PRF-22710H.
constexpr double kSwitchOhm = 70e-3;
constexpr double kWornSwitchOhm = 1;
/// A wire link or a part sold as 0 ohm; common practice, no source.
constexpr double kLinkHighOhm = 0.1;
/// An unsure way with this share of the current matters.
constexpr double kMatters = 1e-9;
constexpr double kNextToNothing = 1e-3;

// Numbers common on old boards, from memory of data books. A number stands for itself with any
// letters behind it ("1N34" for 1N34A, not for 1N3491); kFamilies stand for all that begins so.
constexpr std::string_view kGermanium[] = {
    "1N34",  "1N60",  "1N67",  "1N69",  "1N70",  "1N90", "1N126", "1N127", "1N128", "1N191",
    "1N198", "1N270", "1N277", "1N295", "1S188", "OA5",  "OA7",   "OA9",   "OA10",  "OA47",
    "OA70",  "OA79",  "OA81",  "OA85",  "OA90",  "OA91", "OA95",  "D9",    "GD507"};
constexpr std::string_view kGermaniumFamilies[] = {"AA1", "AAY", "AAZ"};
constexpr std::string_view kSchottky[] = {"1N5711", "1N5712", "1N5817", "1N5818",
                                          "1N5819", "1N5820", "1N5821", "1N5822",
                                          "1N6263", "1SS86",  "1SS106"};
constexpr std::string_view kSchottkyFamilies[] = {"BAT", "MBR", "HSMS", "HSCH", "5082-28",
                                                  "SB1", "SB2", "SB3",  "SR1",  "SR2",
                                                  "SR3", "SS1", "SS2",  "SS3"};

bool begins_with(std::string_view type, std::string_view with) {
  return type.substr(0, with.size()) == with;
}

bool is_one_of(std::string_view type, std::span<const std::string_view> numbers,
               std::span<const std::string_view> families) {
  return std::any_of(numbers.begin(), numbers.end(),
                     [&](std::string_view number) {
                       return begins_with(type, number) &&
                              (type.size() == number.size() ||
                               std::isdigit(static_cast<unsigned char>(type[number.size()])) == 0);
                     }) ||
         std::any_of(families.begin(), families.end(),
                     [&](std::string_view family) { return begins_with(type, family); });
}

double tolerance_of(const PartDescription& description) {
  const std::optional<double> stated = parse_value(description.tolerance, Unit::fraction);
  return std::max(stated.value_or(0), PartOhms::kLeastTolerance) + PartOhms::kDrift;
}

PartWay way_of(const Board& board, const PartLink& link) {
  const Part& part = board[link.part];
  const PartDescription& description = board.description().parts[index(link.part)];
  PartWay way{link.part, link.a, link.b};
  const auto within = [&](double ohm) {
    const double tolerance = std::min(tolerance_of(description), 1.0);
    way.ohm = ohm;
    way.low_ohm = ohm * (1 - tolerance);
    way.high_ohm = ohm * (1 + tolerance);
  };
  if (part.kind == PartKind::diode) {
    way.sure = junction_of(part.type) == Junction::silicon;
    way.low_ohm = way.sure ? PartOhms::kSiliconOhm : 0;
  } else if (part.kind == PartKind::switch_) {
    way.ohm = kSwitchOhm;
    way.high_ohm = kWornSwitchOhm;
  } else if (part.kind == PartKind::link ||
             (part.kind == PartKind::resistor && link.ohm && *link.ohm == 0)) {
    way.ohm = 0;
    way.high_ohm = kLinkHighOhm;
  } else if (link.ohm && *link.ohm > 0) {
    within(*link.ohm);
  } else {
    way.sure = false;
    if (part.kind == PartKind::pot) {
      const std::optional<double> whole = parse_value(description.value, Unit::ohm);
      way.ohm = whole ? *whole / 2 : kOpenOhm;
    } else if (link.ohm) {
      way.ohm = 0;  // a coil, a fuse, a lamp
    }
  }
  return way;
}

std::vector<ResistiveNetwork::Node> nodes(std::span<const NetId> nets) {
  std::vector<ResistiveNetwork::Node> all;
  for (const NetId net : nets) {
    all.push_back(index(net));
  }
  return all;
}

}  // namespace

Junction junction_of(std::string_view type) {
  std::string upper;
  for (const char letter : type) {
    if (letter != ' ') {
      upper += static_cast<char>(std::toupper(static_cast<unsigned char>(letter)));
    }
  }
  if (upper.empty()) {
    return Junction::unknown;
  }
  const auto has = [&](std::string_view word) { return upper.find(word) != std::string::npos; };
  if (has("SCHOTTKY") || is_one_of(upper, kSchottky, kSchottkyFamilies)) {
    return Junction::schottky;
  }
  if (has("GERMANIUM") || is_one_of(upper, kGermanium, kGermaniumFamilies)) {
    return Junction::germanium;
  }
  return Junction::silicon;
}

PartOhms::PartOhms(const Board& board)
    : usual_(board.nets().size()),
      low_(board.nets().size()),
      low_sure_(board.nets().size()),
      high_(board.nets().size()) {
  for (const PartLink& link : board.part_links()) {
    const PartWay way = way_of(board, link);
    const ResistiveNetwork::Node a = index(way.a);
    const ResistiveNetwork::Node b = index(way.b);
    usual_.add(a, b, way.ohm);
    low_.add(a, b, way.low_ohm);
    low_sure_.add(a, b, way.sure ? way.low_ohm : kOpenOhm);
    high_.add(a, b, way.high_ohm);
    ways_.push_back(way);
  }
}

ExpectedOhm PartOhms::between(std::span<const NetId> source, std::span<const NetId> sink) const {
  const std::vector<ResistiveNetwork::Node> from = nodes(source);
  const std::vector<ResistiveNetwork::Node> to = nodes(sink);
  ExpectedOhm expected;
  expected.low_ohm = low_.between(from, to);
  if (expected.low_ohm == kOpenOhm) {
    return expected;
  }
  expected.ohm = usual_.between(from, to);
  expected.high_ohm = high_.between(from, to);
  const double without = low_sure_.between(from, to);
  expected.sure = expected.low_ohm == without ||
                  std::abs(expected.low_ohm - without) <= kMatters * expected.low_ohm;
  return expected;
}

std::vector<PartWay> PartOhms::consists_of(NetId a, NetId b) const {
  std::vector<PartWay> all;
  const ResistiveNetwork::Flow flow = usual_.flow(index(a), index(b));
  if (flow.ohm == 0 || flow.ohm == kOpenOhm) {
    return all;
  }
  for (std::size_t i = 0; i < ways_.size(); ++i) {
    const double part_ohm = usual_.share(flow, i);
    if (part_ohm > kMatters * flow.ohm) {
      all.push_back(ways_[i]);
      all.back().part_ohm = part_ohm;
    }
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const PartWay& x, const PartWay& y) { return x.part_ohm > y.part_ohm; });
  return all;
}

std::vector<PartWay> PartOhms::unsure(NetId a, NetId b) const {
  // Shorts of unknown ohms carry what they would carry as next to nothing.
  ResistiveNetwork network(low_.nodes());
  for (const PartWay& way : ways_) {
    network.add(index(way.a), index(way.b), way.sure ? way.low_ohm : kNextToNothing);
  }
  std::vector<PartWay> all;
  const ResistiveNetwork::Flow flow = network.flow(index(a), index(b));
  if (flow.ohm == kOpenOhm) {
    return all;
  }
  for (std::size_t i = 0; i < ways_.size(); ++i) {
    if (!ways_[i].sure && std::sqrt(network.share(flow, i) / kNextToNothing) > kMatters) {
      all.push_back(ways_[i]);
    }
  }
  return all;
}

bool has_schottky_clamps(std::string_view type) {
  for (std::size_t at = 0; at + 2 < type.size(); ++at) {
    if (type.compare(at, 2, "74") != 0 && type.compare(at, 2, "54") != 0) {
      continue;
    }
    std::size_t end = at + 2;
    while (end < type.size() && std::isalpha(static_cast<unsigned char>(type[end])) != 0) {
      ++end;
    }
    const std::string_view family = type.substr(at + 2, end - at - 2);
    for (const std::string_view with : {"S", "LS", "AS", "ALS", "F"}) {
      if (family == with && end < type.size() &&
          std::isdigit(static_cast<unsigned char>(type[end])) != 0) {
        return true;
      }
    }
  }
  return false;
}

}  // namespace padwalk::graph
