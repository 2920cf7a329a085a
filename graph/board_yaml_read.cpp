// SPDX-License-Identifier: MIT
#include <algorithm>
#include <set>
#include <unordered_set>

#include "graph/board_yaml.hpp"
#include "graph/part_yaml.hpp"
#include "graph/yaml_fields.hpp"

namespace padwalk::graph {

namespace {

constexpr int kMaxLayers = 16;
constexpr double kMaxSuspicion = 1e6;
constexpr double kMaxCopper_mm = 100'000;
// American wire gauge 0, which no board takes, to 40, a hair of 0.08 mm.
constexpr int kThickestGauge = 0;
constexpr int kThinnestGauge = 40;
constexpr int kMaxTracks = 100;
/// Above it, healthy clamps, and a hundred silicon junctions that share a set, would be called
/// leaks: one junction has some 0.6 Mohm at 0.2 V (computed, see part_faults.cpp).
constexpr double kMaxAssembledIsolationOhm = 100e3;

class BoardReader {
 public:
  explicit BoardReader(Diagnostics& diagnostics) : diagnostics_(diagnostics) {}

  BoardDescription read(const YamlNode& root);

 private:
  /// Calls `each` for every entry of a map of named things; a name that comes twice was complained
  /// about by the parser and is read for its mistakes only.
  template <typename Thing, typename Each>
  void read_named(const YamlFields& file, std::string_view key, std::vector<Thing>& to,
                  Each&& each);

  PointDescription read_point(const std::string& name, const YamlNode& node);
  void read_access(const YamlFields& point, PointDescription& to);
  NetDescription read_net(const std::string& name, const YamlNode& node);
  ChainDescription read_chain(const YamlValues& net, const YamlNode& node);
  WireDescription read_wire(const std::string& name, const YamlNode& node);
  void read_copper(const YamlFields& file, std::vector<CopperDescription>& to);
  RegionDescription read_region(const std::string& name, const YamlNode& node);
  void read_limits(const YamlFields& file, BoardDescription& to);

  Diagnostics& diagnostics_;
};

template <typename Thing, typename Each>
void BoardReader::read_named(const YamlFields& file, std::string_view key, std::vector<Thing>& to,
                             Each&& each) {
  const YamlNode* map = file.node().find(key);
  if (map == nullptr || map->kind == YamlNode::Kind::null) {
    return;
  }
  if (map->kind != YamlNode::Kind::map) {
    file.error(*map, fmt::format("{} is a {}; expected names with what they are, one a line", key,
                                 map->kind == YamlNode::Kind::sequence ? "list" : "text"));
    return;
  }
  std::unordered_set<std::string_view> seen;
  for (const auto& [name, value] : map->entries) {
    if (name.kind != YamlNode::Kind::scalar || name.scalar.empty()) {
      file.error(
          name, fmt::format("a name in {} is empty; write one, in quotes if it is ~ or null", key));
      continue;
    }
    Thing thing = each(name.scalar, value);
    thing.name = name.scalar;
    thing.mark = name.mark;
    if (seen.insert(name.scalar).second) {
      to.push_back(std::move(thing));
    }
  }
}

BoardDescription BoardReader::read(const YamlNode& root) {
  const YamlFields file(root, "",
                        {"padwalk", "name", "state", "layers", "limits", "note", "parts", "points",
                         "nets", "wires", "copper", "regions", "neighbours"},
                        diagnostics_);
  BoardDescription board;
  file.read_text("name", board.name);
  file.read_word("state", board.state);
  file.read("layers", board.layers,
            [&](const YamlNode& node) { return file.whole(node, "layers", 1, kMaxLayers); });
  file.read_text("note", board.note);
  read_limits(file, board);
  read_named(file, "parts", board.parts, [this](const std::string& name, const YamlNode& node) {
    return read_part(name, node, diagnostics_);
  });
  read_named(file, "points", board.points, [this](const std::string& name, const YamlNode& node) {
    return read_point(name, node);
  });
  read_named(file, "nets", board.nets, [this](const std::string& name, const YamlNode& node) {
    return read_net(name, node);
  });
  read_named(file, "wires", board.wires, [this](const std::string& name, const YamlNode& node) {
    return read_wire(name, node);
  });
  read_copper(file, board.copper);
  read_named(file, "regions", board.regions, [this](const std::string& name, const YamlNode& node) {
    return read_region(name, node);
  });
  read_named(file, "neighbours", board.neighbours,
             [this](const std::string& name, const YamlNode& node) {
               NeighbourDescription neighbours;
               neighbours.nets = YamlValues("neighbours of net \"" + name + "\"", diagnostics_)
                                     .references(node, "the list");
               return neighbours;
             });
  return board;
}

void BoardReader::read_limits(const YamlFields& file, BoardDescription& to) {
  const YamlNode* node = file.node().find("limits");
  if (node == nullptr) {
    return;
  }
  const YamlFields limits(*node, "limits", {"isolation", "class"}, diagnostics_);
  limits.read("isolation", to.isolation_ohm, [&](const YamlNode& value) {
    auto ohm = limits.value(value, "isolation", Unit::ohm, "10 kohm");
    if (ohm && *ohm <= 0) {
      limits.error(value, "isolation is 0; expected more");
      ohm.reset();
    } else if (ohm && to.state == BoardState::assembled && *ohm > kMaxAssembledIsolationOhm) {
      limits.error(value, fmt::format("isolation is \"{}\"; expected at most 100 kohm on an "
                                      "assembled board, whose chips let a little through at 0.2 V; "
                                      "state: bare takes more",
                                      value.scalar));
      ohm.reset();
    }
    return ohm;
  });
  if (const YamlNode* name = limits.node().find("class")) {
    if (const auto found = limits.word_of(*name, "class", limit_classes())) {
      to.limit_class = limit_classes()[*found];
    }
    if (limits.has("isolation")) {
      limits.error(*name, "isolation and class are both given; expected one of them");
    }
  }
}

// ---- points ------------------------------------------------------------------------------------

PointDescription BoardReader::read_point(const std::string& name, const YamlNode& node) {
  const YamlFields fields(node, "point " + name,
                          {"xy", "side", "via", "access", "pad", "drive", "note"}, diagnostics_);
  PointDescription point;
  fields.read_xy("xy", point.xy);
  fields.read_side("side", point.side);
  if (const YamlNode* via = node.find("via"); via && fields.is_list(*via, "via", "[top, bottom]")) {
    for (const YamlNode& side : via->items) {
      if (const auto found = fields.side(side, "via")) {
        point.via.push_back(*found);
      }
    }
    const bool read = point.via.size() == via->items.size();
    const std::set<Side> sides(point.via.begin(), point.via.end());
    if (read && (sides.size() < 2 || sides.size() != point.via.size())) {
      fields.error(*via, fmt::format("via lists {} sides; expected two different ones or more, "
                                     "[top, bottom]",
                                     point.via.size()));
    }
    if (fields.has("side")) {
      fields.error(*node.find("side"), "a via has both sides of via; leave side out");
    }
  }
  read_access(fields, point);
  fields.read_xy("pad", point.pad);
  fields.read_drive(point.drive_never);
  fields.read_text("note", point.note);
  return point;
}

void BoardReader::read_access(const YamlFields& fields, PointDescription& to) {
  const YamlNode* node = fields.node().find("access");
  if (node == nullptr) {
    return;
  }
  const std::size_t most = std::max<std::size_t>(to.via.size(), 1);
  if (node->kind == YamlNode::Kind::sequence) {
    if (node->items.size() != most) {
      fields.error(*node, fmt::format("access lists {} words; expected {}", node->items.size(),
                                      most == 2 ? "one for each side of the via" : "one"));
    }
    for (const YamlNode& item : node->items) {
      if (const auto access = fields.word<Access>(item, "access")) {
        to.access.push_back(*access);
      }
    }
  } else if (const auto access = fields.word<Access>(*node, "access")) {
    to.access.push_back(*access);
  }
}

// ---- nets --------------------------------------------------------------------------------------

NetDescription BoardReader::read_net(const std::string& name, const YamlNode& node) {
  NetDescription net;
  const std::string what = "net \"" + name + "\"";
  if (node.kind == YamlNode::Kind::sequence) {
    net.members = YamlValues(what, diagnostics_).references(node, "the net");
    return net;
  }
  if (node.kind != YamlNode::Kind::map) {
    YamlValues(what, diagnostics_)
        .error(node, "found no list of points; expected [U2.7, TP3], or {route: [[U2.7, TP3]]}");
    return net;
  }
  const YamlFields fields(node, what, {"route", "also", "points", "role", "drive", "note"},
                          diagnostics_);
  const YamlNode* route = node.find("route");
  if (route && fields.is_list(*route, "route", "[[U2.7, TP3], [TP3, U4.1]]")) {
    for (const YamlNode& chain : route->items) {
      net.route.push_back(read_chain(fields, chain));
    }
  }
  for (const std::string_view key : {"also", "points"}) {
    if (const YamlNode* members = node.find(key)) {
      const std::vector<Reference> names = fields.references(*members, key);
      net.members.insert(net.members.end(), names.begin(), names.end());
    }
  }
  fields.read_word("role", net.role);
  fields.read_drive(net.drive_never);
  fields.read_text("note", net.note);
  return net;
}

ChainDescription BoardReader::read_chain(const YamlValues& net, const YamlNode& node) {
  ChainDescription chain;
  chain.mark = node.mark;
  if (node.kind == YamlNode::Kind::scalar) {
    net.error(node, "route holds a name; expected chains, [[U2.7, TP3], [TP3, U4.1]]");
    return chain;
  }
  if (node.kind == YamlNode::Kind::sequence) {
    chain.points = net.references(node, "a chain");
    return chain;
  }
  const YamlFields fields(node, net.what() + ", chain", {"side", "chain"}, diagnostics_);
  fields.read_side("side", chain.side);
  if (const YamlNode* points = node.find("chain")) {
    chain.points = fields.references(*points, "chain");
  } else {
    fields.error(node, "the points are missing; expected {side: bottom, chain: [U2.7, TP3]}");
  }
  return chain;
}

// ---- wires, copper and regions
// ------------------------------------------------------------------------

void read_copper_mm(const YamlFields& fields, std::string_view key, std::optional<double>& value) {
  fields.read(key, value, [&](const YamlNode& at) {
    auto mm = fields.value(at, key, Unit::millimetre, "0.4 mm");
    if (mm && (*mm <= 0 || *mm > kMaxCopper_mm)) {
      fields.error(at, fmt::format("{} is {} mm; expected more than 0, up to {} mm", key, *mm,
                                   kMaxCopper_mm));
      mm.reset();
    }
    return mm;
  });
}

/// The two names under `between`, which must be there. Errors: a complaint, and nothing.
std::vector<Reference> read_between(const YamlFields& fields) {
  if (const YamlNode* between = fields.node().find("between")) {
    return fields.references(*between, "between", 2);
  }
  fields.error(fields.node(), "between is missing; expected between: [U2.7, TP3]");
  return {};
}

WireDescription BoardReader::read_wire(const std::string& name, const YamlNode& node) {
  WireDescription wire;
  const YamlFields fields(node, "wire " + name, {"between", "gauge", "length", "note"},
                          diagnostics_);
  if (const std::vector<Reference> ends = read_between(fields); !ends.empty()) {
    wire.between = {ends[0], ends[1]};
  }
  fields.read("gauge", wire.gauge, [&](const YamlNode& at) {
    return fields.whole(at, "gauge", kThickestGauge, kThinnestGauge);
  });
  read_copper_mm(fields, "length", wire.length_mm);
  fields.read_text("note", wire.note);
  return wire;
}

void BoardReader::read_copper(const YamlFields& file, std::vector<CopperDescription>& to) {
  const YamlNode* list = file.node().find("copper");
  if (list == nullptr || list->kind == YamlNode::Kind::null ||
      !file.is_list(*list, "copper", "- {between: [U2.7, TP3], width: 0.4 mm}")) {
    return;
  }
  for (const YamlNode& node : list->items) {
    const YamlFields fields(node, "copper", {"between", "width", "length", "count", "name", "note"},
                            diagnostics_);
    CopperDescription copper;
    copper.mark = node.mark;
    read_copper_mm(fields, "width", copper.width_mm);
    read_copper_mm(fields, "length", copper.length_mm);
    fields.read("count", copper.count,
                [&](const YamlNode& at) { return fields.whole(at, "count", 1, kMaxTracks); });
    fields.read_text("name", copper.name);
    fields.read_text("note", copper.note);
    if (const std::vector<Reference> ends = read_between(fields); !ends.empty()) {
      copper.between = {ends[0], ends[1]};
      to.push_back(std::move(copper));
    }
  }
}

RegionDescription BoardReader::read_region(const std::string& name, const YamlNode& node) {
  const YamlFields fields(node, "region " + name, {"side", "polygon", "suspicion", "note"},
                          diagnostics_);
  RegionDescription region;
  fields.read_side("side", region.side);
  fields.read_text("note", region.note);
  fields.read("suspicion", region.suspicion, [&](const YamlNode& value) {
    auto factor = fields.number(value, "suspicion", 0, kMaxSuspicion);
    if (factor && *factor <= 0) {
      fields.error(value, "suspicion is 0; expected a factor above 0, such as 5");
      factor.reset();
    }
    return factor;
  });
  constexpr std::string_view kExample = "[[0, 0], [25, 0], [25, 30]]";
  const YamlNode* polygon = node.find("polygon");
  if (polygon == nullptr) {
    fields.error(node, fmt::format("polygon is missing; expected corners, {}", kExample));
  } else if (fields.is_list(*polygon, "polygon", kExample)) {
    for (const YamlNode& corner : polygon->items) {
      if (const auto xy = fields.xy(corner, "a corner")) {
        region.polygon.push_back(*xy);
      }
    }
    if (polygon->items.size() < 3) {
      fields.error(*polygon, fmt::format("polygon has {} corners; expected 3 or more",
                                         polygon->items.size()));
    }
  }
  return region;
}

}  // namespace

BoardDescription read_board(std::string_view text, Diagnostics& diagnostics) {
  const YamlNode root = parse_yaml(text, diagnostics);
  expect_format(root, "board/1", diagnostics);
  return BoardReader(diagnostics).read(root);
}

}  // namespace padwalk::graph
