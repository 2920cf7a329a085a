// SPDX-License-Identifier: MIT
//
// What the simulated tester is clipped to, solved: a circuit plus the instrument's own switches,
// force paths, loads and reference resistor, at the present setting and time. It knows no
// converter and no noise (bench_hal.hpp does).
//
// Parts of the circuit with resistors and steady sources alone are solved at once. What has
// capacitors, junctions or a clock of its own goes to a Transient, its copper contracted; the
// millivolts along that copper are solved afterwards, where current is led in or out.
#pragma once

#include <cstdint>
#include <memory>
#include <utility>
#include <vector>

#include "firmware-host/core/hal.hpp"
#include "firmware-host/simulated/circuit.hpp"

namespace padwalk::simulated {

/// The reference tester's front end. Units: ohm.
inline constexpr double kForcePathOhm = 470;
inline constexpr double kSwitchOhm = 5;

class Hum;
class Transient;

class Bench {
 public:
  /// Shape: resistors may be parallel or loops; ohms are above 0, infinite ones are nothing.
  /// `seating`: which time leads are put on; contacts are drawn anew for each.
  explicit Bench(Circuit circuit, std::uint32_t seating = 0);
  ~Bench();

  /// Puts all switches as `setting` says and solves.
  /// Cost: numeric factorisation of those components alone that two different potentials touch.
  void apply(const core::Setting& setting);

  /// Lets time pass. Cost: nothing where nothing moves.
  void advance(double seconds);
  /// Nothing moves until the next setting, but for hum.
  bool at_rest() const;

  /// Voltage of a channel's lead, between contact and force path, against the instrument's 0 V; 0
  /// for a lead that nothing holds. Channels count from 1.
  double lead_volt(std::uint16_t channel);

  /// Voltage across the reference resistor in the sink leg.
  double reference_volt();

  const Circuit& circuit() const { return circuit_; }

 private:
  struct Component;
  struct Lump;
  enum class Potential : std::uint8_t { none, source, sink, solved, moving };

  /// What holds a channel's lead in this setting. Units: siemens, volt.
  struct FrontEnd {
    double force = 0;     ///< towards its bus
    double load = 0;      ///< towards 0 V
    bool sunk = false;    ///< its bus is the sink bus, whose potential is found last
    double bus_volt = 0;  ///< of the source bus
  };

  void draw_spreads(std::uint32_t seating);
  void label_components();
  void label_copper();
  void make_transient();
  void assemble(Component& component);
  void close_switches(const core::Setting& setting);
  void touch(int component);
  void solve(Component& component);
  void hold_transient();
  /// Brings all voltages to the present time.
  void refresh();
  void solve_lump(Lump& lump);
  void prepare_lump(Lump& lump);
  void follow_lump(int number);
  std::pair<double, double> lump_volt(int number, int node) const;
  double leaked_ampere();
  void find_hum();
  double contact_siemens(std::size_t channel) const;
  double node_volt(int node) const;
  double quiet_lead_volt(std::size_t channel) const;

  Circuit circuit_;
  std::vector<double> contact_ohm_;  // by channel - 1, and the next two
  std::vector<double> switch_ohm_;
  std::vector<double> leak_ampere_;
  std::vector<int> component_of_;  // by node
  std::vector<int> index_of_;      // by node: its row in the component or the lump
  std::vector<std::unique_ptr<Component>> components_;
  std::vector<int> with_sources_;  // components that a source of the circuit holds
  std::vector<FrontEnd> front_;    // by channel - 1
  std::vector<std::size_t> closed_;
  std::vector<int> touched_;
  double source_volt_ = 0;
  double reference_ohm_ = 100;
  double bus_volt_ = 0;
  double steady_ampere_ = 0;  // into the bus at 0 V from what does not move, and for each volt less
  double steady_siemens_ = 0;
  double leak_known_until_ = 0;  ///< leaked_ampere_, of this setting
  double leaked_ampere_ = 0;
  bool fresh_ = false;
  std::vector<int> copper_of_;  // by node: its piece of copper
  int coppers_ = 0;
  std::vector<std::pair<int, double>> leaks_;  // by copper: a node, ampere of all leads on it
  std::unique_ptr<Transient> transient_;
  std::vector<int> lump_of_;  // by node; kNoNode where nothing moves
  std::vector<std::unique_ptr<Lump>> lumps_;
  std::vector<int> held_lumps_;
  std::unique_ptr<Hum> hum_;
  bool hum_known_ = false;        ///< for the present setting
  std::uint64_t hum_closed_ = 0;  ///< and with this closed, see Transient::closed_now()
  double now_ = 0;
};

}  // namespace padwalk::simulated
