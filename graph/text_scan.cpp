// SPDX-License-Identifier: MIT
#include "graph/text_scan.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace padwalk::graph {

namespace {

bool is_control(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return (byte < 0x20 && c != '\t' && c != '\n' && c != '\r') || byte == 0x7f;
}

class BracketScan {
 public:
  BracketScan(std::string_view text, int max_nesting, Diagnostics& diagnostics)
      : text_(text), max_nesting_(max_nesting), diagnostics_(diagnostics) {}

  void run() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      check_character(c);
      if (c == '\n') {
        new_line();
        continue;
      }
      if (quote_ != 0) {
        in_quotes(c);
      } else if (c == '#' && after_blank()) {
        skip_comment();
        continue;
      } else {
        outside(c);
      }
      ++at_;
    }
  }

 private:
  Mark here() const { return {line_, static_cast<int>(at_ - line_start_) + 1}; }

  [[noreturn]] void refuse(std::string text) const {
    throw BadFile(diagnostics_.format({here(), std::move(text)}));
  }

  void check_character(char c) {
    if (is_control(c)) {
      refuse(
          fmt::format("found the byte {:#04x}, which no text holds; this looks like a binary "
                      "file, expected YAML text",
                      static_cast<unsigned char>(c)));
    }
    if (static_cast<unsigned char>(c) < 0x80 || at_ < checked_to_) {
      return;
    }
    const std::size_t length = utf8_length(text_.substr(at_));
    if (length == 0) {
      refuse("found a character that is not UTF-8; save the file as UTF-8 text");
    }
    checked_to_ = at_ + length;
  }

  void new_line() {
    ++at_;
    ++line_;
    line_start_ = at_;
    token_may_start_ = token_may_start_ || depth_ == 0;
  }

  bool after_blank() const {
    return at_ == line_start_ || text_[at_ - 1] == ' ' || text_[at_ - 1] == '\t';
  }

  bool before_blank() const {
    return at_ + 1 == text_.size() || text_[at_ + 1] == ' ' || text_[at_ + 1] == '\n' ||
           text_[at_ + 1] == '\r' || text_[at_ + 1] == '\t';
  }

  void in_quotes(char c) {
    if (c == '\\' && quote_ == '"' && at_ + 1 < text_.size() && text_[at_ + 1] != '\n') {
      ++at_;
      check_character(text_[at_]);
    } else if (c == quote_) {
      // '' inside single quotes closes and opens again, which comes to the same.
      token_may_start_ = quote_ == '\'' && at_ + 1 < text_.size() && text_[at_ + 1] == '\'';
      quote_ = 0;
    }
  }

  void outside(char c) {
    const bool starts = token_may_start_;
    if (c == ' ' || c == '\t' || c == '\r') {
      return;
    }
    token_may_start_ = false;
    if ((c == '"' || c == '\'') && starts) {
      quote_ = c;
    } else if ((c == '[' || c == '{') && (depth_ > 0 || starts)) {
      if (++depth_ > max_nesting_) {
        refuse(too_deep(max_nesting_));
      }
      token_may_start_ = true;
    } else if ((c == ']' || c == '}') && depth_ > 0) {
      --depth_;
    } else if (c == ',' && depth_ > 0) {
      token_may_start_ = true;
    } else if (c == ':') {
      token_may_start_ = depth_ > 0 || before_blank();
    } else if (c == '-' || c == '?') {
      token_may_start_ = starts && before_blank();
    }
  }

  void skip_comment() {
    const std::size_t end = std::min(text_.find('\n', at_), text_.size());
    const std::string_view before = text_.substr(line_start_, at_ - line_start_);
    const std::string_view comment = text_.substr(at_, end - at_);
    if (before.find_first_not_of(" \t") == std::string_view::npos) {
      warn_of_net(comment);
    }
    for (; at_ < end; ++at_) {
      check_character(text_[at_]);
    }
  }

  void warn_of_net(std::string_view comment) {
    const std::size_t colon = comment.find(": ");
    const std::size_t blank = comment.find_first_of(" \t");
    if (colon == std::string_view::npos || colon < 2 || blank < colon) {
      return;
    }
    const std::size_t value = comment.find_first_not_of(' ', colon + 1);
    if (value != std::string_view::npos && (comment[value] == '[' || comment[value] == '{')) {
      const std::string_view name = comment.substr(0, colon);
      diagnostics_.warning(
          here(),
          fmt::format("{0}: … is a comment, because it begins with #; if it is a net, write "
                      "\"{0}\": … in quotes",
                      name));
    }
  }

  std::string_view text_;
  int max_nesting_;
  Diagnostics& diagnostics_;
  std::size_t at_ = 0;
  std::size_t line_start_ = 0;
  std::size_t checked_to_ = 0;
  int line_ = 1;
  int depth_ = 0;
  char quote_ = 0;
  bool token_may_start_ = true;
};

}  // namespace

std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char lead = byte(0);
  if (lead < 0x80) {
    return 1;
  }
  const std::size_t length = lead >= 0xc2 && lead < 0xe0   ? 2
                             : lead >= 0xe0 && lead < 0xf0 ? 3
                             : lead >= 0xf0 && lead < 0xf5 ? 4
                                                           : 0;
  if (length == 0 || text.size() < length) {
    return 0;
  }
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xc0) != 0x80) {
      return 0;
    }
  }
  const bool overlong = (lead == 0xe0 && byte(1) < 0xa0) || (lead == 0xf0 && byte(1) < 0x90);
  const bool not_a_character = (lead == 0xed && byte(1) > 0x9f) || (lead == 0xf4 && byte(1) > 0x8f);
  return overlong || not_a_character ? 0 : length;
}

std::string too_deep(int max_nesting) {
  return fmt::format("brackets or lists nest deeper than {}; no padwalk file needs that",
                     max_nesting);
}

void scan_text(std::string_view text, std::size_t max_bytes, int max_nesting,
               Diagnostics& diagnostics) {
  if (text.size() > max_bytes) {
    throw BadFile(
        fmt::format("{}: the file has more than {} MB, which no board needs; is it the "
                    "right file?",
                    diagnostics.file(), max_bytes >> 20));
  }
  const std::string_view start = text.substr(0, 2);
  if (start == "\xff\xfe" || start == "\xfe\xff") {
    throw BadFile(fmt::format("{}: the file is UTF-16 text; save it as UTF-8", diagnostics.file()));
  }
  BracketScan(text, max_nesting, diagnostics).run();
}

}  // namespace padwalk::graph
