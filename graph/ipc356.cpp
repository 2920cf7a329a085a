// SPDX-License-Identifier: MIT
#include "graph/ipc356.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "graph/ipc356_records.hpp"

namespace padwalk::graph {

namespace {

constexpr double kSmallestBoardMm = 2;
constexpr double kLargestBoardMm = 2000;
constexpr std::size_t kNetColumns = 14;
constexpr int kMaxLayers = 16;

std::string_view without_line_end(std::string_view line) {
  while (!line.empty() && (line.back() == '\r' || line.back() == '\x1a')) {
    line.remove_suffix(1);
  }
  return line;
}

bool starts_with_code(std::string_view line) {
  return line.size() >= 3 &&
         std::all_of(line.begin(), line.begin() + 3, [](char c) { return c >= '0' && c <= '9'; });
}

std::string_view trimmed(std::string_view text) {
  return ipc_columns(text, 1, text.size() + 1);
}

/// The word that begins a text, and what follows it.
std::pair<std::string_view, std::string_view> first_word(std::string_view text) {
  text = trimmed(text);
  const std::size_t end = text.find(' ');
  return {text.substr(0, end),
          end == std::string_view::npos ? std::string_view{} : trimmed(text.substr(end))};
}

class Importer {
 public:
  Importer(std::string_view text, std::optional<IpcUnits> units, Diagnostics& diagnostics,
           IpcSummary& summary)
      : text_(text), told_units_(units), diagnostics_(diagnostics), summary_(summary) {}

  BoardDescription run() {
    read_lines();
    if (!units_) {
      units_ = told_units_;
    }
    if (!units_) {
      if (!diagnostics_.errors().empty()) {
        return {};
      }
      diagnostics_.error({},
                         "the file does not say its units; give --units inch (0.0001 inch) or "
                         "--units mm (0.001 mm)");
      return {};
    }
    build();
    say_counted_warnings();
    return std::move(board_);
  }

 private:
  // ---- lines
  void read_lines() {
    refuse_other_files();
    int number = 0;
    for (std::string_view rest = text_; !rest.empty();) {
      const std::size_t end = rest.find('\n');
      const std::string_view line = without_line_end(rest.substr(0, end));
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
      ++number;
      if (!trimmed(line).empty()) {
        read_line(line, number);
      }
    }
    if (!ended_) {
      diagnostics_.warning({number, 1},
                           "the file ends without its 999 record: it may be cut off, "
                           "and nets may be missing");
    }
  }

  /// A text that is something else is refused at once: every line would be a mistake.
  void refuse_other_files() const {
    const auto refuse = [&](const char* what) {
      throw BadFile(
          fmt::format("{}: {}; expected an IPC-D-356 netlist", diagnostics_.file(), what));
    };
    if (text_.find('\0') != std::string_view::npos) {
      refuse("this is a binary file");
    }
    for (std::string_view rest = text_; !rest.empty();) {
      const std::size_t end = rest.find('\n');
      const std::string_view line = without_line_end(rest.substr(0, end));
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
      if (trimmed(line).empty()) {
        continue;
      }
      const bool header = (line[0] == 'C' || line[0] == 'P') &&
                          (line.size() == 1 || line[1] == ' ' || line[0] == 'C');
      if (!header && !starts_with_code(line)) {
        refuse("its first line is neither a comment (C), a parameter (P) nor a record");
      }
      return;
    }
    refuse("the file holds blanks alone");
  }

  void read_line(std::string_view line, int number) {
    if (line[0] == 'C') {
      read_comment(line);
    } else if (line[0] == 'P') {
      read_parameter(line, number);
    } else if (!starts_with_code(line)) {
      diagnostics_.error({number, 1}, fmt::format("found \"{}\"; expected C, P or a record number",
                                                  printable(line.substr(0, 3))));
    } else {
      read_data(line, number);
    }
  }

  /// Some writers keep the long names of nets in comments.
  void read_comment(std::string_view line) {
    const auto [word, rest] = first_word(line.substr(1));
    if (word.rfind("NNAME", 0) == 0 && !rest.empty()) {
      comment_aliases_.emplace(word, rest);
      return;
    }
    constexpr std::string_view kCad = "CAD Netname :";
    constexpr std::string_view kIpc = "--- IPC Netname :";
    const std::size_t cad = line.find(kCad);
    const std::size_t ipc = line.find(kIpc);
    if (cad != std::string_view::npos && ipc != std::string_view::npos && cad < ipc) {
      const std::string_view name =
          trimmed(line.substr(cad + kCad.size(), ipc - cad - kCad.size()));
      comment_aliases_.emplace(trimmed(line.substr(ipc + kIpc.size())), name);
    }
  }

  void read_parameter(std::string_view line, int number) {
    if (holds_ipc_record(line)) {
      diagnostics_.error(
          {number, 1},
          "a data record is glued to this parameter; expected it on a line of its own");
      return;
    }
    const auto [word, rest] = first_word(line.substr(1));
    if (word == "UNITS") {
      read_units(rest, number);
    } else if (word == "JOB" || word == "TITLE") {
      if (board_.name.empty()) {
        board_.name = printable(rest);
      }
    } else if (word.rfind("NNAME", 0) == 0 && word.size() > 5) {
      const auto [known, is_new] = aliases_.emplace(word, rest);
      if (!is_new && known->second != rest) {
        diagnostics_.error({number, 4},
                           fmt::format("alias {} is \"{}\" here and \"{}\" before; expected one "
                                       "name for it",
                                       printable(word), printable(rest), printable(known->second)));
      }
    }  // any other keyword tells nothing about the nets
  }

  void read_units(std::string_view value, int number) {
    static const std::map<std::string_view, IpcUnits> known = {
        {"CUST", IpcUnits::inch_1e4},   {"CUST 0", IpcUnits::inch_1e4},
        {"CUST0", IpcUnits::inch_1e4},  {"CUST 1", IpcUnits::mm_1e3},
        {"CUST1", IpcUnits::mm_1e3},    {"SI", IpcUnits::mm_1e3},
        {"CUST 2", IpcUnits::inch_1e4}, {"CUST2", IpcUnits::inch_1e4}};
    const auto found = known.find(value);
    if (found == known.end()) {
      diagnostics_.error({number, 10}, fmt::format("units \"{}\" are not known; expected CUST 0, "
                                                   "CUST 1, CUST 2 or SI",
                                                   printable(value)));
    } else if (units_ && *units_ != found->second) {
      diagnostics_.error({number, 10},
                         "these units are not those of an earlier line; expected one "
                         "unit in a file");
    } else {
      units_ = found->second;
    }
  }

  void read_data(std::string_view line, int number) {
    static const std::set<int> records = {317, 327, 367, 307};
    static const std::set<int> continuations = {17, 27};
    static const std::set<int> skipped = {378, 78, 379, 79, 389, 89, 370, 70,
                                          380, 80, 390, 90, 309, 99, 88};
    const int code = (line[0] - '0') * 100 + (line[1] - '0') * 10 + (line[2] - '0');
    if (code == 999) {
      ended_ = true;
      return;
    }
    if (ended_) {
      diagnostics_.error({number, 1},
                         fmt::format("a record {:03} stands behind the end (999)", code));
      return;
    }
    if (code < 100 && !any_data_ && (continuations.count(code) != 0 || skipped.count(code) != 0)) {
      diagnostics_.error({number, 1}, fmt::format("a record {:03} goes on from a record before it, "
                                                  "and there is none",
                                                  code));
      any_data_ = true;
      return;
    }
    any_data_ = true;
    if (continuations.count(code) != 0) {
      return;  // a further pad or the drill of the record before: no point of its own
    }
    if (skipped.count(code) != 0) {
      ++skipped_[code];
      return;
    }
    if (records.count(code) == 0) {
      diagnostics_.error({number, 1}, fmt::format("record {:03} is not known; expected 317, 327, "
                                                  "367, 307 or a continuation",
                                                  code));
      return;
    }
    std::optional<IpcRecord> record = read_ipc_record(line, number, diagnostics_);
    if (!record) {
      return;
    }
    if (record->net.empty() && code != 367) {
      diagnostics_.error({number, 4}, "the record names no net; expected one, or N/C");
      return;
    }
    record->net = printable(record->net, number);
    record->part = printable(record->part, number);
    record->pin = printable(record->pin, number);
    records_.push_back(std::move(*record));
  }

  // ---- points
  void build() {
    board_.state = BoardState::bare;
    if (board_.name.empty()) {
      board_.name = "imported netlist";
    }
    for (const IpcRecord& record : records_) {
      layers_ = std::max(
          {layers_, record.from_layer, record.to_layer, record.code == 307 ? record.access : 0});
    }
    layers_ = std::min(layers_, kMaxLayers);
    board_.layers = layers_;
    for (const IpcRecord& record : records_) {
      ++summary_.records;
      mask_rubbish_ += record.mask_rubbish ? 1 : 0;
      if (record.code == 367) {
        ++summary_.tooling_holes;
        continue;
      }
      summary_.unconnected += record.net == "N/C" ? 1 : 0;
      note_position(record);
      const std::string point = record.part == "VIA"                        ? add_via(record)
                                : record.part.empty() && record.pin.empty() ? add_pad(record)
                                                                            : add_pin(record);
      if (record.net != "N/C") {
        net_of(record).members.push_back({point, {}});
      }
    }
    summary_.nets = board_.nets.size();
    for (auto& [name, part] : parts_) {
      board_.parts[part.index].pins = std::move(part.pins);
    }
    warn_about_size();
    warn_about_cut_names();
  }

  double mm(long value) const {
    const double unit = *units_ == IpcUnits::inch_1e4 ? 0.00254 : 0.001;
    return std::round(static_cast<double>(value) * unit * 1e5) / 1e5;
  }

  std::optional<Xy> pad_size(const IpcRecord& record) const {
    if (record.width == 0) {
      return std::nullopt;
    }
    Xy pad{mm(record.width), mm(record.height == 0 ? record.width : record.height)};
    if (record.rotation % 180 == 90) {
      std::swap(pad.x, pad.y);
    }
    return pad;
  }

  static Side surface_side(const IpcRecord& record) {
    return record.access == 1 ? Side::top : Side::bottom;
  }

  Side layer_side(int layer) const {
    return layer <= 1 ? Side::top : layer >= layers_ ? Side::bottom : inner_side(layer - 1);
  }

  std::string add_via(const IpcRecord& record) {
    PointDescription via;
    via.name = fmt::format("V{}", ++vias_);
    via.xy = Xy{mm(record.x), mm(record.y)};
    via.pad = pad_size(record);
    via.via = {Side::top, Side::bottom};
    if (record.from_layer > 0 && record.to_layer > record.from_layer) {
      via.via = {layer_side(record.from_layer), layer_side(record.to_layer)};
    }
    // Mask bits: 1 covers the primary side, 2 the secondary. A via that is given on one side only
    // can be touched there alone.
    const int covered = record.mask.value_or(0) | (record.access == 0   ? 0
                                                   : record.access == 1 ? 2
                                                                        : 1);
    const auto access = [&](Side side) {
      return side == Side::top && (covered & 1) == 0      ? Access::tip
             : side == Side::bottom && (covered & 2) == 0 ? Access::tip
                                                          : Access::none;
    };
    via.access = {access(via.via[0]), access(via.via[1])};
    if (via.access[0] == via.access[1]) {
      via.access.pop_back();
      if (via.access[0] == Access::tip) {
        via.access.clear();
      }
    }
    board_.points.push_back(std::move(via));
    return board_.points.back().name;
  }

  /// A pad of no part: a test pad of its own.
  std::string add_pad(const IpcRecord& record) {
    PointDescription pad;
    pad.name = fmt::format("P{}", ++pads_);
    pad.xy = Xy{mm(record.x), mm(record.y)};
    pad.pad = pad_size(record);
    pad.side = record.code == 327 ? surface_side(record) : Side::unknown;
    board_.points.push_back(std::move(pad));
    return board_.points.back().name;
  }

  std::string add_pin(const IpcRecord& record) {
    const std::string name = clean(record.part.empty() ? "X" : record.part);
    const auto [found, is_new] = parts_.try_emplace(name);
    Part& part = found->second;
    if (is_new) {
      part.index = board_.parts.size();
      PartDescription description;
      description.name = name;
      board_.parts.push_back(std::move(description));
    }
    const std::string base = clean(record.pin.empty() ? "pad" : record.pin);
    const auto [seen, first] = part.nets.emplace(base, record.net);
    if (!first && seen->second != record.net && record.net != "N/C" && seen->second != "N/C") {
      diagnostics_.warning({record.line, 21},
                           fmt::format("{}.{} stands in nets \"{}\" and \"{}\": perhaps two parts "
                                       "whose names were cut; both points are kept",
                                       name, base, seen->second, record.net));
    }
    const int repeat = ++part.repeats[base];
    PinDescription pin;
    pin.name = repeat == 1 ? base : fmt::format("{}~{}", base, repeat);
    pin.xy = Xy{mm(record.x), mm(record.y)};
    pin.pad = pad_size(record);
    pin.side = record.code == 327 ? surface_side(record) : Side::unknown;
    part.pins.push_back(std::move(pin));
    return name + "." + part.pins.back().name;
  }

  // ---- nets
  NetDescription& net_of(const IpcRecord& record) {
    const auto [found, is_new] = nets_.emplace(record.net, board_.nets.size());
    if (is_new) {
      NetDescription net;
      net.name = long_name(record);
      board_.nets.push_back(std::move(net));
    }
    return board_.nets[found->second];
  }

  std::string long_name(const IpcRecord& record) {
    for (const auto* table : {&aliases_, &comment_aliases_}) {
      for (const std::string& key : {record.net, "NNAME" + record.net}) {
        const auto found = table->find(key);
        if (found == table->end() || found->second.empty()) {
          continue;
        }
        const std::string name = printable(found->second, record.line);
        if (long_names_.insert(name).second) {
          return name;
        }
        diagnostics_.warning(
            {record.line, 4},
            fmt::format("the long name \"{}\" of {} belongs to another net already; "
                        "the short name is kept",
                        name, record.net));
      }
    }
    if (record.net.rfind("NNAME", 0) == 0) {
      diagnostics_.warning(
          {record.line, 4},
          fmt::format("alias {} is never declared; the short name is kept", record.net));
    }
    long_names_.insert(record.net);
    return record.net;
  }

  // ---- doubts
  void note_position(const IpcRecord& record) {
    low_x_ = std::min(low_x_, record.x);
    high_x_ = std::max(high_x_, record.x);
    low_y_ = std::min(low_y_, record.y);
    high_y_ = std::max(high_y_, record.y);
  }

  void warn_about_size() {
    if (board_.points.empty() && board_.parts.empty()) {
      if (!diagnostics_.errors().empty()) {
        return;
      }
      diagnostics_.error({}, "the file holds no point to test; expected records 317 or 327");
      return;
    }
    if (records_.size() == 1) {
      return;
    }
    const double width = mm(high_x_ - low_x_);
    const double height = mm(high_y_ - low_y_);
    if (std::max(width, height) > kLargestBoardMm || std::max(width, height) < kSmallestBoardMm) {
      diagnostics_.warning({}, fmt::format("the board is {:.4g} by {:.4g} mm: are the units of the "
                                           "file right?",
                                           width, height));
    }
  }

  /// Names that fill their columns may have been cut; if two differ in letter case alone, they may
  /// be one net.
  void warn_about_cut_names() {
    std::map<std::string, std::string> seen;
    for (const auto& [name, index] : nets_) {
      if (name.size() != kNetColumns) {
        continue;
      }
      std::string folded = name;
      std::transform(folded.begin(), folded.end(), folded.begin(), [](unsigned char c) {
        return static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
      });
      const auto [other, is_new] = seen.emplace(folded, name);
      if (!is_new) {
        diagnostics_.warning({},
                             fmt::format("nets \"{}\" and \"{}\" fill their columns and differ in "
                                         "letter case alone: perhaps one net",
                                         other->second, name));
      }
    }
  }

  void say_counted_warnings() {
    for (const auto& [code, count] : skipped_) {
      diagnostics_.warning(
          {}, fmt::format("{} records {:03} are not read by this version", count, code));
    }
    if (mask_rubbish_ > 0) {
      diagnostics_.warning({}, fmt::format("{} records have a solder mask value other than 0 to 3; "
                                           "it is ignored",
                                           mask_rubbish_));
    }
    if (renamed_ > 0) {
      diagnostics_.warning({}, fmt::format("{} names hold @ or ~, which board files use otherwise; "
                                           "they became _",
                                           renamed_));
    }
  }

  /// A name whose characters mean something in a board file.
  std::string clean(std::string name) {
    const std::string before = name;
    std::replace(name.begin(), name.end(), '@', '_');
    std::replace(name.begin(), name.end(), '~', '_');
    renamed_ += name != before ? 1 : 0;
    return name;
  }

  /// Text that YAML can hold: bytes beyond ASCII and controls become question marks.
  std::string printable(std::string_view text, int line = 0) {
    std::string all(text);
    bool changed = false;
    for (char& c : all) {
      if (static_cast<unsigned char>(c) < 0x20 || static_cast<unsigned char>(c) > 0x7e) {
        c = '?';
        changed = true;
      }
    }
    if (changed && line > 0) {
      diagnostics_.warning({line, 1}, "a name holds a byte that is not ASCII; it became ?");
    }
    return all;
  }

  struct Part {
    std::size_t index = 0;
    std::vector<PinDescription> pins;
    std::map<std::string, int> repeats;
    std::map<std::string, std::string> nets;  ///< first net of each pin name
  };

  std::string_view text_;
  std::optional<IpcUnits> told_units_;
  Diagnostics& diagnostics_;
  IpcSummary& summary_;
  std::optional<IpcUnits> units_;
  bool ended_ = false;
  bool any_data_ = false;
  std::vector<IpcRecord> records_;
  std::map<std::string, std::string, std::less<>> aliases_;
  std::map<std::string, std::string, std::less<>> comment_aliases_;
  std::map<int, int> skipped_;
  int mask_rubbish_ = 0;
  int renamed_ = 0;
  int layers_ = 2;
  int vias_ = 0;
  int pads_ = 0;
  long low_x_ = std::numeric_limits<long>::max();
  long high_x_ = std::numeric_limits<long>::min();
  long low_y_ = std::numeric_limits<long>::max();
  long high_y_ = std::numeric_limits<long>::min();
  std::map<std::string, Part> parts_;
  std::map<std::string, std::size_t> nets_;  ///< by the text in the records
  std::set<std::string> long_names_;
  BoardDescription board_;
};

}  // namespace

BoardDescription read_ipc356(std::string_view text, std::optional<IpcUnits> units,
                             Diagnostics& diagnostics, IpcSummary& summary) {
  return Importer(text, units, diagnostics, summary).run();
}

}  // namespace padwalk::graph
