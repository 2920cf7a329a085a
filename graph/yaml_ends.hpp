// SPDX-License-Identifier: MIT
//
// Where a value of a YAML text begins and ends, in bytes. The parser says where it begins; where it
// ends is found here, from its first character and from what it holds. Only for a text that
// parse_yaml took, and not sure on every layout that YAML allows: who writes at such a place reads
// the result again.
#pragma once

#include <cstddef>
#include <stdexcept>
#include <string_view>
#include <vector>

#include "graph/yaml_reader.hpp"

namespace padwalk::graph {

/// The end of the value at `mark` is not to be found.
class UnclearPlace : public std::runtime_error {
 public:
  UnclearPlace(Mark mark, const char* why) : std::runtime_error(why), mark_(mark) {}
  Mark mark() const { return mark_; }

 private:
  Mark mark_;
};

/// Units: bytes from the text's begin; columns count from 0. Nodes are those of parse_yaml.
class YamlEnds {
 public:
  /// `text` must outlive this.
  explicit YamlEnds(std::string_view text);

  std::string_view text() const { return text_; }
  /// The byte there; 0 behind the end.
  char at(std::size_t i) const { return i < text_.size() ? text_[i] : '\0'; }
  static int column(const YamlNode& node) { return node.mark.column - 1; }
  std::size_t offset(const YamlNode& node) const;

  /// Of a list or a map: whether it is written in brackets.
  bool in_brackets(const YamlNode& node) const;

  /// Behind the last character of a value. `owner_column` is the column of the list or map around
  /// it. Errors: UnclearPlace.
  std::size_t end_of(const YamlNode& node, int owner_column) const;
  /// The same of a value or, where there is none, of its key's colon.
  std::size_t end_of(const YamlEntry& entry, int owner_column) const;

  struct FlowEnd {
    std::size_t last = 0;  ///< behind the last value, or the comma after it
    bool comma = false;
    std::size_t past = 0;  ///< behind the closing bracket
  };
  /// Of a list or a map in brackets. Errors: UnclearPlace.
  FlowEnd flow_end(const YamlNode& node) const;

  /// The first byte from `i` on that is no space or tab.
  std::size_t skip_blanks(std::size_t i) const;
  /// Behind the line that holds `i`, without its line end.
  std::size_t line_end(std::size_t i) const;

 private:
  using Kind = YamlNode::Kind;

  static bool is_blank(char c) { return c == ' ' || c == '\t'; }
  static bool is_space(char c) { return is_blank(c) || c == '\n' || c == '\r'; }
  std::size_t skip_to_word(std::size_t i) const;
  std::size_t plain_end(const YamlNode& node) const;
  std::size_t quoted_end(const YamlNode& node) const;
  std::size_t literal_end(const YamlNode& node, int owner_column) const;

  std::string_view text_;
  std::vector<std::size_t> line_starts_;
};

}  // namespace padwalk::graph
