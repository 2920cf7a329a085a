// SPDX-License-Identifier: MIT
//
// What the simulated tester is clipped to, solved: a circuit plus the instrument's own switches,
// force paths, loads and reference resistor, for one setting at a time. Direct current only: it
// knows no converter, no noise and no time (bench_hal.hpp does).
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "firmware-host/core/hal.hpp"
#include "firmware-host/simulated/circuit.hpp"

namespace padwalk::simulated {

/// The reference tester's front end. Units: ohm.
inline constexpr double kForcePathOhm = 470;
inline constexpr double kSwitchOhm = 5;

class Bench {
 public:
  /// Shape: resistors may be parallel or loops; ohms are above 0, infinite ones are nothing.
  explicit Bench(Circuit circuit);
  ~Bench();

  /// Puts all switches as `setting` says and solves.
  /// Cost: numeric factorisation of those components alone that two different potentials touch.
  void apply(const core::Setting& setting);

  /// Voltage of a channel's lead, between contact and force path, against the instrument's 0 V; 0
  /// for a lead that nothing holds. Channels count from 1.
  double lead_volt(std::uint16_t channel) const;

  /// Voltage across the reference resistor in the sink leg.
  double reference_volt() const { return bus_volt_; }

  const Circuit& circuit() const { return circuit_; }

 private:
  struct Component;
  enum class Potential : std::uint8_t { none, source, sink, solved };

  /// What holds a channel's lead in this setting. Units: siemens, volt.
  struct FrontEnd {
    double force = 0;     ///< towards its bus
    double load = 0;      ///< towards 0 V
    bool sunk = false;    ///< its bus is the sink bus, whose potential is found last
    double bus_volt = 0;  ///< of the source bus
  };

  void label_components();
  void assemble(Component& component);
  void close_switches(const core::Setting& setting);
  void touch(int component);
  void solve(Component& component);
  double contact_siemens(std::size_t channel) const;
  double node_volt(int node) const;

  Circuit circuit_;
  std::vector<int> component_of_;  // by node
  std::vector<int> index_of_;      // by node: its row in the component
  std::vector<std::unique_ptr<Component>> components_;
  std::vector<int> with_sources_;  // components that a source of the circuit holds
  std::vector<FrontEnd> front_;    // by channel - 1
  std::vector<std::size_t> closed_;
  std::vector<int> touched_;
  double source_volt_ = 0;
  double bus_volt_ = 0;
};

}  // namespace padwalk::simulated
