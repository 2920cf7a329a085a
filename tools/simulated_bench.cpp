// SPDX-License-Identifier: MIT
#include "tools/simulated_bench.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <random>
#include <stdexcept>

#include "graph/yaml_reader.hpp"
#include "tools/simulated_parts.hpp"

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
constexpr std::uint32_t kDrawElectronics = 1;  // beside the seed, apart from what the bench draws

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
      add_parts(board_, defects_, circuit_);
    }
    for (const Defects::Bridge& bridge : defects_.bridges) {
      circuit_.resistors.push_back(
          {node(bridge.a), node(bridge.b), bridge.ohm, bridge.open_s, bridge.every_s});
    }
    for (const Defects::Source& source : defects_.sources) {
      add_source(source);
    }
    for (const Defects::Earth& earth : defects_.earths) {
      circuit_.resistors.push_back({node(earth.place), simulated::kNoNode, earth.ohm});
    }
    circuit_.leads.resize(channels);
    for (const graph::Lead& lead : hookup.leads) {
      const PlaceId place = lead.place == graph::kNoPlace ? board_[lead.point].held : lead.place;
      circuit_.leads[lead.channel - 1u] = {node(place), defects_.contact_ohm};
    }
    for (const Defects::NoContact& none : defects_.no_contacts) {
      if (none.every_s > 0) {
        add_flutter(none, hookup);
        continue;
      }
      for (const graph::Lead& lead : hookup.leads) {
        if (lead.point == none.point && (none.stays || !reseated)) {
          circuit_.leads[lead.channel - 1u].contact_ohm = simulated::kNoContactOhm;
        }
      }
    }
    add_electronics();
    return std::move(circuit_);
  }

 private:
  static int node(PlaceId place) { return static_cast<int>(graph::index(place)); }

  void add_segments() {
    std::map<graph::SegmentId, double> cut;
    for (const Defects::Cut& one : defects_.cuts) {
      cut[one.segment] = one.ohm;
    }
    std::map<graph::SegmentId, const Defects::Intermittent*> times;
    for (const Defects::Intermittent& one : defects_.intermittents) {
      times[one.segment] = &one;
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
      const int far = moved ? hub->second : node(segment.b);
      const auto at_times = times.find(graph::SegmentId{static_cast<std::uint32_t>(i)});
      circuit_.resistors.push_back(at_times == times.end()
                                       ? Circuit::Resistor{node(segment.a), far, ohm}
                                       : Circuit::Resistor{node(segment.a), far, ohm,
                                                           at_times->second->open_s,
                                                           at_times->second->every_s});
    }
  }

  /// Between the first lead on the point and the point.
  void add_flutter(const Defects::NoContact& flutter, const graph::Hookup& hookup) {
    const auto lead =
        std::find_if(hookup.leads.begin(), hookup.leads.end(),
                     [&](const graph::Lead& one) { return one.point == flutter.point; });
    if (lead != hookup.leads.end()) {
      int& touched = circuit_.leads[lead->channel - 1u].node;
      const int tip = circuit_.nodes++;
      circuit_.resistors.push_back({touched, tip, kLowestOhm, flutter.open_s, flutter.every_s});
      touched = tip;
    }
  }

  /// A source behind a diode has a node of its own between the two.
  void add_source(const Defects::Source& source) {
    const double volt = source.hertz > 0 ? source.volt * std::numbers::sqrt2 : source.volt;
    int from = node(source.a);
    if (source.through != Junction::none) {
      from = circuit_.nodes++;
      circuit_.junctions.push_back(volt < 0 ? make_junction(node(source.a), from, source.through)
                                            : make_junction(from, node(source.a), source.through));
    }
    circuit_.sources.push_back({from, node(source.b), volt, source.ohm, source.hertz});
  }

  /// Errors of gains and references stay the same for one seed, whatever the board.
  void add_electronics() {
    simulated::Electronics& electronics = circuit_.electronics;
    std::seed_seq seed{defects_.random, kDrawElectronics};
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> within(-1, 1);
    for (double& error : electronics.gain_error) {
      error = defects_.gain_error * within(random);
    }
    for (double& error : electronics.reference_error) {
      error = defects_.reference_error * within(random);
    }
    electronics.noise_volt = defects_.noise_volt;
    electronics.offset_volt = defects_.offset_volt;
    electronics.switch_spread_ohm = defects_.switch_spread_ohm;
    electronics.leak_ampere = defects_.leak_ampere;
    electronics.lead_farad = defects_.lead_farad;
    electronics.hum_volt = defects_.hum_volt;
    electronics.hum_hertz = defects_.hum_hertz;
    circuit_.lead_spread_ohm = defects_.contact_spread_ohm;
    circuit_.random = defects_.random;
  }

  const Board& board_;
  const Defects& defects_;
  Circuit circuit_;
};

Defects load_defects(const Board& board, const std::string& path, BoardThen then) {
  if (path.empty()) {
    return {};
  }
  graph::Diagnostics diagnostics(path);
  Defects defects = read_defects(graph::read_file(path), board, diagnostics, then);
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
                               const graph::Hookup& hookup, std::uint16_t channels, BoardThen then)
    : board_(board),
      hookup_(hookup),
      defects_(load_defects(board, defects_file, then)),
      flexed_(load_defects(board, defects_file, BoardThen::flexed)),
      channels_(channels) {
  tester_.emplace(make_circuit(board_, defects_, hookup_, channels_, false),
                  simulated::SimulatedTesterOptions{});
}

void SimulatedBench::reseat(const Board&, const std::vector<graph::Lead>&) {
  reseat_all();
}

std::vector<std::size_t> SimulatedBench::place(const graph::PlanStep&, const graph::Hookup& now) {
  touch(now);
  return {};
}

Reached SimulatedBench::touch(const graph::Hookup& now) {
  hookup_ = now;
  reseated_ = false;
  tester_->set_circuit(make_circuit(board_, defects_, hookup_, channels_, false));
  return Reached::yes;
}

void SimulatedBench::flex(bool bent) {
  bent_ = bent;
  make_again();
}

void SimulatedBench::put_switch(graph::PartId part, std::size_t position) {
  if (position >= board_[part].positions.size()) {
    throw std::out_of_range("the switch has no such position");
  }
  std::erase_if(defects_.held_switches, [&](const auto& held) { return held.part == part; });
  defects_.held_switches.push_back({part, position, ++put_[{part, position}], std::nullopt, false});
  make_again();
}

void SimulatedBench::move_switch(graph::PartId part, std::size_t position, bool makes_first) {
  std::size_t from = 0;
  for (const Defects::HeldSwitch& held : defects_.held_switches) {
    from = held.part == part ? held.position : from;
  }
  put_switch(part, position);
  defects_.held_switches.back().from = from;
  defects_.held_switches.back().makes_first = makes_first;
  make_again();
}

void SimulatedBench::rest_switch(graph::PartId part) {
  for (Defects::HeldSwitch& held : defects_.held_switches) {
    if (held.part == part) {
      held.from.reset();
    }
  }
  make_again();
}

/// Nobody touches a lead meanwhile.
void SimulatedBench::make_again() {
  Circuit circuit = make_circuit(board_, bent_ ? flexed_ : defects_, hookup_, channels_, reseated_);
  circuit.leads_stay = true;
  tester_->set_circuit(std::move(circuit));
}

void SimulatedBench::reseat_all() {
  reseated_ = true;
  tester_->set_circuit(make_circuit(board_, defects_, hookup_, channels_, true));
}

}  // namespace padwalk::tools
