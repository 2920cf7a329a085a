// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>

#include "firmware-host/simulated/bench_state.hpp"

namespace padwalk::simulated {

namespace {

/// A lead lies on its pad with at least so much; keeps conductances finite.
constexpr double kLeastContactOhm = 1e-6;
/// The front end's clamps, behind the force path, hold a lead to this.
constexpr double kRailVolt = 5.5;

double load_siemens(wire::Load load) {
  switch (load) {
    case wire::Load::none:
      return 0;
    case wire::Load::ohm_1m:
      return 1e-6;
    case wire::Load::ohm_47k:
      return 1.0 / 47e3;
  }
  return 0;
}

}  // namespace

Bench::Bench(Circuit circuit, std::uint32_t seating)
    : circuit_(std::move(circuit)), front_(circuit_.leads.size()) {
  const double input_ohm = circuit_.electronics.input_ohm;
  for (const Circuit::Lead& lead : circuit_.leads) {
    assert(lead.node >= kNoNode && lead.node < circuit_.nodes);
    if (lead.node == kNoNode) {
      continue;
    }
    if (circuit_.electronics.lead_farad > 0) {
      circuit_.capacitors.push_back({lead.node, kNoNode, circuit_.electronics.lead_farad});
    }
    if (std::isfinite(input_ohm)) {
      circuit_.resistors.push_back({lead.node, kNoNode, input_ohm});
    }
  }
  // A resistor to the instrument's 0 V is a source of none.
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if ((resistor.a == kNoNode) != (resistor.b == kNoNode) && std::isfinite(resistor.ohm)) {
      circuit_.sources.push_back({std::max(resistor.a, resistor.b), kNoNode, 0, resistor.ohm});
    }
  }
  std::erase_if(circuit_.resistors, [](const Circuit::Resistor& resistor) {
    return resistor.a == kNoNode || resistor.b == kNoNode;
  });
  draw_spreads(seating);
  label_components();
  label_copper();
  make_transient();
}

Bench::~Bench() = default;

void Bench::draw_spreads(std::uint32_t seating) {
  std::mt19937 of_tester(circuit_.random);
  std::mt19937 of_contacts(circuit_.random + 7919 * (seating + 1));
  std::normal_distribution<double> spread;
  std::uniform_real_distribution<double> share(0, 1);
  for (const Circuit::Lead& lead : circuit_.leads) {
    switch_ohm_.push_back(kForcePathOhm + std::max(0.0, circuit_.electronics.switch_ohm +
                                                            circuit_.electronics.switch_spread_ohm *
                                                                spread(of_tester)));
    leak_ampere_.push_back(circuit_.electronics.leak_ampere * share(of_tester));
    contact_ohm_.push_back(lead.contact_ohm +
                           circuit_.lead_spread_ohm * std::abs(spread(of_contacts)));
  }
}

void Bench::label_components() {
  std::vector<int> parent(static_cast<std::size_t>(circuit_.nodes));
  std::iota(parent.begin(), parent.end(), 0);
  const auto join = [&](int a, int b) {
    if (a != kNoNode && b != kNoNode) {
      parent[find(parent, a)] = find(parent, b);
    }
  };
  const auto conducts = [](const Circuit::Resistor& resistor) {
    assert(resistor.ohm > 0);
    return resistor.a != resistor.b && std::isfinite(resistor.ohm);
  };
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (conducts(resistor)) {
      join(resistor.a, resistor.b);
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    assert(source.ohm > 0);
    join(source.a, source.b);
  }
  for (const Circuit::Capacitor& one : circuit_.capacitors) {
    join(one.a, one.b);
  }
  for (const Circuit::Junction& one : circuit_.junctions) {
    join(one.anode, one.cathode);
  }
  component_of_.assign(parent.size(), kNoNode);
  index_of_.resize(parent.size());
  std::vector<int> label(parent.size(), kNoNode);
  for (int node = 0; node < circuit_.nodes; ++node) {
    int& number = label[find(parent, node)];
    if (number == kNoNode) {
      number = static_cast<int>(components_.size());
      components_.push_back(std::make_unique<Component>());
    }
    Component& component = *components_[number];
    component_of_[node] = number;
    index_of_[node] = static_cast<int>(component.nodes.size());
    component.nodes.push_back(node);
  }
  const auto component_at = [&](int a, int b) -> Component& {
    return *components_[component_of_[a == kNoNode ? b : a]];
  };
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (conducts(resistor)) {
      component_at(resistor.a, resistor.b).resistors.push_back(&resistor);
      component_at(resistor.a, resistor.b).moves |= resistor.every_s > 0;
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    component_at(source.a, source.b).sources.push_back(&source);
    component_at(source.a, source.b).moves |= source.hertz > 0;
  }
  for (const Circuit::Capacitor& one : circuit_.capacitors) {
    component_at(one.a, one.b).moves = true;
  }
  for (const Circuit::Junction& one : circuit_.junctions) {
    component_at(one.anode, one.cathode).moves = true;
  }
  for (std::size_t number = 0; number < components_.size(); ++number) {
    if (!components_[number]->sources.empty() && !components_[number]->moves) {
      with_sources_.push_back(static_cast<int>(number));
    }
  }
}

void Bench::assemble(Component& component) {
  std::vector<Eigen::Triplet<double>> entries;
  const auto add = [&](int a, int b, double siemens) {
    const int row = index_of_[a];
    entries.emplace_back(row, row, siemens);
    if (b != kNoNode) {
      const int column = index_of_[b];
      entries.emplace_back(column, column, siemens);
      entries.emplace_back(std::max(row, column), std::min(row, column), -siemens);
    }
  };
  const int size = static_cast<int>(component.nodes.size());
  for (int row = 0; row < size; ++row) {
    entries.emplace_back(row, row, 0.0);  // the diagonal is there even where nothing else is
  }
  for (const Circuit::Resistor* resistor : component.resistors) {
    add(resistor->a, resistor->b, 1 / resistor->ohm);
  }
  for (const Circuit::Source* source : component.sources) {
    if (source->b != source->a) {
      add(source->a, source->b, 1 / source->ohm);
    }
  }
  component.conductance.resize(size, size);
  component.conductance.setFromTriplets(entries.begin(), entries.end());
  component.solver = std::make_unique<Factorization>();
  component.solver->analyze(component.conductance);
}

void Bench::apply(const core::Setting& setting) {
  for (const std::size_t channel : closed_) {
    front_[channel] = FrontEnd();
  }
  for (const int number : touched_) {
    Component& component = *components_[number];
    component.touched = false;
    component.potential = Potential::none;
    component.closed.clear();
  }
  for (const int number : held_lumps_) {
    lumps_[number]->held = false;
    lumps_[number]->closed.clear();
  }
  closed_.clear();
  touched_.clear();
  held_lumps_.clear();
  source_volt_ = wire::kLevelMillivolt[static_cast<std::size_t>(setting.level)] * 1e-3;
  const std::size_t range = setting.range - 1u;
  reference_ohm_ =
      wire::kRanges[range].reference_ohm * (1 + circuit_.electronics.reference_error[range]);
  close_switches(setting);
  for (const int number : with_sources_) {
    touch(number);
  }
  for (const int number : touched_) {
    if (components_[number]->moves) {
      components_[number]->potential = Potential::moving;
    } else {
      solve(*components_[number]);
    }
  }
  // The sink bus is where the current from all sunk leads and that of the reference agree.
  steady_ampere_ = 0;   // into the bus while it is at 0 V
  steady_siemens_ = 0;  // by how much less for each volt of it
  for (const std::size_t channel : closed_) {
    const FrontEnd& front = front_[channel];
    if (!front.sunk) {
      continue;
    }
    const double contact = contact_siemens(channel);
    const double all = front.force + front.load + contact;
    if (contact == 0) {
      steady_siemens_ += front.force * front.load / all;
      continue;
    }
    const int node = circuit_.leads[channel].node;
    const Component& component = *components_[component_of_[node]];
    if (component.potential == Potential::solved) {
      const auto volts = component.volts.row(index_of_[node]);
      steady_ampere_ += front.force * contact * volts[0] / all;
      steady_siemens_ += front.force * (front.load + contact * (1 - volts[1])) / all;
    }
  }
  if (transient_) {
    hold_transient();
  }
  hum_known_ = false;
  leak_known_until_ = 0;
  fresh_ = false;
}

void Bench::advance(double seconds) {
  now_ += seconds;
  if (transient_ && !transient_->at_rest()) {
    transient_->advance(seconds);
    fresh_ = false;
  } else if (transient_) {
    transient_->advance(seconds);
  }
}

bool Bench::at_rest() const {
  return !transient_ || transient_->at_rest();
}

void Bench::refresh() {
  if (fresh_) {
    return;
  }
  double ampere = steady_ampere_;
  double siemens = 1 / reference_ohm_ + steady_siemens_;
  for (const int number : held_lumps_) {
    follow_lump(number);
    const Lump& lump = *lumps_[number];
    ampere += lump.to_bus.ampere + lump.to_bus.moving * (lump.mixed ? lump.elsewhere : lump.volt);
    siemens += lump.to_bus.siemens;
  }
  bus_volt_ = ampere / siemens;
  if (circuit_.electronics.hum_volt > 0) {
    const std::uint64_t closed = transient_ ? transient_->closed_now() : 0;
    if (!hum_known_ || closed != hum_closed_) {
      hum_closed_ = closed;
      find_hum();
    }
  }
  fresh_ = true;
}

/// Open switches of the sink bus let through up to their leakage where a channel has a voltage: of
/// the leads that nothing holds, all on one piece of copper together.
double Bench::leaked_ampere() {
  const auto share = [](double volt) {
    constexpr double kFullVolt = 0.1;
    return std::clamp(volt / kFullVolt, -1.0, 1.0);
  };
  double ampere = 0;
  for (const auto& [node, leak_ampere] : leaks_) {
    ampere += leak_ampere * share(node_volt(node));
  }
  for (const std::size_t channel : closed_) {
    if (contact_siemens(channel) > 0) {
      const int node = leaks_[copper_of_[circuit_.leads[channel].node]].first;
      ampere -= leak_ampere_[channel] * share(node_volt(node));
    }
    if (!front_[channel].sunk) {
      ampere += leak_ampere_[channel] * share(quiet_lead_volt(channel));
    }
  }
  return ampere;
}

void Bench::close_switches(const core::Setting& setting) {
  const std::uint8_t* source = setting.source.bytes();
  const std::uint8_t* sink = setting.sink.bytes();
  const std::uint8_t* loaded = setting.loaded.bytes();
  const double load = load_siemens(setting.load);
  for (std::size_t byte = 0; byte < (front_.size() + 7) / 8; ++byte) {
    if ((source[byte] | sink[byte] | loaded[byte]) == 0) {
      continue;
    }
    for (std::size_t channel = 8 * byte; channel < std::min(8 * byte + 8, front_.size());
         ++channel) {
      const unsigned bit = 1u << (channel % 8);
      FrontEnd front;
      front.sunk = (sink[byte] & bit) != 0;
      if (front.sunk || (source[byte] & bit) != 0) {
        front.force = 1 / switch_ohm_[channel];
        front.bus_volt = front.sunk ? 0 : source_volt_;
      }
      front.load = (loaded[byte] & bit) != 0 ? load : 0;
      if (front.force + front.load == 0) {
        continue;
      }
      front_[channel] = front;
      closed_.push_back(channel);
      if (contact_siemens(channel) > 0) {
        const int number = component_of_[circuit_.leads[channel].node];
        touch(number);
        components_[number]->closed.push_back(channel);
      }
    }
  }
}

void Bench::touch(int number) {
  Component& component = *components_[number];
  if (!component.touched) {
    component.touched = true;
    touched_.push_back(number);
  }
}

void Bench::solve(Component& component) {
  // Where all that holds it is at one potential, so is every node, and nothing flows.
  bool source = false;
  bool sink = false;
  bool load = false;
  for (const std::size_t channel : component.closed) {
    const FrontEnd& front = front_[channel];
    source = source || (front.force > 0 && !front.sunk);
    sink = sink || front.sunk;
    load = load || front.load > 0;
  }
  if (component.sources.empty() && source + sink + load == 1) {
    component.potential = source ? Potential::source : sink ? Potential::sink : Potential::none;
    return;
  }
  if (!component.solver) {
    assemble(component);
  }
  component.potential = Potential::solved;
  component.held = component.conductance;
  component.volts.setZero(static_cast<int>(component.nodes.size()), 2);
  const auto hold = [&](int row, double siemens) {
    // The lower half of a column begins with its diagonal.
    component.held.valuePtr()[component.held.outerIndexPtr()[row]] += siemens;
  };
  for (const std::size_t channel : component.closed) {
    const FrontEnd& front = front_[channel];
    const int row = index_of_[circuit_.leads[channel].node];
    const double contact = contact_siemens(channel);
    const double front_siemens = front.force + front.load;
    const double share = contact / (contact + front_siemens);
    hold(row, front_siemens * share);
    component.volts(row, 0) += front.force * front.bus_volt * share;
    component.volts(row, 1) += front.sunk ? front.force * share : 0;
  }
  bool held = !component.closed.empty();
  for (const Circuit::Source* cell : component.sources) {
    const double ampere = cell->volt / cell->ohm;
    if (cell->b == cell->a) {
      continue;
    }
    component.volts(index_of_[cell->a], 0) += ampere;
    if (cell->b != kNoNode) {
      component.volts(index_of_[cell->b], 0) -= ampere;
    }
    held = held || cell->b == kNoNode;
  }
  if (!held) {
    hold(0, kFloatingSiemens);
  }
  [[maybe_unused]] const bool solved = component.solver->factorize(component.held);
  assert(solved);
  component.solver->solve(component.volts);
}

double Bench::contact_siemens(std::size_t channel) const {
  const Circuit::Lead& lead = circuit_.leads[channel];
  return lead.node == kNoNode || !std::isfinite(lead.contact_ohm)
             ? 0
             : 1 / std::max(contact_ohm_[channel], kLeastContactOhm);
}

double Bench::node_volt(int node) const {
  const Component& component = *components_[component_of_[node]];
  if (component.moves) {
    const auto [volt, share] = lump_volt(lump_of_[node], node);
    return volt + bus_volt_ * share;
  }
  switch (component.potential) {
    case Potential::none:
    case Potential::moving:
      return 0;
    case Potential::source:
      return source_volt_;
    case Potential::sink:
      return bus_volt_;
    case Potential::solved: {
      const auto volts = component.volts.row(index_of_[node]);
      return volts[0] + bus_volt_ * volts[1];
    }
  }
  return 0;
}

/// Without hum.
double Bench::quiet_lead_volt(std::size_t channel) const {
  const FrontEnd& front = front_[channel];
  const double contact = contact_siemens(channel);
  const double all = front.force + front.load + contact;
  if (all == 0) {
    return 0;
  }
  const double bus = front.sunk ? bus_volt_ : front.bus_volt;
  const double node = contact > 0 ? contact * node_volt(circuit_.leads[channel].node) : 0;
  return (front.force * bus + node) / all;
}

double Bench::lead_volt(std::uint16_t channel) {
  refresh();
  double volt = quiet_lead_volt(channel - 1u);
  const double contact = contact_siemens(channel - 1u);
  if (hum_ && contact > 0) {
    const FrontEnd& front = front_[channel - 1u];
    const Hum::Phasor there = contact * hum_->at(copper_of_[circuit_.leads[channel - 1u].node]) +
                              (front.sunk ? front.force * hum_->at(coppers_) : 0);
    volt += hum_->now(there / (contact + front.force + front.load), now_);
  }
  return std::clamp(volt, -kRailVolt, kRailVolt);
}

double Bench::reference_volt() {
  refresh();
  // So little a current need not be followed more closely.
  constexpr double kLeakSeconds = 1e-3;
  if (circuit_.electronics.leak_ampere > 0 && now_ >= leak_known_until_) {
    leaked_ampere_ = leaked_ampere();
    leak_known_until_ = !transient_ || transient_->at_rest()
                            ? std::numeric_limits<double>::infinity()
                            : now_ + std::max(kLeakSeconds, transient_->slowness());
  }
  const double volt = bus_volt_ + leaked_ampere_ * reference_ohm_ +
                      (hum_ ? hum_->now(hum_->at(coppers_), now_) : 0);
  return std::clamp(volt, -kRailVolt, kRailVolt);
}

}  // namespace padwalk::simulated
