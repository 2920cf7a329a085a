// SPDX-License-Identifier: MIT
#include "graph/fixtures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>

#include "graph/packages.hpp"
#include "graph/yaml_fields.hpp"

namespace padwalk::graph {

namespace {

constexpr std::array<std::string_view, 4> kKinds = {"chip clip", "plug", "grabber", "tip"};
constexpr int kMostPins = 64;
constexpr double kMostSeconds = 3600;
constexpr std::uint16_t kMostChannel = 65535;
constexpr double kRowTolerance = 0.6;  // mm; clips give that much, legs are bent that much
constexpr double kPitch = 2.54;
/// A clip's jaws stand out from its rows by so much, and from its last legs: mm, from memory.
constexpr double kJaws = 2.5;

class FixturesReader {
 public:
  explicit FixturesReader(Diagnostics& diagnostics) : diagnostics_(diagnostics) {}

  Fixtures read(const YamlNode& root) {
    const YamlFields file(root, "", {"padwalk", "fixtures", "times", "note"}, diagnostics_);
    const YamlNode* map = root.find("fixtures");
    if (map == nullptr || map->kind != YamlNode::Kind::map || map->entries.empty()) {
      file.error(map != nullptr ? *map : root,
                 "there are no fixtures; expected fixtures: with names and what they are, such as "
                 "tip: {kind: tip, channels: 63, move: 4 s}");
    } else {
      for (const auto& [name, value] : map->entries) {
        read_fixture(name.scalar, value);
      }
    }
    if (const YamlNode* times = root.find("times")) {
      const YamlFields fields(*times, "times", {"turn", "confirm"}, diagnostics_);
      seconds(fields, "turn", fixtures_.turn_s);
      seconds(fields, "confirm", fixtures_.confirm_s);
    }
    return std::move(fixtures_);
  }

 private:
  void seconds(const YamlFields& fields, std::string_view key, double& to) {
    const YamlNode* node = fields.node().find(key);
    if (node == nullptr) {
      return;
    }
    if (const auto value = fields.value(*node, key, Unit::second, "8 s")) {
      if (*value > kMostSeconds) {
        fields.error(*node, fmt::format("{} is more than an hour; expected such as 8 s", key));
      } else {
        to = *value;
      }
    }
  }

  void read_fixture(const std::string& name, const YamlNode& node) {
    const YamlFields fields(node, "fixture " + name,
                            {"kind", "pins", "row", "package", "channels", "move", "note"},
                            diagnostics_);
    Fixture fixture;
    fixture.name = name;
    const auto needed = [&](std::string_view key, std::string_view example) {
      const YamlNode* found = node.find(key);
      if (found == nullptr) {
        fields.error(node, fmt::format("{0} is missing; expected {0}: {1}", key, example));
      }
      return found;
    };
    const YamlNode* kind = needed("kind", list_words(kKinds));
    const auto word = kind == nullptr ? std::nullopt : fields.word_of(*kind, "kind", kKinds);
    if (const YamlNode* channels = needed("channels", "1-16")) {
      read_channels(fields, *channels, fixture);
    }
    if (needed("move", "8 s") != nullptr) {
      seconds(fields, "move", fixture.move_s);
    }
    if (!word) {
      return;
    }
    fixture.kind = static_cast<FixtureKind>(*word);
    if (fixture.kind == FixtureKind::chip_clip) {
      read_clip(fields, fixture, needed("pins", "16"), needed("row", "0.3 inch"));
    } else {
      for (const std::string_view key : {"pins", "row"}) {
        refuse(fields, key, kKinds[*word]);
      }
    }
    if (fixture.kind == FixtureKind::plug) {
      read_plug(fields, fixture, needed("package", "header 2x5"));
    } else {
      refuse(fields, "package", kKinds[*word]);
    }
    if (fixture.kind == FixtureKind::tip) {
      if (fixture.channels.size() > 2) {
        fields.error(node,
                     "a tip has one channel or two, two needles; expected channels: [63, 64]");
      }
      if (fixtures_.tip() != nullptr) {
        fields.error(node, "a second tip; a hand holds one");
      }
    }
    fixtures_.fixtures.push_back(std::move(fixture));
  }

  static void refuse(const YamlFields& fields, std::string_view key, std::string_view kind) {
    if (const YamlNode* node = fields.node().find(key)) {
      fields.error(*node, fmt::format("{} says nothing of a {}", key, kind));
    }
  }

  static void read_clip(const YamlFields& fields, Fixture& fixture, const YamlNode* pins,
                        const YamlNode* row) {
    if (pins != nullptr) {
      if (const auto count = fields.whole(*pins, "pins", 4, kMostPins)) {
        fixture.pins = static_cast<std::size_t>(*count);
        if (*count % 2 != 0) {
          fields.error(*pins, "pins is odd; a chip clip has two rows of as many");
        } else if (!fixture.channels.empty() && fixture.channels.size() != fixture.pins) {
          fields.error(*pins, fmt::format("{} pins and {} channels; expected as many of each",
                                          fixture.pins, fixture.channels.size()));
        }
      }
    }
    if (row != nullptr) {
      fixture.row_mm = fields.value(*row, "row", Unit::millimetre, "0.3 inch").value_or(0);
    }
  }

  static void read_plug(const YamlFields& fields, Fixture& fixture, const YamlNode* node) {
    if (node == nullptr) {
      return;
    }
    fixture.package = fields.text(*node, "package").value_or("");
    BadPackage bad;
    const auto package = find_package(fixture.package, bad);
    if (!package) {
      fields.error(*node, bad.text);
    } else if (!fixture.channels.empty() && fixture.channels.size() != package->pins.size()) {
      fields.error(*node, fmt::format("{} pins and {} channels; expected as many of each",
                                      package->pins.size(), fixture.channels.size()));
    }
  }

  /// `5`, `1-16`, or a list of those.
  void read_channels(const YamlFields& fields, const YamlNode& node, Fixture& fixture) {
    const auto bad = [&](const YamlNode& at) {
      fields.error(at, "channels are numbers from 1, such as 1-16, 63 or [63, 64]");
    };
    const auto add = [&](const YamlNode& item) {
      const std::string& text = item.scalar;
      std::uint16_t first = 0;
      std::uint16_t last = 0;
      const char* const end = text.data() + text.size();
      auto [at, error] = std::from_chars(text.data(), end, first);
      last = first;
      if (error == std::errc() && at != end && *at == '-') {
        std::tie(at, error) = [&] {
          const auto read = std::from_chars(at + 1, end, last);
          return std::pair(read.ptr, read.ec);
        }();
      }
      if (item.kind != YamlNode::Kind::scalar || error != std::errc() || at != end || first == 0 ||
          last < first || last == kMostChannel) {
        bad(item);
        return;
      }
      for (std::uint16_t channel = first; channel <= last; ++channel) {
        if (!used_.insert(channel).second) {
          fields.error(item, fmt::format("channel {} is used twice", channel));
          return;
        }
        fixture.channels.push_back(channel);
      }
    };
    if (node.kind == YamlNode::Kind::sequence) {
      for (const YamlNode& item : node.items) {
        add(item);
      }
    } else {
      add(node);
    }
    if (fixture.channels.empty() && node.kind == YamlNode::Kind::sequence) {
      bad(node);
    }
  }

  Diagnostics& diagnostics_;
  Fixtures fixtures_;
  std::set<std::uint16_t> used_;
};

/// Pins in two equal rows, as a DIP has them; the distance of the rows. Units: mm.
std::optional<double> dip_row_mm(const std::string& package) {
  BadPackage bad;
  const auto found = find_package(package, bad);
  const bool dip =
      found && !found->surface && package.size() > 3 && (package[0] == 'D' || package[0] == 'd');
  return dip ? std::optional(found->pins.back().offset.x) : std::nullopt;
}

/// Something of another part stands where a clip would, that is so much longer than its chip.
bool blocked(const Board& board, const Fixture& clip, PartId id) {
  const PartDescription& part = board.description().parts[index(id)];
  if (!part.xy) {
    return false;
  }
  const double length = kPitch * static_cast<double>(clip.pins / 2 - 1);
  const double own = kPitch * static_cast<double>(board[id].pins.size() / 2 - 1);
  // Corners of what stands beyond the chip's last pins, in its own axes; its pins' row is 0.
  const Xy a = place_pin(*part.xy, part.rotation, part.side, {-kJaws, -own - kPitch / 2});
  const Xy b =
      place_pin(*part.xy, part.rotation, part.side, {clip.row_mm + kJaws, -length - kPitch / 2});
  if (length <= own) {
    return false;
  }
  return std::any_of(board.points().begin(), board.points().end(), [&](const Point& point) {
    if (point.part == kNoPart || point.part == id || !point.xy ||
        board[point.part].side != part.side) {
      return false;
    }
    const auto inside = [](double value, double one, double other) {
      return value > std::min(one, other) && value < std::max(one, other);
    };
    return inside(point.xy->x, a.x, b.x) && inside(point.xy->y, a.y, b.y);
  });
}

}  // namespace

const Fixture* Fixtures::tip() const {
  const auto found = std::find_if(fixtures.begin(), fixtures.end(), [](const Fixture& fixture) {
    return fixture.kind == FixtureKind::tip;
  });
  return found == fixtures.end() ? nullptr : &*found;
}

std::uint16_t Fixtures::highest_channel() const {
  std::uint16_t highest = 0;
  for (const Fixture& fixture : fixtures) {
    for (const std::uint16_t channel : fixture.channels) {
      highest = std::max(highest, channel);
    }
  }
  return highest;
}

Fixtures read_fixtures(std::string_view text, Diagnostics& diagnostics) {
  const YamlNode root = parse_yaml(text, diagnostics);
  expect_format(root, "fixtures/1", diagnostics);
  return FixturesReader(diagnostics).read(root);
}

std::optional<std::vector<Lead>> leads_on(const Board& board, const Fixture& fixture, PartId id,
                                          std::string& why) {
  const Part& part = board[id];
  const std::string& package = board.description().parts[index(id)].package;
  const auto no = [&](const char* reason) {
    why = reason;
    return std::nullopt;
  };
  if (std::find(fixture.not_on.begin(), fixture.not_on.end(), id) != fixture.not_on.end()) {
    return no("tried, and it does not fit");
  }
  std::vector<std::size_t> leg(part.pins.size());  // of the fixture, by pin
  if (fixture.kind == FixtureKind::plug) {
    if (package != fixture.package) {
      return no("another package");
    }
    for (std::size_t pin = 0; pin < leg.size(); ++pin) {
      leg[pin] = pin;
    }
  } else if (fixture.kind == FixtureKind::chip_clip) {
    const auto row_mm = dip_row_mm(package);
    if (!row_mm || part.kind != PartKind::ic) {
      return no("no chip with two rows of legs");
    }
    if (!board.assembled() || part.chip == ChipState::pulled) {
      return no("no legs");
    }
    if (part.pins.size() > fixture.pins) {
      return no("more pins");
    }
    if (std::abs(*row_mm - fixture.row_mm) > kRowTolerance) {
      return no(*row_mm > fixture.row_mm ? "wider" : "narrower");
    }
    if (blocked(board, fixture, id)) {
      return no("no room beside the chip");
    }
    for (std::size_t pin = 0; pin < leg.size(); ++pin) {
      leg[pin] = pin < leg.size() / 2 ? pin : fixture.pins - leg.size() + pin;
    }
  } else {
    return no("held by hand");
  }
  const std::vector<bool> never = never_driven(board);
  std::vector<Lead> leads;
  for (std::size_t pin = 0; pin < leg.size(); ++pin) {
    const PointId point = part.pins[pin];
    if (board[point].access != Access::clip) {
      return no("it cannot be clipped");
    }
    if (!never[index(point)]) {
      leads.push_back({fixture.channels[leg[pin]], point});
    }
  }
  return leads;
}

}  // namespace padwalk::graph
