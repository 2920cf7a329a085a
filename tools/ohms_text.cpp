// SPDX-License-Identifier: MIT
//
// The two writers of an ohms report: text for the bench, and ohms/1.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "tools/json_values.hpp"
#include "tools/ohms_report.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::CopperOhms;
using graph::kOpenOhm;
using graph::LengthFrom;
using Json = nlohmann::ordered_json;

constexpr std::size_t kMostLines = 12;
/// A segment whose part differs by more than this share from its own ohms has another way beside.
constexpr double kShared = 0.01;

/// "31 mohm", "4.7 kohm"; copper is a matter of milliohms.
std::string fine_ohms(double ohm) {
  return ohm < 1 && ohm > 0 ? fmt::format("{:.3g} mohm", ohm * 1e3) : graph::ohm_text(ohm);
}

std::string net_name(const Board& board, graph::NetId net) {
  return net == graph::kNoNet ? "no net" : "net " + board[net].name;
}

std::string size_text(const graph::SegmentOhm& one) {
  std::string text = fmt::format("{:.3g} mm", one.length_mm);
  if (one.width_mm > 0) {
    text += fmt::format(" by {:.2g} mm", one.width_mm);
  }
  return text;
}

std::string segment_text(const Board& board, const CopperOhms& copper, graph::SegmentId id) {
  const graph::Segment& segment = board[id];
  const std::string ends =
      fmt::format("{} to {}", board.place_name(segment.a), board.place_name(segment.b));
  switch (segment.kind) {
    case graph::SegmentKind::trace:
      return fmt::format("trace {}, {}", ends, size_text(copper[id]));
    case graph::SegmentKind::wire:
      return fmt::format("wire {}, {}", ends, size_text(copper[id]));
    case graph::SegmentKind::unknown_way:
      return fmt::format("copper of unknown way to {}, {}", board[segment.member].name,
                         size_text(copper[id]));
    case graph::SegmentKind::barrel:
      return fmt::format("barrel {}", ends);
    case graph::SegmentKind::joint:
      return fmt::format("solder joint {}", ends);
    case graph::SegmentKind::contact:
      return fmt::format("contact {}", ends);
  }
  return ends;
}

void write_copper(std::ostream& out, const Board& board, const CopperOhms& copper,
                  const OhmsReport& report) {
  for (std::size_t i = 0; i < std::min(report.copper.size(), kMostLines); ++i) {
    const graph::CopperShare& share = report.copper[i];
    const double own = copper[share.segment].ohm.ohm;
    fmt::print(out, "      {:>10}  {}{}\n", fine_ohms(share.part_ohm),
               segment_text(board, copper, share.segment),
               own - share.part_ohm > kShared * own
                   ? fmt::format("; {} itself, other copper lies beside it", fine_ohms(own))
                   : "");
  }
}

void write_parts(std::ostream& out, const Board& board, const OhmsReport& report) {
  for (std::size_t i = 0; i < std::min(report.parts.size(), kMostLines); ++i) {
    const graph::PartWay& way = report.parts[i];
    fmt::print(out, "      {:>10}  {}, {} between {} and {}\n", fine_ohms(way.part_ohm),
               board[way.part].name, fine_ohms(way.ohm), board[way.a].name, board[way.b].name);
  }
}

std::string_view junction_text(const graph::Part& diode) {
  switch (graph::junction_of(diode.type)) {
    case graph::Junction::germanium:
      return "germanium diode";
    case graph::Junction::schottky:
      return "Schottky diode";
    case graph::Junction::silicon:
      return "silicon diode";
    case graph::Junction::unknown:
      break;
  }
  return "diode of unknown type";
}

/// What the file leaves open about this copper, in sentences.
std::vector<std::string> assumed(const Board& board, const CopperOhms& copper,
                                 const OhmsReport& report) {
  std::vector<std::string> all;
  std::size_t widths = 0;
  std::size_t straight = 0;
  std::size_t guessed = 0;
  std::size_t unknown = 0;
  for (const graph::CopperShare& share : report.copper) {
    const graph::SegmentOhm& one = copper[share.segment];
    const bool way_unknown = board[share.segment].kind == graph::SegmentKind::unknown_way;
    widths += one.width_mm > 0 && !one.width_known ? 1 : 0;
    straight += one.length_from == LengthFrom::straight && !way_unknown ? 1 : 0;
    guessed += one.length_from == LengthFrom::guess ? 1 : 0;
    unknown += way_unknown ? 1 : 0;
  }
  if (widths > 0) {
    all.push_back(fmt::format("the width of {}; copper: in the file can say it", widths));
  }
  if (straight > 0) {
    all.push_back(
        fmt::format("the length of {}: the straight line and a quarter for bends", straight));
  }
  if (guessed > 0) {
    all.push_back(fmt::format("the length of {}, which have no positions", guessed));
  }
  if (unknown > 0) {
    all.push_back(fmt::format("the way of {}: the file gives no route", unknown));
  }
  if (!report.copper.empty()) {
    all.push_back(fmt::format("foil of {:.0f} um, plating, solder and contacts as is common",
                              CopperOhms::kFoilMm * 1e3));
  }
  const graph::ExpectedOhm& expected = report.expected;
  if (expected.sure && expected.ohm == kOpenOhm && expected.low_ohm != kOpenOhm) {
    all.push_back(
        fmt::format("silicon junctions join them: {} or more each at 0.2 V, taken as open",
                    graph::ohm_text(graph::PartOhms::kSiliconOhm)));
  }
  for (const OhmsEnd& end : report.ends) {
    if (end.net == graph::kNoNet) {
      all.push_back(fmt::format("{} is in no net, so what it should show is not known", end.name));
    }
  }
  for (const graph::PartWay& way : report.unsure) {
    const graph::Part& part = board[way.part];
    const std::string taken =
        way.ohm == kOpenOhm ? "taken as open" : "taken as " + graph::ohm_text(way.ohm);
    const std::string sentence =
        part.kind == graph::PartKind::diode
            ? fmt::format("{} ({}) may conduct at 0.2 V; {}", part.name, junction_text(part), taken)
            : fmt::format("{} ({}): the file does not say its ohms; {}", part.name,
                          graph::word_for(part.kind), taken);
    if (std::find(all.begin(), all.end(), sentence) == all.end()) {
      all.push_back(sentence);
    }
  }
  return all;
}

std::string range_text(const graph::ExpectedOhm& expected) {
  if (expected.low_ohm == kOpenOhm) {
    return "";
  }
  if (expected.high_ohm == kOpenOhm) {
    return expected.low_ohm > 0 ? fmt::format(", {} or more", fine_ohms(expected.low_ohm))
                                : ", or any";
  }
  return fmt::format(", {} to {}", expected.low_ohm == 0 ? "0" : fine_ohms(expected.low_ohm),
                     fine_ohms(expected.high_ohm));
}

void write_measured(std::ostream& out, const Board& board, const OhmsReport& report) {
  if (report.tied_ohm) {
    fmt::print(out,
               "REFUSED: the board is connected to the computer or to earth, through about {}.\n"
               "Next: unplug it, and what else hangs on it; then measure again.\n",
               graph::ohm_text(*report.tied_ohm));
    return;
  }
  if (report.refused) {
    fmt::print(out, "REFUSED: there is voltage on the board. Nothing was driven.\n");
    for (const LivePoint& live : report.live) {
      fmt::print(out, "      {:+.2f} V {}: {}\n", live.volt,
                 board[live.point].net == graph::kNoNet
                     ? "in no net"
                     : "on " + net_name(board, board[live.point].net),
                 board[live.point].name);
    }
    fmt::print(out,
               "Next: mains plug out, cell out (memory saved first), big capacitors discharged "
               "through a\nresistor; then measure again. The limit is {:.0f} mV.\n",
               report.power_limit_volt * 1e3);
    return;
  }
  if (!report.measured) {
    if (!report.asked_to_measure) {
      fmt::print(out, "Next: --measure with --port NAME or --simulate says what it is.\n");
    }
    return;
  }
  const session::Measurement& is = *report.measured;
  fmt::print(out, "It is {} at {:.1f} V\n",
             is.clipped || is.emf ? "no number"
             : !std::isfinite(is.ohm)
                 ? "open, nothing flows"
                 : fmt::format("{}{} ± {}", is.settled ? "" : "at least ", fine_ohms(is.ohm),
                               fine_ohms(is.uncertainty_ohm)),
             is.volt);
  std::string why;
  const std::optional<bool> agrees = report.agrees(board, why);
  fmt::print(out, "{}: {}.\n",
             !agrees.has_value() ? "Not judged"
             : *agrees           ? "Agrees"
                                 : "DOES NOT AGREE",
             why);
  if (agrees.has_value() && !*agrees) {
    fmt::print(out,
               "Next: re-seat both leads and measure again; then padwalk sweep {} says where.\n",
               report.board_file);
  }
}

std::string_view length_from(LengthFrom from) {
  switch (from) {
    case LengthFrom::file:
      return "file";
    case LengthFrom::straight:
      return "straight line";
    case LengthFrom::guess:
      return "guess";
    case LengthFrom::nothing:
      break;
  }
  return "";
}

Json consists_of(const Board& board, const CopperOhms& copper, const OhmsReport& report) {
  Json all = Json::array();
  for (const graph::CopperShare& share : report.copper) {
    const graph::Segment& segment = board[share.segment];
    const graph::SegmentOhm& own = copper[share.segment];
    Json json;
    json["kind"] = graph::segment_kind_name(segment.kind);
    if (segment.kind == graph::SegmentKind::unknown_way) {
      json["point"] = board[segment.member].name;
    } else {
      json["segment"] = {board.place_name(segment.a), board.place_name(segment.b)};
    }
    json["part_ohm"] = share.part_ohm;
    json["ohm"] = own.ohm.ohm;
    if (own.length_from != LengthFrom::nothing) {
      json["length_mm"] = own.length_mm;
      json["length_from"] = length_from(own.length_from);
    }
    if (own.width_mm > 0) {
      json["width_mm"] = own.width_mm;
      json["width_from"] = own.width_known ? "file" : "guess";
    }
    all.push_back(std::move(json));
  }
  for (const graph::PartWay& way : report.parts) {
    all.push_back({{"kind", graph::word_for(board[way.part].kind)},
                   {"part", board[way.part].name},
                   {"nets", {board[way.a].name, board[way.b].name}},
                   {"part_ohm", way.part_ohm},
                   {"ohm", way.ohm}});
  }
  return all;
}

}  // namespace

void write_ohms_text(std::ostream& out, const Board& board, const CopperOhms& copper,
                     const OhmsReport& report) {
  const OhmsEnd& a = report.ends[0];
  const OhmsEnd& b = report.ends[1];
  if (report.same_net()) {
    fmt::print(out, "{} to {}, both on {}\n", a.name, b.name, net_name(board, a.net));
  } else {
    const auto named = [&](const OhmsEnd& end) {
      return end.net != graph::kNoNet && end.name == board[end.net].name
                 ? "net " + end.name
                 : end.name + " on " + net_name(board, end.net);
    };
    fmt::print(out, "{} to {}\n", named(a), named(b));
  }
  const bool open = report.expected.ohm == kOpenOhm;
  fmt::print(out, "It should be {}{}\n", open ? "open" : fine_ohms(report.expected.ohm),
             range_text(report.expected));
  write_copper(out, board, copper, report);
  write_parts(out, board, report);
  const std::size_t lines = std::max(report.copper.size(), report.parts.size());
  if (lines > kMostLines) {
    fmt::print(out, "      and smaller parts: {} (--json lists all)\n", lines - kMostLines);
  }
  const std::vector<std::string> open_questions = assumed(board, copper, report);
  if (!open_questions.empty()) {
    fmt::print(out, "Assumed or not known:\n");
    for (const std::string& sentence : open_questions) {
      fmt::print(out, "      {}\n", sentence);
    }
  }
  write_measured(out, board, report);
}

void write_ohms_json(std::ostream& out, const Board& board, const CopperOhms& copper,
                     const OhmsReport& report) {
  Json json;
  json["padwalk"] = "ohms/1";
  json["board"] = {{"name", board.name()}, {"file", report.board_file}};
  json["between"] = {report.ends[0].name, report.ends[1].name};
  json["nets"] = Json::array();
  for (const OhmsEnd& end : report.ends) {
    json["nets"].push_back(end.net == graph::kNoNet ? Json(nullptr) : Json(board[end.net].name));
  }
  json["expected_ohm"] = json_number(report.expected.ohm);
  json["low_ohm"] = json_number(report.expected.low_ohm);
  json["high_ohm"] = json_number(report.expected.high_ohm);
  json["sure"] = report.expected.sure;
  json["consists_of"] = consists_of(board, copper, report);
  json["assumed"] = assumed(board, copper, report);
  json["leads"] = Json::array();
  for (const graph::Lead& lead : report.hookup.leads) {
    json["leads"].push_back({{"channel", lead.channel}, {"point", board[lead.point].name}});
  }
  const bool read = report.measured && !report.measured->clipped && !report.measured->emf;
  json["measured_ohm"] = read ? json_number(report.measured->ohm) : Json(nullptr);
  json["uncertainty_ohm"] = read ? json_number(report.measured->uncertainty_ohm) : Json(nullptr);
  json["volt"] = report.measured ? Json(report.measured->volt) : Json(nullptr);
  json["agrees"] = nullptr;
  json["why"] = nullptr;
  if (report.measured) {
    std::string why;
    if (const std::optional<bool> agrees = report.agrees(board, why)) {
      json["agrees"] = *agrees;
    }
    json["why"] = why;
  }
  if (report.measured && report.measured->emf) {
    json["emf_volt"] = report.measured->emf_volt;
  }
  if (report.tied_ohm) {
    json["tied_ohm"] = *report.tied_ohm;
  }
  if (!report.live.empty()) {
    json["live"] = Json::array();
    for (const LivePoint& live : report.live) {
      json["live"].push_back({{"point", board[live.point].name}, {"volt", live.volt}});
    }
  }
  out << json.dump(1) << '\n';
}

}  // namespace padwalk::tools
