// SPDX-License-Identifier: MIT
#include "tools/simulated_bench.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "graph/yaml_reader.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PlaceId;
using simulated::Circuit;

// Copper of 35 um: 0.49 mohm a square (Bogatin, pcdandf.com 2007); tracks of an old board are about
// 1 mm wide. Barrels and joints: common practice, no source.
constexpr double kTraceOhmPerMm = 0.49e-3;
constexpr double kTraceOhmUnknownLength = 10e-3;
constexpr double kBarrelOhm = 1.2e-3;
constexpr double kJointOhm = 1e-3;
constexpr double kSocketContactOhm = 15e-3;
constexpr double kClosedSwitchOhm = 70e-3;
constexpr double kCoilOhm = 1;
constexpr double kLowestOhm = 1e-4;  // no conductor of no ohms, however short

double segment_ohm(const graph::Segment& segment) {
  switch (segment.kind) {
    case graph::SegmentKind::trace:
    case graph::SegmentKind::wire:
      return segment.length_mm ? std::max(kLowestOhm, *segment.length_mm * kTraceOhmPerMm)
                               : kTraceOhmUnknownLength;
    case graph::SegmentKind::barrel:
      return kBarrelOhm;
    case graph::SegmentKind::joint:
      return kJointOhm;
    case graph::SegmentKind::contact:
      return kSocketContactOhm;
    case graph::SegmentKind::unknown_way:
      return kTraceOhmUnknownLength;
  }
  return kTraceOhmUnknownLength;
}

/// Builds the circuit; a node a place, and one more for each split net.
class CircuitMaker {
 public:
  CircuitMaker(const Board& board, const Defects& defects) : board_(board), defects_(defects) {
    circuit_.nodes = static_cast<int>(board.places().size());
  }

  Circuit make(const graph::Hookup& hookup, std::uint16_t channels, bool reseated) {
    add_segments();
    if (board_.assembled()) {
      add_parts();
    }
    for (const Defects::Bridge& bridge : defects_.bridges) {
      circuit_.resistors.push_back({node(bridge.a), node(bridge.b), bridge.ohm});
    }
    for (const Defects::Source& source : defects_.sources) {
      circuit_.sources.push_back({node(source.a), node(source.b), source.volt, source.ohm});
    }
    circuit_.leads.resize(channels);
    for (const graph::Lead& lead : hookup.leads) {
      circuit_.leads[lead.channel - 1u] = {node(board_[lead.point].held), defects_.contact_ohm};
    }
    for (const Defects::NoContact& none : defects_.no_contacts) {
      for (const graph::Lead& lead : hookup.leads) {
        if (lead.point == none.point && (none.stays || !reseated)) {
          circuit_.leads[lead.channel - 1u].contact_ohm = simulated::kNoContactOhm;
        }
      }
    }
    circuit_.electronics.noise_volt = defects_.noise_volt;
    circuit_.random = defects_.random;
    return std::move(circuit_);
  }

 private:
  static int node(PlaceId place) { return static_cast<int>(graph::index(place)); }

  void add_segments() {
    std::map<graph::SegmentId, double> cut;
    for (const Defects::Cut& one : defects_.cuts) {
      cut[one.segment] = one.ohm;
    }
    // A member that is split off hangs from a hub of its own, shared by all that go with it.
    std::map<graph::PointId, int> other_hub;
    for (const Defects::Split& split : defects_.splits) {
      for (const graph::PointId point : split.off) {
        other_hub[point] = circuit_.nodes;
      }
      ++circuit_.nodes;
    }
    for (std::size_t i = 0; i < board_.segments().size(); ++i) {
      const graph::Segment& segment = board_.segments()[i];
      const auto broken = cut.find(graph::SegmentId{static_cast<std::uint32_t>(i)});
      const double ohm = broken == cut.end() ? segment_ohm(segment) : broken->second;
      if (!std::isfinite(ohm)) {
        continue;
      }
      const auto hub = other_hub.find(segment.member);
      const bool moved = segment.kind == graph::SegmentKind::unknown_way && hub != other_hub.end();
      circuit_.resistors.push_back({node(segment.a), moved ? hub->second : node(segment.b), ohm});
    }
  }

  /// The place of a pin that its part's current flows through.
  int pin(const graph::Part& part, std::size_t number) const {
    return node(board_[part.pins[number]].held);
  }

  void join(const graph::Part& part, std::size_t a, std::size_t b, double ohm) {
    if (a < part.pins.size() && b < part.pins.size()) {
      circuit_.resistors.push_back({pin(part, a), pin(part, b), std::max(ohm, kLowestOhm)});
    }
  }

  void add_parts() {
    std::map<graph::PartId, double> value;
    for (const Defects::PartValue& one : defects_.part_values) {
      value[one.part] = one.ohm;
    }
    for (std::size_t i = 0; i < board_.parts().size(); ++i) {
      const graph::Part& part = board_.parts()[i];
      const auto changed = value.find(graph::PartId{static_cast<std::uint32_t>(i)});
      add_part(part, changed == value.end() ? part.ohm : std::optional(changed->second));
    }
  }

  void add_part(const graph::Part& part, std::optional<double> ohm) {
    if (part.chip == graph::ChipState::pulled) {
      return;
    }
    switch (part.kind) {
      case graph::PartKind::resistor:
      case graph::PartKind::link:
      case graph::PartKind::fuse:
        if (ohm) {
          join(part, 0, 1, *ohm);
        }
        break;
      case graph::PartKind::network:
        for (std::size_t n = 1; ohm && n < part.pins.size(); ++n) {
          if (part.type.find("isolated") == std::string::npos) {
            join(part, 0, n, *ohm);
          } else if (n % 2 == 1) {
            join(part, n - 1, n, *ohm);
          }
        }
        break;
      case graph::PartKind::inductor:
        join(part, 0, 1, kCoilOhm);
        break;
      case graph::PartKind::switch_:
        if (!part.positions.empty()) {
          for (const std::vector<std::size_t>& joined : part.positions.front().second) {
            for (std::size_t n = 1; n < joined.size(); ++n) {
              join(part, joined[n - 1], joined[n], kClosedSwitchOhm);
            }
          }
        }
        break;
      case graph::PartKind::capacitor:
      case graph::PartKind::diode:
      case graph::PartKind::transistor:
      case graph::PartKind::ic:
      case graph::PartKind::connector:
      case graph::PartKind::relay:
      case graph::PartKind::transformer:
      case graph::PartKind::crystal:
      case graph::PartKind::pot:
      case graph::PartKind::lamp:
      case graph::PartKind::meter:
      case graph::PartKind::other:
        break;  // open at the test voltage, or not simulated by this version
    }
  }

  const Board& board_;
  const Defects& defects_;
  Circuit circuit_;
};

Defects load_defects(const Board& board, const std::string& path) {
  if (path.empty()) {
    return {};
  }
  graph::Diagnostics diagnostics(path);
  Defects defects = read_defects(graph::read_file(path), board, diagnostics);
  diagnostics.throw_if_errors();
  return defects;
}

}  // namespace

Circuit make_circuit(const Board& board, const Defects& defects, const graph::Hookup& hookup,
                     std::uint16_t channels, bool reseated) {
  return CircuitMaker(board, defects).make(hookup, channels, reseated);
}

std::uint16_t simulated_channels(const graph::Hookup& hookup, std::uint16_t asked) {
  const std::size_t needed = (hookup.leads.size() + 15) / 16 * 16;
  return asked != 0 ? asked : static_cast<std::uint16_t>(std::min<std::size_t>(needed, 4096));
}

SimulatedBench::SimulatedBench(const Board& board, const std::string& defects_file,
                               const graph::Hookup& hookup, std::uint16_t channels)
    : board_(board),
      hookup_(hookup),
      defects_(load_defects(board, defects_file)),
      channels_(channels) {
  tester_.emplace(make_circuit(board_, defects_, hookup_, channels_, false),
                  simulated::SimulatedTesterOptions{});
}

void SimulatedBench::reseat(const Board&, const std::vector<graph::Lead>&) {
  reseat_all();
}

void SimulatedBench::reseat_all() {
  tester_->set_circuit(make_circuit(board_, defects_, hookup_, channels_, true));
}

}  // namespace padwalk::tools
