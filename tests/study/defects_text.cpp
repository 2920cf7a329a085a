// SPDX-License-Identifier: MIT
#include "tests/study/defects_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace padwalk::study {

namespace {

using namespace padwalk::graph;

std::string pair_of(const Board& board, PlaceId a, PlaceId b) {
  return fmt::format("[{}, {}]", board.place_name(a), board.place_name(b));
}

std::string segment_of(const Board& board, const Planted& planted) {
  return pair_of(board, board[planted.segment].a, board[planted.segment].b);
}

std::string part_value(const Board& board, PartId part, double ohm) {
  return std::isfinite(ohm) ? fmt::format("{{part: {}, value: {:.6g} ohm}}", board[part].name, ohm)
                            : fmt::format("{{part: {}, value: open}}", board[part].name);
}

std::string points_of(const Board& board, const Planted& planted) {
  std::string names;
  for (const PointId point : planted.off) {
    names += (names.empty() ? "" : ", ") + board[point].name;
  }
  return names;
}

std::string line_of(const Board& board, const Planted& planted) {
  switch (planted.kind) {
    case DefectKind::open:
      return "open: " + segment_of(board, planted);
    case DefectKind::split:
      return fmt::format("{{split: {}, off: [{}]}}", board[planted.net].name,
                         points_of(board, planted));
    case DefectKind::short_circuit:
      return fmt::format("{{short: {}, value: {:.6g} ohm}}", pair_of(board, planted.a, planted.b),
                         planted.ohm);
    case DefectKind::high_resistance:
      return fmt::format("{{high resistance: {}, value: {:.6g} ohm}}", segment_of(board, planted),
                         planted.ohm);
    case DefectKind::leakage:
      return fmt::format("{{leakage: {}, value: {:.6g} ohm}}", pair_of(board, planted.a, planted.b),
                         planted.ohm);
    case DefectKind::part:
      return part_value(board, planted.part, planted.ohm);
    case DefectKind::no_contact:
      return fmt::format("{{no contact: {}, stays: {}}}", board[planted.point].name, planted.stays);
    case DefectKind::intermittent:
      return fmt::format("{{intermittent: {}, open for: {:.6g} s, every: {:.6g} s}}",
                         segment_of(board, planted), planted.open_s, planted.every_s);
  }
  return "";
}

std::string conductor(const Board& board, PlaceId place) {
  const NetId net = board[place].net;
  return net == kNoNet ? "no net" : board[net].name;
}

}  // namespace

std::string bench_text(bool reference, std::uint32_t random) {
  return reference ? fmt::format("{{like: reference, random: {}}}", random)
                   : fmt::format("{{random: {}}}", random);
}

std::string defects_text(const Board& board, std::span<const Planted> planted,
                         std::span<const tools::Defects::PartValue> values,
                         const std::string& bench) {
  std::string text = "padwalk: defects/1\ndefects:";
  std::string lines;
  for (const Planted& one : planted) {
    lines += "\n  - " + line_of(board, one);
  }
  for (const tools::Defects::PartValue& value : values) {
    if (std::none_of(planted.begin(), planted.end(),
                     [&](const Planted& one) { return one.part == value.part; })) {
      lines += "\n  - " + part_value(board, value.part, value.ohm);
    }
  }
  return text + (lines.empty() ? " []" : lines) + "\nbench: " + bench + "\n";
}

std::string planted_text(const Board& board, const Planted& planted) {
  std::string text = line_of(board, planted);
  if (planted.a != kNoPlace) {
    text += fmt::format(" of {} and {}", conductor(board, planted.a), conductor(board, planted.b));
  } else if (planted.net != kNoNet && planted.kind != DefectKind::split) {
    text += " of " + board[planted.net].name;
  }
  return text;
}

}  // namespace padwalk::study
