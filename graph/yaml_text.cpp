// SPDX-License-Identifier: MIT
#include "graph/yaml_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "graph/text_scan.hpp"

namespace padwalk::graph {

namespace {

bool is_decimal(char c) {
  return c >= '0' && c <= '9';
}
bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool is_inside(char c) {
  return is_letter(c) || is_decimal(c) ||
         std::string_view("_./+-$()~@*%^;=<> ").find(c) != std::string_view::npos;
}

bool is_first(char c) {
  return is_letter(c) || is_decimal(c) ||
         std::string_view("_/+$(").find(c) != std::string_view::npos;
}

/// Words that some YAML reader takes for a truth value or for nothing.
bool is_reserved(std::string_view text) {
  static constexpr std::string_view kWords[] = {"null", "true", "false", "yes", "no",
                                                "on",   "off",  "y",     "n"};
  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return std::find(std::begin(kWords), std::end(kWords), lower) != std::end(kWords);
}

/// All that could be a number, a hexadecimal or a time of day; some names more than need be.
bool is_like_a_number(std::string_view text) {
  return (is_decimal(text[0]) || text[0] == '+') &&
         text.find_first_not_of("0123456789abcdefABCDEFxXoO_+-.") == std::string_view::npos;
}

bool is_plain(std::string_view text) {
  return !text.empty() && is_first(text.front()) && text.back() != ' ' &&
         std::all_of(text.begin(), text.end(), is_inside) && !is_reserved(text) &&
         !is_like_a_number(text);
}

}  // namespace

std::string yaml_text(std::string_view text) {
  if (is_plain(text)) {
    return std::string(text);
  }
  std::string quoted = "\"";
  while (!text.empty()) {
    const std::size_t length = utf8_length(text);
    const auto byte = static_cast<unsigned char>(text.front());
    if (length == 0 || byte < 0x20 || byte == 0x7f) {
      quoted += fmt::format("\\x{:02x}", byte);
      text.remove_prefix(1);
      continue;
    }
    if (byte == '"' || byte == '\\') {
      quoted += '\\';
    }
    quoted += text.substr(0, length);
    text.remove_prefix(length);
  }
  return quoted + "\"";
}

std::string yaml_pin(std::string_view name) {
  const bool is_whole = !name.empty() && name.size() < 9 &&
                        std::all_of(name.begin(), name.end(), is_decimal) &&
                        (name == "0" || name.front() != '0');
  return is_whole ? std::string(name) : yaml_text(name);
}

}  // namespace padwalk::graph
