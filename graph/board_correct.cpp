// SPDX-License-Identifier: MIT
#include "graph/board_correct.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/yaml_ends.hpp"
#include "graph/yaml_erase.hpp"
#include "graph/yaml_reader.hpp"
#include "graph/yaml_text.hpp"

namespace padwalk::graph {

namespace {

/// By name of each point: the name of its net.
using NetOf = std::map<std::string, std::string>;

NetOf nets_by_point(const Board& board) {
  NetOf nets;
  for (const Point& point : board.points()) {
    const bool listed = point.net != kNoNet && board[point.net].listed;
    nets[point.name] = listed ? board[point.net].name : "";
  }
  return nets;
}

/// "U2.7" of "U2.7@bottom".
bool means(const std::string& reference, const std::string& point) {
  return reference == point || reference.starts_with(point + "@");
}

template <typename Named>
auto find_named(std::vector<Named>& all, const std::string& name) {
  return std::find_if(all.begin(), all.end(), [&](const Named& one) { return one.name == name; });
}

class BoardCorrector {
 public:
  BoardCorrector(std::string_view text, const BoardCorrection& correction, const std::string& note,
                 const std::string& file)
      : text_(text), correction_(correction), note_(note), file_(file) {}

  std::string corrected();

 private:
  using Kind = YamlNode::Kind;

  [[noreturn]] void stuck(Mark mark, const std::string& why) const {
    throw BadFile(fmt::format("{}; nothing was written; change by hand: {}",
                              Diagnostics(file_).format({mark, why}),
                              correction_text(correction_)));
  }
  void parse();
  const YamlNode& node(std::string_view section, const std::string& name) const;
  std::size_t entry_of(std::string_view section, const std::string& name) const;
  void erase_from(const YamlNode& list, std::size_t item,
                  const std::vector<std::string_view>& keys);
  bool erase_from_lists(const NetMember& member);
  bool erase_from_route(const NetMember& member);
  void erase_net(const std::string& net);
  void set_value(const PartValue& value);
  void add_note();
  void check(const NetOf& before);

  std::string text_;
  BoardCorrection correction_;  ///< grows by what a chain of two leaves behind
  const std::string& note_;
  const std::string& file_;
  YamlNode root_;
  BoardDescription expected_;
};

void BoardCorrector::parse() {
  Diagnostics diagnostics(file_);
  root_ = parse_yaml(text_, diagnostics);
}

std::size_t BoardCorrector::entry_of(std::string_view section, const std::string& name) const {
  const YamlNode* const map = root_.find(section);
  if (map == nullptr) {
    stuck({}, fmt::format("there is no {}: any more", section));
  }
  const auto entry = std::find_if(map->entries.begin(), map->entries.end(),
                                  [&](const YamlEntry& each) { return each.key.scalar == name; });
  if (entry == map->entries.end()) {
    stuck(map->mark, fmt::format("there is no {} in {} any more", yaml_text(name), section));
  }
  return static_cast<std::size_t>(entry - map->entries.begin());
}

const YamlNode& BoardCorrector::node(std::string_view section, const std::string& name) const {
  return root_.find(section)->entries[entry_of(section, name)].value;
}

// ---- one change --------------------------------------------------------------------------------

/// The last of a list that stands one a line leaves [] behind, since nothing is no list.
void BoardCorrector::erase_from(const YamlNode& list, std::size_t item,
                                const std::vector<std::string_view>& keys) {
  const bool brackets = YamlEnds(text_).in_brackets(list) || list.items.size() > 1;
  text_ = erase_item(text_, list, item);
  parse();
  if (!brackets) {
    const YamlNode* map = &root_;
    for (std::size_t i = 0; i + 1 < keys.size(); ++i) {
      map = map->find(keys[i]);
    }
    const YamlEntry& owner =
        *std::find_if(map->entries.begin(), map->entries.end(),
                      [&](const YamlEntry& each) { return each.key.scalar == keys.back(); });
    text_.insert(YamlEnds(text_).end_of(owner, YamlEnds::column(*map)), " []");
    parse();
  }
}

bool BoardCorrector::erase_from_lists(const NetMember& member) {
  const YamlNode& net = node("nets", member.net);
  for (const std::string_view key : {"", "also", "points"}) {
    const YamlNode* const list = key.empty() ? &net : net.find(key);
    if (list == nullptr || list->kind != Kind::sequence) {
      continue;
    }
    for (std::size_t i = 0; i < list->items.size(); ++i) {
      if (means(list->items[i].scalar, member.point)) {
        const std::string name = list->items[i].scalar;
        std::vector<std::string_view> keys = {"nets", member.net};
        if (!key.empty()) {
          keys.push_back(key);
        }
        erase_from(*list, i, keys);
        auto& members = find_named(expected_.nets, member.net)->members;
        members.erase(std::find_if(members.begin(), members.end(),
                                   [&](const Reference& one) { return one.name == name; }));
        return true;
      }
    }
  }
  return false;
}

/// The end of a chain goes, and a chain of two as a whole.
bool BoardCorrector::erase_from_route(const NetMember& member) {
  const YamlNode* const route = node("nets", member.net).find("route");
  if (route == nullptr) {
    return false;
  }
  NetDescription& net = *find_named(expected_.nets, member.net);
  for (std::size_t c = 0; c < route->items.size(); ++c) {
    const YamlNode* const inner = route->items[c].find("chain");
    const YamlNode& chain = inner != nullptr ? *inner : route->items[c];
    const std::size_t size = chain.items.size();
    for (std::size_t i = 0; i < size; ++i) {
      if (!means(chain.items[i].scalar, member.point)) {
        continue;
      }
      if (i > 0 && i + 1 < size) {
        stuck(chain.items[i].mark,
              fmt::format("{} stands inside a chain of the route, and how the copper runs without "
                          "it is not known",
                          member.point));
      }
      std::vector<Reference>& points = net.route[c].points;
      if (size > 2) {
        text_ = erase_item(text_, chain, i);
        points.erase(points.begin() + static_cast<std::ptrdiff_t>(i));
      } else {
        const std::string other = size == 2 ? points[1 - i].name : "";
        text_ = erase_item(text_, *route, c);
        net.route.erase(net.route.begin() + static_cast<std::ptrdiff_t>(c));
        const auto holds = [&](const std::vector<Reference>& all) {
          return std::any_of(all.begin(), all.end(), [&](const Reference& one) {
            return means(one.name, other.substr(0, other.find('@')));
          });
        };
        const bool still =
            other.empty() || holds(net.members) ||
            std::any_of(net.route.begin(), net.route.end(),
                        [&](const ChainDescription& one) { return holds(one.points); });
        if (!still) {  // it stays in the net, way unknown
          const auto there = find_named(correction_.additions, member.net);
          NetAddition& addition =
              there != correction_.additions.end() ? *there : correction_.additions.emplace_back();
          addition.name = member.net;
          addition.members.insert(addition.members.begin(), other);
        }
      }
      parse();
      return true;
    }
  }
  return false;
}

void BoardCorrector::erase_net(const std::string& net) {
  text_ = erase_entry(text_, *root_.find("nets"), entry_of("nets", net));
  parse();
  expected_.nets.erase(find_named(expected_.nets, net));
}

void BoardCorrector::set_value(const PartValue& value) {
  const YamlEnds ends(text_);
  const YamlNode& part = node("parts", value.part);
  const YamlNode* const there = part.find("value");
  if (there == nullptr) {
    stuck(part.mark, fmt::format("{} has no value", value.part));
  }
  const std::size_t begin = ends.offset(*there);
  text_.replace(begin, ends.end_of(*there, YamlEnds::column(part)) - begin, yaml_text(value.value));
  parse();
  find_named(expected_.parts, value.part)->value = value.value;
}

/// A line of its own where names stand one a line, else behind all.
void BoardCorrector::add_note() {
  std::string_view section = "nets";
  std::string name;
  if (!correction_.additions.empty()) {
    name = correction_.additions.front().name;
  } else if (!correction_.taken_out.empty()) {
    name = correction_.taken_out.front().net;
  } else if (!correction_.values.empty()) {
    section = "parts";
    name = correction_.values.front().part;
  }
  const std::string end = text_.find("\r\n") != std::string::npos ? "\r\n" : "\n";
  const YamlNode* const map = root_.find(section);
  const auto entry = map == nullptr
                         ? std::vector<YamlEntry>::const_iterator{}
                         : std::find_if(map->entries.begin(), map->entries.end(),
                                        [&](const YamlEntry& e) { return e.key.scalar == name; });
  if (map != nullptr && entry != map->entries.end()) {
    const std::size_t key = YamlEnds(text_).offset(entry->key);
    const std::size_t line = text_.rfind('\n', key) + 1;
    const std::string blanks = text_.substr(line, key - line);
    if (!YamlEnds(text_).in_brackets(*map) && blanks.find_first_not_of(' ') == std::string::npos) {
      text_.insert(line, blanks + "# " + note_ + end);
      return;
    }
  }
  text_ += (text_.ends_with('\n') ? "" : end) + "# " + note_ + (text_.ends_with('\n') ? end : "");
}

// ---- all of it ---------------------------------------------------------------------------------

/// What is expected is there, and every point is in the net that it should be in.
void BoardCorrector::check(const NetOf& before) {
  Diagnostics diagnostics(file_);
  NetOf expected = before;
  for (const NetMember& member : correction_.taken_out) {
    expected[member.point].clear();
  }
  for (auto& [point, net] : expected) {
    const auto& removed = correction_.removed_nets;
    if (std::find(removed.begin(), removed.end(), net) != removed.end()) {
      net.clear();
    }
  }
  for (const NetAddition& addition : correction_.additions) {
    for (const std::string& member : addition.members) {
      expected[member.substr(0, before.count(member) != 0 ? std::string::npos : member.find('@'))] =
          addition.name;
    }
  }
  try {
    BoardDescription after = read_board(text_, diagnostics);
    diagnostics.throw_if_errors();
    const NetOf nets = nets_by_point(Board(after, diagnostics));
    if (without_marks(std::move(after)) == expected_ && nets == expected) {
      return;
    }
  } catch (const BadFile&) {
    stuck({}, diagnostics.errors().empty()
                  ? "this is laid out in a way that takes no correction"
                  : "with this change, " + diagnostics.errors().front().text);
  }
  stuck({},
        "this is laid out in a way that takes no correction without a change of what else it "
        "says");
}

std::string BoardCorrector::corrected() {
  NetOf before;
  try {
    Diagnostics diagnostics(file_);
    expected_ = read_board(text_, diagnostics);
    diagnostics.throw_if_errors();
    before = nets_by_point(Board(expected_, diagnostics));
    expected_ = without_marks(std::move(expected_));
    parse();
  } catch (const BadFile& bad) {
    const std::string_view all = bad.what();
    stuck({}, std::string(all.substr(0, all.find('\n'))));
  }
  try {
    for (const NetMember& member : correction_.taken_out) {
      bool gone = false;
      while (erase_from_lists(member) || erase_from_route(member)) {
        gone = true;
      }
      if (!gone) {
        stuck(node("nets", member.net).mark, fmt::format("{} does not stand in net {} by itself",
                                                         member.point, yaml_text(member.net)));
      }
    }
    for (const std::string& net : correction_.removed_nets) {
      erase_net(net);
    }
    for (const PartValue& value : correction_.values) {
      set_value(value);
    }
  } catch (const UnclearPlace& unclear) {
    stuck(unclear.mark(), unclear.what());
  } catch (const BadFile& bad) {  // the text does not parse any more, or stuck() spoke
    const std::string all = bad.what();
    if (all.find("; nothing was written") != std::string::npos) {
      throw;
    }
    stuck({}, "this is laid out in a way that takes no correction");
  }
  try {
    if (!correction_.additions.empty()) {
      text_ = splice_board(text_, {{}, {}, correction_.additions}, file_).text;
      parse();
    }
  } catch (const BadFile& bad) {
    const std::string all = bad.what();
    throw BadFile(fmt::format("{}; nothing was written; change by hand: {}",
                              all.substr(0, all.find("; nothing was written")),
                              correction_text(correction_)));
  }
  for (const NetAddition& addition : correction_.additions) {
    auto net = find_named(expected_.nets, addition.name);
    if (net == expected_.nets.end()) {
      net = expected_.nets.insert(net, NetDescription{});
      net->name = addition.name;
      net->role = addition.role;
    }
    for (const std::string& member : addition.members) {
      net->members.push_back({member, {}});
    }
  }
  if (!note_.empty()) {
    add_note();
  }
  check(before);
  return std::move(text_);
}

}  // namespace

std::string correct_board(std::string_view text, const BoardCorrection& correction,
                          const std::string& note, const std::string& file) {
  return BoardCorrector(text, correction, note, file).corrected();
}

std::string correction_text(const BoardCorrection& correction) {
  std::vector<std::string> clauses;
  std::set<std::string> said;
  const auto in_words = [](const std::vector<std::string>& names) {
    return fmt::format("{}", fmt::join(names, ", "));
  };
  std::map<std::string, std::string> from;
  for (const NetMember& member : correction.taken_out) {
    from[member.point] = member.net;
  }
  for (const NetAddition& addition : correction.additions) {
    std::map<std::string, std::vector<std::string>> by_net;  // "": no net so far
    for (const std::string& member : addition.members) {
      const auto net = from.find(member);
      by_net[net == from.end() ? "" : net->second].push_back(member);
      said.insert(member);
    }
    for (const auto& [net, members] : by_net) {
      clauses.push_back(fmt::format("{}{} to net {}", in_words(members),
                                    net.empty() ? "" : " from net " + net, addition.name));
    }
  }
  std::map<std::string, std::vector<std::string>> out;
  for (const NetMember& member : correction.taken_out) {
    if (said.count(member.point) == 0) {
      out[member.net].push_back(member.point);
    }
  }
  for (const auto& [net, members] : out) {
    clauses.push_back(fmt::format("{} out of net {}", in_words(members), net));
  }
  for (const std::string& net : correction.removed_nets) {
    clauses.push_back(fmt::format("no net {}", net));
  }
  for (const PartValue& value : correction.values) {
    clauses.push_back(fmt::format("{} has {}", value.part, value.value));
  }
  return fmt::format("{}", fmt::join(clauses, "; "));
}

}  // namespace padwalk::graph
