// SPDX-License-Identifier: MIT
#include "graph/ipc356.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <unordered_map>

#include "graph/ipc356_names.hpp"
#include "graph/ipc356_netlist.hpp"
#include "graph/ipc356_routes.hpp"
#include "graph/package_inference.hpp"

namespace padwalk::graph {

namespace {

constexpr double kSmallestBoard_mm = 2;
constexpr double kLargestBoard_mm = 2000;
constexpr std::string_view kUnconnected = "N/C";

Side surface_side(const IpcRecord& record) {
  return record.sides == kIpcBothSides ? Side::unknown
         : record.sides == kIpcPrimary ? Side::top
                                       : Side::bottom;
}

/// Class letters, and how many pins a part of that kind has at least and at most.
/// Source: class designation letters of IEEE 315-1975; IC common practice.
struct ClassLetters {
  std::string_view letters;
  PartKind kind;
  std::size_t fewest;
  std::size_t most;
};
constexpr std::size_t kAnyNumber = SIZE_MAX;
constexpr ClassLetters kClasses[] = {
    {"C", PartKind::capacitor, 2, 2},    {"D", PartKind::diode, 2, 2},
    {"IC", PartKind::ic, 4, kAnyNumber}, {"J", PartKind::connector, 1, kAnyNumber},
    {"L", PartKind::inductor, 2, 2},     {"P", PartKind::connector, 1, kAnyNumber},
    {"Q", PartKind::transistor, 3, 4},   {"R", PartKind::resistor, 2, 2},
    {"U", PartKind::ic, 4, kAnyNumber}};

/// By the letters before its number; `other` where they or the pins say nothing.
PartKind kind_by_name(std::string_view name, std::size_t pins) {
  const std::size_t digit = name.find_first_of("0123456789");
  if (digit == std::string_view::npos) {
    return PartKind::other;
  }
  const auto found =
      std::find_if(std::begin(kClasses), std::end(kClasses), [&](const ClassLetters& row) {
        return row.letters == name.substr(0, digit) && pins >= row.fewest && pins <= row.most;
      });
  return found == std::end(kClasses) ? PartKind::other : found->kind;
}

/// The name of a file, without its folder and ending.
std::string_view stem(std::string_view path) {
  path.remove_prefix(path.find_last_of("/\\") + 1);
  return path.substr(0, path.rfind('.'));
}

std::string in_capitals(std::string_view text) {
  std::string capitals(text);
  std::transform(capitals.begin(), capitals.end(), capitals.begin(), [](char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  });
  return capitals;
}

class Importer {
 public:
  Importer(const IpcNetlist& netlist, Diagnostics& diagnostics, IpcSummary& summary)
      : netlist_(netlist),
        diagnostics_(diagnostics),
        summary_(summary),
        net_names_(netlist, diagnostics) {}

  BoardDescription run() {
    board_.state = BoardState::bare;
    board_.layers = netlist_.layers;
    const std::string_view job = netlist_.job;
    board_.name = printable(job.empty() ? stem(diagnostics_.file()) : job);
    summary_.codes = netlist_.codes;
    for (const IpcRecord& record : netlist_.records) {
      ++summary_.records;
      if (record.code == 367) {
        ++summary_.tooling_holes;
      } else {
        add(record);
      }
    }
    summary_.nets = board_.nets.size();
    tell_parts();
    add_ipc_routes(netlist_, points_, nets_, board_, diagnostics_, summary_);
    add_ipc_neighbours(netlist_, nets_, board_, diagnostics_);
    check_size();
    warn_of_cut_names();
    warn_of_changes();
    return std::move(board_);
  }

 private:
  void add(const IpcRecord& record) {
    low_ = {std::min(low_.x, mm(record.x)), std::min(low_.y, mm(record.y))};
    high_ = {std::max(high_.x, mm(record.x)), std::max(high_.y, mm(record.y))};
    turns_in_radians_ = turns_in_radians_ || (netlist_.turns_in_radians && record.rotation != 0);
    const bool is_via = record.part == "VIA" && record.code != 327;
    const bool is_pad = record.part.empty() || record.part == "VIA";
    std::string point = is_via ? add_via(record) : is_pad ? add_pad(record) : add_pin(record);
    if (record.net == kUnconnected) {
      ++summary_.unconnected;
    } else {
      NetDescription& net = net_of(record);
      net.members.push_back({point, {record.line, 4}});
      IpcPoint known{&record, static_cast<std::size_t>(&net - board_.nets.data()), std::move(point),
                     std::nullopt};
      if (is_via) {
        known.via = board_.points.size() - 1;
      }
      points_.push_back(std::move(known));
    }
  }

  double mm(long value) const { return netlist_.mm(value); }

  Xy position(const IpcRecord& record) const { return {mm(record.x), mm(record.y)}; }

  /// Width and height as seen from the top; the closest quarter turn decides.
  std::optional<Xy> pad_size(const IpcRecord& record) const {
    const long width = record.width > 0 ? record.width : record.height;
    const long height = record.height > 0 ? record.height : width;
    if (width == 0) {
      return std::nullopt;
    }
    const long turn = netlist_.turns_in_radians ? 0 : record.rotation % 180;
    const bool lies = turn > 45 && turn < 135;
    return lies ? Xy{mm(height), mm(width)} : Xy{mm(width), mm(height)};
  }

  // ---- points
  Side layer_side(int layer) const {
    return layer <= 1 ? Side::top : layer >= netlist_.layers ? Side::bottom : inner_side(layer - 1);
  }

  std::string add_via(const IpcRecord& record) {
    PointDescription via = named_point(fmt::format("V{}", ++vias_), record);
    via.via = {Side::top, Side::bottom};
    const auto [from, to] = std::minmax(record.from_layer, record.to_layer);
    if (from > 0 && layer_side(from) != layer_side(to)) {
      via.via = {layer_side(from), layer_side(to)};
    }
    const int bare = record.sides & ~record.masked;
    const auto access = [&](Side side) {
      const int bit = side == Side::top ? kIpcPrimary : side == Side::bottom ? kIpcSecondary : 0;
      return (bare & bit) != 0 ? Access::tip : Access::none;
    };
    via.access = {access(via.via[0]), access(via.via[1])};
    if (via.access[0] == via.access[1]) {
      via.access.pop_back();
    }
    if (via.access.front() == Access::tip && via.access.size() == 1) {
      via.access.clear();  // as every via that is not said to be otherwise
    }
    board_.points.push_back(std::move(via));
    return board_.points.back().name;
  }

  PointDescription named_point(std::string name, const IpcRecord& record) const {
    PointDescription point;
    point.name = std::move(name);
    point.xy = position(record);
    point.pad = pad_size(record);
    point.mark = {record.line, 1};
    return point;
  }

  /// A pad of no part: a test pad.
  std::string add_pad(const IpcRecord& record) {
    PointDescription pad = named_point(fmt::format("P{}", ++pads_), record);
    pad.side = record.code == 327 ? surface_side(record) : Side::unknown;
    if (!record.pin.empty()) {
      pad.note = fmt::format("pin {} of a part without a name", printable(record.pin));
    }
    board_.points.push_back(std::move(pad));
    return board_.points.back().name;
  }

  std::string add_pin(const IpcRecord& record) {
    const std::string part_name = safe_name(record.part, {record.line, 21});
    const std::string pin_name =
        record.pin.empty() ? "pad" : safe_name(record.pin, {record.line, 28});
    const auto [part, is_new] = parts_.emplace(part_name, board_.parts.size());
    if (is_new) {
      PartDescription description;
      description.name = part_name;
      description.mark = {record.line, 21};
      board_.parts.push_back(std::move(description));
    }
    const std::string first_name = part_name + "." + pin_name;
    Pin& seen = pins_[first_name];
    PinDescription pin;
    pin.name = ++seen.count == 1 ? pin_name : fmt::format("{}~{}", pin_name, seen.count);
    pin.xy = position(record);
    pin.pad = pad_size(record);
    pin.side = record.code == 327 ? surface_side(record) : Side::unknown;
    pin.mark = {record.line, 28};
    std::string name = part_name + "." + pin.name;
    if (record.net != kUnconnected) {
      if (seen.line != 0 && seen.net != record.net) {
        diagnostics_.warning(
            {record.line, 21},
            fmt::format("{} is in net {} here, but in net {} in line {}: perhaps two parts whose "
                        "names were cut; both points are kept, this one as {}",
                        first_name, printable(record.net), printable(seen.net), seen.line, name));
      } else {
        seen.net = record.net;
        seen.line = record.line;
      }
    }
    board_.parts[part->second].pins.push_back(std::move(pin));
    return name;
  }

  /// What the pins and the name leave no doubt about. The pins keep the positions of the file.
  void tell_parts() {
    for (PartDescription& part : board_.parts) {
      part.kind = kind_by_name(part.name, part.pins.size());
      const auto found = infer_package(part);
      if (found) {
        ++summary_.packages;
        part.package = found->name;
        part.xy = found->xy;
        part.rotation = found->rotation;
        part.side = found->side;
      }
    }
  }

  /// Without what has a meaning of its own in the names of points.
  std::string safe_name(std::string_view text, Mark mark) {
    std::string name = ipc_text_of(text, "the name", mark, diagnostics_);
    const std::string before = name;
    std::replace_if(
        name.begin(), name.end(), [](char c) { return c == '.' || c == '@' || c == '~'; }, '_');
    if (name != before) {
      if (changed_names_.empty()) {
        first_change_ = mark;
      }
      changed_names_.insert(before);
    }
    return name;
  }

  // ---- nets
  NetDescription& net_of(const IpcRecord& record) {
    const auto [found, is_new] = nets_.emplace(record.net, board_.nets.size());
    if (is_new) {
      NetDescription net;
      net.name = net_names_.name(record);
      net.mark = {record.line, 4};
      board_.nets.push_back(std::move(net));
    }
    return board_.nets[found->second];
  }

  // ---- doubts
  void check_size() {
    if (board_.points.empty() && board_.parts.empty()) {
      if (diagnostics_.errors().empty()) {
        diagnostics_.error({}, "the file holds no points; expected records 317 or 327");
      }
      return;
    }
    const double width = high_.x - low_.x;
    const double height = high_.y - low_.y;
    const double larger = std::max(width, height);
    if (larger > kLargestBoard_mm || larger < kSmallestBoard_mm) {
      diagnostics_.warning({}, fmt::format("the points span {:.4g} x {:.4g} mm: are the units of "
                                           "the file right?",
                                           width, height));
    }
  }

  /// A name that fills its columns may have been cut, and the same one may stand elsewhere in other
  /// letters or in full.
  void warn_of_cut_names() {
    std::map<std::string, std::size_t> cut;
    const auto compare = [&](std::string_view key, std::size_t net) {
      const auto found = cut.find(in_capitals(key));
      if (found != cut.end() && found->second != net) {
        diagnostics_.warning(board_.nets[net].mark,
                             fmt::format("net {} could be net {} of line {}, whose name fills its "
                                         "columns and may have been cut",
                                         board_.nets[net].name, board_.nets[found->second].name,
                                         board_.nets[found->second].mark.line));
        return true;
      }
      return false;
    };
    for (std::size_t i = 0; i < board_.nets.size(); ++i) {
      const std::string& name = board_.nets[i].name;
      if (name.size() == kIpcNetColumns && !compare(name, i)) {
        cut.emplace(in_capitals(name), i);
      }
    }
    for (std::size_t i = 0; i < board_.nets.size(); ++i) {
      const std::string_view name = board_.nets[i].name;
      if (name.size() > kIpcNetColumns && !compare(name.substr(0, kIpcNetColumns), i)) {
        compare(name.substr(name.size() - kIpcNetColumns), i);
      }
    }
  }

  void warn_of_changes() {
    if (!changed_names_.empty()) {
      diagnostics_.warning(
          first_change_,
          fmt::format("names of parts or pins hold . @ or ~, which mean something else in a board "
                      "file; they became _ (names like this: {})",
                      changed_names_.size()));
    }
    if (turns_in_radians_) {
      diagnostics_.warning({},
                           "CUST 2 counts turns in radians, which are not read; width and "
                           "height of turned pads may be exchanged");
    }
  }

  /// How often a pin occurred, and the net of the first time.
  struct Pin {
    int count = 0;
    std::string_view net;
    int line = 0;
  };

  const IpcNetlist& netlist_;
  Diagnostics& diagnostics_;
  IpcSummary& summary_;
  IpcNetNames net_names_;
  BoardDescription board_;
  std::unordered_map<std::string, std::size_t> parts_;
  std::unordered_map<std::string, Pin> pins_;
  IpcNetIndex nets_;  ///< by the text in the records
  std::vector<IpcPoint> points_;
  std::set<std::string> changed_names_;
  Mark first_change_;
  bool turns_in_radians_ = false;
  int vias_ = 0;
  int pads_ = 0;
  Xy low_{HUGE_VAL, HUGE_VAL};
  Xy high_{-HUGE_VAL, -HUGE_VAL};
};

}  // namespace

BoardDescription read_ipc356(std::string_view text, std::optional<IpcUnits> units,
                             Diagnostics& diagnostics, IpcSummary& summary) {
  const IpcNetlist netlist = read_ipc_netlist(text, units, diagnostics);
  if (!netlist.units) {  // which is an error already
    return {};
  }
  return Importer(netlist, diagnostics, summary).run();
}

}  // namespace padwalk::graph
