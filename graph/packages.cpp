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
constexpr double kPlccPitch = 1.27;
constexpr double kPlccBeyond = 3.5;  // opposite rows, beyond what their pins span
constexpr double kDSubPitch = 2.77;
constexpr double kDSubRows = 2.84;
constexpr double kEdgePitch = 3.96;  // 0.156 inch
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

/// Pins by edge of a chip carrier: of the top and the bottom one, and of the sides.
struct PlccEdges {
  int pins;
  int top;
  int side;
};
constexpr PlccEdges kPlccs[] = {{20, 5, 5},   {28, 7, 7},   {32, 7, 9},  {44, 11, 11},
                                {52, 13, 13}, {68, 17, 17}, {84, 21, 21}};

/// From the middle of the top edge counter-clockwise round.
std::optional<Package> plcc(const Name& name, BadPackage& bad) {
  const auto found = std::find_if(std::begin(kPlccs), std::end(kPlccs),
                                  [&](const PlccEdges& row) { return row.pins == name.count; });
  if (found == std::end(kPlccs) || !name.rest.empty()) {
    bad.text = fmt::format("package {} does not exist; expected PLCC-20, 28, 32, 44, 52, 68 or 84",
                           name.whole);
    return std::nullopt;
  }
  const auto span = [](int pins) { return (pins - 1) * kPlccPitch; };
  const double width = span(found->top) + kPlccBeyond;
  const double height = span(found->side) + kPlccBeyond;
  Package package;
  package.surface = true;
  const auto add = [&](int count, Xy from, double dx, double dy) {
    for (int i = 0; i < count; ++i) {
      package.pins.push_back({std::to_string(package.pins.size() + 1),
                              {from.x + i * dx * kPlccPitch, from.y + i * dy * kPlccPitch}});
    }
  };
  const int half = found->top / 2;
  add(half + 1, {0, 0}, -1, 0);
  add(found->side, {-width / 2, -(height - span(found->side)) / 2}, 0, -1);
  add(found->top, {-span(found->top) / 2, -height}, 1, 0);
  add(found->side, {width / 2, -(height + span(found->side)) / 2}, 0, 1);
  add(half, {span(found->top) / 2, 0}, -1, 0);
  return package;
}

/// Two rows, the longer one first; the other lies at -x of a plug and at +x of a socket.
std::optional<Package> d_sub(const Name& name, BadPackage& bad) {
  int count = 0;
  std::string rest;
  if (name.argument.rfind("sub", 0) == 0) {
    const std::string after = trimmed(name.argument.substr(name.argument[3] == '-' ? 4 : 3));
    const char* const end = after.data() + after.size();
    const auto [at, error] = std::from_chars(after.data(), end, count);
    rest = error == std::errc() ? trimmed(std::string(at, end)) : "";
  }
  const bool known = count == 9 || count == 15 || count == 25 || count == 37;
  if (!known || (rest != "male" && rest != "female")) {
    bad.text = fmt::format(
        "package {} is not known; expected D-sub 9, 15, 25 or 37 with male or female, such as "
        "D-sub 9 female",
        name.whole);
    return std::nullopt;
  }
  Package package;
  const int first = (count + 1) / 2;
  const double other = rest == "male" ? -kDSubRows : kDSubRows;
  for (int pin = 0; pin < count; ++pin) {
    package.pins.push_back(
        {std::to_string(pin + 1),
         pin < first ? Xy{0, -kDSubPitch * pin} : Xy{other, -kDSubPitch * (pin - first + 0.5)}});
  }
  return package;
}

/// As a header of two rows.
std::optional<Package> ribbon(const Name& name, BadPackage& bad) {
  if (name.count < 4 || name.count > 64 || name.count % 2 != 0 || !name.rest.empty()) {
    bad.text = fmt::format("package {} does not exist; expected ribbon 26: 4 to 64 pins, even",
                           name.whole);
    return std::nullopt;
  }
  Package package;
  for (int pin = 0; pin < name.count; ++pin) {
    package.pins.push_back({std::to_string(pin + 1), {kPitch * (pin % 2), -kPitch * (pin / 2)}});
  }
  return package;
}

/// The letters of the far side: A to Z without those that look like others, then AA, BB, …
std::string edge_letters(int place) {
  constexpr std::string_view kLetters = "ABCDEFHJKLMNPRSTUVWXYZ";
  const auto count = static_cast<int>(kLetters.size());
  return std::string(static_cast<std::size_t>(place / count + 1),
                     kLetters[static_cast<std::size_t>(place % count)]);
}

/// Fingers at a board's edge: numbers on the part's side, letters behind them.
std::optional<Package> edge(const Name& name, BadPackage& bad) {
  const std::optional<double> pitch =
      name.rest.empty() ? std::optional(kEdgePitch) : parse_value(name.rest, Unit::millimetre);
  if (name.count < 2 || name.count > 44 || !pitch || *pitch < 1 || *pitch > 10) {
    bad.text = fmt::format(
        "package {} does not exist; expected edge 22 or edge 22 2.54 mm: 2 to 44 places",
        name.whole);
    return std::nullopt;
  }
  Package package;
  package.surface = true;
  for (const bool far_side : {false, true}) {
    for (int place = 0; place < name.count; ++place) {
      package.pins.push_back({far_side ? edge_letters(place) : std::to_string(place + 1),
                              {0, -*pitch * place},
                              far_side});
    }
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
//   ribbon  n as header 2x(n/2). Source: common practice.
//   plcc    1 (0, 0), the middle of the top edge; counter-clockwise, 1.27 mm; the rows of opposite
//           edges 3.5 mm further apart than their pins reach. Source: numbering and pitch from
//           memory (JEDEC MS-018, MS-016), land spacing from memory.
//   d-sub   1 (0, 0) … down by 2.77 mm, the other row 2.84 mm beside it and half a pitch lower;
//   male:
//           at -x, female: at +x. Source: from memory (IEC 60807-2), straight connectors.
//   edge    1 (0, 0) … n down by 3.96 mm or as said; A, B, … on the far side at the same places,
//           without G, I, O, Q. Source: common practice.
constexpr Family kFamilies[] = {{"dip", dip},       {"soic", soic},       {"sip", row},
                                {"row", row},       {"axial", two_leads}, {"radial", two_leads},
                                {"header", header}, {"ribbon", ribbon},   {"plcc", plcc},
                                {"d", d_sub},       {"edge", edge}};

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
      "SIP-n, SOIC-n, PLCC-n, row n, axial d mm, radial d mm, header RxC, ribbon n, edge n or "
      "D-sub n",
      name);
  return std::nullopt;
}

Xy place_pin(Xy pin1, double rotation, Side side, Xy offset) {
  const auto [sine, cosine] = sine_cosine(rotation);
  const Xy turned{offset.x * cosine - offset.y * sine, offset.x * sine + offset.y * cosine};
  return {pin1.x + (side == Side::bottom ? -turned.x : turned.x), pin1.y + turned.y};
}

}  // namespace padwalk::graph
