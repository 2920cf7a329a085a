// SPDX-License-Identifier: MIT
#include "tools/defects.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <set>

#include "graph/yaml_fields.hpp"
#include "tools/defect_names.hpp"

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
constexpr std::string_view kNotSimulated = "is not simulated by this version; leave it out";

class DefectsReader {
 public:
  DefectsReader(const Board& board, graph::Diagnostics& diagnostics)
      : board_(board), diagnostics_(diagnostics), names_(board, diagnostics) {}

  Defects read(const YamlNode& root);

 private:
  void read_defect(const YamlNode& node);
  void read_open(const YamlNode& node);
  void read_split(const YamlNode& node);
  void read_short(const YamlNode& node);
  void read_leakage(const YamlNode& node);
  void read_high_resistance(const YamlNode& node);
  void read_voltage(const YamlNode& node);
  void read_part(const YamlNode& node);
  void read_no_contact(const YamlNode& node);
  void read_bench(const YamlNode& node);

  void read_bridge(const YamlFields& fields, std::string_view key, std::optional<double> usual_ohm);
  /// The value of `key` above zero; `usual` where the key is absent. Errors: a complaint.
  std::optional<double> ohm(const YamlFields& fields, std::string_view key,
                            std::optional<double> usual) const;
  /// The value of a key that must be there.
  const YamlNode* required(const YamlFields& fields, std::string_view key,
                           std::string_view example) const;

  const Board& board_;
  graph::Diagnostics& diagnostics_;
  DefectNames names_;
  Defects defects_;
};

struct Kind {
  std::string_view key;
  void (DefectsReader::*read)(const YamlNode&);  ///< nullptr: known, but not simulated
};

Defects DefectsReader::read(const YamlNode& root) {
  const YamlFields file(root, "", {"padwalk", "defects", "bench", "note"}, diagnostics_);
  const YamlNode* list = root.find("defects");
  if (list != nullptr && list->kind != YamlNode::Kind::null &&
      file.is_list(*list, "defects", "- open: [U2.7, R7.1], or [] for none")) {
    for (const YamlNode& node : list->items) {
      read_defect(node);
    }
  }
  if (const YamlNode* bench = root.find("bench")) {
    read_bench(*bench);
  }
  return std::move(defects_);
}

std::optional<double> DefectsReader::ohm(const YamlFields& fields, std::string_view key,
                                         std::optional<double> usual) const {
  const YamlNode* node = fields.node().find(key);
  if (node == nullptr) {
    if (!usual) {
      required(fields, key, "120k or 35 ohm");
    }
    return usual;
  }
  auto found = fields.value(*node, key, Unit::ohm, "120k or 35 ohm");
  if (found && *found <= 0) {
    fields.error(*node, fmt::format("{} is 0; expected more, such as 0.1 ohm", key));
    found.reset();
  }
  return found;
}

const YamlNode* DefectsReader::required(const YamlFields& fields, std::string_view key,
                                        std::string_view example) const {
  const YamlNode* node = fields.node().find(key);
  if (node == nullptr) {
    fields.error(fields.node(), fmt::format("{0} is missing; expected {0}: {1}", key, example));
  }
  return node;
}

void DefectsReader::read_open(const YamlNode& node) {
  const YamlFields fields(node, "open", {"open", "note"}, diagnostics_);
  if (const auto found = names_.segment(fields, "open")) {
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
    const std::vector<PlaceId> found = names_.places(reference);
    if (found.empty()) {
      all_good = false;
      continue;
    }
    const auto way = names_.hanging_by(found.front());
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
  const auto ends = names_.two_places(fields, key);
  const auto value = ohm(fields, "value", usual_ohm);
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

void DefectsReader::read_high_resistance(const YamlNode& node) {
  const YamlFields fields(node, "high resistance", {"high resistance", "value", "note"},
                          diagnostics_);
  const auto found = names_.segment(fields, "high resistance");
  const auto value = ohm(fields, "value", std::nullopt);
  if (found && value) {
    defects_.cuts.push_back({*found, *value});
  }
}

void DefectsReader::read_voltage(const YamlNode& node) {
  const YamlFields fields(node, "voltage", {"voltage", "value", "behind", "note"}, diagnostics_);
  const auto ends = names_.two_places(fields, "voltage");
  const auto behind = ohm(fields, "behind", Defects::Source{}.ohm);
  const YamlNode* value = required(fields, "value", "2.1 V");
  if (value == nullptr) {
    return;
  }
  const auto volt = fields.value(*value, "value", Unit::volt, "2.1 V");
  if (volt && (*volt < -kMaxVolt || *volt > kMaxVolt)) {
    fields.error(*value, fmt::format("value is {} V; expected -100 to 100 V", *volt));
  } else if (ends && behind && volt) {
    defects_.sources.push_back({ends->first, ends->second, *volt, *behind});
  }
}

void DefectsReader::read_part(const YamlNode& node) {
  const YamlFields fields(node, "part", {"part", "value", "note"}, diagnostics_);
  const YamlNode& name = *node.find("part");
  const auto part_name = fields.text(name, "the part");
  const auto value = ohm(fields, "value", std::nullopt);
  const auto part = part_name ? board_.find_part(*part_name) : std::nullopt;
  if (part_name && !part) {
    fields.error(name, fmt::format("there is no part {} on this board", *part_name));
  } else if (part && board_[*part].kind != graph::PartKind::resistor &&
             board_[*part].kind != graph::PartKind::network) {
    fields.error(name, fmt::format("{} is of kind {}; another value of it {}", *part_name,
                                   graph::word_for(board_[*part].kind), kNotSimulated));
  } else if (part && value) {
    defects_.part_values.push_back({*part, *value});
  }
}

void DefectsReader::read_no_contact(const YamlNode& node) {
  const YamlFields fields(node, "no contact", {"no contact", "stays", "note"}, diagnostics_);
  const YamlNode& name = *node.find("no contact");
  const auto point_name = fields.text(name, "the point");
  bool stays = false;
  fields.read_flag("stays", stays);
  if (!point_name) {
    return;
  }
  if (const auto point = board_.find_point(*point_name)) {
    defects_.no_contacts.push_back({*point, stays});
  } else {
    fields.error(name, fmt::format("there is no point {} on this board; expected one such as "
                                   "U2.7, V12@bottom or TP3",
                                   *point_name));
  }
}

void DefectsReader::read_bench(const YamlNode& node) {
  static constexpr std::string_view kSimulated[] = {"contact", "noise", "random", "note"};
  YamlNode simulated = node;
  simulated.entries.clear();
  for (const auto& entry : node.entries) {
    if (std::find(std::begin(kSimulated), std::end(kSimulated), entry.key.scalar) !=
        std::end(kSimulated)) {
      simulated.entries.push_back(entry);
    } else {
      diagnostics_.error(entry.key.mark,
                         fmt::format("bench: {} {}", entry.key.scalar, kNotSimulated));
    }
  }
  const YamlFields fields(simulated, "bench", {"contact", "noise", "random", "note"}, diagnostics_);
  fields.read("contact", defects_.contact_ohm, [&](const YamlNode& value) {
    return fields.value(value, "contact", Unit::ohm, "25 mohm");
  });
  fields.read("noise", defects_.noise_volt, [&](const YamlNode& value) {
    auto volt = fields.value(value, "noise", Unit::volt, "200 uV");
    if (volt && (*volt < 0 || *volt > kMaxVolt)) {
      fields.error(value, fmt::format("noise is {} V; expected 0 to 100 V", *volt));
      volt.reset();
    }
    return volt;
  });
  fields.read("random", defects_.random, [&](const YamlNode& value) {
    return fields.whole(value, "random", 0, std::numeric_limits<int>::max());
  });
}

void DefectsReader::read_defect(const YamlNode& node) {
  static constexpr Kind kKinds[] = {{"open", &DefectsReader::read_open},
                                    {"split", &DefectsReader::read_split},
                                    {"short", &DefectsReader::read_short},
                                    {"leakage", &DefectsReader::read_leakage},
                                    {"high resistance", &DefectsReader::read_high_resistance},
                                    {"voltage", &DefectsReader::read_voltage},
                                    {"part", &DefectsReader::read_part},
                                    {"no contact", &DefectsReader::read_no_contact},
                                    {"intermittent", nullptr},
                                    {"switch", nullptr}};
  std::vector<std::string> known;
  for (const Kind& kind : kKinds) {
    if (node.find(kind.key) != nullptr) {
      if (kind.read == nullptr) {
        diagnostics_.error(node.mark, fmt::format("{} {}", kind.key, kNotSimulated));
      } else {
        (this->*kind.read)(node);
      }
      return;
    }
    known.emplace_back(kind.key);
  }
  known.resize(known.size() - 2);  // what is not simulated is not advised
  diagnostics_.error(node.mark, fmt::format("this defect is not known; expected one of {}",
                                            graph::list_words(known)));
}

}  // namespace

Defects read_defects(std::string_view text, const Board& board, graph::Diagnostics& diagnostics) {
  const YamlNode root = graph::parse_yaml(text, diagnostics);
  graph::expect_format(root, "defects/1", diagnostics);
  return DefectsReader(board, diagnostics).read(root);
}

}  // namespace padwalk::tools
