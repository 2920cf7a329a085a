// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/transient.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <utility>

namespace padwalk::simulated {

namespace {

constexpr double kThermalVolt = 0.025864186;  // at 27 C
constexpr double kLeastSiemens = 1e-12;       // of every node and every junction
constexpr double kFirstStep = 1e-6;
constexpr double kLargestStep = 100;
/// At rest: a step of so long moves nothing by more.
constexpr double kRestStep = 100;
constexpr double kRestVolt = 2e-6;
/// A step that moves less is worth the question.
constexpr double kPerhapsVolt = 1e-4;
/// How far a capacitor may be from a straight line: the error of a step is a small part of it.
constexpr double kBendVolt = 1e-3;
constexpr double kBendShare = 5e-3;
constexpr int kNewtonSteps = 100;
/// A last step of Newton's method so long leaves its square by twice the thermal voltage.
constexpr double kNewtonVolt = 2e-4;
constexpr double kStepsOfSine = 40;

double scale(const Circuit::Junction& junction) {
  return junction.emission * kThermalVolt;
}

/// Above, the exponential is steep beside all else here.
double critical_volt(const Circuit::Junction& junction) {
  const double vt = scale(junction);
  return vt * std::log(vt / (std::sqrt(2.0) * junction.saturation_ampere));
}

/// Newton's step on a junction, held to what the exponential bears.
double limited(const Circuit::Junction& junction, double volt, double before) {
  constexpr double kAlwaysBelow = 0.2;  // no junction worth the name bends so early
  if (volt < kAlwaysBelow) {
    return volt;
  }
  const double vt = scale(junction);
  const double critical = critical_volt(junction);
  if (volt > critical && std::abs(volt - before) > 2 * vt) {
    if (before > 0) {
      const double arg = 1 + (volt - before) / vt;
      return arg > 0 ? before + vt * std::log(arg) : critical;
    }
    return vt * std::log(volt / vt);
  }
  return volt;
}

}  // namespace

double Transient::junction_current(const Circuit::Junction& junction, double volt) {
  return junction.saturation_ampere * std::expm1(std::min(volt / scale(junction), 80.0)) +
         kLeastSiemens * volt;
}

Transient::Transient(Circuit network, const std::vector<int>& held) : network_(std::move(network)) {
  for (const Circuit::Resistor& resistor : network_.resistors) {
    if (resistor.every_s > 0) {
      timed_ = true;
      switching_.push_back(resistor);
    }
  }
  for (const Circuit::Source& source : network_.sources) {
    timed_ = timed_ || source.hertz > 0;
    fastest_hertz_ = std::max(fastest_hertz_, source.hertz);
  }
  build_pattern(held);
  const Eigen::Index size = network_.nodes + 1;
  x_from_ = x_to_ = Eigen::VectorXd::Zero(size);
  base_ampere_ = Eigen::VectorXd::Zero(size);
  hold({}, {});
}

void Transient::build_pattern(const std::vector<int>& held) {
  std::vector<Eigen::Triplet<double>> entries;
  const int size = network_.nodes + 1;
  const auto pair = [&](int a, int b) {
    if (a >= 0 && b >= 0 && a != b) {
      entries.emplace_back(std::max(a, b), std::min(a, b), 0.0);
    }
  };
  for (int node = 0; node < size; ++node) {
    entries.emplace_back(node, node, 0.0);
  }
  for (const auto& one : network_.resistors) {
    pair(one.a, one.b);
  }
  for (const auto& one : network_.capacitors) {
    pair(one.a, one.b);
  }
  for (const auto& one : network_.junctions) {
    pair(one.anode, one.cathode);
  }
  for (const auto& one : network_.sources) {
    pair(one.a, one.b);
  }
  for (const int node : held) {
    pair(node, network_.nodes);
  }
  matrix_.resize(size, size);
  matrix_.setFromTriplets(entries.begin(), entries.end());
  matrix_.makeCompressed();
  solver_.analyze(matrix_);
  for (const auto& one : network_.capacitors) {
    capacitor_slots_.push_back(slots(one.a, one.b));
  }
  for (const auto& one : network_.junctions) {
    junction_slots_.push_back(slots(one.anode, one.cathode));
  }
}

std::size_t Transient::slot(int row, int column) const {
  const int* begin = matrix_.innerIndexPtr() + matrix_.outerIndexPtr()[column];
  const int* end = matrix_.innerIndexPtr() + matrix_.outerIndexPtr()[column + 1];
  return static_cast<std::size_t>(std::lower_bound(begin, end, row) - matrix_.innerIndexPtr());
}

Transient::Slots Transient::slots(int a, int b) const {
  Slots slots;
  if (a != b) {
    slots.a = a >= 0 ? static_cast<int>(slot(a, a)) : kNoNode;
    slots.b = b >= 0 ? static_cast<int>(slot(b, b)) : kNoNode;
    slots.both =
        a >= 0 && b >= 0 ? static_cast<int>(slot(std::max(a, b), std::min(a, b))) : kNoNode;
  }
  return slots;
}

void Transient::add(std::vector<double>& values, const Slots& slots, double siemens) {
  const auto at = [&](int slot) -> double& { return values[static_cast<std::size_t>(slot)]; };
  if (slots.a >= 0) {
    at(slots.a) += siemens;
  }
  if (slots.b >= 0) {
    at(slots.b) += siemens;
  }
  if (slots.both >= 0) {
    at(slots.both) -= siemens;
  }
}

/// All that does not depend on the step or the junctions.
void Transient::build_base() {
  base_.assign(static_cast<std::size_t>(matrix_.nonZeros()), 0.0);
  base_ampere_.setZero();
  const int bus = network_.nodes;
  for (int node = 0; node < bus; ++node) {
    base_[slot(node, node)] += kLeastSiemens;
  }
  for (const Circuit::Resistor& resistor : network_.resistors) {
    if (std::isfinite(resistor.ohm) && closed_at(resistor, to_)) {
      add(base_, slots(resistor.a, resistor.b), 1 / resistor.ohm);
    }
  }
  for (const Circuit::Source& source : network_.sources) {
    add(base_, slots(source.a, source.b), 1 / source.ohm);
  }
  for (const Hold& hold : holds_) {
    base_[slot(hold.node, hold.node)] += hold.siemens;
    base_ampere_[hold.node] += hold.ampere;
    if (hold.bus > 0) {
      base_[slot(bus, hold.node)] -= hold.bus;
    }
  }
  base_[slot(bus, bus)] += bus_.siemens;
  base_ampere_[bus] += bus_.ampere;
}

namespace {

constexpr double kBoundarySeconds = 1e-9;

/// Where in its period it is; a little on, so that a boundary belongs to what follows it.
double phase_of(const Circuit::Resistor& resistor, double time) {
  return std::fmod(time + kBoundarySeconds, resistor.every_s);
}

}  // namespace

bool Transient::closed_at(const Circuit::Resistor& resistor, double time) {
  if (resistor.every_s <= 0) {
    return true;
  }
  const double phase = phase_of(resistor, time);
  return resistor.open_s < 0 ? phase < -resistor.open_s : phase >= resistor.open_s;
}

std::uint64_t Transient::closed_now() const {
  std::uint64_t bits = 0;
  for (std::size_t i = 0; i < std::min<std::size_t>(switching_.size(), 64); ++i) {
    bits |= closed(switching_[i]) ? std::uint64_t{1} << i : 0;
  }
  return bits;
}

double Transient::until_toggle(double time) const {
  double least = std::numeric_limits<double>::infinity();
  for (const Circuit::Resistor& resistor : network_.resistors) {
    if (resistor.every_s > 0) {
      const double phase = phase_of(resistor, time);
      const double first = std::abs(resistor.open_s);
      least = std::min(least, (phase < first ? first : resistor.every_s) - phase);
    }
  }
  // A remainder smaller than what the clock can count would never be over.
  return std::max(least, kBoundarySeconds);
}

bool Transient::solve(double time, double a0, std::span<const double> history, Eigen::VectorXd& x) {
  std::vector<double> values;
  std::vector<double> junction_volt(network_.junctions.size());
  for (std::size_t i = 0; i < junction_volt.size(); ++i) {
    const auto& junction = network_.junctions[i];
    junction_volt[i] = std::min(volt_at(x, junction.anode) - volt_at(x, junction.cathode),
                                critical_volt(junction));
  }
  for (int round = 0; round < kNewtonSteps; ++round) {
    values = base_;
    Eigen::VectorXd ampere = base_ampere_;
    const auto inject = [&](int from, int to, double current) {
      if (from >= 0) {
        ampere[from] -= current;
      }
      if (to >= 0) {
        ampere[to] += current;
      }
    };
    for (const Circuit::Source& source : network_.sources) {
      const double volt =
          source.hertz > 0 ? source.volt * std::sin(2 * M_PI * source.hertz * time) : source.volt;
      inject(source.b, source.a, volt / source.ohm);
    }
    for (std::size_t i = 0; a0 > 0 && i < network_.capacitors.size(); ++i) {
      const Circuit::Capacitor& one = network_.capacitors[i];
      add(values, capacitor_slots_[i], one.farad * a0);
      inject(one.a, one.b, one.farad * history[i]);
    }
    for (std::size_t i = 0; i < junction_volt.size(); ++i) {
      const Circuit::Junction& one = network_.junctions[i];
      const double volt = junction_volt[i];
      const double over = std::expm1(std::min(volt / scale(one), 80.0));
      const double siemens = one.saturation_ampere / scale(one) * (over + 1) + kLeastSiemens;
      add(values, junction_slots_[i], siemens);
      inject(one.anode, one.cathode,
             one.saturation_ampere * over + kLeastSiemens * volt - siemens * volt);
    }
    std::copy(values.begin(), values.end(), matrix_.valuePtr());
    if (!solver_.factorize(matrix_)) {
      return false;
    }
    solver_.solve(ampere);
    x = ampere;
    bool done = true;
    for (std::size_t i = 0; i < junction_volt.size(); ++i) {
      const Circuit::Junction& one = network_.junctions[i];
      const double wanted = volt_at(x, one.anode) - volt_at(x, one.cathode);
      const double taken = limited(one, wanted, junction_volt[i]);
      done = done && std::abs(wanted - junction_volt[i]) < kNewtonVolt;
      junction_volt[i] = taken;
    }
    if (done) {
      return true;
    }
  }
  return false;
}

void Transient::hold(std::span<const Hold> holds, Bus bus) {
  if (bus == bus_ && std::equal(holds.begin(), holds.end(), holds_.begin(), holds_.end()) &&
      to_ > 0) {
    return;
  }
  holds_.assign(holds.begin(), holds.end());
  bus_ = bus;
  begin();
}

/// Goes on from the present time with what holds now.
void Transient::begin() {
  Eigen::VectorXd x = x_to_;
  if (to_ > from_ && now_ < to_) {
    x = x_from_ + (x_to_ - x_from_) * ((now_ - from_) / (to_ - from_));
  }
  began_ = next_look_ = from_ = to_ = now_;
  x_from_ = x_to_ = std::move(x);
  across_to_.clear();
  for (const Circuit::Capacitor& one : network_.capacitors) {
    across_to_.push_back(volt_at(x_to_, one.a) - volt_at(x_to_, one.b));
  }
  across_from_ = across_to_;
  build_base();
  fresh_ = true;
  next_step_ = kFirstStep;
  rest_ = false;
  if (network_.capacitors.empty() && !timed_) {
    [[maybe_unused]] const bool solved = solve(now_, 0, {}, x_to_);
    x_from_ = x_to_;
    rest_ = true;
  }
}

void Transient::advance(double seconds) {
  now_ += seconds;
  while (!rest_ && to_ < now_) {
    step();
  }
}

/// One step on from `to_`.
void Transient::step() {
  const double toggle = until_toggle(to_);
  double most = std::min(kLargestStep, toggle);
  if (fastest_hertz_ > 0) {
    most = std::min(most, 1 / (kStepsOfSine * fastest_hertz_));
  }
  const std::size_t count = network_.capacitors.size();
  std::vector<double> history(count);
  std::vector<double> across(count);
  for (double h = std::min(next_step_, most);; h /= 4) {
    const double ratio = fresh_ ? 0 : h / (to_ - from_);
    const double a0 = (1 + 2 * ratio) / (1 + ratio) / h;
    const double a1 = -(1 + ratio) / h;
    const double a2 = ratio * ratio / (1 + ratio) / h;
    for (std::size_t i = 0; i < count; ++i) {
      history[i] = a1 * across_to_[i] + a2 * across_from_[i];
    }
    Eigen::VectorXd x = x_to_ + ratio * (x_to_ - x_from_);
    const bool solved = solve(to_ + h, a0, history, x);
    double bend = 0;  // of 1: as much as allowed
    for (std::size_t i = 0; i < count; ++i) {
      across[i] = volt_at(x, network_.capacitors[i].a) - volt_at(x, network_.capacitors[i].b);
      const double straight = across_to_[i] + ratio * (across_to_[i] - across_from_[i]);
      bend = std::max(
          bend, std::abs(across[i] - straight) / (kBendVolt + kBendShare * std::abs(across[i])));
    }
    if ((!solved || bend > 1) && h > kFirstStep) {
      continue;
    }
    if (!solved) {
      x = x_to_;  // nothing better is known
    }
    const double moved = (x - x_to_).cwiseAbs().maxCoeff();
    from_ = to_;
    to_ += h;
    x_from_ = fresh_ ? x : x_to_;  // what no capacitor holds jumps when switches do
    x_to_ = std::move(x);
    across_from_ = std::exchange(across_to_, across);
    next_step_ = h * std::clamp(0.8 / std::sqrt(std::max(bend, 1e-6)), 0.3, 2.2);
    fresh_ = h >= toggle;
    if (fresh_) {
      next_step_ = kFirstStep;
      build_base();
    }
    if (!timed_ && moved < kPerhapsVolt && to_ >= next_look_) {
      try_rest();
      next_look_ = to_ + (to_ - began_);
    }
    return;
  }
}

/// Looks far ahead: where nothing moves any more, no step need be taken.
void Transient::try_rest() {
  const std::size_t count = network_.capacitors.size();
  std::vector<double> history(count);
  for (std::size_t i = 0; i < count; ++i) {
    history[i] = -across_to_[i] / kRestStep;
  }
  Eigen::VectorXd x = x_to_;
  if (!solve(to_ + kRestStep, 1 / kRestStep, history, x)) {
    return;
  }
  double moved = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const Circuit::Capacitor& one = network_.capacitors[i];
    moved = std::max(moved, std::abs(volt_at(x, one.a) - volt_at(x, one.b) - across_to_[i]));
  }
  if (moved < kRestVolt) {
    rest_ = true;
    x_to_ = std::move(x);
  }
}

double Transient::volt(int node) const {
  if (rest_ || now_ >= to_ || to_ == from_) {
    return x_to_[node];
  }
  return x_from_[node] + (x_to_[node] - x_from_[node]) * ((now_ - from_) / (to_ - from_));
}

}  // namespace padwalk::simulated
