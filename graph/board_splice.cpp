// SPDX-License-Identifier: MIT
#include "graph/board_splice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/yaml_ends.hpp"
#include "graph/yaml_reader.hpp"
#include "graph/yaml_text.hpp"

namespace padwalk::graph {

namespace {

class BoardSplicer {
 public:
  BoardSplicer(std::string_view text, std::span<const FoundVia> vias, const std::string& file)
      : ends_(text), vias_(vias), file_(file) {}

  std::string spliced();

 private:
  using Kind = YamlNode::Kind;

  struct NetMembers {
    const YamlNode* net = nullptr;
    std::vector<std::string> names;  ///< as YAML takes them
  };

  static constexpr const char* kOddLayout = "this is laid out in a way that takes no new via";

  [[noreturn]] void stuck(Mark mark, const std::string& why) const {
    throw BadFile(Diagnostics(file_).format({mark, why + "; " + by_hand()}));
  }
  std::string by_hand() const;
  static std::string point_entry(const FoundVia& via);

  void insert(std::size_t where, std::string what) {
    insertions_.emplace_back(where, std::move(what));
  }
  void insert_in_brackets(const YamlNode& node, const std::vector<std::string>& items);
  void insert_lines(std::size_t end, Mark mark, int indent, const std::vector<std::string>& lines);
  void insert_in_list(const YamlNode& list, const std::vector<std::string>& names);
  void add_points(const YamlNode& root);
  void add_members(const YamlNode& net, const std::vector<std::string>& names);
  std::vector<NetMembers> members_by_net(const BoardDescription& before,
                                         const YamlNode& root) const;
  void check(const BoardDescription& before, const std::string& result, Mark mark) const;

  YamlEnds ends_;
  std::span<const FoundVia> vias_;
  const std::string& file_;
  std::vector<std::pair<std::size_t, std::string>> insertions_;
};

// ---- what to add -------------------------------------------------------------------------------

std::string BoardSplicer::point_entry(const FoundVia& via) {
  std::vector<std::string> sides;
  std::transform(via.sides.begin(), via.sides.end(), std::back_inserter(sides), side_name);
  const std::string xy = via.xy ? fmt::format("xy: [{}, {}], ", via.xy->x, via.xy->y) : "";
  return fmt::format("{}: {{{}via: [{}]}}", yaml_text(via.name), xy, fmt::join(sides, ", "));
}

std::string BoardSplicer::by_hand() const {
  std::vector<std::string> points;
  std::vector<std::string> members;
  for (const FoundVia& via : vias_) {
    points.push_back(point_entry(via));
    members.push_back(fmt::format("{} to net {}", yaml_text(via.name), yaml_text(via.net)));
  }
  return fmt::format("nothing was written; add by hand to points: {}, and {}",
                     fmt::join(points, ", "), fmt::join(members, ", "));
}

// ---- insertions --------------------------------------------------------------------------------

void BoardSplicer::insert_in_brackets(const YamlNode& node, const std::vector<std::string>& items) {
  const YamlEnds::FlowEnd end = ends_.flow_end(node);
  const std::string all = fmt::format("{}", fmt::join(items, ", "));
  if (node.items.empty() && node.entries.empty()) {
    insert(end.last, all);
  } else {
    insert(end.last, end.comma ? " " + all + "," : ", " + all);
  }
}

/// New lines below the one in which something ends. The last line of a file without a line end gets
/// one, and the new last line has none.
void BoardSplicer::insert_lines(std::size_t end, Mark mark, int indent,
                                const std::vector<std::string>& lines) {
  const std::string_view text = ends_.text();
  end = ends_.skip_blanks(end);
  const std::size_t line_end = ends_.line_end(end);
  if (line_end != end && text[end] != '#') {
    stuck(mark, "something else stands behind this in the same line");
  }
  const std::size_t model = line_end < text.size() ? line_end : ends_.line_end(0);
  const std::string new_line = ends_.at(model) == '\r' ? "\r\n" : "\n";
  std::string all;
  for (const std::string& line : lines) {
    all += new_line + std::string(static_cast<std::size_t>(indent), ' ') + line;
  }
  insert(line_end, std::move(all));
}

void BoardSplicer::insert_in_list(const YamlNode& list, const std::vector<std::string>& names) {
  if (ends_.in_brackets(list)) {
    insert_in_brackets(list, names);
    return;
  }
  std::vector<std::string> lines;
  for (const std::string& name : names) {
    lines.push_back("- " + name);
  }
  insert_lines(ends_.end_of(list, ends_.column(list)), list.mark, ends_.column(list), lines);
}

void BoardSplicer::add_points(const YamlNode& root) {
  std::vector<std::string> entries;
  std::transform(vias_.begin(), vias_.end(), std::back_inserter(entries), point_entry);
  const std::string in_map = fmt::format("{{{}}}", fmt::join(entries, ", "));
  const auto find = [&](std::string_view key) {
    return std::find_if(root.entries.begin(), root.entries.end(),
                        [&](const YamlEntry& entry) { return entry.key.scalar == key; });
  };
  const auto nets = find("nets");  // there: every via has a net
  const auto points = find("points");
  const bool nets_tell =
      !ends_.in_brackets(nets->value) && nets->value.mark.line > nets->key.mark.line;
  const int indent = nets_tell ? ends_.column(nets->value) : ends_.column(root) + 2;
  if (points == root.entries.end() && ends_.in_brackets(root)) {
    insert(ends_.offset(nets->key), "points: " + in_map + ", ");
  } else if (points == root.entries.end()) {
    // Behind what stands before the nets, so that comments above the nets stay with them.
    for (std::string& entry : entries) {
      entry.insert(0, static_cast<std::size_t>(indent - ends_.column(root)), ' ');
    }
    entries.insert(entries.begin(), "points:");
    const YamlEntry& before = *std::prev(nets);  // `padwalk:` is always the first
    insert_lines(ends_.end_of(before, ends_.column(root)), before.key.mark, ends_.column(root),
                 entries);
  } else if (points->value.kind == Kind::null) {
    const std::size_t end = ends_.end_of(*points, ends_.column(root));
    if (ends_.at(end - 1) != ':') {
      stuck(points->key.mark, "points: holds a word for nothing");
    }
    if (ends_.in_brackets(root)) {
      insert(end, " " + in_map);
    } else {
      insert_lines(end, points->key.mark, indent, entries);
    }
  } else if (ends_.in_brackets(points->value)) {
    insert_in_brackets(points->value, entries);
  } else {
    insert_lines(ends_.end_of(points->value, ends_.column(root)), points->key.mark,
                 ends_.column(points->value), entries);
  }
}

void BoardSplicer::add_members(const YamlNode& net, const std::vector<std::string>& names) {
  if (net.kind == Kind::sequence) {
    insert_in_list(net, names);
    return;
  }
  const YamlNode* also = net.find("also");
  if (const YamlNode* list = also != nullptr ? also : net.find("points")) {
    insert_in_list(*list, names);
    return;
  }
  const std::string entry = fmt::format(
      "{}: [{}]", net.find("route") != nullptr ? "also" : "points", fmt::join(names, ", "));
  if (ends_.in_brackets(net)) {
    insert_in_brackets(net, {entry});
  } else {
    insert_lines(ends_.end_of(net, ends_.column(net)), net.mark, ends_.column(net), {entry});
  }
}

// ---- all of it ---------------------------------------------------------------------------------

std::vector<BoardSplicer::NetMembers> BoardSplicer::members_by_net(const BoardDescription& before,
                                                                   const YamlNode& root) const {
  const YamlNode* const nets = root.find("nets");
  std::set<std::string_view> names;
  std::vector<NetMembers> members;
  for (const FoundVia& via : vias_) {
    const auto taken =
        std::find_if(before.points.begin(), before.points.end(),
                     [&](const PointDescription& point) { return point.name == via.name; });
    if (taken != before.points.end()) {
      stuck(taken->mark, fmt::format("there is a point {} already", yaml_text(via.name)));
    }
    if (!names.insert(via.name).second) {
      stuck({}, fmt::format("two new vias have the name {}", yaml_text(via.name)));
    }
    const YamlNode* const net = nets == nullptr ? nullptr : nets->find(via.net);
    if (net == nullptr) {
      stuck(nets == nullptr ? Mark{} : nets->mark,
            fmt::format("there is no net {}", yaml_text(via.net)));
    }
    auto of_net = std::find_if(members.begin(), members.end(),
                               [&](const NetMembers& more) { return more.net == net; });
    if (of_net == members.end()) {
      of_net = members.insert(of_net, {net, {}});
    }
    of_net->names.push_back(yaml_text(via.name));
  }
  return members;
}

std::string BoardSplicer::spliced() {
  if (vias_.empty()) {
    return std::string(ends_.text());
  }
  BoardDescription before;
  YamlNode root;
  try {
    Diagnostics diagnostics(file_);
    before = read_board(ends_.text(), diagnostics);
    diagnostics.throw_if_errors();
    root = parse_yaml(ends_.text(), diagnostics);
  } catch (const BadFile& bad) {
    const std::string_view all = bad.what();
    throw BadFile(fmt::format("{}; {}", all.substr(0, all.find('\n')), by_hand()));
  }
  const std::vector<NetMembers> members = members_by_net(before, root);
  try {
    add_points(root);
    for (const NetMembers& more : members) {
      add_members(*more.net, more.names);
    }
  } catch (const UnclearPlace& unclear) {
    stuck(unclear.mark(), unclear.what());
  }
  std::stable_sort(insertions_.begin(), insertions_.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::string result;
  std::size_t copied = 0;
  for (const auto& [where, what] : insertions_) {
    result += ends_.text().substr(copied, where - copied);
    result += what;
    copied = where;
  }
  result += ends_.text().substr(copied);
  check(before, result, members.front().net->mark);
  return result;
}

void BoardSplicer::check(const BoardDescription& before, const std::string& result,
                         Mark mark) const {
  Diagnostics diagnostics(file_);
  BoardDescription after;
  try {
    after = read_board(result, diagnostics);
    diagnostics.throw_if_errors();
    Board(after, diagnostics);
  } catch (const BadFile&) {
    stuck(mark, diagnostics.errors().empty()
                    ? std::string(kOddLayout)
                    : "with the new vias, " + diagnostics.errors().front().text);
  }
  after = without_marks(std::move(after));
  for (const FoundVia& via : vias_) {
    PointDescription expected;
    expected.name = via.name;
    expected.xy = via.xy;
    expected.via = via.sides;
    const auto point = std::find(after.points.begin(), after.points.end(), expected);
    const auto net =
        std::find_if(after.nets.begin(), after.nets.end(),
                     [&](const NetDescription& found) { return found.name == via.net; });
    if (point == after.points.end() || net == after.nets.end()) {
      stuck(mark, kOddLayout);
    }
    after.points.erase(point);
    const auto member =
        std::find(net->members.begin(), net->members.end(), Reference{via.name, {}});
    if (member == net->members.end()) {
      stuck(mark, kOddLayout);
    }
    net->members.erase(member);
  }
  if (after != without_marks(before)) {
    stuck(mark, kOddLayout + std::string(" without a change of what it says"));
  }
}

}  // namespace

std::string splice_vias(std::string_view text, std::span<const FoundVia> vias,
                        const std::string& file) {
  return BoardSplicer(text, vias, file).spliced();
}

}  // namespace padwalk::graph
