// SPDX-License-Identifier: MIT
#include "graph/yaml_erase.hpp"

#include <algorithm>
#include <utility>
#include <vector>

#include "graph/yaml_ends.hpp"

namespace padwalk::graph {

namespace {

using ErasedRange = std::pair<std::size_t, std::size_t>;

bool is_blank_text(std::string_view text) {
  return text.find_first_not_of(" \t\r\n") == std::string_view::npos;
}

/// The comments that stand in a piece of YAML, each behind the blanks in front of it, one a line.
/// A # inside quotes is none.
std::string comments_in(std::string_view piece) {
  std::string comments;
  char quote = '\0';
  char before = '\n';
  for (std::size_t i = 0; i < piece.size(); ++i) {
    const char c = piece[i];
    const bool begins = std::string_view(" \t\r\n[{,:").find(before) != std::string_view::npos;
    if (quote != '\0') {
      quote = c == quote ? '\0' : quote;
    } else if ((c == '"' || c == '\'') && begins) {
      quote = c;
    } else if (c == '#' && begins) {
      const std::size_t end = std::min(piece.find('\n', i), piece.size());
      const std::size_t word = piece.find_last_not_of(" \t", i == 0 ? 0 : i - 1);
      const std::size_t begin = word == std::string_view::npos ? 0 : word + 1;
      comments += std::string(piece.substr(std::min(begin, i), end - std::min(begin, i))) + "\n";
      i = end;
    }
    before = i < piece.size() ? piece[i] : '\n';
  }
  return comments;
}

/// Without the range, but for comments in it; without its line where that holds nothing else.
std::string text_without(std::string_view text, ErasedRange range) {
  const auto [begin, end] = range;
  std::string kept = comments_in(text.substr(begin, end - begin));
  const std::size_t line = begin == 0 ? 0 : text.rfind('\n', begin - 1) + 1;
  const std::size_t newline = text.find('\n', end);
  const std::size_t next = newline == std::string_view::npos ? text.size() : newline + 1;
  const bool alone = is_blank_text(text.substr(line, begin - line)) &&
                     is_blank_text(text.substr(end, next - end)) &&
                     (line > 0 || next < text.size());
  std::string result(text.substr(0, alone ? line : begin));
  if (alone && newline == std::string_view::npos && kept.empty()) {
    result.erase(result.find_last_not_of("\r\n") + 1);  // the last line had no line end
  }
  result += kept;
  return result += text.substr(alone ? next : end);
}

class FlowEraser {
 public:
  FlowEraser(const YamlEnds& ends, std::vector<ErasedRange> values, Mark mark)
      : ends_(ends), values_(std::move(values)), mark_(mark) {}

  ErasedRange of(std::size_t i) const {
    auto [begin, end] = values_[i];
    const std::size_t comma = ends_.skip_blanks(end);
    if (ends_.at(comma) == ',') {
      end = comma + 1;
      const std::size_t next = ends_.skip_blanks(end);
      const char c = ends_.at(next);
      return {begin, c == '#' || c == '\r' || c == '\n' || c == '\0' ? end : next};
    }
    if (i + 1 < values_.size()) {
      throw UnclearPlace(mark_, "the comma behind this stands in another line");
    }
    if (i > 0) {
      const std::size_t before = values_[i - 1].second;
      if (ends_.text().substr(before, begin - before).find('#') == std::string_view::npos) {
        begin = before;
      }
    }
    return {begin, end};
  }

 private:
  const YamlEnds& ends_;
  std::vector<ErasedRange> values_;
  Mark mark_;
};

}  // namespace

std::string erase_item(std::string_view text, const YamlNode& list, std::size_t item) {
  const YamlEnds ends(text);
  const int column = YamlEnds::column(list);
  if (ends.in_brackets(list)) {
    std::vector<ErasedRange> values;
    for (const YamlNode& each : list.items) {
      values.emplace_back(ends.offset(each), ends.end_of(each, column));
    }
    return text_without(text, FlowEraser(ends, std::move(values), list.items[item].mark).of(item));
  }
  const YamlNode& node = list.items[item];
  const std::size_t dash = text.find_last_not_of(" \t", ends.offset(node) - 1);
  if (dash == std::string_view::npos || text[dash] != '-') {
    throw UnclearPlace(node.mark, "the dash before this stands in another line");
  }
  return text_without(text, {dash, ends.end_of(node, column)});
}

std::string erase_entry(std::string_view text, const YamlNode& map, std::size_t entry) {
  const YamlEnds ends(text);
  const int column = YamlEnds::column(map);
  const YamlEntry& gone = map.entries[entry];
  if (ends.in_brackets(map)) {
    std::vector<ErasedRange> values;
    for (const YamlEntry& each : map.entries) {
      values.emplace_back(ends.offset(each.key), ends.end_of(each, column));
    }
    return text_without(text, FlowEraser(ends, std::move(values), gone.key.mark).of(entry));
  }
  return text_without(text, {ends.offset(gone.key), ends.end_of(gone, column)});
}

}  // namespace padwalk::graph
