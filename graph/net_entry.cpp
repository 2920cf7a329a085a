// SPDX-License-Identifier: MIT
#include "graph/net_entry.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "graph/part_entry.hpp"
#include "graph/text_scan.hpp"
#include "graph/typed_points.hpp"

namespace padwalk::graph {

namespace {

using Words = std::vector<std::string>;
using EntryKind = EntryAnswer::Kind;

constexpr std::size_t kLongestLine = 4096;
constexpr std::size_t kLongestName = 64;
constexpr const char* kForms = "a net is CLK U2.7 R7.1, a part is U2 DIP-16 74138, ? says more";

EntryAnswer line_refused(std::string text) {
  return {EntryKind::refused, std::move(text), {}};
}

/// A net's line: its words are split, its last one is no "!".
class NetLine {
 public:
  NetLine(const Board& board, const Words& words, bool sure)
      : board_(board), names_(board), words_(words), sure_(sure) {}

  EntryAnswer answer();

 private:
  bool good_name(const std::string& name, BadWord& bad) const;
  bool add_word(const std::string& word, BadWord& bad);
  bool add_point(std::size_t line, const std::string& point, BadWord& bad);
  bool is_new(const NetAddition& net) const { return !board_.find_net(net.name); }
  bool has_pin_of_use(NetId net, PinUse use) const;
  std::string doubt() const;
  std::string supply_doubt(const NetAddition& net, const std::string& point) const;
  std::string sum() const;

  const Board& board_;
  TypedPoints names_;
  const Words& words_;
  bool sure_;
  std::vector<NetAddition> nets_;  ///< one, or the lines of a bus
  std::set<std::string> seen_;
  std::size_t there_already_ = 0;
};

bool NetLine::good_name(const std::string& name, BadWord& bad) const {
  const std::string_view before_dot = std::string_view(name).substr(0, name.find('.'));
  if (names_.is_point(name)) {
    bad.text = fmt::format("{} is a point; a line begins with the name of its net", name);
  } else if (board_.find_part(before_dot)) {
    bad.text = name == before_dot
                   ? fmt::format("{} is a part; a line begins with the name of its net", name)
                   : fmt::format("{}; a line begins with the name of its net",
                                 names_.pins_in_words(*board_.find_part(before_dot)));
  } else if (name.size() > kLongestName) {
    bad.text = fmt::format("the name is longer than {} characters", kLongestName);
  } else if (name.find_first_of("{}[]") != std::string::npos) {
    bad.text = fmt::format("{} is no name of a net", name);
  } else {
    return true;
  }
  return false;
}

bool NetLine::add_point(std::size_t line, const std::string& point, BadWord& bad) {
  NetAddition& net = nets_[line];
  if (!seen_.insert(point).second) {
    bad.text = fmt::format("{} stands twice in this line", point);
    return false;
  }
  const NetId in = names_.net_of(point);
  if (in == kNoNet) {
    net.members.push_back(point);
  } else if (board_[in].name == net.name) {
    ++there_already_;
  } else {
    bad.text = fmt::format("{} is in net {} already", point, board_[in].name);
    return false;
  }
  return true;
}

bool NetLine::add_word(const std::string& word, BadWord& bad) {
  const auto points = names_.points(word, bad);
  if (!points) {
    return false;
  }
  const std::size_t lines = nets_.size();
  // One pin of each of so many chips: a line a chip.
  const bool line_a_chip = points->size() == 1 && points->front().size() == lines;
  if (lines > 1 && points->size() != lines && !line_a_chip) {
    const std::size_t pins = points->size() == 1 ? points->front().size() : points->size();
    bad.text = fmt::format("{} is {} point{}, {} is {} nets", word, pins, pins == 1 ? "" : "s",
                           words_.front(), lines);
    return false;
  }
  for (std::size_t pin = 0; pin < points->size(); ++pin) {
    const std::vector<std::string>& of_pin = (*points)[pin];
    for (std::size_t chip = 0; chip < of_pin.size(); ++chip) {
      const std::size_t line = lines == 1 ? 0 : line_a_chip ? chip : pin;
      if (!add_point(line, of_pin[chip], bad)) {
        return false;
      }
    }
  }
  return true;
}

bool NetLine::has_pin_of_use(NetId net, PinUse use) const {
  const std::vector<PointId>& points = board_[net].points;
  return std::any_of(points.begin(), points.end(),
                     [&](PointId point) { return names_.use(board_[point].name) == use; });
}

std::string NetLine::supply_doubt(const NetAddition& net, const std::string& point) const {
  const auto use = names_.use(point);
  if (use != PinUse::supply && use != PinUse::ground) {
    return "";
  }
  const auto there = board_.find_net(net.name);
  const NetRole said = there ? board_[*there].role : NetRole::signal;
  const NetRole role = said == NetRole::signal ? role_by_name(net.name) : said;
  // The negative supply of an amplifier is the ground pin of the table.
  const bool fits = use == PinUse::supply ? role == NetRole::supply : role != NetRole::signal;
  if (fits || (there && has_pin_of_use(*there, *use))) {
    return "";
  }
  const PartId part = board_[*board_.find_point(point)].part;
  return fmt::format("{} is the {} pin of a {}, and {} is no {}", point,
                     use == PinUse::supply ? "supply" : "ground", board_[part].type, net.name,
                     use == PinUse::supply ? "supply" : "ground");
}

/// What looks like a slip. Empty: nothing.
std::string NetLine::doubt() const {
  for (const NetAddition& net : nets_) {
    // AGND beside GND is no slip.
    if (is_new(net) && net.role == NetRole::signal) {
      for (const NetDescription& other : board_.description().nets) {
        if (one_letter_apart(net.name, other.name)) {
          return fmt::format("there is no net {}; is it {}?", net.name, other.name);
        }
      }
    }
    for (const std::string& point : net.members) {
      if (std::string text = supply_doubt(net, point); !text.empty()) {
        return text;
      }
    }
  }
  return "";
}

std::string NetLine::sum() const {
  std::size_t points = 0;
  std::size_t fresh = 0;
  for (const NetAddition& net : nets_) {
    points += net.members.size();
    fresh += is_new(net) ? 1 : 0;
  }
  const auto counted = [](std::size_t n, const char* what) {
    return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
  };
  const NetAddition& first = nets_.front();
  if (nets_.size() > 1) {
    return fmt::format("{} to {}: {} nets, {}, {}", first.name, nets_.back().name, nets_.size(),
                       fresh == nets_.size() ? "all new"
                       : fresh == 0          ? "none new"
                                             : fmt::format("{} new", fresh),
                       counted(points, "point"));
  }
  if (fresh == 0) {
    const std::size_t before = board_[*board_.find_net(first.name)].points.size();
    return fmt::format("{}: {} more, {} points", first.name, points, before + points);
  }
  const char* const role = first.role == NetRole::ground   ? " ground"
                           : first.role == NetRole::supply ? " supply"
                                                           : "";
  return fmt::format("{}: new{}, {}", first.name, role, counted(points, "point"));
}

EntryAnswer NetLine::answer() {
  std::string name = words_.front();
  if (name.size() > 1 && name.back() == ':') {
    name.pop_back();
  }
  BadWord bad;
  const auto bus = typed_bus(name, bad);
  if (!bus) {
    return line_refused(bad.text);
  }
  for (const std::string& net : bus->empty() ? Words{name} : *bus) {
    if (!good_name(net, bad)) {
      return line_refused(bad.text);
    }
    nets_.push_back({net, role_by_name(net), {}});
  }
  for (std::size_t i = 1; i < words_.size(); ++i) {
    if (!add_word(words_[i], bad)) {
      return line_refused(bad.text);
    }
  }
  if (std::string text = sure_ ? "" : doubt(); !text.empty()) {
    return {EntryKind::doubtful, std::move(text), {}};
  }
  std::erase_if(nets_, [](const NetAddition& net) { return net.members.empty(); });
  if (nets_.empty()) {
    return {EntryKind::told, fmt::format("{}: all of that is there already", name), {}};
  }
  EntryAnswer answer{EntryKind::taken, sum(), {}};
  answer.additions.nets = std::move(nets_);
  return answer;
}

// ---- one word alone ----------------------------------------------------------------------------

/// "1-7, 9" of pins in their order.
std::string runs_of(const Words& pins) {
  Words runs;
  for (std::size_t i = 0; i < pins.size();) {
    std::size_t end = i + 1;
    const auto follows = [&](std::size_t k) {
      return pins[k].find_first_not_of("0123456789") == std::string::npos && pins[k].size() < 7 &&
             pins[k - 1].size() < 7 &&
             pins[k - 1].find_first_not_of("0123456789") == std::string::npos &&
             std::stoi(pins[k]) == std::stoi(pins[k - 1]) + 1;
    };
    while (end < pins.size() && follows(end)) {
      ++end;
    }
    runs.push_back(end > i + 1 ? fmt::format("{}-{}", pins[i], pins[end - 1]) : pins[i]);
    i = end;
  }
  return fmt::format("{}", fmt::join(runs, ", "));
}

std::string part_told(const Board& board, PartId part) {
  Words in_nets;
  Words free;
  for (const PointId pin : board[part].pins) {
    const NetId net = board[pin].net;
    if (net != kNoNet && board[net].listed) {
      in_nets.push_back(fmt::format("{} {}", board[pin].pin, board[net].name));
    } else {
      free.push_back(board[pin].pin);
    }
  }
  return fmt::format("{}: {}; free: {}", board[part].name,
                     in_nets.empty() ? "no pin in a net" : some_of(in_nets, 40),
                     free.empty() ? "none" : runs_of(free));
}

EntryAnswer one_word(const Board& board, const std::string& word) {
  const TypedPoints names(board);
  const auto told = [](std::string text) {
    return EntryAnswer{EntryKind::told, std::move(text), {}};
  };
  if (const auto net = board.find_net(word); net && board[*net].listed) {
    Words points;
    for (const PointId point : board[*net].points) {
      points.push_back(board[point].name);
    }
    return told(fmt::format("{}: {}", word, points.empty() ? "no point" : some_of(points, 40)));
  }
  if (const auto part = names.part(word)) {
    return told(part_told(board, *part));
  }
  if (names.is_point(word)) {
    const NetId net = names.net_of(word);
    return told(net == kNoNet ? fmt::format("{} is in no net", word)
                              : fmt::format("{} is in net {}", word, board[net].name));
  }
  Words like = names.nets_like(word);
  const Words parts = names.parts_like(word);
  like.insert(like.end(), parts.begin(), parts.end());
  return line_refused(like.empty()
                          ? fmt::format("{} alone is no name that is there; {}", word, kForms)
                          : fmt::format("{} could be {}", word, some_of(like)));
}

bool is_good_text(std::string_view line) {
  while (!line.empty()) {
    const std::size_t length = utf8_length(line);
    const auto byte = static_cast<unsigned char>(line.front());
    if (length == 0 || (byte < 0x20 && byte != '\t') || byte == 0x7f) {
      return false;
    }
    line.remove_prefix(length);
  }
  return true;
}

}  // namespace

EntryAnswer enter_line(std::string_view line, const Board& board) {
  if (line.ends_with('\r')) {
    line.remove_suffix(1);
  }
  const std::size_t begin = line.find_first_not_of(" \t");
  if (begin == std::string_view::npos) {
    return {};
  }
  line.remove_prefix(begin);
  if (line.size() > kLongestLine) {
    return line_refused(fmt::format("the line is longer than {} characters", kLongestLine));
  }
  if (!is_good_text(line)) {
    return line_refused("the line holds bytes that are no text in UTF-8");
  }
  if (line == "#" || line.starts_with("# ")) {
    return {};
  }
  bool sure = false;
  if (const std::size_t last = line.find_last_not_of(" \t");
      last > 0 && line[last] == '!' && (line[last - 1] == ' ' || line[last - 1] == '\t')) {
    sure = true;
    line = line.substr(0, last);
  }
  if (auto part = enter_part_line(line, board, sure)) {
    return std::move(*part);
  }
  BadWord bad;
  const auto words = typed_words(line, bad);
  if (!words) {
    return line_refused(bad.text);
  }
  if (words->empty()) {
    return line_refused(fmt::format("there is no name; {}", kForms));
  }
  if (words->size() == 1) {
    return one_word(board, words->front());
  }
  return NetLine(board, *words, sure).answer();
}

}  // namespace padwalk::graph
