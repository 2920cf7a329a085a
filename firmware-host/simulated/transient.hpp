// SPDX-License-Identifier: MIT
//
// A circuit over time: capacitors fill, junctions conduct, contacts open and close by the clock.
// It knows nodes that something outside holds, and the sink bus as one more node; no channels, no
// converter. Copper of a few ohms is contracted before (bench.hpp), so nodes are few.
//
// Variable-step BDF2, which starts as backward Euler after every switching: second order and stable
// for any step, so that time constants from nanoseconds to minutes may live side by side. Junctions
// by Newton's method with the usual limit on their steps.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "firmware-host/simulated/circuit.hpp"
#include "firmware-host/simulated/factorization.hpp"

namespace padwalk::simulated {

class Transient {
 public:
  /// Nodes, resistors, capacitors, junctions and sources of `network`; its leads are not looked at.
  /// `held`: nodes that hold() may ever name.
  Transient(Circuit network, const std::vector<int>& held);

  /// What a lead does to its node: towards fixed potentials and towards the sink bus.
  /// Units: siemens; ampere into the node.
  struct Hold {
    int node = 0;
    double siemens = 0;  ///< to all potentials together
    double ampere = 0;   ///< from those that are fixed
    double bus = 0;      ///< of it: to the sink bus
    friend bool operator==(const Hold&, const Hold&) = default;
  };
  /// What hangs on the sink bus besides the nodes here. Units: siemens, ampere into it.
  struct Bus {
    double siemens = 1;
    double ampere = 0;
    friend bool operator==(const Bus&, const Bus&) = default;
  };
  /// From the present time on. Cost: nothing where that is as before.
  void hold(std::span<const Hold> holds, Bus bus);

  /// Cost: nothing at rest; else some dozen factorisations until it is.
  void advance(double seconds);

  /// At the present time. Units: volt.
  double volt(int node) const;
  double bus_volt() const { return volt(network_.nodes); }

  bool at_rest() const { return rest_; }
  /// How long what is slow takes at least to change by an eighth. Units: s.
  double slowness() const { return timed_ ? 0 : (now_ - began_) / 8; }
  /// Units: second.
  double now() const { return now_; }
  bool closed(const Circuit::Resistor& resistor) const { return closed_at(resistor, now_); }
  /// Which of those that open and close are closed now, the first 64 of them, as bits.
  std::uint64_t closed_now() const;

  static double junction_current(const Circuit::Junction& junction, double volt);

 private:
  static bool closed_at(const Circuit::Resistor& resistor, double time);
  double until_toggle(double time) const;
  double volt_at(const Eigen::VectorXd& x, int node) const { return node < 0 ? 0 : x[node]; }
  void build_pattern(const std::vector<int>& held);
  void build_base();
  /// Where a two-ended part stands in the values of the matrix; kNoNode: nowhere.
  struct Slots {
    int a = kNoNode;
    int b = kNoNode;
    int both = kNoNode;
  };
  Slots slots(int a, int b) const;
  static void add(std::vector<double>& values, const Slots& slots, double siemens);
  std::size_t slot(int row, int column) const;
  /// Solves for the end of a step; `x`: a guess, then the solution. `a0`, `history`: of dv/dt = a0
  /// v + history, by capacitor; no capacitors at all for `a0` = 0. False: Newton's method does not
  /// converge.
  bool solve(double time, double a0, std::span<const double> history, Eigen::VectorXd& x);
  void begin();
  void step();
  void try_rest();

  Circuit network_;
  bool timed_ = false;                        ///< it changes by the clock alone
  std::vector<Circuit::Resistor> switching_;  ///< of its resistors, those that open and close
  double fastest_hertz_ = 0;
  Matrix matrix_;
  Factorization solver_;
  std::vector<Slots> capacitor_slots_, junction_slots_;
  std::vector<double> base_;
  std::vector<Hold> holds_;
  Bus bus_;
  Eigen::VectorXd base_ampere_;

  double now_ = 0;
  bool rest_ = false;
  double from_ = 0, to_ = 0;  // the last step
  Eigen::VectorXd x_from_, x_to_;
  std::vector<double> across_from_, across_to_;  // of each capacitor
  double next_step_ = 0;
  double began_ = 0, next_look_ = 0;  ///< since the last switching; when to look whether it rests
  bool fresh_ = true;                 ///< the next step is the first after a switching
};

}  // namespace padwalk::simulated
