// SPDX-License-Identifier: MIT
#include "graph/values.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string>

namespace padwalk::graph {

namespace {

constexpr bool kPoint = true;

/// What may stand behind a number. `point`: may also stand in place of the decimal point.
struct Suffix {
  Unit unit;
  std::string_view text;
  int exponent;
  bool point = false;
  double factor = 1;
};

// Source: IEC 60062 for the letters R k M G T, p n u m; "K" and "F" as its users write them
// (common practice). Lengths: 1 inch = 25.4 mm by definition.
constexpr Suffix kSuffixes[] = {
    {Unit::ohm, "R", 0, kPoint},
    {Unit::ohm, "k", 3, kPoint},
    {Unit::ohm, "K", 3, kPoint},
    {Unit::ohm, "M", 6, kPoint},
    {Unit::ohm, "G", 9, kPoint},
    {Unit::ohm, "T", 12, kPoint},
    {Unit::ohm, "m", -3, kPoint},
    {Unit::ohm, "ohm", 0},
    {Unit::ohm, "uohm", -6},
    {Unit::ohm, "mohm", -3},
    {Unit::ohm, "kohm", 3},
    {Unit::ohm, "Kohm", 3},
    {Unit::ohm, "Mohm", 6},
    {Unit::ohm, "Gohm", 9},
    {Unit::ohm, "Tohm", 12},
    {Unit::farad, "p", -12, kPoint},
    {Unit::farad, "n", -9, kPoint},
    {Unit::farad, "u", -6, kPoint},
    {Unit::farad, "m", -3, kPoint},
    {Unit::farad, "F", 0, kPoint},
    {Unit::farad, "pF", -12},
    {Unit::farad, "nF", -9},
    {Unit::farad, "uF", -6},
    {Unit::farad, "mF", -3},
    {Unit::henry, "n", -9, kPoint},
    {Unit::henry, "u", -6, kPoint},
    {Unit::henry, "m", -3, kPoint},
    {Unit::henry, "H", 0, kPoint},
    {Unit::henry, "nH", -9},
    {Unit::henry, "uH", -6},
    {Unit::henry, "mH", -3},
    {Unit::metre, "um", -6},
    {Unit::metre, "mm", -3},
    {Unit::metre, "cm", -2},
    {Unit::metre, "m", 0},
    {Unit::metre, "inch", -3, false, 25.4},
    {Unit::metre, "in", -3, false, 25.4},
    {Unit::metre, "mil", -6, false, 25.4},
    {Unit::volt, "uV", -6},
    {Unit::volt, "mV", -3},
    {Unit::volt, "V", 0, kPoint},
    {Unit::volt, "kV", 3},
    {Unit::ampere, "pA", -12},
    {Unit::ampere, "nA", -9},
    {Unit::ampere, "uA", -6},
    {Unit::ampere, "mA", -3},
    {Unit::ampere, "A", 0},
    {Unit::second, "ns", -9},
    {Unit::second, "us", -6},
    {Unit::second, "ms", -3},
    {Unit::second, "s", 0},
    {Unit::second, "min", 0, false, 60},
    {Unit::degree, "", 0},
    {Unit::degree, "deg", 0},
    {Unit::degree, "degree", 0},
    {Unit::degree, "degrees", 0},
    {Unit::fraction, "%", -2},
};

/// The unit that may still follow after letters in the place of the point: "4n7F".
std::string_view word_of(Unit unit) {
  switch (unit) {
    case Unit::ohm:
      return "ohm";
    case Unit::farad:
      return "F";
    case Unit::henry:
      return "H";
    case Unit::volt:
      return "V";
    default:
      return "";
  }
}

/// One spelling for each unit: ASCII letters, "ohm" in lower case.
std::string plain(std::string_view text) {
  constexpr std::pair<std::string_view, std::string_view> kSpellings[] = {
      {"\u03a9", "ohm"}, {"\u2126", "ohm"}, {"\u00b5", "u"},
      {"\u03bc", "u"},   {"\u00b0", "deg"}, {"Ohm", "ohm"}};
  std::string result(text);
  for (const auto& [from, to] : kSpellings) {
    const std::size_t at = result.find(from);
    if (at != std::string::npos) {
      result.replace(at, from.size(), to);
    }
  }
  return result;
}

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

std::size_t digits_at(std::string_view text, std::size_t at) {
  std::size_t end = at;
  while (end < text.size() && is_digit(text[end])) {
    ++end;
  }
  return end - at;
}

/// "4k7" cut into "4", "7" and what follows.
struct Cut {
  std::string whole;
  std::string decimals;
  int exponent = 0;
  std::string_view rest;
};

constexpr int kMaxExponentDigits = 4;

/// A number with a decimal point and an exponent, if any: "12", "0.4", "1e3".
Cut cut_number(std::string_view text) {
  Cut cut;
  std::size_t at = digits_at(text, 0);
  cut.whole = text.substr(0, at);
  if (at < text.size() && text[at] == '.' && digits_at(text, at + 1) > 0) {
    const std::size_t count = digits_at(text, at + 1);
    cut.decimals = text.substr(at + 1, count);
    at += 1 + count;
  }
  if (at > 0 && at + 1 < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    const bool sign = text[at + 1] == '-' || text[at + 1] == '+';
    const std::size_t first = at + (sign ? 2 : 1);
    const std::size_t count = digits_at(text, first);
    if (count > 0 && count <= kMaxExponentDigits) {
      cut.exponent = std::stoi(std::string(text.substr(first, count)));
      cut.exponent = text[at + 1] == '-' ? -cut.exponent : cut.exponent;
      at = first + count;
    }
  }
  cut.rest = text.substr(at);
  return cut;
}

// Scaled in decimal, so that "0.4 mm" is the number 0.4 and not a product near it.
std::optional<double> number(const Cut& cut, int exponent, double factor) {
  const std::string text =
      "0" + cut.whole + "." + cut.decimals + "0e" + std::to_string(cut.exponent + exponent);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value * factor)) {
    return std::nullopt;
  }
  return value * factor;
}

std::optional<double> parse_positive(std::string_view text, Unit unit) {
  const bool in_mm = unit == Unit::millimetre;
  const Unit listed = in_mm ? Unit::metre : unit;
  Cut cut = cut_number(text);
  const bool letter_may_be_point = cut.decimals.empty() && cut.exponent == 0 && !cut.rest.empty();
  const std::size_t decimals = letter_may_be_point ? digits_at(cut.rest, 1) : 0;
  if (decimals > 0) {
    const std::string_view letter = cut.rest.substr(0, 1);
    cut.decimals = cut.rest.substr(1, decimals);
    std::string_view rest = cut.rest.substr(1 + decimals);
    rest.remove_prefix(std::min(rest.find_first_not_of(' '), rest.size()));
    for (const Suffix& suffix : kSuffixes) {
      if (suffix.unit == listed && suffix.point && suffix.text == letter &&
          (rest.empty() || rest == word_of(listed))) {
        return number(cut, suffix.exponent, suffix.factor);
      }
    }
    return std::nullopt;
  }
  if (cut.whole.empty() && cut.decimals.empty()) {
    return std::nullopt;
  }
  cut.rest.remove_prefix(std::min(cut.rest.find_first_not_of(' '), cut.rest.size()));
  for (const Suffix& suffix : kSuffixes) {
    if (suffix.unit == listed && suffix.text == cut.rest) {
      return number(cut, suffix.exponent + (in_mm ? 3 : 0), suffix.factor);
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<double> parse_value(std::string_view text, Unit unit) {
  const std::string spelt = plain(text);
  std::string_view rest = spelt;
  const bool signed_unit = unit == Unit::volt || unit == Unit::degree;
  if (!rest.empty() && (rest[0] == '+' || (rest[0] == '-' && signed_unit))) {
    rest.remove_prefix(1);
  }
  const std::optional<double> value = parse_positive(rest, unit);
  return value && spelt[0] == '-' ? -*value : value;
}

std::string preferred_ohm_text(double ohm, double uncertainty_ohm, double share) {
  constexpr std::array<double, 24> kE24 = {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0,
                                           2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3,
                                           4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};
  const double decade = std::pow(10.0, std::floor(std::log10(ohm)));
  double value = 10 * decade;
  for (const double digits : kE24) {
    if (std::abs(digits * decade - ohm) < std::abs(value - ohm)) {
      value = digits * decade;
    }
  }
  if (std::abs(ohm - value) > uncertainty_ohm + share * value) {
    value = std::round(ohm / decade * 100) / 100 * decade;
  }
  constexpr std::string_view kLetters = "RkMG";
  std::size_t thousands = 0;
  while (value * (1 + 1e-9) >= 1000 && thousands + 1 < kLetters.size()) {
    value /= 1000;
    ++thousands;
  }
  std::string text = fmt::format("{:.3g}", value);
  const std::size_t point = std::min(text.find('.'), text.size());
  return text.replace(point, point < text.size() ? 1 : 0, 1, kLetters[thousands]);
}

}  // namespace padwalk::graph
