// SPDX-License-Identifier: MIT
#include "tests/study/random_board.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "graph/packages.hpp"
#include "tests/study/random_routes.hpp"

namespace padwalk::study {

namespace {

using namespace padwalk::graph;

constexpr std::size_t kFewestPoints = 10;
constexpr std::size_t kMostPoints = 150;
constexpr double kColumnMm = 24;
constexpr double kBoardHeightMm = 110;
constexpr std::array kE12 = {1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2};

std::string decimal(double value, const char* unit) {
  return fmt::format("{:.3g} {}", value, unit);
}

/// Ohms with a prefix where people use one.
std::string ohms(double value) {
  return value < 1e3   ? decimal(value, "ohm")
         : value < 1e6 ? decimal(value / 1e3, "kohm")
                       : decimal(value / 1e6, "Mohm");
}

class BoardMaker {
 public:
  explicit BoardMaker(Draws& draws) : draws_(draws) {}

  BoardDescription make() {
    board_.name = "study";
    const bool assembled = draws_.chance(0.5);
    board_.state = assembled ? BoardState::assembled : BoardState::bare;
    board_.layers = draws_.chance(0.1) ? 1 : 2;
    add_rails();
    const std::size_t wanted = draws_.from_to(kFewestPoints, kMostPoints);
    while (points_ < wanted) {
      add_something(wanted - points_);
    }
    share_out();
    for (const Loose& loose : loose_) {
      connect(loose);
    }
    std::erase_if(nets_, [](const NetPlan& net) { return net.members.empty(); });
    RouteMaker(draws_, board_).add(nets_);
    add_oddities();
    return std::move(board_);
  }

 private:
  /// A small part whose pins find their nets last.
  struct Loose {
    std::size_t part = 0;
    std::vector<Member> pins;
  };

  void add_rails() {
    if (!draws_.chance(0.8)) {
      return;
    }
    const bool roles = board_.state == BoardState::assembled || draws_.chance(0.5);
    ground_ = nets_.size();
    nets_.push_back({"GND", roles ? NetRole::ground : NetRole::signal, {}});
    supply_ = nets_.size();
    nets_.push_back({"VCC", roles ? NetRole::supply : NetRole::signal, {}});
  }

  /// The next free place of a column, `height` mm high.
  Xy place(double height) {
    if (at_.y - height < 0 && at_.y < kBoardHeightMm) {
      at_ = {at_.x + kColumnMm, kBoardHeightMm};
    }
    const Xy here = at_;
    at_.y = std::round((at_.y - height - 4) * 100) / 100;
    return here;
  }

  std::size_t add_part(const char* prefix, PartKind kind, const std::string& package,
                       std::vector<Member>& pins) {
    BadPackage bad;
    const Package found = *find_package(package, bad);
    double height = 0;
    for (const PackagePin& pin : found.pins) {
      height = std::max(height, -pin.offset.y);
    }
    PartDescription part;
    part.name = fmt::format("{}{}", prefix, board_.parts.size() + 1);
    part.kind = kind;
    part.package = package;
    part.xy = place(height);
    if (board_.layers == 1 && found.surface) {
      part.side = Side::bottom;
    } else if (draws_.chance(0.05)) {
      part.side = Side::bottom;
    }
    part.rotation = found.pins.size() == 2 && draws_.chance(0.3) ? 90 : 0;
    for (const PackagePin& pin : found.pins) {
      const Xy xy = place_pin(*part.xy, part.rotation, part.side, pin.offset);
      pins.push_back({part.name + "." + pin.name, xy, found.surface ? part.side : Side::unknown});
    }
    points_ += pins.size();
    board_.parts.push_back(std::move(part));
    return board_.parts.size() - 1;
  }

  void add_something(std::size_t room) {
    constexpr std::array kWeights = {0.3, 0.1, 0.15, 0.4, 0.05};
    switch (draws_.weighted(kWeights)) {
      case 0:
        return add_chip(room);
      case 1:
        return add_connector(room);
      case 2:
        return add_pad();
      case 3:
        return add_two_pins();
      default:
        return add_network(room);
    }
  }

  void add_chip(std::size_t room) {
    struct Body {
      const char* package;
      std::size_t pins;
    };
    constexpr std::array<Body, 9> kBodies = {{{"DIP-8", 8},
                                              {"DIP-14", 14},
                                              {"DIP-16", 16},
                                              {"DIP-20", 20},
                                              {"DIP-24 0.6 inch", 24},
                                              {"DIP-40", 40},
                                              {"SOIC-8", 8},
                                              {"SOIC-14", 14},
                                              {"SOIC-16", 16}}};
    const Body& body = draws_.pick(kBodies);
    if (body.pins > room + 4) {
      return add_pad();
    }
    std::vector<Member> pins;
    const std::size_t at = add_part("U", PartKind::ic, body.package, pins);
    PartDescription& part = board_.parts[at];
    constexpr std::array kTypes = {"74HC138", "27C64", "LM358", "4060", "Z84C00"};
    part.type = draws_.chance(0.15) ? "74LS138" : draws_.pick(kTypes);
    constexpr std::array kChipWeights = {0.7, 0.25, 0.05};
    part.chip = pins.front().side != Side::unknown
                    ? ChipState::soldered
                    : static_cast<ChipState>(draws_.weighted(kChipWeights));
    for (std::size_t i = 0; i < pins.size(); ++i) {
      if (ground_ != kNone && i == pins.size() / 2 - 1) {
        nets_[ground_].members.push_back(pins[i]);
      } else if (supply_ != kNone && i == pins.size() - 1) {
        nets_[supply_].members.push_back(pins[i]);
      } else if (draws_.chance(0.93)) {
        free_.push_back(pins[i]);
      }
    }
  }

  void add_connector(std::size_t room) {
    const std::size_t columns = draws_.from_to(2, 10);
    const bool two_rows = draws_.chance(0.4);
    if (columns * (two_rows ? 2 : 1) > room + 4) {
      return add_pad();
    }
    std::vector<Member> pins;
    add_part("J", PartKind::connector,
             two_rows ? fmt::format("header 2x{}", columns) : fmt::format("row {}", columns), pins);
    if (ground_ != kNone && draws_.chance(0.7)) {
      nets_[ground_].members.push_back(pins.front());
      pins.erase(pins.begin());
    }
    free_.insert(free_.end(), pins.begin(), pins.end());
  }

  void add_pad() {
    PointDescription point;
    point.name = fmt::format("TP{}", board_.points.size() + 1);
    point.xy = place(2);
    point.xy->x += 10;
    point.side = board_.layers == 1 || draws_.chance(0.6) ? Side::bottom : Side::top;
    ++points_;
    free_.push_back({point.name, *point.xy, point.side});
    board_.points.push_back(std::move(point));
  }

  void add_two_pins() {
    constexpr std::array kWeights = {0.45, 0.25, 0.12, 0.04, 0.04, 0.07, 0.03};
    Loose loose;
    switch (draws_.weighted(kWeights)) {
      case 0:
        add_resistor(loose);
        break;
      case 1:
        add_capacitor(loose);
        break;
      case 2:
        loose.part = add_part("D", PartKind::diode, "axial 8 mm", loose.pins);
        board_.parts[loose.part].type = draws_.chance(0.15) ? "1N34A germanium" : "1N4148";
        break;
      case 3:
        loose.part = add_part("F", PartKind::fuse, "axial 20 mm", loose.pins);
        break;
      case 4:
        loose.part = add_part("L", PartKind::inductor, "axial 10 mm", loose.pins);
        board_.parts[loose.part].value = "100 uH";
        break;
      case 5: {
        loose.part = add_part("S", PartKind::switch_, "row 2", loose.pins);
        SwitchPosition open{"out", {}};
        SwitchPosition closed{"in", {{"1", "2"}}};
        board_.parts[loose.part].positions = {open, closed};
        if (draws_.chance(0.3)) {
          std::swap(board_.parts[loose.part].positions[0], board_.parts[loose.part].positions[1]);
        }
        break;
      }
      default:
        loose.part = add_part("W", PartKind::link, "axial 10 mm", loose.pins);
        break;
    }
    loose_.push_back(std::move(loose));
  }

  void add_resistor(Loose& loose) {
    loose.part = add_part("R", PartKind::resistor, "axial 10 mm", loose.pins);
    PartDescription& part = board_.parts[loose.part];
    constexpr std::array kDecadeWeights = {0.1, 0.15, 0.3, 0.3, 0.15};
    double value = draws_.pick(kE12) * 10;
    for (std::size_t n = draws_.weighted(kDecadeWeights); n > 0; --n) {
      value *= 10;
    }
    part.value = ohms(value);
    constexpr std::array kTolerances = {"5%", "1%", "10%", ""};
    constexpr std::array kToleranceWeights = {0.5, 0.2, 0.1, 0.2};
    part.tolerance = kTolerances[draws_.weighted(kToleranceWeights)];
  }

  void add_capacitor(Loose& loose) {
    loose.part = add_part("C", PartKind::capacitor, "radial 5 mm", loose.pins);
    constexpr std::array kValues = {"100 nF", "10 nF", "22 pF", "10 uF", "47 uF", "220 uF"};
    constexpr std::array kWeights = {0.5, 0.12, 0.12, 0.1, 0.1, 0.06};
    board_.parts[loose.part].value = kValues[draws_.weighted(kWeights)];
  }

  void add_network(std::size_t room) {
    const std::size_t size = draws_.from_to(2, 4) * 2;
    if (size > room + 4) {
      return add_pad();
    }
    const bool isolated = draws_.chance(0.3);
    Loose loose;
    loose.part = add_part("RN", PartKind::network,
                          fmt::format("SIP-{}", isolated ? size : size + 1), loose.pins);
    PartDescription& part = board_.parts[loose.part];
    part.type = isolated ? "isolated" : "";
    part.value = ohms(draws_.pick(kE12) * (draws_.chance(0.5) ? 1e3 : 1e4));
    part.tolerance = draws_.chance(0.5) ? "5%" : "2%";
    loose_.push_back(std::move(loose));
  }

  /// Pins of chips and connectors and pads to nets of a few points.
  void share_out() {
    draws_.shuffle(free_);
    for (std::size_t i = 0; i < free_.size();) {
      constexpr std::array kSizeWeights = {0.06, 0.36, 0.26, 0.14, 0.08, 0.1};
      std::size_t size = 1 + draws_.weighted(kSizeWeights);
      if (size == 6) {
        size = draws_.from_to(6, 12);
      }
      NetPlan net{fmt::format("N{}", nets_.size()), NetRole::signal, {}};
      for (; size > 0 && i < free_.size(); --size) {
        net.members.push_back(free_[i++]);
      }
      nets_.push_back(std::move(net));
    }
  }

  std::size_t some_signal() {
    std::vector<std::size_t> signals;
    for (std::size_t i = 0; i < nets_.size(); ++i) {
      if (i != ground_ && i != supply_) {
        signals.push_back(i);
      }
    }
    if (signals.empty() || draws_.chance(0.2)) {
      nets_.push_back({fmt::format("N{}", nets_.size()), NetRole::signal, {}});
      return nets_.size() - 1;
    }
    return draws_.pick(signals);
  }

  std::size_t rail_or_signal(double supply, double ground) {
    const double drawn = draws_.real();
    if (supply_ != kNone && drawn < supply) {
      return supply_;
    }
    return ground_ != kNone && drawn >= supply && drawn < supply + ground ? ground_ : some_signal();
  }

  void connect(const Loose& loose) {
    const PartDescription& part = board_.parts[loose.part];
    std::vector<std::size_t> nets;
    if (part.kind == PartKind::network) {
      const bool isolated = !part.type.empty();
      nets.push_back(rail_or_signal(isolated ? 0.2 : 0.6, 0.2));
      for (std::size_t pin = 1; pin < loose.pins.size(); ++pin) {
        nets.push_back(isolated && pin % 2 == 0 ? rail_or_signal(0.2, 0.1) : some_signal());
      }
    } else if (part.kind == PartKind::capacitor) {
      const bool decouples = ground_ != kNone && draws_.chance(0.6);
      nets = decouples ? std::vector{supply_, ground_}
                       : std::vector{some_signal(), rail_or_signal(0.1, 0.6)};
    } else if (part.kind == PartKind::fuse || part.kind == PartKind::inductor) {
      nets = {rail_or_signal(0.6, 0), some_signal()};
    } else {
      nets = {some_signal(), rail_or_signal(0.3, 0.25)};
    }
    for (std::size_t pin = 0; pin < loose.pins.size(); ++pin) {
      nets_[nets[pin]].members.push_back(loose.pins[pin]);
    }
  }

  /// What makes boards uneven: parts no clip holds on, a net that must not be driven, a region.
  void add_oddities() {
    for (PartDescription& part : board_.parts) {
      if (draws_.chance(0.03)) {
        part.access = draws_.chance(0.5) ? Access::tip : Access::none;
      }
    }
    // Something must take a clip.
    if (!board_.parts.empty() &&
        std::all_of(board_.parts.begin(), board_.parts.end(),
                    [](const PartDescription& part) { return part.access.has_value(); })) {
      board_.parts.front().access.reset();
    }
    for (NetDescription& net : board_.nets) {
      net.drive_never = net.role == NetRole::signal && draws_.chance(0.01);
    }
    if (draws_.chance(0.3)) {
      RegionDescription region;
      region.name = "under the cell";
      region.polygon = {{0, 0}, {60, 0}, {60, 60}, {0, 60}};
      region.suspicion = 5;
      board_.regions.push_back(std::move(region));
    }
  }

  static constexpr std::size_t kNone = SIZE_MAX;

  Draws& draws_;
  BoardDescription board_;
  std::vector<NetPlan> nets_;
  std::vector<Member> free_;
  std::vector<Loose> loose_;
  std::size_t ground_ = kNone;
  std::size_t supply_ = kNone;
  std::size_t points_ = 0;
  Xy at_{0, kBoardHeightMm};
};

}  // namespace

BoardDescription random_board(Draws& draws) {
  return BoardMaker(draws).make();
}

}  // namespace padwalk::study
