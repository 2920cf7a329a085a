// SPDX-License-Identifier: MIT
#include "tools/defects_bench.hpp"

#include <limits>

#include "graph/yaml_fields.hpp"
#include "tools/defect_fields.hpp"

namespace padwalk::tools {

namespace {

using graph::Unit;
using graph::YamlFields;
using graph::YamlNode;

constexpr std::string_view kReference[] = {"reference"};

// What the reference tester is specified to be and what a bench around it is like: references and
// gains within 0.1 %, 1 nA of leakage a switch, contacts that come out 25 mohm (1 sigma) apart
// each time they are put on. The rest is common practice, no source.
void make_reference(Defects& defects) {
  defects.contact_ohm = 25e-3;
  defects.contact_spread_ohm = 25e-3;
  defects.noise_volt = 200e-6;
  defects.offset_volt = 100e-6;
  defects.gain_error = 1e-3;
  defects.reference_error = 1e-3;
  defects.switch_spread_ohm = 0.5;
  defects.leak_ampere = 1e-9;
  defects.hum_volt = 0.1;
  defects.lead_farad = 100e-12;
}

/// A key whose value is a quantity. Its complaint shows it times `scale`, in `shown`.
struct Quantity {
  std::string_view key;
  double Defects::*member;
  Unit unit;
  std::string_view example;
  double low;
  double high;
  double scale;
  std::string_view shown;
};

constexpr Quantity kQuantities[] = {
    {"contact", &Defects::contact_ohm, Unit::ohm, "25 mohm", 0, 1e6, 1, "ohm"},
    {"contact spread", &Defects::contact_spread_ohm, Unit::ohm, "25 mohm", 0, 1e3, 1, "ohm"},
    {"noise", &Defects::noise_volt, Unit::volt, "200 uV", 0, 100, 1, "V"},
    {"offset", &Defects::offset_volt, Unit::volt, "100 uV", -1, 1, 1, "V"},
    {"gain error", &Defects::gain_error, Unit::fraction, "0.1%", 0, 0.5, 100, "%"},
    {"reference error", &Defects::reference_error, Unit::fraction, "0.1%", 0, 0.5, 100, "%"},
    {"switch spread", &Defects::switch_spread_ohm, Unit::ohm, "0.5 ohm", 0, 1e3, 1, "ohm"},
    {"leakage", &Defects::leak_ampere, Unit::ampere, "1 nA", 0, 1e-3, 1e6, "uA"},
    {"hum", &Defects::hum_volt, Unit::volt, "0.1 V", 0, 100, 1, "V"},
    {"lead capacitance", &Defects::lead_farad, Unit::farad, "100 pF", 0, 1e-6, 1e6, "uF"},
};

void read_quantity(const YamlFields& fields, const Quantity& quantity, Defects& defects) {
  fields.read(quantity.key, defects.*quantity.member, [&](const YamlNode& node) {
    auto found = fields.value(node, quantity.key, quantity.unit, quantity.example);
    if (found && (*found < quantity.low || *found > quantity.high)) {
      const double scale = quantity.scale;
      fields.error(node, fmt::format("{} is {:g} {}; expected {:g} to {:g} {}", quantity.key,
                                     *found * scale, quantity.shown, quantity.low * scale,
                                     quantity.high * scale, quantity.shown));
      found.reset();
    }
    return found;
  });
}

}  // namespace

void read_bench(const YamlNode& node, Defects& defects, graph::Diagnostics& diagnostics) {
  if (node.kind == YamlNode::Kind::scalar) {
    const graph::YamlValues value("", diagnostics);
    if (value.word_of(node, "bench", kReference)) {
      make_reference(defects);
    }
    return;
  }
  const YamlNode simulated = without_unsimulated(node, "bench", {"bounce"}, diagnostics);
  const YamlFields fields(
      simulated, "bench",
      {"like", "contact", "contact spread", "noise", "offset", "gain error", "reference error",
       "switch spread", "leakage", "hum", "hum hertz", "lead capacitance", "random", "note"},
      diagnostics);
  if (fields.has("like") && fields.word_of(*simulated.find("like"), "like", kReference)) {
    make_reference(defects);
  }
  for (const Quantity& quantity : kQuantities) {
    read_quantity(fields, quantity, defects);
  }
  fields.read("hum hertz", defects.hum_hertz,
              [&](const YamlNode& hertz) { return fields.number(hertz, "hum hertz", 1, 1000); });
  fields.read("random", defects.random, [&](const YamlNode& random) {
    return fields.whole(random, "random", 0, std::numeric_limits<int>::max());
  });
}

}  // namespace padwalk::tools
