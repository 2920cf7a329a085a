// SPDX-License-Identifier: MIT
#include "graph/yaml_ends.hpp"

#include <algorithm>

namespace padwalk::graph {

namespace {

[[noreturn]] void unclear(Mark mark, const char* why) {
  throw UnclearPlace(mark, why);
}

}  // namespace

YamlEnds::YamlEnds(std::string_view text) : text_(text), line_starts_{0} {
  for (std::size_t i = text.find('\n'); i != std::string_view::npos; i = text.find('\n', i + 1)) {
    line_starts_.push_back(i + 1);
  }
}

std::size_t YamlEnds::offset(const YamlNode& node) const {
  const auto line = static_cast<std::size_t>(node.mark.line) - 1;
  const std::size_t start = line < line_starts_.size() ? line_starts_[line] : text_.size();
  return std::min(start + static_cast<std::size_t>(column(node)), text_.size());
}

std::size_t YamlEnds::skip_blanks(std::size_t i) const {
  while (is_blank(at(i))) {
    ++i;
  }
  return i;
}

std::size_t YamlEnds::line_end(std::size_t i) const {
  const std::size_t end = std::min(text_.find('\n', i), text_.size());
  return end > i && text_[end - 1] == '\r' ? end - 1 : end;
}

bool YamlEnds::in_brackets(const YamlNode& node) const {
  const char begin = at(offset(node));
  return begin == '[' || begin == '{';
}

/// Over spaces, line ends and comments. `i` is not inside a word.
std::size_t YamlEnds::skip_to_word(std::size_t i) const {
  while (is_space(at(i)) || at(i) == '#') {
    i = at(i) == '#' ? std::min(text_.find('\n', i), text_.size()) : i + 1;
  }
  return i;
}

std::size_t YamlEnds::end_of(const YamlNode& node, int owner_column) const {
  const char begin = at(offset(node));
  if (node.kind == Kind::scalar && !node.quoted) {
    return plain_end(node);
  }
  if (node.kind == Kind::scalar) {
    return begin == '|' || begin == '>' ? literal_end(node, owner_column) : quoted_end(node);
  }
  if (in_brackets(node)) {
    return flow_end(node).past;
  }
  if (node.kind == Kind::sequence && begin == '-' && !node.items.empty()) {
    return end_of(node.items.back(), column(node));
  }
  if (node.kind == Kind::map && !node.entries.empty()) {
    return end_of(node.entries.back(), column(node));
  }
  unclear(node.mark, "the end of this value cannot be told");
}

std::size_t YamlEnds::end_of(const YamlEntry& entry, int owner_column) const {
  if (entry.value.kind != Kind::null) {
    return end_of(entry.value, owner_column);
  }
  const std::size_t key_end = end_of(entry.key, owner_column);
  const std::size_t colon = skip_blanks(key_end);
  if (at(colon) != ':') {
    return key_end;  // {TP3}
  }
  const std::size_t word = skip_blanks(colon + 1);
  for (const std::string_view null : {"~", "null", "Null", "NULL"}) {
    const char next = at(word + null.size());
    if (text_.substr(word, null.size()) == null &&
        (next == '\0' || next == ',' || next == '}' || is_space(next))) {
      return word + null.size();
    }
  }
  return colon + 1;
}

/// Its text is known; only line ends and indentation within it are not.
std::size_t YamlEnds::plain_end(const YamlNode& node) const {
  std::size_t end = offset(node);
  for (std::size_t i = 0; i < node.scalar.size();) {
    if (is_space(node.scalar[i]) && is_space(at(end))) {
      while (i < node.scalar.size() && is_space(node.scalar[i])) {
        ++i;
      }
      while (is_space(at(end))) {
        ++end;
      }
    } else if (at(end) == node.scalar[i]) {
      ++i;
      ++end;
    } else {
      unclear(node.mark, "the end of this text cannot be told; write it in one line");
    }
  }
  return end;
}

std::size_t YamlEnds::quoted_end(const YamlNode& node) const {
  const std::size_t begin = offset(node);
  const char quote = at(begin);
  if (quote == '"' || quote == '\'') {
    for (std::size_t i = begin + 1; i < text_.size(); ++i) {
      if (text_[i] == '\\' && quote == '"') {
        ++i;
      } else if (text_[i] == quote && quote == '\'' && at(i + 1) == quote) {
        ++i;  // '' is one quote
      } else if (text_[i] == quote) {
        return i + 1;
      }
    }
  }
  unclear(node.mark, "the end of this text cannot be told; write it in plain quotes");
}

/// Of a text behind | or >: its lines are those that stand further in than what it belongs to.
std::size_t YamlEnds::literal_end(const YamlNode& node, int owner_column) const {
  std::size_t end = line_end(offset(node));
  for (std::size_t line = text_.find('\n', end); line != std::string_view::npos;
       line = text_.find('\n', line + 1)) {
    const std::size_t word = text_.find_first_not_of(' ', line + 1);
    if (word == std::string_view::npos) {
      break;
    }
    if (!is_space(text_[word])) {
      if (word < line + 2 + static_cast<std::size_t>(owner_column)) {
        break;
      }
      end = line_end(word);
    }
  }
  return end;
}

YamlEnds::FlowEnd YamlEnds::flow_end(const YamlNode& node) const {
  const std::size_t begin = offset(node);
  FlowEnd end;
  end.last = !node.items.empty()     ? end_of(node.items.back(), column(node))
             : !node.entries.empty() ? end_of(node.entries.back(), column(node))
                                     : begin + 1;
  std::size_t next = skip_to_word(end.last);
  if (at(next) == ',') {
    end.comma = true;
    end.last = next + 1;
    next = skip_to_word(end.last);
  }
  if (at(next) != (at(begin) == '[' ? ']' : '}')) {
    unclear(node.mark, "the closing bracket of this cannot be told");
  }
  end.past = next + 1;
  return end;
}

}  // namespace padwalk::graph
