// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/bench.hpp"

#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>

namespace padwalk::simulated {

namespace {

using Matrix = Eigen::SparseMatrix<double>;

/// A lead lies on its pad with at least so much; keeps conductances finite.
constexpr double kLeastContactOhm = 1e-6;
/// Holds a component that nothing else holds.
constexpr double kFloatingSiemens = 1e-12;

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

/// Nodes that resistors or sources join, with what the present setting does to them.
struct Bench::Component {
  std::vector<int> nodes;
  std::vector<const Circuit::Resistor*> resistors;
  std::vector<const Circuit::Source*> sources;
  std::vector<std::size_t> closed;  // channels on it that something holds
  bool touched = false;
  Potential potential = Potential::none;
  Eigen::MatrixX2d volts;  // columns: with the sink bus at 0 V; what each volt of it adds
  Matrix conductance;      // lower half, without the instrument
  Matrix held;             // the same with the instrument
  std::unique_ptr<Eigen::SimplicialLDLT<Matrix>> solver;  // analysed once
};

Bench::Bench(Circuit circuit) : circuit_(std::move(circuit)), front_(circuit_.leads.size()) {
  for ([[maybe_unused]] const Circuit::Lead& lead : circuit_.leads) {
    assert(lead.node >= kNoNode && lead.node < circuit_.nodes);
  }
  label_components();
}

Bench::~Bench() = default;

void Bench::label_components() {
  std::vector<int> parent(static_cast<std::size_t>(circuit_.nodes));
  std::iota(parent.begin(), parent.end(), 0);
  const auto joins = [](const Circuit::Resistor& resistor) {
    assert(resistor.ohm > 0);
    return resistor.a != resistor.b && std::isfinite(resistor.ohm);
  };
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (joins(resistor)) {
      parent[find(parent, resistor.a)] = find(parent, resistor.b);
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    assert(source.ohm > 0);
    if (source.b != kNoNode) {
      parent[find(parent, source.a)] = find(parent, source.b);
    }
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
  for (const Circuit::Resistor& resistor : circuit_.resistors) {
    if (joins(resistor)) {
      components_[component_of_[resistor.a]]->resistors.push_back(&resistor);
    }
  }
  for (const Circuit::Source& source : circuit_.sources) {
    Component& component = *components_[component_of_[source.a]];
    if (component.sources.empty()) {
      with_sources_.push_back(component_of_[source.a]);
    }
    component.sources.push_back(&source);
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
  closed_.clear();
  touched_.clear();
  source_volt_ = wire::kLevelMillivolt[static_cast<std::size_t>(setting.level)] * 1e-3;
  close_switches(setting);
  for (const int number : with_sources_) {
    touch(number);
  }
  for (const int number : touched_) {
    solve(*components_[number]);
  }
  // The sink bus is where the current from all sunk leads and that of the reference agree.
  double ampere = 0;            // into the bus while it is at 0 V
  double siemens_to_loads = 0;  // by how much less for each volt of it
  for (const std::size_t channel : closed_) {
    const FrontEnd& front = front_[channel];
    const int node = circuit_.leads[channel].node;
    if (!front.sunk) {
      continue;
    }
    const double contact = contact_siemens(channel);
    const double all = front.force + front.load + contact;
    if (contact == 0) {
      siemens_to_loads += front.force * front.load / all;
      continue;
    }
    const Component& component = *components_[component_of_[node]];
    if (component.potential == Potential::solved) {
      const auto volts = component.volts.row(index_of_[node]);
      ampere += front.force * contact * volts[0] / all;
      siemens_to_loads += front.force * (front.load + contact * (1 - volts[1])) / all;
    }
  }
  const double reference = wire::kRanges[setting.range - 1].reference_ohm;
  bus_volt_ = ampere / (1 / reference + siemens_to_loads);
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
        front.force = 1 / (kForcePathOhm + kSwitchOhm);
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
             : 1 / std::max(lead.contact_ohm, kLeastContactOhm);
}

double Bench::node_volt(int node) const {
  const Component& component = *components_[component_of_[node]];
  switch (component.potential) {
    case Potential::none:
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

double Bench::lead_volt(std::uint16_t channel) const {
  const FrontEnd& front = front_[channel - 1];
  const double contact = contact_siemens(channel - 1);
  const double all = front.force + front.load + contact;
  if (all == 0) {
    return 0;
  }
  const double bus = front.sunk ? bus_volt_ : front.bus_volt;
  const double node = contact > 0 ? contact * node_volt(circuit_.leads[channel - 1].node) : 0;
  return (front.force * bus + node) / all;
}

}  // namespace padwalk::simulated
