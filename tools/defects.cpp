// SPDX-License-Identifier: MIT
#include "tools/defects.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <set>
#include <utility>

#include "graph/yaml_fields.hpp"
#include "tools/defect_fields.hpp"
#include "tools/defect_names.hpp"
#include "tools/defects_bench.hpp"
#include "tools/defects_parts.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PlaceId;
using graph::Reference;
using graph::SegmentId;
using graph::Unit;
using graph::YamlFields;
using graph::YamlNode;

constexpr double kMaxVolt = 100;
constexpr double kMaxHertz = 1000;
constexpr int kThinnestGauge = 40;
/// Of both joints of a good wire; common practice, no source.
constexpr double kWireJointOhm = 2e-3;
// In the order of Junction, from its second.
constexpr std::string_view kJunctions[] = {"silicon", "germanium", "Schottky"};

class DefectsReader {
 public:
  DefectsReader(const Board& board, graph::Diagnostics& diagnostics)
      : board_(board), diagnostics_(diagnostics) {}

  Defects read(const YamlNode& root, BoardThen then);

 private:
  void read_list(const YamlFields& where, const YamlNode* list, std::string_view key);
  void read_defect(const YamlNode& node);
  void read_open(const YamlNode& node);
  void read_split(const YamlNode& node);
  void read_short(const YamlNode& node);
  void read_leakage(const YamlNode& node);
  void read_wire(const YamlNode& node);
  void read_high_resistance(const YamlNode& node);
  void read_voltage(const YamlNode& node);
  void read_part(const YamlNode& node) { tools::read_part(node, board_, defects_, diagnostics_); }
  void read_switch(const YamlNode& node) {
    tools::read_switch(node, board_, defects_, diagnostics_);
  }
  void read_no_contact(const YamlNode& node);
  void read_intermittent(const YamlNode& node);
  std::optional<std::pair<double, double>> read_times(const YamlFields& fields,
                                                      const YamlNode& node);
  void read_earthed(const YamlNode& node);

  void read_bridge(const YamlFields& fields, std::string_view key, std::optional<double> usual_ohm);

  const Board& board_;
  graph::Diagnostics& diagnostics_;
  std::optional<DefectNames> names_;  // of the list at hand
  Defects defects_;
};

struct Kind {
  std::string_view key;
  void (DefectsReader::*read)(const YamlNode&);
};

Defects DefectsReader::read(const YamlNode& root, BoardThen then) {
  const YamlFields file(root, "", {"padwalk", "defects", "then", "bench", "note"}, diagnostics_);
  read_list(file, root.find("defects"), "defects");
  Defects chosen = std::exchange(defects_, {});
  const YamlNode* changes = root.find("then");
  if (changes != nullptr && changes->kind != YamlNode::Kind::null) {
    const YamlFields later(*changes, "then", {"mended", "flexed"}, diagnostics_);
    for (const auto& [key, since] :
         {std::pair("mended", BoardThen::mended), std::pair("flexed", BoardThen::flexed)}) {
      if (const YamlNode* list = changes->find(key)) {
        read_list(later, list, key);
        Defects changed = std::exchange(defects_, {});
        if (then >= since) {
          chosen = std::move(changed);
        }
      }
    }
  }
  if (const YamlNode* bench = root.find("bench")) {
    read_bench(*bench, chosen, diagnostics_);
  }
  return chosen;
}

void DefectsReader::read_list(const YamlFields& where, const YamlNode* list, std::string_view key) {
  names_.emplace(board_, diagnostics_);
  if (list != nullptr && list->kind != YamlNode::Kind::null &&
      where.is_list(*list, key, "- open: [U2.7, R7.1], or [] for none")) {
    for (const YamlNode& node : list->items) {
      read_defect(node);
    }
  }
}

void DefectsReader::read_open(const YamlNode& node) {
  const YamlFields fields(node, "open", {"open", "note"}, diagnostics_);
  if (const auto found = names_->segment(fields, "open")) {
    defects_.cuts.push_back({*found});
  }
}

void DefectsReader::read_split(const YamlNode& node) {
  const YamlFields fields(node, "split", {"split", "off", "note"}, diagnostics_);
  const YamlNode& name = *node.find("split");
  const auto net_name = fields.text(name, "the net");
  const YamlNode* off = required(fields, "off", "[TP9]");
  if (!net_name || off == nullptr) {
    return;
  }
  const auto net = board_.find_net(*net_name);
  if (!net) {
    fields.error(name, fmt::format("there is no net {} on this board", *net_name));
    return;
  }
  std::set<SegmentId> cut;
  bool all_good = true;
  for (const Reference& reference : fields.references(*off, "off")) {
    const std::vector<PlaceId> found = names_->places(reference);
    if (found.empty()) {
      all_good = false;
      continue;
    }
    const auto way = names_->hanging_by(found.front());
    if (board_[found.front()].net != *net) {
      diagnostics_.error(reference.mark,
                         fmt::format("split: {} is not in net {}", reference.name, *net_name));
    } else if (!way) {
      diagnostics_.error(reference.mark,
                         fmt::format("split: the copper of {} in net {} is known; expected open: "
                                     "[{}, …], with the segment that is cut",
                                     reference.name, *net_name, reference.name));
    } else {
      cut.insert(*way);
      continue;
    }
    all_good = false;
  }
  if (!all_good || off->kind != YamlNode::Kind::sequence) {
    return;
  }
  const auto ways = std::count_if(
      board_[*net].segments.begin(), board_[*net].segments.end(),
      [&](SegmentId id) { return board_[id].kind == graph::SegmentKind::unknown_way; });
  if (cut.empty() || (!board_[*net].has_route && static_cast<std::size_t>(ways) == cut.size())) {
    fields.error(
        *off, fmt::format("off must hold some points of net {}, not none and not all", *net_name));
    return;
  }
  Defects::Split split{*net, {}};
  std::transform(cut.begin(), cut.end(), std::back_inserter(split.off),
                 [&](SegmentId id) { return board_[id].member; });
  defects_.splits.push_back(std::move(split));
}

void DefectsReader::read_bridge(const YamlFields& fields, std::string_view key,
                                std::optional<double> usual_ohm) {
  const auto ends = names_->two_places(fields, key);
  const auto value = ohm_above_0(fields, "value", usual_ohm);
  if (ends && value) {
    defects_.bridges.push_back({ends->first, ends->second, *value});
  }
}

void DefectsReader::read_short(const YamlNode& node) {
  read_bridge(YamlFields(node, "short", {"short", "value", "note"}, diagnostics_), "short",
              Defects::Bridge{}.ohm);
}

void DefectsReader::read_leakage(const YamlNode& node) {
  read_bridge(YamlFields(node, "leakage", {"leakage", "value", "note"}, diagnostics_), "leakage",
              std::nullopt);
}

/// A jumper wire with its two joints.
void DefectsReader::read_wire(const YamlNode& node) {
  const YamlFields fields(node, "wire",
                          {"wire", "gauge", "length", "joint", "open for", "every", "note"},
                          diagnostics_);
  const auto ends = names_->two_places(fields, "wire");
  int gauge = 30;
  fields.read("gauge", gauge,
              [&](const YamlNode& at) { return fields.whole(at, "gauge", 0, kThinnestGauge); });
  double length_mm = 50;
  fields.read("length", length_mm, [&](const YamlNode& at) {
    return fields.value(at, "length", Unit::millimetre, "45 mm");
  });
  const auto joint = ohm_above_0(fields, "joint", kWireJointOhm);
  Defects::Bridge wire;
  if (node.find("open for") != nullptr || node.find("every") != nullptr) {
    const auto times = read_times(fields, node);
    if (!times) {
      return;
    }
    wire.open_s = times->first;
    wire.every_s = times->second;
  }
  if (ends && joint) {
    // Copper of 1.72e-8 ohm m (qsl.net/wb6tpu/si-list6/0906.html); gauges by the rule of ASTM B258,
    // from memory.
    const double mm = 0.127 * std::pow(92, (36 - gauge) / 39.0);
    wire.a = ends->first;
    wire.b = ends->second;
    wire.ohm = *joint + 1.72e-5 * length_mm / (std::numbers::pi / 4 * mm * mm);
    defects_.bridges.push_back(wire);
  }
}

void DefectsReader::read_high_resistance(const YamlNode& node) {
  const YamlFields fields(node, "high resistance", {"high resistance", "value", "note"},
                          diagnostics_);
  const auto found = names_->segment(fields, "high resistance");
  const auto value = ohm_above_0(fields, "value", std::nullopt);
  if (found && value) {
    defects_.cuts.push_back({*found, *value});
  }
}

/// How long of how long.
std::optional<std::pair<double, double>> DefectsReader::read_times(const YamlFields& fields,
                                                                   const YamlNode& node) {
  const auto open_s = duration(fields, "open for", "8 us");
  const auto every_s = duration(fields, "every", "250 ms");
  if (open_s && every_s && *open_s >= *every_s) {
    fields.error(
        *node.find("open for"),
        fmt::format("open for is {} s and every is {} s; expected it shorter", *open_s, *every_s));
    return std::nullopt;
  }
  return open_s && every_s ? std::optional(std::pair(*open_s, *every_s)) : std::nullopt;
}

void DefectsReader::read_intermittent(const YamlNode& node) {
  const YamlFields fields(node, "intermittent", {"intermittent", "open for", "every", "note"},
                          diagnostics_);
  const auto found = names_->segment(fields, "intermittent");
  const auto times = read_times(fields, node);
  if (found && times) {
    defects_.intermittents.push_back({*found, times->first, times->second});
  }
}

void DefectsReader::read_voltage(const YamlNode& node) {
  const YamlFields fields(node, "voltage",
                          {"voltage", "value", "behind", "hertz", "through", "note"}, diagnostics_);
  const auto ends = names_->two_places(fields, "voltage");
  const auto behind = ohm_above_0(fields, "behind", Defects::Source{}.ohm);
  const YamlNode* value = required(fields, "value", "2.1 V");
  Defects::Source source;
  fields.read("hertz", source.hertz,
              [&](const YamlNode& hertz) { return fields.number(hertz, "hertz", 1, kMaxHertz); });
  fields.read("through", source.through, [&](const YamlNode& through) -> std::optional<Junction> {
    const auto word = fields.word_of(through, "through", kJunctions);
    return word ? std::optional(static_cast<Junction>(*word + 1)) : std::nullopt;
  });
  if (value == nullptr) {
    return;
  }
  const auto volt = fields.value(*value, "value", Unit::volt, "2.1 V");
  if (volt && (*volt < -kMaxVolt || *volt > kMaxVolt)) {
    fields.error(*value, fmt::format("value is {} V; expected -100 to 100 V", *volt));
  } else if (ends && behind && volt) {
    source.a = ends->first;
    source.b = ends->second;
    source.volt = *volt;
    source.ohm = *behind;
    defects_.sources.push_back(source);
  }
}

void DefectsReader::read_earthed(const YamlNode& node) {
  const YamlFields fields(node, "earthed", {"earthed", "value", "note"}, diagnostics_);
  const auto name = fields.reference(*node.find("earthed"), "it");
  const std::vector<PlaceId> found = name ? names_->places(*name) : std::vector<PlaceId>();
  const auto value = ohm_above_0(fields, "value", Defects::Earth{}.ohm);
  if (!found.empty() && value) {
    defects_.earths.push_back({found.front(), *value});
  }
}

void DefectsReader::read_no_contact(const YamlNode& node) {
  const YamlFields fields(node, "no contact", {"no contact", "stays", "open for", "every", "note"},
                          diagnostics_);
  const YamlNode& name = *node.find("no contact");
  const auto point_name = fields.text(name, "the point");
  bool stays = false;
  fields.read_flag("stays", stays);
  const bool flutters = fields.has("open for") || fields.has("every");
  const auto times = flutters ? read_times(fields, node) : std::pair(0.0, 0.0);
  if (!point_name || !times) {
    return;
  }
  if (const auto point = board_.find_point(*point_name)) {
    defects_.no_contacts.push_back({*point, stays, times->first, times->second});
  } else {
    fields.error(name, fmt::format("there is no point {} on this board; expected one such as "
                                   "U2.7, V12@bottom or TP3",
                                   *point_name));
  }
}

void DefectsReader::read_defect(const YamlNode& node) {
  static constexpr Kind kKinds[] = {{"open", &DefectsReader::read_open},
                                    {"split", &DefectsReader::read_split},
                                    {"short", &DefectsReader::read_short},
                                    {"leakage", &DefectsReader::read_leakage},
                                    {"wire", &DefectsReader::read_wire},
                                    {"high resistance", &DefectsReader::read_high_resistance},
                                    {"intermittent", &DefectsReader::read_intermittent},
                                    {"voltage", &DefectsReader::read_voltage},
                                    {"earthed", &DefectsReader::read_earthed},
                                    {"part", &DefectsReader::read_part},
                                    {"switch", &DefectsReader::read_switch},
                                    {"no contact", &DefectsReader::read_no_contact}};
  std::vector<std::string_view> known;
  for (const Kind& kind : kKinds) {
    if (node.find(kind.key) != nullptr) {
      (this->*kind.read)(node);
      return;
    }
    known.push_back(kind.key);
  }
  diagnostics_.error(node.mark, fmt::format("this defect is not known; expected one of {}",
                                            graph::list_words(known)));
}

}  // namespace

Defects read_defects(std::string_view text, const Board& board, graph::Diagnostics& diagnostics,
                     BoardThen then) {
  const YamlNode root = graph::parse_yaml(text, diagnostics);
  graph::expect_format(root, "defects/1", diagnostics);
  return DefectsReader(board, diagnostics).read(root, then);
}

}  // namespace padwalk::tools
