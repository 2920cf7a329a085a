// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/bench.hpp"

#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>
#include <numeric>
#include <random>
#include <tuple>

#include "firmware-host/simulated/hum.hpp"
#include "firmware-host/simulated/transient.hpp"

namespace padwalk::simulated {

namespace {

using Matrix = Eigen::SparseMatrix<double>;

/// A lead lies on its pad with at least so much; keeps conductances finite.
constexpr double kLeastContactOhm = 1e-6;
/// Holds a component that nothing else holds.
constexpr double kFloatingSiemens = 1e-12;
/// What is contracted where something moves.
constexpr double kCopperOhm = 2;
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

int find(std::vector<int>& parent, int node) {
  while (parent[node] != node) {
    parent[node] = parent[parent[node]];
    node = parent[node];
  }
  return node;
}

}  // namespace

/// Nodes that anything joins, with what the present setting does to them.
struct Bench::Component {
  std::vector<int> nodes;
  std::vector<const Circuit::Resistor*> resistors;
  std::vector<const Circuit::Source*> sources;
  std::vector<std::size_t> closed;  // channels on it that something holds
  bool touched = false;
  bool moves = false;  // it has capacitors, junctions or a clock
  Potential potential = Potential::none;
  Eigen::MatrixX2d volts;  // columns: with the sink bus at 0 V; what each volt of it adds
  Matrix conductance;      // lower half, without the instrument
  Matrix held;             // the same with the instrument
  std::unique_ptr<Eigen::SimplicialLDLT<Matrix>> solver;  // analysed once
};

/// Nodes of a moving component that copper joins.
struct Bench::Lump {
  std::vector<int> nodes;
  std::vector<const Circuit::Resistor*> copper;
  Matrix copper_siemens;
  std::vector<std::size_t> closed;
  bool held = false;
  bool mixed = false;     ///< held towards more than one potential: current flows along it
  bool factored = false;  ///< for what holds it now
  Eigen::MatrixX2d volts;
  std::unique_ptr<Eigen::SimplicialLDLT<Matrix>> solver;
};

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

/// Contracts the copper of all that moves.
void Bench::make_transient() {
  const auto is_copper = [](const Circuit::Resistor& resistor) {
    return resistor.ohm <= kCopperOhm && resistor.every_s <= 0;
  };
  std::vector<int> parent(static_cast<std::size_t>(circuit_.nodes));
  std::iota(parent.begin(), parent.end(), 0);
  for (const auto& component : components_) {
    for (const Circuit::Resistor* resistor : component->resistors) {
      if (component->moves && is_copper(*resistor)) {
        parent[find(parent, resistor->a)] = find(parent, resistor->b);
      }
    }
  }
  lump_of_.assign(parent.size(), kNoNode);
  std::vector<int> label(parent.size(), kNoNode);
  for (int node = 0; node < circuit_.nodes; ++node) {
    if (!components_[component_of_[node]]->moves) {
      continue;
    }
    int& number = label[find(parent, node)];
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
  component.solver = std::make_unique<Eigen::SimplicialLDLT<Matrix>>();
  component.solver->analyzePattern(component.conductance);
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
  hum_.reset();
  fresh_ = false;
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
    lump.factored = false;
    if (!lump.held) {
      lump.held = true;
      held_lumps_.push_back(number);
    }
  }
  transient_->hold(holds, bus);
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

void Bench::refresh() {
  if (fresh_) {
    return;
  }
  for (const int number : held_lumps_) {
    if (lumps_[number]->mixed) {
      solve_lump(*lumps_[number], transient_->volt(number));
    }
  }
  find_bus();
  if (circuit_.electronics.hum_volt > 0 && !hum_) {
    find_hum();
  }
  fresh_ = true;
  leaked_ampere_ = circuit_.electronics.leak_ampere > 0 ? leaked_ampere() : 0;
}

/// The copper of one lump between its leads. `volt`: what the transient has for it, which tells how
/// much current comes from elsewhere; that is little beside what flows between the leads, and is
/// led in at one of them.
void Bench::solve_lump(Lump& lump, double volt) {
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
    lump.solver = std::make_unique<Eigen::SimplicialLDLT<Matrix>>();
    lump.solver->analyzePattern(lump.copper_siemens);
  }
  const bool factor = !lump.factored;
  Matrix held;
  if (factor) {
    held = lump.copper_siemens;
  }
  lump.volts.setZero(size, 2);
  double elsewhere = 0;  // ampere
  const auto hold = [&](int row, double siemens) {
    if (factor) {
      held.valuePtr()[held.outerIndexPtr()[row]] += siemens;
    }
  };
  for (const std::size_t channel : lump.closed) {
    const FrontEnd& front = front_[channel];
    const int row = index_of_[circuit_.leads[channel].node];
    const double contact = contact_siemens(channel);
    const double share = contact / (contact + front.force + front.load);
    hold(row, (front.force + front.load) * share);
    lump.volts(row, 0) += front.force * front.bus_volt * share;
    lump.volts(row, 1) += front.sunk ? front.force * share : 0;
    const double bus = front.sunk ? transient_->bus_volt() : front.bus_volt;
    elsewhere += share * (front.force * (volt - bus) + front.load * volt);
  }
  lump.volts(index_of_[circuit_.leads[lump.closed.front()].node], 0) += elsewhere;
  if (factor) {
    lump.solver->factorize(held);
    assert(lump.solver->info() == Eigen::Success);
    lump.factored = true;
  }
  lump.volts = lump.solver->solve(lump.volts).eval();
}

/// With the sink bus at 0 V, and what each volt of it adds.
std::pair<double, double> Bench::lump_volt(int number, int node) const {
  const Lump& lump = *lumps_[number];
  if (!lump.mixed || !lump.held) {
    return {transient_->volt(number), 0};
  }
  return {lump.volts(index_of_[node], 0), lump.volts(index_of_[node], 1)};
}

void Bench::find_bus() {
  double ampere = steady_ampere_;
  double siemens = 1 / reference_ohm_ + steady_siemens_;
  for (const int number : held_lumps_) {
    const Lump& lump = *lumps_[number];
    for (const std::size_t channel : lump.closed) {
      const FrontEnd& front = front_[channel];
      if (!front.sunk) {
        continue;
      }
      const double contact = contact_siemens(channel);
      const double all = front.force + front.load + contact;
      const auto [volt, share] = lump_volt(number, circuit_.leads[channel].node);
      ampere += front.force * contact * volt / all;
      siemens += front.force * (front.load + contact * (1 - share)) / all;
    }
  }
  bus_volt_ = ampere / siemens;
}

/// Open switches of the sink bus let through up to their leakage where a channel has a voltage.
double Bench::leaked_ampere() {
  constexpr double kFullVolt = 0.1;
  double ampere = 0;
  for (std::size_t channel = 0; channel < front_.size(); ++channel) {
    if (!front_[channel].sunk) {
      ampere += leak_ampere_[channel] * std::clamp(quiet_lead_volt(channel) / kFullVolt, -1.0, 1.0);
    }
  }
  return ampere;
}

/// Mains pick-up at this setting; all nodes of the circuit, since it comes into every lead.
void Bench::find_hum() {
  const int bus = circuit_.nodes;
  hum_ = std::make_unique<Hum>(bus, circuit_.electronics);
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (std::isfinite(resistor.ohm) && (!transient_ || transient_->closed(resistor))) {
      hum_->add(resistor.a, resistor.b, 1 / resistor.ohm);
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    hum_->add(source.a, source.b, 1 / source.ohm);
  }
  for (const Circuit::Capacitor& one : circuit_.capacitors) {
    hum_->add(one.a, one.b, 0, one.farad);
  }
  for (const Circuit::Junction& one : circuit_.junctions) {
    const auto at = [&](int node) { return node == kNoNode ? 0 : node_volt(node); };
    const double volt = at(one.anode) - at(one.cathode);
    constexpr double kSlopeVolt = 1e-3;
    hum_->add(one.anode, one.cathode,
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
    const int node = circuit_.leads[channel].node;
    const FrontEnd& front = front_[channel];
    const double share = contact / (contact + front.force + front.load);
    hum_->lead_on(node);
    hum_->add(node, front.sunk ? bus : kNoNode, front.force * share);
    hum_->add(node, kNoNode, front.load * share);
  }
  hum_->solve();
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
  component.solver->factorize(component.held);
  assert(component.solver->info() == Eigen::Success);
  component.volts = component.solver->solve(component.volts).eval();
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
    const Hum::Phasor there = contact * hum_->at(circuit_.leads[channel - 1u].node) +
                              (front.sunk ? front.force * hum_->at(circuit_.nodes) : 0);
    volt += hum_->now(there / (contact + front.force + front.load), now_);
  }
  return std::clamp(volt, -kRailVolt, kRailVolt);
}

double Bench::reference_volt() {
  refresh();
  const double volt = bus_volt_ + leaked_ampere_ * reference_ohm_ +
                      (hum_ ? hum_->now(hum_->at(circuit_.nodes), now_) : 0);
  return std::clamp(volt, -kRailVolt, kRailVolt);
}

}  // namespace padwalk::simulated
