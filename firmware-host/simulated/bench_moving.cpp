// SPDX-License-Identifier: MIT
//
// The bench's part that moves in time: its copper contracted for the Transient and solved where
// current runs along it, and the hum of the whole circuit.
#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>
#include <numeric>
#include <tuple>

#include "firmware-host/simulated/bench_state.hpp"

namespace padwalk::simulated {

namespace {

/// What is contracted where something moves, and for hum.
constexpr double kCopperOhm = 2;

}  // namespace

void Bench::label_copper() {
  std::vector<int> parent(static_cast<std::size_t>(circuit_.nodes));
  std::iota(parent.begin(), parent.end(), 0);
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (resistor.ohm <= kCopperOhm && resistor.every_s <= 0) {
      parent[find(parent, resistor.a)] = find(parent, resistor.b);
    }
  }
  std::vector<int> label(parent.size(), kNoNode);
  for (int node = 0; node < circuit_.nodes; ++node) {
    int& number = label[find(parent, node)];
    if (number == kNoNode) {
      number = coppers_++;
      leaks_.emplace_back(node, 0.0);
    }
    copper_of_.push_back(number);
  }
  for (std::size_t channel = 0; channel < circuit_.leads.size(); ++channel) {
    if (contact_siemens(channel) > 0) {
      leaks_[copper_of_[circuit_.leads[channel].node]].second += leak_ampere_[channel];
    }
  }
}

/// Contracts the copper of all that moves.
void Bench::make_transient() {
  lump_of_.assign(static_cast<std::size_t>(circuit_.nodes), kNoNode);
  std::vector<int> label(static_cast<std::size_t>(coppers_), kNoNode);
  for (int node = 0; node < circuit_.nodes; ++node) {
    if (!components_[component_of_[node]]->moves) {
      continue;
    }
    int& number = label[copper_of_[node]];
    if (number == kNoNode) {
      number = static_cast<int>(lumps_.size());
      lumps_.push_back(std::make_unique<Lump>());
    }
    lump_of_[node] = number;
    index_of_[node] = static_cast<int>(lumps_[number]->nodes.size());
    lumps_[number]->nodes.push_back(node);
  }
  if (lumps_.empty()) {
    return;
  }
  Circuit network;
  network.nodes = static_cast<int>(lumps_.size());
  const auto lump = [&](int node) { return node == kNoNode ? kNoNode : lump_of_[node]; };
  for (const auto& component : components_) {
    if (!component->moves) {
      continue;
    }
    for (const Circuit::Resistor* resistor : component->resistors) {
      const int a = lump(resistor->a);
      const int b = lump(resistor->b);
      if (a != b) {
        network.resistors.push_back({a, b, resistor->ohm, resistor->open_s, resistor->every_s});
      } else if (resistor->every_s <= 0) {
        lumps_[a]->copper.push_back(resistor);
      }
    }
    for (const Circuit::Source* source : component->sources) {
      if (lump(source->a) != lump(source->b)) {
        network.sources.push_back(
            {lump(source->a), lump(source->b), source->volt, source->ohm, source->hertz});
      }
    }
  }
  // Between two lumps, alike ones side by side are one.
  std::map<std::pair<int, int>, double> farads;
  for (const Circuit::Capacitor& one : circuit_.capacitors) {
    if (lump(one.a) != lump(one.b)) {
      farads[std::minmax(lump(one.a), lump(one.b))] += one.farad;
    }
  }
  for (const auto& [ends, farad] : farads) {
    network.capacitors.push_back({ends.second, ends.first, farad});
  }
  std::map<std::tuple<int, int, double>, double> saturations;
  for (const Circuit::Junction& one : circuit_.junctions) {
    if (lump(one.anode) != lump(one.cathode)) {
      saturations[{lump(one.anode), lump(one.cathode), one.emission}] += one.saturation_ampere;
    }
  }
  for (const auto& [what, ampere] : saturations) {
    network.junctions.push_back({std::get<0>(what), std::get<1>(what), ampere, std::get<2>(what)});
  }
  std::vector<int> held;
  for (const Circuit::Lead& lead : circuit_.leads) {
    if (lump(lead.node) != kNoNode) {
      held.push_back(lump(lead.node));
    }
  }
  transient_ = std::make_unique<Transient>(std::move(network), held);
}

/// Tells the moving part what holds it, and prepares the copper where current is led in or out.
void Bench::hold_transient() {
  std::vector<Transient::Hold> holds;
  Transient::Bus bus{1 / reference_ohm_ + steady_siemens_, steady_ampere_};
  for (const std::size_t channel : closed_) {
    const double contact = contact_siemens(channel);
    if (contact == 0 || lump_of_[circuit_.leads[channel].node] == kNoNode) {
      continue;
    }
    const FrontEnd& front = front_[channel];
    const int number = lump_of_[circuit_.leads[channel].node];
    const double share = contact / (contact + front.force + front.load);
    holds.push_back({number, (front.force + front.load) * share,
                     front.sunk ? 0 : front.force * front.bus_volt * share,
                     front.sunk ? front.force * share : 0});
    if (front.sunk) {
      bus.siemens += front.force * (1 - front.force / (contact + front.force + front.load));
    }
    Lump& lump = *lumps_[number];
    const auto towards = [&](std::size_t other) {
      return front_[other].force == 0 ? 0 : front_[other].sunk ? 1 : 2;
    };
    lump.mixed =
        !lump.closed.empty() && (lump.mixed || towards(channel) != towards(lump.closed.front()));
    lump.closed.push_back(channel);
    lump.ready = false;
    if (!lump.held) {
      lump.held = true;
      held_lumps_.push_back(number);
    }
  }
  transient_->hold(holds, bus);
}

/// The copper of one lump between its leads.
void Bench::solve_lump(Lump& lump) {
  const int size = static_cast<int>(lump.nodes.size());
  if (!lump.solver) {
    std::vector<Eigen::Triplet<double>> entries;
    for (int row = 0; row < size; ++row) {
      entries.emplace_back(row, row, kFloatingSiemens);
    }
    for (const Circuit::Resistor* resistor : lump.copper) {
      const int a = index_of_[resistor->a];
      const int b = index_of_[resistor->b];
      if (a != b) {
        entries.emplace_back(a, a, 1 / resistor->ohm);
        entries.emplace_back(b, b, 1 / resistor->ohm);
        entries.emplace_back(std::max(a, b), std::min(a, b), -1 / resistor->ohm);
      }
    }
    lump.copper_siemens.resize(size, size);
    lump.copper_siemens.setFromTriplets(entries.begin(), entries.end());
    lump.solver = std::make_unique<Factorization>();
    lump.solver->analyze(lump.copper_siemens);
  }
  Matrix held = lump.copper_siemens;
  lump.volts.setZero(size, 3);
  for (const std::size_t channel : lump.closed) {
    const FrontEnd& front = front_[channel];
    const int row = index_of_[circuit_.leads[channel].node];
    const double contact = contact_siemens(channel);
    const double share = contact / (contact + front.force + front.load);
    held.valuePtr()[held.outerIndexPtr()[row]] += (front.force + front.load) * share;
    lump.volts(row, 0) += front.force * front.bus_volt * share;
    lump.volts(row, 1) += front.sunk ? front.force * share : 0;
  }
  lump.volts(index_of_[circuit_.leads[lump.closed.front()].node], 2) = 1;
  [[maybe_unused]] const bool solved = lump.solver->factorize(held);
  assert(solved);
  lump.solver->solve(lump.volts);
}

/// What of a lump is the same as long as the setting holds.
void Bench::prepare_lump(Lump& lump) {
  if (lump.mixed) {
    solve_lump(lump);
  }
  lump.hold_siemens = lump.source_ampere = lump.sink_siemens = 0;
  lump.to_bus = {};
  for (const std::size_t channel : lump.closed) {
    const FrontEnd& front = front_[channel];
    const double contact = contact_siemens(channel);
    const double all = contact + front.force + front.load;
    const double siemens = front.force * contact / all;
    lump.hold_siemens += (front.force + front.load) * contact / all;
    if (!front.sunk) {
      lump.source_ampere += siemens * front.bus_volt;
      continue;
    }
    const int row = index_of_[circuit_.leads[channel].node];
    lump.sink_siemens += siemens;
    lump.to_bus.ampere += lump.mixed ? siemens * lump.volts(row, 0) : 0;
    lump.to_bus.siemens += front.force * (front.load + contact) / all -
                           (lump.mixed ? siemens * lump.volts(row, 1) : 0);
    lump.to_bus.moving += siemens * (lump.mixed ? lump.volts(row, 2) : 1);
  }
  lump.ready = true;
}

/// Brings a lump to the present time.
void Bench::follow_lump(int number) {
  Lump& lump = *lumps_[number];
  if (!lump.ready) {
    prepare_lump(lump);
  }
  lump.volt = transient_->volt(number);
  lump.elsewhere = lump.hold_siemens * lump.volt - lump.source_ampere -
                   lump.sink_siemens * transient_->bus_volt();
}

/// With the sink bus at 0 V, and what each volt of it adds.
std::pair<double, double> Bench::lump_volt(int number, int node) const {
  const Lump& lump = *lumps_[number];
  if (!lump.mixed || !lump.held) {
    return {transient_->volt(number), 0};
  }
  const auto volts = lump.volts.row(index_of_[node]);
  return {volts[0] + lump.elsewhere * volts[2], volts[1]};
}

/// Mains pick-up at this setting; in all of the circuit, since it comes into every lead.
void Bench::find_hum() {
  const int bus = coppers_;
  const auto copper = [&](int node) { return node == kNoNode ? kNoNode : copper_of_[node]; };
  if (!hum_) {
    hum_ = std::make_unique<Hum>(bus, circuit_.electronics);
  }
  hum_->begin();
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (std::isfinite(resistor.ohm)) {
      const bool closed = !transient_ || transient_->closed(resistor);
      hum_->add(copper(resistor.a), copper(resistor.b), closed ? 1 / resistor.ohm : 0);
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    hum_->add(copper(source.a), copper(source.b), 1 / source.ohm);
  }
  for (const Circuit::Capacitor& one : circuit_.capacitors) {
    hum_->add(copper(one.a), copper(one.b), 0, one.farad);
  }
  for (const Circuit::Junction& one : circuit_.junctions) {
    const auto at = [&](int node) { return node == kNoNode ? 0 : node_volt(node); };
    const double volt = at(one.anode) - at(one.cathode);
    constexpr double kSlopeVolt = 1e-3;
    hum_->add(copper(one.anode), copper(one.cathode),
              (Transient::junction_current(one, volt + kSlopeVolt) -
               Transient::junction_current(one, volt)) /
                  kSlopeVolt);
  }
  hum_->add(bus, kNoNode, 1 / reference_ohm_);
  for (std::size_t channel = 0; channel < front_.size(); ++channel) {
    const double contact = contact_siemens(channel);
    if (contact == 0) {
      continue;
    }
    const int node = copper_of_[circuit_.leads[channel].node];
    const FrontEnd& front = front_[channel];
    const double share = contact / (contact + front.force + front.load);
    hum_->lead_on(node);
    hum_->add(node, bus, front.sunk ? front.force * share : 0);
    hum_->add(node, kNoNode, (front.load + (front.sunk ? 0 : front.force)) * share);
  }
  hum_->solve();
  hum_known_ = true;
}

}  // namespace padwalk::simulated
