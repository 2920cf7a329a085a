// SPDX-License-Identifier: MIT
#include "graph/part_entry.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "graph/chip_types.hpp"
#include "graph/packages.hpp"
#include "graph/part_list.hpp"
#include "graph/typed_points.hpp"
#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

using Words = std::vector<std::string>;
using EntryKind = EntryAnswer::Kind;

EntryAnswer part_refused(std::string text) {
  return {EntryKind::refused, std::move(text), {}};
}

Words blank_split(std::string_view line) {
  Words words;
  for (std::size_t at = 0; (at = line.find_first_not_of(" \t", at)) != std::string_view::npos;) {
    const std::size_t end = std::min(line.find_first_of(" \t", at), line.size());
    words.emplace_back(line.substr(at, end - at));
    at = end;
  }
  return words;
}

std::string joined(const Words& words, std::size_t from, std::size_t to) {
  return fmt::format("{}", fmt::join(words.begin() + static_cast<std::ptrdiff_t>(from),
                                     words.begin() + static_cast<std::ptrdiff_t>(to), " "));
}

/// Where the package ends that begins at word 1; the longest. 0: there is none.
std::size_t package_end(const Words& words) {
  BadPackage bad;
  for (std::size_t end = std::min<std::size_t>(words.size(), 6); end > 1; --end) {
    if (find_package(joined(words, 1, end), bad)) {
      return end;
    }
  }
  return 0;
}

/// One part of the list's form. Errors: nothing and `bad`.
std::optional<PartDescription> one_part(const std::string& name, const std::string& package,
                                        std::string printed, BadWord& bad) {
  if (printed.size() > 1 && printed.front() == '(' && printed.back() == ')') {
    printed = printed.substr(1, printed.size() - 2);
  }
  if (printed.find(", ") != std::string::npos) {
    bad.text = "one line is for parts that are alike; begin a line for each other one";
    return std::nullopt;
  }
  BoardDescription list;
  Diagnostics diagnostics("");
  read_part_list(printed.empty() ? fmt::format("{} {}", name, package)
                                 : fmt::format("{} {} ({})", name, package, printed),
                 list, diagnostics);
  if (!diagnostics.errors().empty() || list.parts.size() != 1) {
    bad.text = diagnostics.errors().empty() ? fmt::format("{} is no part", name)
                                            : diagnostics.errors().front().text;
    return std::nullopt;
  }
  return std::move(list.parts.front());
}

bool may_have_tolerance(PartKind kind) {
  return kind == PartKind::resistor || kind == PartKind::network || kind == PartKind::capacitor ||
         kind == PartKind::inductor || kind == PartKind::pot;
}

std::string part_in_words(const PartDescription& part) {
  Words words = {part.package, part.type, part.value, part.tolerance};
  std::erase(words, "");
  return fmt::format("{}", fmt::join(words, " "));
}

std::string first_to_last(const Words& names) {
  return names.size() == 1 ? names.front() : fmt::format("{} to {}", names.front(), names.back());
}

std::string twice_in_line(const std::string& name) {
  return fmt::format("{} stands twice in this line", name);
}

class PartLine {
 public:
  PartLine(const Board& board, const Words& words, std::size_t end, bool sure)
      : board_(board), words_(words), end_(end), sure_(sure) {}

  EntryAnswer answer() const;

 private:
  const PartDescription* there(const std::string& name) const;
  std::string doubt(const PartDescription& part, std::size_t pins) const;

  const Board& board_;
  const Words& words_;
  std::size_t end_;
  bool sure_;
};

const PartDescription* PartLine::there(const std::string& name) const {
  const auto& parts = board_.description().parts;
  const auto found = std::find_if(parts.begin(), parts.end(),
                                  [&](const PartDescription& part) { return part.name == name; });
  return found == parts.end() ? nullptr : &*found;
}

/// The table knows chips with two rows of pins.
std::string PartLine::doubt(const PartDescription& part, std::size_t pins) const {
  const auto uses = part.kind == PartKind::ic ? pin_uses(part.type) : std::nullopt;
  const bool two_rows = part.package.starts_with("DIP") || part.package.starts_with("dip") ||
                        part.package.starts_with("SO") || part.package.starts_with("so");
  return !uses || uses->size() == pins || !two_rows
             ? ""
             : fmt::format("a {} has {} pins, {} has {}", part.type, uses->size(), part.package,
                           pins);
}

EntryAnswer PartLine::answer() const {
  BadWord bad;
  const auto names = typed_parts(words_.front(), bad);
  if (!names) {
    return part_refused(bad.text);
  }
  const std::string package = joined(words_, 1, end_);
  BadPackage never;
  const std::size_t pins = find_package(package, never)->pins.size();
  EntryAnswer answer{EntryKind::taken, "", {}};
  std::size_t same = 0;
  std::set<std::string> seen;
  for (const std::string& name : *names) {
    if (!seen.insert(name).second) {
      return part_refused(twice_in_line(name));
    }
    auto part = one_part(name, package, joined(words_, end_, words_.size()), bad);
    if (part && may_have_tolerance(part->kind) && words_.size() > end_ &&
        parse_value(words_.back(), Unit::fraction) && words_.back().ends_with('%')) {
      part = one_part(name, package, joined(words_, end_, words_.size() - 1), bad);
      if (part) {
        part->tolerance = words_.back();
      }
    }
    if (!part) {
      return part_refused(bad.text);
    }
    if (const PartDescription* before = there(name)) {
      if (part_in_words(*before) != part_in_words(*part)) {
        return part_refused(fmt::format("there is a {} already: {}", name, part_in_words(*before)));
      }
      ++same;
      continue;
    }
    if (board_.find_point(name)) {
      return part_refused(fmt::format("{} is a point", name));
    }
    if (std::string text = sure_ ? "" : doubt(*part, pins); !text.empty()) {
      return {EntryKind::doubtful, std::move(text), {}};
    }
    answer.additions.parts.push_back(std::move(*part));
  }
  if (answer.additions.parts.empty()) {
    return {
        EntryKind::told, fmt::format("{}: there already, and the same", first_to_last(*names)), {}};
  }
  answer.text = fmt::format("{}: {}, {} pin{}{}{}", first_to_last(*names),
                            part_in_words(answer.additions.parts.front()), pins,
                            pins == 1 ? "" : "s", names->size() > 1 ? " each" : "",
                            same == 0 ? "" : fmt::format(", {} there already", same));
  return answer;
}

EntryAnswer pad_line(const Board& board, const std::string& word) {
  BadWord bad;
  const auto names = typed_parts(word, bad);
  if (!names) {
    return part_refused(bad.text);
  }
  const TypedPoints on_board(board);
  EntryAnswer answer{EntryKind::taken, "", {}};
  std::set<std::string> seen;
  for (const std::string& name : *names) {
    BoardDescription list;
    Diagnostics diagnostics("");
    read_point_list(name, list, diagnostics);
    if (!seen.insert(name).second) {
      return part_refused(twice_in_line(name));
    }
    if (!diagnostics.errors().empty()) {
      return part_refused(diagnostics.errors().front().text);
    }
    if (on_board.is_point(name) || board.find_part(name)) {
      return part_refused(fmt::format("there is a {} already", name));
    }
    answer.additions.points.insert(answer.additions.points.end(), list.points.begin(),
                                   list.points.end());
  }
  answer.text = fmt::format("{}: {} pad{}", first_to_last(*names), names->size(),
                            names->size() == 1 ? "" : "s");
  return answer;
}

/// Whether the letters of a name are those of a kind of part: what stands behind it is a package.
bool is_name_of_a_part(const std::string& word, const Board& board) {
  BadWord bad;
  const auto names = typed_parts(word, bad);
  const auto part =
      names && !names->empty() ? one_part(names->front(), "row 1", "", bad) : std::nullopt;
  return part && part->kind != PartKind::other && !board.find_net(word) &&
         word.find_first_of("0123456789") != std::string::npos;
}

}  // namespace

std::optional<EntryAnswer> enter_part_line(std::string_view line, const Board& board, bool sure) {
  const Words words = blank_split(line);
  if (words.size() == 2 && (words[1] == "pad" || words[1] == "pads")) {
    return pad_line(board, words[0]);
  }
  if (words.size() < 2) {
    return std::nullopt;
  }
  if (const std::size_t end = package_end(words); end > 0) {
    return PartLine(board, words, end, sure).answer();
  }
  const TypedPoints names(board);
  const bool points = words[1].find_first_of(".{") != std::string::npos ||
                      names.is_point(words[1]) || names.part(words[1]);
  if (points || !is_name_of_a_part(words[0], board)) {
    return std::nullopt;
  }
  BadPackage bad;
  find_package(words[1], bad);
  return part_refused(bad.text);
}

// ---- supply pins -------------------------------------------------------------------------------

namespace {

/// The net that most such pins of known chips are on; else the first of that role; else one that
/// is called so; else a new one.
std::string rail_for(const Board& board, PinUse use) {
  const TypedPoints names(board);
  const NetRole role = use == PinUse::supply ? NetRole::supply : NetRole::ground;
  const Net* best = nullptr;
  std::size_t most = 0;
  for (const Net& net : board.nets()) {
    if (!net.listed || net.name.starts_with('-')) {
      continue;
    }
    const auto such = [&](PointId point) { return names.use(board[point].name) == use; };
    const auto pins =
        static_cast<std::size_t>(std::count_if(net.points.begin(), net.points.end(), such));
    const std::size_t weight = 3 * pins + (net.role == role                 ? 2U
                                           : role_by_name(net.name) == role ? 1U
                                                                            : 0U);
    if (weight > most) {
      most = weight;
      best = &net;
    }
  }
  return best != nullptr ? best->name : use == PinUse::supply ? "VCC" : "GND";
}

}  // namespace

std::optional<SupplyOffer> offer_supplies(const BoardAdditions& taken, const Board& board) {
  const TypedPoints names(board);
  NetAddition to_ground{rail_for(board, PinUse::ground), NetRole::ground, {}};
  NetAddition to_supply{rail_for(board, PinUse::supply), NetRole::supply, {}};
  Words chips;
  Words pins;
  std::string type;
  for (const PartDescription& part : taken.parts) {
    const auto id = board.find_part(part.name);
    const auto uses = id ? names.uses(*id) : std::nullopt;
    if (!uses) {
      continue;
    }
    for (std::size_t i = 0; i < uses->size(); ++i) {
      const auto use = static_cast<PinUse>((*uses)[i]);
      if (use != PinUse::ground && use != PinUse::supply) {
        continue;
      }
      const Point& pin = board[board[*id].pins[i]];
      if (pin.net != kNoNet) {
        continue;
      }
      NetAddition& net = use == PinUse::ground ? to_ground : to_supply;
      net.members.push_back(pin.name);
      if (chips.empty()) {  // the others are alike
        pins.push_back(fmt::format("pin {} {}", pin.pin, net.name));
      }
    }
    chips.push_back(part.name);
    type = board[*id].type;
  }
  SupplyOffer offer;
  for (NetAddition* net : {&to_ground, &to_supply}) {
    if (!net->members.empty()) {
      offer.additions.nets.push_back(std::move(*net));
    }
  }
  if (offer.additions.nets.empty()) {
    return std::nullopt;
  }
  offer.text = fmt::format("{} {}: {}", first_to_last(chips), type, fmt::join(pins, ", "));
  return offer;
}

}  // namespace padwalk::graph
