// SPDX-License-Identifier: MIT
#include "graph/ipc356_netlist.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace padwalk::graph {

namespace {

constexpr std::array kRecords = {317, 327, 367, 307};
constexpr std::array kContinuations = {17, 27};
// Outlines and other things that are neither points nor copper between them.
constexpr std::array kSkipped = {389, 89, 370, 70, 380, 80, 390, 90, 309, 99, 88};
constexpr int kConductor = 378, kMoreConductor = 78, kAdjacency = 379, kMoreAdjacency = 79;
constexpr std::array kCopper = {kConductor, kMoreConductor, kAdjacency, kMoreAdjacency};
constexpr int kToolingHole = 367;
constexpr int kEnd = 999;
constexpr int kFirstWithoutContinuation = 100;
constexpr long kLargestSize = 9999;
constexpr long kAbsurdSize = 99'999;  // no pad

template <typename Codes>
bool has(const Codes& codes, int code) {
  return std::find(codes.begin(), codes.end(), code) != codes.end();
}

bool starts_with_code(std::string_view line) {
  return line.size() >= 3 &&
         std::all_of(line.begin(), line.begin() + 3, [](char c) { return c >= '0' && c <= '9'; });
}

bool is_word_character(char c) {
  return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

/// The word that begins a text, and what follows it.
std::pair<std::string_view, std::string_view> first_word(std::string_view text) {
  text = without_blanks(text);
  const std::size_t end = std::min(text.find(' '), text.size());
  return {text.substr(0, end), without_blanks(text.substr(end))};
}

/// Lines of one kind that deserve one warning together.
struct Doubt {
  std::size_t lines = 0;
  Mark first;
  void add(Mark mark) {
    first = lines == 0 ? mark : first;
    ++lines;
  }
  void say(const std::string& what, Diagnostics& diagnostics) const {
    if (lines > 0) {
      diagnostics.warning(first, fmt::format("{} (lines like this: {})", what, lines));
    }
  }
};

class NetlistReader {
 public:
  NetlistReader(std::string_view text, Diagnostics& diagnostics)
      : text_(text), diagnostics_(diagnostics) {}

  IpcNetlist run(std::optional<IpcUnits> told_units) {
    refuse_binary();
    read_lines();
    if (!begun_) {
      refuse({}, "the file is blank");
    }
    if (!ended_) {
      diagnostics_.warning({line_, 1},
                           "the file ends without a record 999: it is probably cut off, and nets "
                           "or points are missing");
    }
    netlist_.units = netlist_.units ? netlist_.units : told_units;
    if (!netlist_.units && units_line_ == 0) {
      diagnostics_.error({},
                         "the file does not say its units (no P UNITS); pass --units inch for "
                         "0.0001 inch or --units mm for 0.001 mm");
    }
    netlist_.conductors = conductors_.finish(diagnostics_);
    netlist_.layers = std::max(netlist_.layers, netlist_.conductors.last_layer);
    say_doubts();
    return std::move(netlist_);
  }

 private:
  [[noreturn]] void refuse(Mark mark, const std::string& found) const {
    throw BadFile(diagnostics_.format(
        {mark, found + "; expected an IPC-D-356A netlist, whose lines begin with C, P or a record "
                       "number such as 317"}));
  }

  void refuse_binary() {
    const std::string_view start = text_.substr(0, 2);
    if (start == "\xff\xfe" || start == "\xfe\xff") {
      refuse({}, "the file is UTF-16 text");
    }
    if (start == "PK") {
      refuse({}, "the file is a zip archive");
    }
    if (text_.find('\0') != std::string_view::npos) {
      refuse({}, "the file is a binary file");
    }
    if (text_.substr(0, 3) == "\xef\xbb\xbf") {
      text_.remove_prefix(3);
    }
  }

  void read_lines() {
    const char line_end = text_.find('\n') == std::string_view::npos ? '\r' : '\n';
    while (!text_.empty()) {
      const std::size_t end = std::min(text_.find(line_end), text_.size());
      std::string_view line = text_.substr(0, end);
      text_.remove_prefix(std::min(end + 1, text_.size()));
      ++line_;
      while (!line.empty() && (line.back() == '\r' || line.back() == '\x1a')) {
        line.remove_suffix(1);  // \x1a: the end of a file of old
      }
      if (!without_blanks(line).empty()) {
        read_line(line);
      }
    }
  }

  void read_line(std::string_view line) {
    const bool is_parameter = line[0] == 'P';
    const bool is_comment = line[0] == 'C';
    if (!begun_) {
      const bool glued = line.size() > 1 && is_word_character(line[1]);
      if (!starts_with_code(line) && (glued || !(is_parameter || is_comment))) {
        refuse({line_, 1}, found(line.substr(0, 10)));
      }
      begun_ = true;
    }
    if (starts_with_code(line)) {
      read_data(line);
    } else if (is_parameter) {
      read_parameter(line);
    } else if (is_comment) {
      read_comment(line);
    } else {
      diagnostics_.error({line_, 1}, found(line.substr(0, 3)) +
                                         "; expected C, P or a record number of three digits");
    }
  }

  static std::string found(std::string_view text) {
    return fmt::format("found \"{}\"", printable(text));
  }

  // ---- headers
  void read_comment(std::string_view line) {
    if (const std::size_t column = find_ipc_record(line)) {
      diagnostics_.warning({line_, static_cast<int>(column)},
                           "a comment holds what looks like a data record; it is not read");
    }
    const auto [word, rest] = first_word(line.substr(1));
    if (word.rfind("NNAME", 0) == 0) {
      add_comment_alias(word, rest);
      return;
    }
    constexpr std::string_view kLong = "CAD Netname :";
    constexpr std::string_view kShort = "--- IPC Netname :";
    const std::size_t long_at = line.find(kLong);
    const std::size_t short_at = line.find(kShort);
    if (long_at != std::string_view::npos && short_at != std::string_view::npos &&
        long_at < short_at) {
      const std::size_t begin = long_at + kLong.size();
      add_comment_alias(without_blanks(line.substr(short_at + kShort.size())),
                        without_blanks(line.substr(begin, short_at - begin)));
    }
  }

  void add_comment_alias(std::string_view key, std::string_view name) {
    if (name.empty()) {
      return;
    }
    const auto [known, is_new] = netlist_.comment_aliases.emplace(key, IpcAlias{name, line_});
    if (!is_new && known->second.name != name) {
      diagnostics_.warning({line_, 1},
                           fmt::format("this comment calls {} \"{}\", but line {} calls it \"{}\", "
                                       "which is taken",
                                       printable(key), printable(name), known->second.line,
                                       printable(known->second.name)));
    }
  }

  void read_parameter(std::string_view line) {
    if (const std::size_t column = find_ipc_record(line)) {
      diagnostics_.error({line_, static_cast<int>(column)},
                         "found a data record behind a parameter; expected it on a line of its "
                         "own");
      return;
    }
    const auto [word, rest] = first_word(line.substr(1));
    if (word == "UNITS") {
      read_units(rest, {line_, rest.empty() ? static_cast<int>(line.size()) + 1
                                            : static_cast<int>(rest.data() - line.data()) + 1});
    } else if (word == "JOB" || word == "TITLE") {
      netlist_.job = netlist_.job.empty() ? rest : netlist_.job;
    } else if (word.rfind("NNAME", 0) == 0 && word.size() > 5 && !rest.empty()) {
      const auto [known, is_new] = netlist_.aliases.emplace(word, IpcAlias{rest, line_});
      if (!is_new && known->second.name != rest) {
        diagnostics_.error(
            {line_, static_cast<int>(word.data() - line.data()) + 1},
            fmt::format("found alias {} for \"{}\", but line {} gives it to \"{}\"; expected one "
                        "name for an alias",
                        printable(word), printable(rest), known->second.line,
                        printable(known->second.name)));
      }
    }  // any other keyword tells nothing about the nets
  }

  void read_units(std::string_view value, Mark mark) {
    std::string letters;
    std::copy_if(value.begin(), value.end(), std::back_inserter(letters),
                 [](char c) { return c != ' '; });
    std::optional<IpcUnits> units;
    if (letters == "CUST" || letters == "CUST0" || letters == "CUST2") {
      units = IpcUnits::inch_1e4;
    } else if (letters == "CUST1" || letters == "SI") {
      units = IpcUnits::mm_1e3;
    }
    if (!units) {
      diagnostics_.error(mark, fmt::format("found units \"{}\"; expected CUST 0, CUST 1, CUST 2 or "
                                           "SI",
                                           printable(value)));
    } else if (netlist_.units && netlist_.units != units) {
      diagnostics_.error(mark, fmt::format("found units \"{}\", but others in line {}; expected "
                                           "the same in the whole file",
                                           printable(value), units_line_));
    } else {
      netlist_.units = units;
      netlist_.turns_in_radians = netlist_.turns_in_radians || letters == "CUST2";
    }
    units_line_ = units_line_ == 0 ? line_ : units_line_;
  }

  // ---- records
  void read_data(std::string_view line) {
    const int code = (line[0] - '0') * 100 + (line[1] - '0') * 10 + (line[2] - '0');
    const bool is_record = has(kRecords, code);
    const bool is_continuation = has(kContinuations, code);
    if (code == kEnd) {
      ended_ = true;
      return;
    }
    if (ended_) {
      diagnostics_.error({line_, 1}, fmt::format("found a record {:03} behind 999, the end; "
                                                 "expected comments alone there",
                                                 code));
      return;
    }
    if (!is_record && !is_continuation && !has(kCopper, code) && !has(kSkipped, code)) {
      diagnostics_.error({line_, 1}, fmt::format("found a record {:03}; expected 317, 327, 367 or "
                                                 "307, 017 or 027 behind these, or 999",
                                                 code));
      return;
    }
    ++netlist_.codes[code];
    const bool continues = code < kFirstWithoutContinuation;
    if (continues && (base_ == 0 || (is_continuation && !has(kRecords, base_)) ||
                      (code == kMoreConductor && base_ != kConductor) ||
                      (code == kMoreAdjacency && base_ != kAdjacency))) {
      diagnostics_.error({line_, 1}, fmt::format("found a record {:03}; expected a record "
                                                 "before it that it goes on from",
                                                 code));
      return;
    }
    base_ = continues ? base_ : code;
    if ((is_record || code == kConductor || code == kAdjacency) && code != kToolingHole &&
        ipc_columns(line, 4, 17).empty()) {
      diagnostics_.error({line_, 4},
                         "found no name of a net; expected one in columns 4 to 17, or "
                         "N/C");
      return;
    }
    if (is_record) {
      add_record(line);
    } else if (is_continuation) {
      join_continuation(line);
    } else if (code == kConductor) {
      conductors_.begin(line, line_);
    } else if (code == kMoreConductor) {
      conductors_.go_on(line, line_);
    } else if (code == kAdjacency) {
      netlist_.adjacency.push_back({ipc_columns(line, 4, 3 + kIpcNetColumns), line, line_, false});
    } else if (code == kMoreAdjacency && !netlist_.adjacency.empty()) {
      netlist_.adjacency.push_back({netlist_.adjacency.back().net, line, line_, true});
    } else {
      skipped_[code].add({line_, 1});
    }
  }

  void add_record(std::string_view line) {
    std::optional<IpcRecord> record = read_ipc_record(line, line_, diagnostics_);
    base_is_read_ = record.has_value();
    if (!record) {
      return;
    }
    note_layers(*record);
    if (record->net.size() > kIpcNetColumns) {
      long_nets_.add({line_, 18});
    }
    if (record->odd_mask) {
      odd_masks_.add({line_, 1});
    }
    if (std::max(record->width, record->height) > kLargestSize) {
      long_sizes_.add({line_, 58});
    }
    if (std::max(record->width, record->height) > kAbsurdSize) {
      record->width = record->height = 0;
    }
    if (!record->access && record->code == 327) {
      without_access_.add({line_, 39});
    }
    netlist_.records.push_back(*record);
  }

  /// A further pad shows where else the copper of the record before can be touched.
  void join_continuation(std::string_view line) {
    const std::optional<IpcRecord> more = read_ipc_record(line, line_, diagnostics_);
    if (!more || !base_is_read_) {
      return;
    }
    IpcRecord& record = netlist_.records.back();
    if (!more->net.empty() && more->net != record.net) {
      diagnostics_.warning(
          {line_, 4},
          fmt::format("this continuation names net {}, but the record that it goes on from names "
                      "{}; it is not read",
                      printable(more->net), record.net.empty() ? "none" : printable(record.net)));
      return;
    }
    note_layers(*more);
    record.drill = std::max(record.drill, more->drill);
    if (std::max(more->width, more->height) <= kAbsurdSize) {
      record.widest = std::max({record.widest, more->width, more->height});
    }
    if (more->width > 0) {  // else it is a hole alone
      record.sides |= more->sides;
      record.masked |= more->masked & more->sides;
    }
  }

  void note_layers(const IpcRecord& record) {
    for (const int layer : {record.access.value_or(0), record.from_layer, record.to_layer}) {
      if (layer <= kIpcMostLayers) {
        netlist_.layers = std::max(netlist_.layers, layer);
      }
    }
  }

  // ---- doubts
  void say_doubts() const {
    for (const auto& [code, doubt] : skipped_) {
      doubt.say(fmt::format("record {:03} is skipped: this version does not read it", code),
                diagnostics_);
    }
    long_nets_.say("the name of a net runs on behind column 17", diagnostics_);
    odd_masks_.say("the solder mask is not 0 to 3 and is ignored", diagnostics_);
    long_sizes_.say("a pad size has more than four digits", diagnostics_);
    without_access_.say("the side of a surface pad is not said and taken for the top",
                        diagnostics_);
  }

  std::string_view text_;
  Diagnostics& diagnostics_;
  IpcNetlist netlist_;
  IpcConductorReader conductors_;
  int line_ = 0;
  int units_line_ = 0;
  bool begun_ = false;
  bool ended_ = false;
  int base_ = 0;  ///< code of the record that a continuation would go on from
  bool base_is_read_ = false;
  std::map<int, Doubt> skipped_;
  Doubt long_nets_;
  Doubt odd_masks_;
  Doubt long_sizes_;
  Doubt without_access_;
};

}  // namespace

double IpcNetlist::mm(long value) const {
  const double unit_mm = units == IpcUnits::inch_1e4 ? 0.00254 : 0.001;
  return std::round(static_cast<double>(value) * unit_mm * 1e4) / 1e4;
}

IpcNetlist read_ipc_netlist(std::string_view text, std::optional<IpcUnits> units,
                            Diagnostics& diagnostics) {
  return NetlistReader(text, diagnostics).run(units);
}

}  // namespace padwalk::graph
