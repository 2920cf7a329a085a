// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <iostream>
#include <set>
#include <sstream>

#include "graph/copper_ohms.hpp"
#include "tools/board_file.hpp"
#include "tools/hookup_reader.hpp"
#include "tools/job_record.hpp"
#include "tools/ohms_report.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PointId;

/// Above this a first reading as for isolation is nearer to what comes.
constexpr double kFarOhm = 100e3;

/// Where a lead would best go on a net: a point that a fixture holds on, else one for the tip.
PointId lead_point(const Board& board, graph::NetId net) {
  const std::vector<bool> never = graph::never_driven(board);
  for (const graph::Access access : {graph::Access::clip, graph::Access::tip}) {
    for (const PointId point : board[net].points) {
      if (board[point].access == access && !never[graph::index(point)]) {
        return point;
      }
    }
  }
  return graph::kNoPoint;
}

/// The names of its points that a via or a pin with pads has: "V12@top or V12@bottom".
std::string sides_of(const Board& board, const std::string& name) {
  std::string sides;
  for (const graph::PlaceId place : board.find_places(name)) {
    const std::string& point = board[board[place].point].name;
    if (point.starts_with(name + "@")) {
      sides += (sides.empty() ? "" : " or ") + point;
    }
  }
  return sides;
}

OhmsEnd find_end(const Board& board, const std::string& name) {
  if (const auto point = board.find_point(name)) {
    return {name, *point, board[*point].net};
  }
  if (const auto net = board.find_net(name)) {
    return {name, lead_point(board, *net), *net};
  }
  if (const std::string sides = sides_of(board, name); !sides.empty()) {
    throw UsageError(fmt::format("{} has {} sides; name one: {}", name,
                                 board.find_places(name).size() == 2 ? "two" : "several", sides));
  }
  if (const std::size_t at = name.rfind('@');
      at != std::string::npos && !board.find_places(name).empty()) {
    throw UsageError(
        fmt::format("{} is one place of the point {}; name the point", name, name.substr(0, at)));
  }
  throw UsageError(
      fmt::format("the board has no point and no net named '{}'; names are as in its file, capital "
                  "and small letters told apart",
                  name));
}

bool is_passive(graph::PartKind kind) {
  switch (kind) {
    case graph::PartKind::resistor:
    case graph::PartKind::network:
    case graph::PartKind::capacitor:
    case graph::PartKind::inductor:
    case graph::PartKind::fuse:
    case graph::PartKind::link:
    case graph::PartKind::switch_:
    case graph::PartKind::pot:
    case graph::PartKind::transformer:
      return true;
    default:
      return false;
  }
}

void refuse_one_net(const Board& board, const OhmsReport& report) {
  const OhmsEnd& a = report.ends[0];
  const OhmsEnd& b = report.ends[1];
  if (a.name == b.name) {
    throw UsageError(fmt::format("{} is named twice; name two points or two nets", a.name));
  }
  for (const OhmsEnd& end : report.ends) {
    if (report.same_net() && end.name == board[end.net].name && !board.find_point(end.name)) {
      throw UsageError(
          fmt::format("{} and {} are one net; name two of its points", a.name, b.name));
    }
  }
}

/// 5 V could raise a rail through a clamp: no active part may hang on anything that parts, also
/// capacitors, join to the pair.
void refuse_active(const Board& board, const OhmsReport& report) {
  std::set<graph::NetId> reached;
  for (const OhmsEnd& end : report.ends) {
    if (end.net == graph::kNoNet) {
      throw UsageError(
          fmt::format("--passive: {} is in no net, so what hangs on it is not known", end.name));
    }
    reached.insert(end.net);
  }
  for (bool more = board.assembled(); more;) {
    more = false;
    for (const graph::Part& part : board.parts()) {
      const bool touches = std::any_of(part.pins.begin(), part.pins.end(), [&](graph::PointId pin) {
        return reached.count(board[pin].net) > 0;
      });
      if (!touches || part.chip == graph::ChipState::pulled ||
          part.kind == graph::PartKind::connector) {
        continue;
      }
      if (!is_passive(part.kind)) {
        throw UsageError(fmt::format(
            "--passive: {} ({}) hangs on the pair or on what parts join to it, and 5 V may harm "
            "it; measure without --passive{}",
            part.name, graph::word_for(part.kind),
            part.kind == graph::PartKind::ic ? ", or pull it and say 'chip: pulled' in the file"
                                             : ""));
      }
      for (const graph::PointId pin : part.pins) {
        more = (board[pin].net != graph::kNoNet && reached.insert(board[pin].net).second) || more;
      }
    }
  }
}

/// Two leads, on the two ends; ground is the side that is held low.
void measure(const Board& board, const OhmsOptions& options, std::ostream& text, OhmsReport& report,
             KeptRun& kept) {
  const std::vector<bool> never = graph::never_driven(board);
  for (const OhmsEnd& end : report.ends) {
    if (end.point == graph::kNoPoint) {
      throw UsageError(fmt::format("no point of net {} can be touched", end.name));
    }
    if (never[graph::index(end.point)]) {
      throw UsageError(fmt::format("{} must not be driven: its net says drive: never", end.name));
    }
    if (board[end.point].access == graph::Access::none) {
      throw UsageError(fmt::format("{} cannot be touched: access: none", end.name));
    }
    report.hookup.leads.push_back(
        {static_cast<std::uint16_t>(report.hookup.leads.size() + 1), end.point});
  }
  TesterChoice choice{options.port, options.simulate, options.defects, options.channels};
  choice.passive = options.passive;
  TesterConnection connection(board, report.hookup, choice);
  report.port = connection.label();
  kept.met_tester(connection.session().capabilities(), report.port);
  text << fmt::format(
      "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n"
      "Lead 1 on {}, lead 2 on {}; no other is needed.\n",
      board[report.ends[0].point].name, board[report.ends[1].point].name);
  text.flush();

  const auto note = [&](const session::PowerCheck& check) {
    report.refused = !check.passed;
    report.tied_ohm = check.tied_ohm;
    report.power_limit_volt = check.limit_volt;
    for (const session::LiveChannel& live : check.live) {
      report.live.push_back({report.hookup.leads[live.channel - 1u].point, live.volt});
    }
    return check.passed;
  };
  session::Session& session = connection.session();
  const std::array<session::Channel, 2> channels = {1, 2};
  if (!note(session.power_check(channels))) {
    return;
  }
  const graph::NetId first = report.ends[0].net;
  const bool swap = first != graph::kNoNet && board[first].role == graph::NetRole::ground;
  session::Request request;
  request.source = {channels[swap ? 1 : 0]};
  request.sink = {channels[swap ? 0 : 1]};
  request.purpose = options.passive || report.expected.ohm > kFarOhm ? session::Purpose::isolation
                                                                     : session::Purpose::continuity;
  request.limit_ohm = report.limit_ohm(board);
  try {
    report.measured = session.measure({&request, 1}).front();
    graph::WantedReading wanted;
    wanted.source = {report.ends[swap ? 1 : 0].point};
    wanted.sink = {report.ends[swap ? 0 : 1].point};
    kept.record().readings(to_readings({wanted}, {*report.measured}));
  } catch (const session::NotAtRest& live) {
    note(live.check);
  }
}

}  // namespace

ExitStatus tell_ohms(const OhmsOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  OhmsReport report;
  report.board_file = options.board;
  report.limits = graph::limits_for(board);
  report.ends = {find_end(board, options.from), find_end(board, options.to)};
  refuse_one_net(board, report);
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  const graph::CopperOhms copper(board);
  expect_ohms(board, copper, report);
  report.asked_to_measure = options.measure;
  if (options.passive) {
    refuse_active(board, report);
  }
  KeptRun kept(options.measure ? options.job : "", "ohms", board_options_json(options.board), board,
               options.board);
  if (options.measure) {
    measure(board, options, text, report, kept);
  }
  std::ostringstream json;
  write_ohms_json(json, board, copper, report);
  kept.end(verdict_word(report.status(board)), json.str());
  if (json_output.wanted()) {
    json_output.write(json.str());
  }
  write_ohms_text(text, board, copper, report);
  return report.status(board);
}

}  // namespace padwalk::tools
