// SPDX-License-Identifier: MIT
#include "graph/packages.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

constexpr double kInch = 25.4;
constexpr double kPitch = 2.54;      // 0.1 inch; DIP, SIP, rows, headers: common practice
constexpr double kSoicPitch = 1.27;  // from memory (JEDEC MS-012, MS-013)
constexpr double kSoicNarrow = 5.4;  // pad centre to pad centre, 3.9 mm body: common practice
constexpr double kSoicWide = 9.3;    // the same, 7.5 mm body: common practice
constexpr double kMaxSpan_mm = 500;
constexpr int kMaxHeaderRows = 4;
constexpr int kMaxHeaderPins = 100;

/// Row spacings of dual in-line packages by number of pins. Two or more: the file must say which.
/// Source: from memory (JEDEC MS-001, MS-010, MS-011) and common practice.
struct DipWidths {
  int up_to_pins;
  std::array<double, 3> inch;  ///< 0: none
};
constexpr DipWidths kDipWidths[] = {
    {20, {0.3}}, {22, {0.3, 0.4, 0.6}}, {30, {0.3, 0.6}}, {62, {0.6}}, {64, {0.6, 0.9}}};

/// A package's name cut up: "DIP-24 0.6 inch" is family "dip", count "24", rest "0.6 inch".
struct Name {
  std::string_view whole;
  std::string family;
  int count = 0;         ///< 0: no whole number
  std::string rest;      ///< lower case, blanks at its ends removed
  std::string argument;  ///< all behind the family
};

std::string trimmed(std::string text) {
  const std::size_t first = text.find_first_not_of(' ');
  const std::size_t last = text.find_last_not_of(' ');
  return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

Name cut_name(std::string_view whole) {
  Name name{whole, {}, 0, {}, {}};
  std::string text(whole);
  std::transform(text.begin(), text.end(), text.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  text = trimmed(text);
  std::size_t end = 0;
  while (end < text.size() && text[end] >= 'a' && text[end] <= 'z') {
    ++end;
  }
  name.family = text.substr(0, end);
  if (end < text.size() && text[end] == '-') {
    ++end;
  }
  name.argument = trimmed(text.substr(end));
  const char* const last = name.argument.data() + name.argument.size();
  const auto [number_end, error] = std::from_chars(name.argument.data(), last, name.count);
  if (error != std::errc()) {
    name.count = 0;
  }
  name.rest = trimmed(std::string(number_end, last));
  return name;
}

/// Two rows: down the first, up the other, as chips are numbered.
Package two_rows(int count, double pitch, double width) {
  Package package;
  const int row = count / 2;
  for (int pin = 1; pin <= count; ++pin) {
    const bool first = pin <= row;
    package.pins.push_back(
        {std::to_string(pin), {first ? 0.0 : width, -pitch * (first ? pin - 1 : count - pin)}});
  }
  return package;
}

Package one_row(int count, double pitch) {
  Package package;
  for (int pin = 1; pin <= count; ++pin) {
    package.pins.push_back({std::to_string(pin), {0.0, -pitch * (pin - 1)}});
  }
  return package;
}

std::string in_words(const DipWidths& widths) {
  std::string text;
  const std::size_t count = widths.inch[2] > 0 ? 3 : 2;
  for (std::size_t i = 0; i < count; ++i) {
    text += fmt::format("{}{}", i == 0 ? "" : i + 1 == count ? " and " : ", ", widths.inch[i]);
  }
  return text;
}

std::optional<Package> dip(const Name& name, BadPackage& bad) {
  if (name.count < 4 || name.count > 64 || name.count % 2 != 0) {
    bad.text = fmt::format("package {} does not exist; a DIP has an even number of pins, 4 to 64",
                           name.whole);
    return std::nullopt;
  }
  const DipWidths& widths =
      *std::find_if(std::begin(kDipWidths), std::end(kDipWidths),
                    [&](const DipWidths& row) { return name.count <= row.up_to_pins; });
  if (name.rest.empty()) {
    if (widths.inch[1] > 0) {
      bad.text = fmt::format("DIP-{} comes {} inch wide; write DIP-{} 0.6 inch", name.count,
                             in_words(widths), name.count);
      return std::nullopt;
    }
    return two_rows(name.count, kPitch, widths.inch[0] * kInch);
  }
  const std::optional<double> width_mm = parse_value(name.rest, Unit::millimetre);
  for (const double inch : widths.inch) {
    if (width_mm && inch > 0 && std::abs(*width_mm - inch * kInch) < 0.1) {
      return two_rows(name.count, kPitch, inch * kInch);
    }
  }
  bad.text = widths.inch[1] > 0
                 ? fmt::format("package {}: a DIP-{} comes {} inch wide; write DIP-{} 0.6 inch",
                               name.whole, name.count, in_words(widths), name.count)
                 : fmt::format("package {}: a DIP-{} is {} inch wide; write DIP-{}", name.whole,
                               name.count, widths.inch[0], name.count);
  return std::nullopt;
}

std::optional<Package> soic(const Name& name, BadPackage& bad) {
  const bool wide = name.rest == "wide" || (name.rest.empty() && name.count > 16);
  if (name.count < 4 || name.count > 32 || name.count % 2 != 0 ||
      !(name.rest.empty() || name.rest == "wide" || name.rest == "narrow")) {
    bad.text = fmt::format(
        "package {} does not exist; expected SOIC-4 to SOIC-32, even, or SOIC-16 wide", name.whole);
    return std::nullopt;
  }
  Package package = two_rows(name.count, kSoicPitch, wide ? kSoicWide : kSoicNarrow);
  package.surface = true;
  return package;
}

/// Pins in one row; sip and row differ in name only.
std::optional<Package> row(const Name& name, BadPackage& bad) {
  if (name.count < 1 || name.count > 100 || !name.rest.empty()) {
    bad.text = fmt::format("package {} does not exist; expected SIP-9 or row 3, 1 to 100 pins",
                           name.whole);
    return std::nullopt;
  }
  return one_row(name.count, kPitch);
}

std::optional<Package> two_leads(const Name& name, BadPackage& bad) {
  const std::optional<double> span_mm = parse_value(name.argument, Unit::millimetre);
  if (!span_mm || *span_mm <= 0 || *span_mm > kMaxSpan_mm) {
    bad.text = fmt::format("package {} does not say how far apart its two pins are; write {} 10 mm",
                           name.whole, name.family);
    return std::nullopt;
  }
  return one_row(2, *span_mm);
}

/// R rows run down side by side; pins count across the rows first, as on a ribbon connector.
std::optional<Package> header(const Name& name, BadPackage& bad) {
  const int rows = name.count;
  int columns = 0;
  const char* const end = name.rest.data() + name.rest.size();
  const char* const digits = name.rest.empty() ? end : name.rest.data() + 1;
  const auto [number_end, error] = std::from_chars(digits, end, columns);
  const bool read =
      !name.rest.empty() && name.rest[0] == 'x' && error == std::errc() && number_end == end;
  if (read && rows > columns && rows <= kMaxHeaderPins && columns >= 1 &&
      columns <= kMaxHeaderRows) {
    bad.text = fmt::format("package {} has its rows behind; write header {}x{}", name.whole,
                           columns, rows);
    return std::nullopt;
  }
  if (!read || rows < 1 || rows > kMaxHeaderRows || columns < rows || columns > kMaxHeaderPins) {
    bad.text = fmt::format(
        "package {} does not exist; expected header 2x5: 1 to 4 rows, 1 to 100 pins a row",
        name.whole);
    return std::nullopt;
  }
  Package package;
  for (int pin = 0; pin < rows * columns; ++pin) {
    package.pins.push_back(
        {std::to_string(pin + 1), {kPitch * (pin % rows), -kPitch * (pin / rows)}});
  }
  return package;
}

struct Family {
  std::string_view name;
  std::optional<Package> (*find)(const Name&, BadPackage&);
};

// Pins, corner coordinates (at rotation 0, from pin 1, mm, first and last pin of each row) and
// where each numbering comes from:
//   dip     1 (0, 0) … n/2 (0, -(n/2 - 1) * 2.54), n/2 + 1 (w, same y) … n (w, 0);
//   counter-clockwise
//           seen from above. Source: from memory (JEDEC MS-001), common practice.
//   soic    as dip with 1.27 mm; w 5.4 up to 16 pins and 9.3 above, or as said. Source: pitch from
//           memory (JEDEC MS-012, MS-013), land spacing common practice.
//   sip,row 1 (0, 0) … n (0, -(n - 1) * 2.54). Source: common practice.
//   axial,  1 (0, 0), 2 (0, -d). Source: common practice.
//   radial
//   header  RxC: 1 (0, 0), 2 (2.54, 0) … R ((R - 1) * 2.54, 0), R + 1 (0, -2.54) …; R * C at
//           ((R - 1) * 2.54, -(C - 1) * 2.54). Source: common practice (ribbon connectors).
constexpr Family kFamilies[] = {{"dip", dip},      {"soic", soic},       {"sip", row},
                                {"row", row},      {"axial", two_leads}, {"radial", two_leads},
                                {"header", header}};

constexpr double kDegree = 3.14159265358979323846 / 180;

/// Exact for quarter turns, where most parts sit.
std::pair<double, double> sine_cosine(double degrees) {
  const double turn = std::fmod(std::fmod(degrees, 360) + 360, 360);
  if (std::fmod(turn, 90) == 0) {
    constexpr std::pair<double, double> kQuarters[] = {{0, 1}, {1, 0}, {0, -1}, {-1, 0}};
    return kQuarters[static_cast<int>(turn / 90) % 4];
  }
  return {std::sin(turn * kDegree), std::cos(turn * kDegree)};
}

}  // namespace

std::optional<Package> find_package(std::string_view name, BadPackage& bad) {
  const Name cut = cut_name(name);
  for (const Family& family : kFamilies) {
    if (family.name == cut.family) {
      return family.find(cut, bad);
    }
  }
  bad.text = fmt::format(
      "package {} is not known to this version; give pins: {{1: [x, y], …}} instead, or use DIP-n, "
      "SIP-n, SOIC-n, row n, axial d mm, radial d mm or header RxC",
      name);
  return std::nullopt;
}

Xy place_pin(Xy pin1, double rotation, Side side, Xy offset) {
  const auto [sine, cosine] = sine_cosine(rotation);
  const Xy turned{offset.x * cosine - offset.y * sine, offset.x * sine + offset.y * cosine};
  return {pin1.x + (side == Side::bottom ? -turned.x : turned.x), pin1.y + turned.y};
}

}  // namespace padwalk::graph
