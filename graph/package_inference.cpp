// SPDX-License-Identifier: MIT
#include "graph/package_inference.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "graph/packages.hpp"

namespace padwalk::graph {

namespace {

constexpr double kHoleSlack_mm = 0.15;
constexpr double kPadSlack_mm = 0.6;
constexpr double kRadian = 3.14159265358979323846 / 180;
constexpr std::size_t kFewestPins = 3;
constexpr std::size_t kNarrowSoic = 16;  // up to so many pins it comes narrow and wide
constexpr double kUsualTurn = 45;
constexpr double kFineTurn = 0.1;

/// A name to try, and on which sides of the board a part of it may be.
struct Candidate {
  std::string name;
  bool either_side = true;
};

/// All packages with so many pins that a fixture could be for. Where two names have the same pins
/// at the same places (SIP and row, ribbon and header) one of them stands for both. No D-sub: a
/// plug from above is a socket from below. `pitch_mm`: from pin 1 to pin 2.
std::vector<Candidate> candidates(std::size_t pins, double pitch_mm) {
  std::vector<Candidate> names{{fmt::format("SOIC-{}", pins)},
                               {fmt::format("PLCC-{}", pins)},
                               {fmt::format("row {}", pins), false}};
  if (pins <= kNarrowSoic) {
    names.push_back({fmt::format("SOIC-{} wide", pins)});
  }
  BadPackage bad;
  const std::string dip = fmt::format("DIP-{}", pins);
  if (find_package(dip, bad)) {
    names.push_back({dip});
  } else {
    for (const char* inch : {"0.3", "0.4", "0.6", "0.9"}) {
      names.push_back({fmt::format("{} {} inch", dip, inch)});
    }
  }
  for (std::size_t rows = 2; rows <= 4; ++rows) {
    if (pins % rows == 0) {
      names.push_back({fmt::format("header {}x{}", rows, pins / rows), false});
    }
  }
  if (pins % 2 == 0) {
    names.push_back({fmt::format("edge {} {:.2f} mm", pins / 2, pitch_mm)});
  }
  return names;
}

double direction(Xy from, Xy to) {
  return std::atan2(to.y - from.y, to.x - from.x) / kRadian;
}

using PinsByName = std::map<std::string, const PinDescription*>;

/// Every pin of the package is where it would be, and on that side.
bool all_there(const Package& package, const PinsByName& pins, const InferredPackage& lies) {
  const double slack = package.surface ? kPadSlack_mm : kHoleSlack_mm;
  return std::all_of(package.pins.begin(), package.pins.end(), [&](const PackagePin& pin) {
    const auto found = pins.find(pin.name);
    const Side side = !package.surface ? Side::unknown
                      : pin.far_side   ? opposite(lies.side)
                                       : lies.side;
    if (found == pins.end() || found->second->side != side) {
      return false;
    }
    const Xy at = place_pin(lies.xy, lies.rotation, lies.side, pin.offset);
    return distance_mm(at, *found->second->xy) <= slack;
  });
}

/// How it lies is taken from the pin that is farthest from pin 1.
std::optional<InferredPackage> fitted(const Candidate& candidate, const PinsByName& pins) {
  BadPackage bad;
  const std::optional<Package> package = find_package(candidate.name, bad);
  if (!package || package->pins.size() != pins.size()) {
    return std::nullopt;
  }
  const auto far = std::max_element(
      package->pins.begin(), package->pins.end(), [](const PackagePin& a, const PackagePin& b) {
        return std::hypot(a.offset.x, a.offset.y) < std::hypot(b.offset.x, b.offset.y);
      });
  const auto far_pin = pins.find(far->name);
  if (far_pin == pins.end()) {
    return std::nullopt;
  }
  const Xy first = *pins.at("1")->xy;
  for (const Side side : {Side::top, Side::bottom}) {
    if (side == Side::bottom && !candidate.either_side) {
      continue;
    }
    const double measured =
        direction(first, *far_pin->second->xy) - direction({}, place_pin({}, 0, side, far->offset));
    const double turn = side == Side::bottom ? -measured : measured;
    // Most parts lie straight, whatever the last digits of their pins say.
    for (const double step : {kUsualTurn, kFineTurn}) {
      const double rotation = std::fmod(std::round(turn / step) * step + 720, 360);
      if (all_there(*package, pins, {candidate.name, first, rotation, side})) {
        return InferredPackage{candidate.name, first, rotation, side};
      }
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<InferredPackage> infer_package(const PartDescription& part) {
  PinsByName pins;
  for (const PinDescription& pin : part.pins) {
    if (!pin.xy || !pins.emplace(pin.name, &pin).second) {
      return std::nullopt;
    }
  }
  if (pins.size() < kFewestPins) {
    return std::nullopt;
  }
  const auto first = pins.find("1");
  const auto second = pins.find("2");
  if (first == pins.end() || second == pins.end()) {
    return std::nullopt;
  }
  const double pitch_mm = distance_mm(*first->second->xy, *second->second->xy);
  std::optional<InferredPackage> only;
  for (const Candidate& candidate : candidates(pins.size(), pitch_mm)) {
    if (auto found = fitted(candidate, pins)) {
      if (only) {
        return std::nullopt;
      }
      only = std::move(found);
    }
  }
  return only;
}

}  // namespace padwalk::graph
