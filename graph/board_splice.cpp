// SPDX-License-Identifier: MIT
#include "graph/board_splice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/yaml_ends.hpp"
#include "graph/yaml_reader.hpp"
#include "graph/yaml_text.hpp"

namespace padwalk::graph {

namespace {

/// Sections that take additions, in the order in which files have them.
constexpr std::array<std::string_view, 4> kSections = {"parts", "points", "nets", "wires"};

class BoardSplicer {
 public:
  /// `thing` is what the additions are to a person. With `known_nets` no net is made.
  BoardSplicer(std::string_view text, const BoardAdditions& additions, std::string thing,
               bool known_nets, const std::string& file)
      : ends_(text),
        additions_(additions),
        thing_(std::move(thing)),
        known_nets_(known_nets),
        file_(file) {}

  SplicedText spliced();

 private:
  using Kind = YamlNode::Kind;

  [[noreturn]] void stuck(Mark mark, const std::string& why) const {
    throw BadFile(Diagnostics(file_).format({mark, why + "; " + by_hand()}));
  }
  std::string odd_layout() const {
    return fmt::format("this is laid out in a way that takes no new {}", thing_);
  }
  std::string by_hand() const;
  bool is_new(const NetAddition& net) const;
  std::vector<std::string> entries_of(std::string_view section) const;

  /// `indent` of lines: where several end at one place, what stands further in ends first.
  void insert(std::size_t where, std::string what, int indent = 0) {
    insertions_.push_back({{where, std::move(what)}, indent});
  }
  void insert_in_brackets(const YamlNode& node, const std::vector<std::string>& items);
  void insert_lines(std::size_t end, Mark mark, int indent, const std::vector<std::string>& lines);
  void insert_in_list(const YamlNode& list, const std::vector<std::string>& names);
  int indent_of_entries(const YamlNode& root) const;
  void add_entries(const YamlNode& root, std::string_view section);
  void add_members(const YamlNode& net, const std::vector<std::string>& names);
  template <typename Described>
  void check_names(const std::vector<Described>& added, const std::vector<Described>& before,
                   const char* what) const;
  void check_nets(const YamlNode& root) const;
  void check(const std::string& result, Mark mark) const;

  YamlEnds ends_;
  const BoardAdditions& additions_;
  const std::string thing_;
  const bool known_nets_;
  const std::string& file_;
  BoardDescription before_;
  std::vector<std::pair<Insertion, int>> insertions_;
};

// ---- what to add -------------------------------------------------------------------------------

bool BoardSplicer::is_new(const NetAddition& net) const {
  return !known_nets_ &&
         std::none_of(before_.nets.begin(), before_.nets.end(),
                      [&](const NetDescription& there) { return there.name == net.name; });
}

NetDescription described(const NetAddition& addition) {
  NetDescription net;
  net.name = addition.name;
  net.role = addition.role;
  for (const std::string& member : addition.members) {
    net.members.push_back({member, {}});
  }
  return net;
}

std::vector<std::string> BoardSplicer::entries_of(std::string_view section) const {
  std::vector<std::string> entries;
  const auto add = [&](const std::string& name, const std::string& text) {
    entries.push_back(fmt::format("{}: {}", yaml_text(name), text));
  };
  if (section == "parts") {
    for (const PartDescription& part : additions_.parts) {
      add(part.name, write_entry(part));
    }
  } else if (section == "points") {
    for (const PointDescription& point : additions_.points) {
      add(point.name, write_entry(point));
    }
  } else if (section == "wires") {
    for (const WireDescription& wire : additions_.wires) {
      add(wire.name, write_entry(wire));
    }
  } else {
    for (const NetAddition& net : additions_.nets) {
      if (is_new(net)) {
        add(net.name, write_entry(described(net)));
      }
    }
  }
  return entries;
}

std::string BoardSplicer::by_hand() const {
  std::vector<std::string> clauses;
  for (const std::string_view section : kSections) {
    if (const auto entries = entries_of(section); !entries.empty()) {
      clauses.push_back(fmt::format("to {}: {}", section, fmt::join(entries, ", ")));
    }
  }
  std::vector<std::string> members;
  for (const NetAddition& net : additions_.nets) {
    for (const std::string& name : net.members) {
      if (!is_new(net)) {
        members.push_back(fmt::format("{} to net {}", yaml_text(name), yaml_text(net.name)));
      }
    }
  }
  if (!members.empty()) {
    clauses.push_back(fmt::format("{}", fmt::join(members, ", ")));
  }
  return fmt::format("nothing was written; add by hand {}", fmt::join(clauses, ", and "));
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
  insert(line_end, std::move(all), indent);
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

/// As the entries that are there stand, those of nets before all others.
int BoardSplicer::indent_of_entries(const YamlNode& root) const {
  for (const std::string_view section : {"nets", "parts", "points"}) {
    const auto entry =
        std::find_if(root.entries.begin(), root.entries.end(),
                     [&](const YamlEntry& each) { return each.key.scalar == section; });
    if (entry != root.entries.end() && entry->value.kind == Kind::map &&
        !ends_.in_brackets(entry->value) && entry->value.mark.line > entry->key.mark.line) {
      return ends_.column(entry->value);
    }
  }
  return ends_.column(root) + 2;
}

void BoardSplicer::add_entries(const YamlNode& root, std::string_view section) {
  std::vector<std::string> entries = entries_of(section);
  if (entries.empty()) {
    return;
  }
  const std::string in_map = fmt::format("{{{}}}", fmt::join(entries, ", "));
  const auto find = [&](std::string_view key) {
    return std::find_if(root.entries.begin(), root.entries.end(),
                        [&](const YamlEntry& entry) { return entry.key.scalar == key; });
  };
  const auto there = find(section);
  const int indent = indent_of_entries(root);
  if (there == root.entries.end()) {
    auto next = root.entries.end();
    for (auto later = std::find(kSections.begin(), kSections.end(), section);
         later != kSections.end() && next == root.entries.end(); ++later) {
      next = find(*later);
    }
    if (ends_.in_brackets(root)) {
      const std::string all = fmt::format("{}: {}", section, in_map);
      if (next != root.entries.end()) {
        insert(ends_.offset(next->key), all + ", ");
      } else {
        insert_in_brackets(root, {all});
      }
      return;
    }
    // Behind what stands before the next section, so that comments above that stay with it.
    for (std::string& entry : entries) {
      entry.insert(0, static_cast<std::size_t>(indent - ends_.column(root)), ' ');
    }
    entries.insert(entries.begin(), fmt::format("{}:", section));
    const YamlEntry& before = *std::prev(next);  // `padwalk:` is always the first
    insert_lines(ends_.end_of(before, ends_.column(root)), before.key.mark, ends_.column(root),
                 entries);
  } else if (there->value.kind == Kind::null) {
    const std::size_t end = ends_.end_of(*there, ends_.column(root));
    if (ends_.at(end - 1) != ':') {
      stuck(there->key.mark, fmt::format("{}: holds a word for nothing", section));
    }
    if (ends_.in_brackets(root)) {
      insert(end, " " + in_map);
    } else {
      insert_lines(end, there->key.mark, indent, entries);
    }
  } else if (ends_.in_brackets(there->value)) {
    insert_in_brackets(there->value, entries);
  } else {
    insert_lines(ends_.end_of(there->value, ends_.column(root)), there->key.mark,
                 ends_.column(there->value), entries);
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

template <typename Described>
void BoardSplicer::check_names(const std::vector<Described>& added,
                               const std::vector<Described>& before, const char* what) const {
  std::set<std::string_view> names;
  for (const Described& each : added) {
    const auto taken = std::find_if(before.begin(), before.end(), [&](const Described& there) {
      return there.name == each.name;
    });
    if (taken != before.end()) {
      stuck(taken->mark, fmt::format("there is a {} {} already", what, yaml_text(each.name)));
    }
    if (!names.insert(each.name).second) {
      stuck({}, fmt::format("two new {}s have the name {}", thing_, yaml_text(each.name)));
    }
  }
}

void BoardSplicer::check_nets(const YamlNode& root) const {
  const YamlNode* const nets = root.find("nets");
  for (const NetAddition& addition : additions_.nets) {
    if (!is_new(addition) && (nets == nullptr || nets->find(addition.name) == nullptr)) {
      stuck(nets == nullptr ? Mark{} : nets->mark,
            fmt::format("there is no net {}", yaml_text(addition.name)));
    }
  }
}

SplicedText BoardSplicer::spliced() {
  YamlNode root;
  try {
    Diagnostics diagnostics(file_);
    before_ = read_board(ends_.text(), diagnostics);
    diagnostics.throw_if_errors();
    root = parse_yaml(ends_.text(), diagnostics);
  } catch (const BadFile& bad) {
    const std::string_view all = bad.what();
    throw BadFile(fmt::format("{}; {}", all.substr(0, all.find('\n')), by_hand()));
  }
  check_names(additions_.parts, before_.parts, "part");
  check_names(additions_.points, before_.points, "point");
  check_names(additions_.wires, before_.wires, "wire");
  check_nets(root);
  Mark mark;
  try {
    // Members first: a list may stand as far out as the names of nets.
    for (const NetAddition& net : additions_.nets) {
      if (!is_new(net)) {
        std::vector<std::string> names;
        std::transform(net.members.begin(), net.members.end(), std::back_inserter(names),
                       [](const std::string& name) { return yaml_text(name); });
        const YamlNode& there = *root.find("nets")->find(net.name);
        mark = there.mark;
        add_members(there, names);
      }
    }
    for (const std::string_view section : kSections) {
      add_entries(root, section);
    }
  } catch (const UnclearPlace& unclear) {
    stuck(unclear.mark(), unclear.what());
  }
  std::stable_sort(insertions_.begin(), insertions_.end(), [](const auto& a, const auto& b) {
    return a.first.at != b.first.at ? a.first.at < b.first.at : a.second > b.second;
  });
  SplicedText result;
  std::size_t copied = 0;
  for (auto& [insertion, indent] : insertions_) {
    result.text += ends_.text().substr(copied, insertion.at - copied);
    result.text += insertion.text;
    copied = insertion.at;
    result.insertions.push_back(std::move(insertion));
  }
  result.text += ends_.text().substr(copied);
  check(result.text, mark);
  return result;
}

/// Takes from `all` what equals `one`. False: it is not there.
template <typename Thing>
bool take_out(std::vector<Thing>& all, const Thing& one) {
  const auto found = std::find(all.begin(), all.end(), one);
  if (found == all.end()) {
    return false;
  }
  all.erase(found);
  return true;
}

void BoardSplicer::check(const std::string& result, Mark mark) const {
  Diagnostics diagnostics(file_);
  BoardDescription after;
  try {
    after = read_board(result, diagnostics);
    diagnostics.throw_if_errors();
    Board(after, diagnostics);
  } catch (const BadFile&) {
    stuck(mark, diagnostics.errors().empty() ? odd_layout()
                                             : fmt::format("with the new {}s, {}", thing_,
                                                           diagnostics.errors().front().text));
  }
  after = without_marks(std::move(after));
  bool all_there = true;
  for (const PartDescription& part : additions_.parts) {
    all_there = all_there && take_out(after.parts, part);
  }
  for (const PointDescription& point : additions_.points) {
    all_there = all_there && take_out(after.points, point);
  }
  for (const WireDescription& wire : additions_.wires) {
    all_there = all_there && take_out(after.wires, wire);
  }
  for (const NetAddition& addition : additions_.nets) {
    if (is_new(addition)) {
      all_there = all_there && take_out(after.nets, described(addition));
      continue;
    }
    const auto net =
        std::find_if(after.nets.begin(), after.nets.end(),
                     [&](const NetDescription& found) { return found.name == addition.name; });
    for (const std::string& member : addition.members) {
      all_there =
          all_there && net != after.nets.end() && take_out(net->members, Reference{member, {}});
    }
  }
  if (!all_there) {
    stuck(mark, odd_layout());
  }
  if (after != without_marks(before_)) {
    stuck(mark, odd_layout() + " without a change of what it says");
  }
}

}  // namespace

SplicedText splice_board(std::string_view text, const BoardAdditions& additions,
                         const std::string& file) {
  return BoardSplicer(text, additions, "line", false, file).spliced();
}

std::optional<std::string> unspliced(std::string_view after,
                                     std::span<const Insertion> insertions) {
  std::string before;
  for (const Insertion& insertion : insertions) {
    if (insertion.at < before.size() || after.size() < insertion.at - before.size()) {
      return std::nullopt;
    }
    const std::size_t kept = insertion.at - before.size();
    before += after.substr(0, kept);
    after.remove_prefix(kept);
    if (!after.starts_with(insertion.text)) {
      return std::nullopt;
    }
    after.remove_prefix(insertion.text.size());
  }
  return before += after;
}

std::string splice_vias(std::string_view text, std::span<const FoundVia> vias,
                        const std::string& file) {
  if (vias.empty()) {
    return std::string(text);
  }
  BoardAdditions additions;
  for (const FoundVia& via : vias) {
    PointDescription point;
    point.name = via.name;
    point.xy = via.xy;
    point.via = via.sides;
    additions.points.push_back(std::move(point));
    auto net = std::find_if(additions.nets.begin(), additions.nets.end(),
                            [&](const NetAddition& each) { return each.name == via.net; });
    if (net == additions.nets.end()) {
      net = additions.nets.insert(net, {via.net, NetRole::signal, {}});
    }
    net->members.push_back(via.name);
  }
  return BoardSplicer(text, additions, "via", true, file).spliced().text;
}

}  // namespace padwalk::graph
