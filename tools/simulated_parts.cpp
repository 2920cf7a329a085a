// SPDX-License-Identifier: MIT
#include "tools/simulated_parts.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "graph/part_ohms.hpp"
#include "graph/values.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::NetRole;
using graph::Part;
using graph::PartKind;
using simulated::Circuit;

// All below: common practice, no source.
constexpr double kFuseOhm = 0.1;
constexpr double kCoilOhm = 3;
constexpr double kWindingOhm = 10;
constexpr double kRelayCoilOhm = 400;
constexpr double kColdLampOhm = 10;
constexpr double kMeterOhm = 1000;
constexpr double kUnknownFarad = 100e-9;

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

bool holds(const std::string& text, std::string_view word) {
  return text.find(word) != std::string::npos;
}

Junction material_of(const Part& part) {
  const std::string type = lower(part.type);
  return holds(type, "germanium")  ? Junction::germanium
         : holds(type, "schottky") ? Junction::schottky
                                   : Junction::silicon;
}

/// What the contacts of a switch do on the way, by the clock of the circuit.
class SwitchTravel {
 public:
  SwitchTravel(const Defects& defects, graph::PartId id, bool makes_first) {
    for (const Defects::BouncingSwitch& one : defects.bouncing_switches) {
      bounce_s_ = one.part == id ? one.seconds : bounce_s_;
    }
    // The second half of the way begins when the first half has come to rest, with a whole chatter.
    const double period_s = period();
    const double later_s =
        kMovesS + std::ceil((bounce_s_ + period_s + kTravelS) / period_s) * period_s;
    const double first_s = bounce_s_ > 0 ? std::ceil(kMovesS / period_s) * period_s : kMovesS;
    const double second_s = bounce_s_ > 0 ? std::ceil(later_s / period_s) * period_s : later_s;
    opens_s_ = makes_first ? second_s : first_s;
    closes_s_ = makes_first ? first_s : second_s;
  }

  /// Closed first half a period after the begin, for good `bounce_s_` later.
  void close(int a, int b, double ohm, Circuit& circuit) const {
    if (bounce_s_ <= 0) {
      circuit.resistors.push_back({a, b, ohm, closes_s_, kForeverS});
      return;
    }
    const int middle = circuit.nodes++;
    circuit.resistors.push_back({a, middle, ohm, closes_s_, kForeverS});
    circuit.resistors.push_back({middle, b, kLowestOhm, period() / 2, period()});
    circuit.resistors.push_back({a, b, ohm, closes_s_ + bounce_s_ + 0.75 * period(), kForeverS});
  }

  /// Open first at the begin, for good `bounce_s_` later.
  void open(int a, int b, double ohm, Circuit& circuit) const {
    circuit.resistors.push_back({a, b, ohm, -opens_s_, kForeverS});
    if (bounce_s_ > 0) {
      const int middle = circuit.nodes++;
      circuit.resistors.push_back(
          {a, middle, ohm, -(opens_s_ + bounce_s_ + 0.25 * period()), kForeverS});
      circuit.resistors.push_back({middle, b, kLowestOhm, period() / 2, period()});
    }
  }

 private:
  static constexpr double kTravelS = 3e-3;  // from the one contact to the other
  static constexpr double kForeverS = 1e6;
  static constexpr int kChatters = 4;

  double period() const { return bounce_s_ > 0 ? bounce_s_ / kChatters : 1e-3; }

  double bounce_s_ = 0;
  double opens_s_ = 0;
  double closes_s_ = 0;
};

class PartsMaker {
 public:
  PartsMaker(const Board& board, const Defects& defects, Circuit& circuit)
      : board_(board), defects_(defects), circuit_(circuit) {
    for (const Defects::PartValue& one : defects.part_values) {
      changed_[one.part] = one.ohm;
    }
  }

  void add(graph::PartId id);

 private:
  /// The place of a pin that its part's current flows through.
  int pin(const Part& part, std::size_t number) const {
    return static_cast<int>(graph::index(board_[part.pins[number]].held));
  }
  /// The pin with one of these names, else the one at `usual`.
  int pin_named(const Part& part, std::initializer_list<std::string_view> names,
                std::size_t usual) const;
  void join(const Part& part, std::size_t a, std::size_t b, std::optional<double> ohm);
  void join_pairs(const Part& part, double ohm);
  void add_network(const Part& part, std::optional<double> ohm);
  void add_pot(const Part& part, const std::string& value);
  void add_switch(graph::PartId id, const Part& part);
  double contact_ohm(graph::PartId id, std::size_t a, std::size_t b, std::size_t times) const;
  void add_diode(const Part& part);
  void add_transistor(const Part& part);
  void add_ic(const Part& part);

  const Board& board_;
  const Defects& defects_;
  Circuit& circuit_;
  std::map<graph::PartId, double> changed_;
};

void PartsMaker::join(const Part& part, std::size_t a, std::size_t b, std::optional<double> ohm) {
  if (ohm && std::isfinite(*ohm) && a < part.pins.size() && b < part.pins.size()) {
    circuit_.resistors.push_back({pin(part, a), pin(part, b), std::max(*ohm, kLowestOhm)});
  }
}

/// 1 with 2, 3 with 4, …
void PartsMaker::join_pairs(const Part& part, double ohm) {
  for (std::size_t n = 1; n < part.pins.size(); n += 2) {
    join(part, n - 1, n, ohm);
  }
}

int PartsMaker::pin_named(const Part& part, std::initializer_list<std::string_view> names,
                          std::size_t usual) const {
  for (std::size_t n = 0; n < part.pins.size(); ++n) {
    if (std::find(names.begin(), names.end(), board_[part.pins[n]].pin) != names.end()) {
      return pin(part, n);
    }
  }
  return pin(part, usual);
}

void PartsMaker::add_network(const Part& part, std::optional<double> ohm) {
  if (holds(part.type, "isolated")) {
    join_pairs(part, ohm.value_or(simulated::kNoContactOhm));
    return;
  }
  for (std::size_t n = 1; n < part.pins.size(); ++n) {
    join(part, 0, n, ohm);
  }
}

void PartsMaker::add_pot(const Part& part, const std::string& value) {
  if (const auto ohm = graph::parse_value(value, graph::Unit::ohm)) {
    join(part, 0, 1, *ohm / 2);
    join(part, 1, 2, *ohm / 2);
  }
}

void PartsMaker::add_switch(graph::PartId id, const Part& part) {
  if (part.positions.empty()) {
    return;
  }
  Defects::HeldSwitch held;
  for (const Defects::HeldSwitch& one : defects_.held_switches) {
    held = one.part == id ? one : held;
  }
  for (const Defects::StuckSwitch& stuck : defects_.stuck_switches) {
    if (stuck.part == id) {
      held.position = stuck.position;
      held.from.reset();
    }
  }
  std::vector<std::size_t> at(part.pins.size());  // the pin where each one should be
  std::iota(at.begin(), at.end(), std::size_t{0});
  for (const Defects::ExchangedPins& exchanged : defects_.exchanged_pins) {
    if (exchanged.part == id) {
      std::swap(at[exchanged.a], at[exchanged.b]);
    }
  }
  const auto contacts = [&](std::size_t position) {
    std::set<std::pair<std::size_t, std::size_t>> pairs;
    for (const std::vector<std::size_t>& joined : part.positions[position].second) {
      for (std::size_t n = 1; n < joined.size(); ++n) {
        pairs.emplace(joined[n - 1], joined[n]);
      }
    }
    return pairs;
  };
  const auto closed = contacts(held.position);
  const auto before = contacts(held.from.value_or(held.position));
  const SwitchTravel travel(defects_, id, held.makes_first);
  for (const auto& [a, b] : closed) {
    const double ohm = contact_ohm(id, a, b, held.times);
    if (before.count({a, b}) != 0) {
      join(part, at[a], at[b], ohm);
    } else if (std::isfinite(ohm)) {
      travel.close(pin(part, at[a]), pin(part, at[b]), std::max(ohm, kLowestOhm), circuit_);
    }
  }
  for (const auto& [a, b] : before) {
    const double ohm = contact_ohm(id, a, b, held.times);
    if (closed.count({a, b}) == 0 && std::isfinite(ohm)) {
      travel.open(pin(part, at[a]), pin(part, at[b]), std::max(ohm, kLowestOhm), circuit_);
    }
  }
}

/// Of the contact between pins a and b when the switch is in its position for the `times`th time.
double PartsMaker::contact_ohm(graph::PartId id, std::size_t a, std::size_t b,
                               std::size_t times) const {
  for (const Defects::WornContact& worn : defects_.worn_contacts) {
    if (worn.part != id || std::minmax(worn.a, worn.b) != std::minmax(a, b)) {
      continue;
    }
    if (worn.fails_every > 0 && times > 0 && times % worn.fails_every == 0) {
      return std::numeric_limits<double>::infinity();
    }
    std::seed_seq seed{std::size_t{defects_.random}, worn.a, worn.b, times};
    std::mt19937 random(seed);
    return worn.ohm + worn.spread_ohm * std::abs(std::normal_distribution<double>()(random));
  }
  return kClosedSwitchOhm;
}

void PartsMaker::add_diode(const Part& part) {
  if (part.pins.size() == 2) {
    circuit_.junctions.push_back(make_junction(pin_named(part, {"A", "a"}, 0),
                                               pin_named(part, {"K", "k", "C", "c"}, 1),
                                               material_of(part)));
  }
}

void PartsMaker::add_transistor(const Part& part) {
  if (part.pins.size() != 3) {
    return;
  }
  const int base = pin_named(part, {"B", "b"}, 1);
  const bool pnp = holds(lower(part.type), "pnp");
  for (std::size_t n = 0; n < part.pins.size(); ++n) {
    const int other = pin(part, n);
    if (other != base) {
      circuit_.junctions.push_back(
          make_junction(pnp ? other : base, pnp ? base : other, material_of(part)));
    }
  }
}

void PartsMaker::add_ic(const Part& part) {
  std::optional<int> ground;
  std::optional<int> supply;
  std::vector<int> signals;
  for (std::size_t n = 0; n < part.pins.size(); ++n) {
    const graph::NetId net = board_[part.pins[n]].net;
    const NetRole role = net == graph::kNoNet ? NetRole::signal : board_[net].role;
    if (role == NetRole::signal) {
      signals.push_back(pin(part, n));
    } else if (std::optional<int>& rail = role == NetRole::ground ? ground : supply; !rail) {
      rail = pin(part, n);
    }
  }
  const Junction lower_clamp =
      graph::has_schottky_clamps(part.type) ? Junction::schottky : Junction::silicon;
  for (const int signal : signals) {
    if (ground) {
      circuit_.junctions.push_back(make_junction(*ground, signal, lower_clamp));
    }
    if (supply) {
      circuit_.junctions.push_back(make_junction(signal, *supply, Junction::silicon));
    }
  }
}

void PartsMaker::add(graph::PartId id) {
  const Part& part = board_[id];
  if (part.chip == graph::ChipState::pulled) {
    return;
  }
  const std::string& value = board_.description().parts[graph::index(id)].value;
  const auto found = changed_.find(id);
  const auto changed = found == changed_.end() ? std::nullopt : std::optional(found->second);
  const bool lifted = changed && !std::isfinite(*changed);
  switch (part.kind) {
    case PartKind::resistor:
      join(part, 0, 1, changed ? changed : part.ohm);
      break;
    case PartKind::link:
      join(part, 0, 1, changed.value_or(kLowestOhm));
      break;
    case PartKind::fuse:
      join(part, 0, 1, changed.value_or(kFuseOhm));
      break;
    case PartKind::network:
      add_network(part, changed ? changed : part.ohm);
      break;
    case PartKind::inductor:
      join(part, 0, 1, changed.value_or(kCoilOhm));
      break;
    case PartKind::capacitor:
      if (!lifted && part.pins.size() == 2) {
        const auto farad = graph::parse_value(value, graph::Unit::farad);
        circuit_.capacitors.push_back({pin(part, 0), pin(part, 1), farad.value_or(kUnknownFarad)});
        join(part, 0, 1, changed);
      }
      break;
    case PartKind::diode:
      if (!lifted) {
        add_diode(part);
        join(part, 0, 1, changed);
      }
      break;
    case PartKind::transistor:
      add_transistor(part);
      break;
    case PartKind::ic:
      add_ic(part);
      break;
    case PartKind::switch_:
      add_switch(id, part);
      break;
    case PartKind::relay:
      join(part, 0, 1, kRelayCoilOhm);
      add_switch(id, part);
      break;
    case PartKind::transformer:
      join_pairs(part, kWindingOhm);
      break;
    case PartKind::pot:
      add_pot(part, value);
      break;
    case PartKind::lamp:
      join(part, 0, 1, kColdLampOhm);
      break;
    case PartKind::meter:
      join(part, 0, 1, kMeterOhm);
      break;
    case PartKind::connector:
    case PartKind::crystal:
    case PartKind::other:
      break;  // open at the test voltage
  }
}

}  // namespace

Circuit::Junction make_junction(int anode, int cathode, Junction material) {
  // Nominal models of a common small diode of each material, at 27 C (computed for this project).
  switch (material) {
    case Junction::germanium:
      return {anode, cathode, 200e-9, 1.3};
    case Junction::schottky:
      return {anode, cathode, 1e-6, 1.05};
    case Junction::none:
    case Junction::silicon:
      break;
  }
  return {anode, cathode, 2.52e-9, 1.752};
}

void add_parts(const Board& board, const Defects& defects, Circuit& circuit) {
  PartsMaker maker(board, defects, circuit);
  for (std::size_t i = 0; i < board.parts().size(); ++i) {
    maker.add(graph::PartId{static_cast<std::uint32_t>(i)});
  }
}

}  // namespace padwalk::tools
