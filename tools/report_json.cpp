// SPDX-License-Identifier: MIT
#include <cmath>
#include <nlohmann/json.hpp>

#include "tools/json_values.hpp"
#include "tools/name_list.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

namespace {

using Json = nlohmann::ordered_json;
using graph::Board;

/// Less is a step or two of the converter.
constexpr double kSeenHumVolt = 0.002;

Json segment(const Board& board, graph::SegmentId id) {
  return Json::array({board.place_name(board[id].a), board.place_name(board[id].b)});
}

/// A member of `together`: the segment of a suspect, or the point of one that has none.
Json suspect_place(const Board& board, const graph::OpenSuspect& suspect) {
  const Json json = json_suspect(board, suspect);
  return json.contains("segment") ? json["segment"] : json["point"];
}

Json names(const Board& board, const std::vector<graph::PointId>& points) {
  Json json = Json::array();
  for (const graph::PointId point : points) {
    json.push_back(board[point].name);
  }
  return json;
}

Json parts(const Board& board, const std::vector<graph::PartId>& ids) {
  Json json = Json::array();
  for (const graph::PartId id : ids) {
    json.push_back(board[id].name);
  }
  return json;
}

void add_open(const Board& board, const graph::Finding& finding, Json& json) {
  json["net"] = board[finding.nets.front()].name;
  json["pieces"] = Json::array();
  for (const std::vector<graph::PointId>& piece : finding.pieces) {
    json["pieces"].push_back(names(board, piece));
  }
  if (!finding.beside.empty()) {
    json["beside"] = parts(board, finding.beside);
  }
  json["breaks"] = finding.open.breaks;
  if (finding.open.contradiction) {
    json["contradiction"] = true;
  }
  json["ohm"] = json_number(finding.ohm);
  if (finding.kind != graph::FindingKind::open) {
    json["uncertainty_ohm"] = json_number(finding.uncertainty_ohm);
  }
  json["volt"] = finding.volt;
  json["suspects"] = Json::array();
  for (const graph::OpenSuspect& suspect : finding.open.suspects) {
    json["suspects"].push_back(json_suspect(board, suspect));
  }
  if (!finding.open.together.empty()) {
    json["together"] = Json::array();
    for (const std::vector<std::size_t>& set : finding.open.together) {
      Json together = Json::array();
      for (const std::size_t i : set) {
        together.push_back(suspect_place(board, finding.open.suspects[i]));
      }
      json["together"].push_back(std::move(together));
    }
  }
  json["next_touch"] = nullptr;
  if (finding.open.next_touch) {
    const graph::Side side = board[*finding.open.next_touch].side;
    json["next_touch"] = {
        {"point", board.place_name(*finding.open.next_touch)},
        {"side", side == graph::Side::unknown ? Json(nullptr) : Json(graph::side_name(side))}};
  }
}

/// What a part reads, or what leaks beside parts.
void add_fault(const Board& board, const graph::Finding& finding, Json& json) {
  if (!finding.pull_first.empty()) {
    json["pull_first"] = parts(board, finding.pull_first);
  }
  if (!finding.fault) {
    return;
  }
  const graph::PartFault& fault = *finding.fault;
  if (fault.part != graph::kNoPart) {
    json["part"] = board[fault.part].name;
  }
  json["candidates"] = parts(board, fault.candidates);
  if (!finding.or_no_contact.empty()) {
    json["or_no_contact"] = names(board, finding.or_no_contact);
  }
  json["measured_ohm"] = json_number(fault.measured_ohm);
  json["expected_ohm"] = json_number(fault.expected_ohm);
  json["expected_low_ohm"] = json_number(fault.expected_low_ohm);
  json["expected_high_ohm"] = json_number(fault.expected_high_ohm);
}

void add_short(const Board& board, const graph::Finding& finding, Json& json) {
  json["nets"] = Json::array();
  for (const graph::NetId net : finding.nets) {
    json["nets"].push_back(board[net].name);
  }
  if (finding.comes_and_goes) {
    json["comes_and_goes"] = true;
  }
  if (!finding.in_no_net.empty()) {
    json["in_no_net"] = names(board, finding.in_no_net);
  }
  json["ohm"] = json_number(finding.ohm);
  json["uncertainty_ohm"] = json_number(finding.uncertainty_ohm);
  json["volt"] = finding.volt;
  json["suspects"] = Json::array();
  for (const graph::GapSuspect& gap : finding.gaps) {
    json["suspects"].push_back(
        {{"kind", "gap"},
         {"between", Json::array({board.place_name(gap.a), board.place_name(gap.b)})},
         {"gap_mm", gap.gap_mm},
         {"likelihood", gap.likelihood}});
  }
  json["next_touch"] = nullptr;
}

Json notes(const Board& board, const std::vector<graph::PointNote>& all) {
  Json json = Json::array();
  for (const graph::PointNote& note : all) {
    json.push_back({{"point", board[note.point].name}, {"why", note.why}});
  }
  return json;
}

/// The zero that was used; null where the tester's own figures stood in.
Json zeroed(const session::Zero& zero) {
  if (zero.date.empty()) {
    return nullptr;
  }
  return {{"date", zero.date},
          {"age_hours", zero.age_hours},
          {"lead_ohm", zero.lead_ohm},
          {"contact_ohm", zero.contact_ohm},
          {"leak_ampere", zero.leak_ampere}};
}

std::string_view live_kind(session::LiveKind kind) {
  switch (kind) {
    case session::LiveKind::source:
      return "source";
    case session::LiveKind::weak_source:
      return "weak source";
    case session::LiveKind::alternating:
      return "alternating";
  }
  return "";
}

/// What was read between two single points, for a sweep that did not come to its end.
Json read_so_far(const Board& board, const std::vector<graph::Reading>& readings) {
  Json json = Json::array();
  for (const graph::Reading& reading : readings) {
    if (reading.wanted.source.size() == 1 && reading.wanted.sink.size() == 1) {
      json.push_back({{"between", Json::array({board[reading.wanted.source[0]].name,
                                               board[reading.wanted.sink[0]].name})},
                      {"ohm", json_number(reading.ohm)}});
    }
  }
  return json;
}

}  // namespace

nlohmann::ordered_json json_findings(const Board& board, const std::vector<graph::Finding>& all) {
  Json json = Json::array();
  for (const graph::Finding& finding : all) {
    Json one;
    one["id"] = finding.id;
    one["kind"] = graph::finding_kind_name(finding.kind);
    if (finding.pieces.empty() || finding.kind == graph::FindingKind::short_circuit ||
        finding.fault) {
      add_short(board, finding, one);
      add_fault(board, finding, one);
    } else {
      add_open(board, finding, one);
    }
    json.push_back(std::move(one));
  }
  return json;
}

nlohmann::ordered_json json_suspect(const Board& board, const graph::OpenSuspect& suspect) {
  Json json;
  if (!suspect.segment) {
    json["kind"] = "contact";
    json["point"] = board[suspect.contact].name;
  } else if (board[*suspect.segment].kind == graph::SegmentKind::unknown_way) {
    json["kind"] = "unknown way";
    json["point"] = board[board[*suspect.segment].member].name;
  } else {
    json["kind"] = graph::segment_kind_name(board[*suspect.segment].kind);
    json["segment"] = segment(board, *suspect.segment);
  }
  json["likelihood"] = suspect.likelihood;
  return json;
}

nlohmann::ordered_json json_tester(const SweepReport& report) {
  return {{"port", report.port},
          {"unit", report.tester.unit},
          {"firmware", report.tester.firmware},
          {"channels", report.tester.channels},
          {"zeroed", zeroed(report.zero)}};
}

void add_refusal_or_failure(const Board& board, const SweepReport& report,
                            nlohmann::ordered_json& json) {
  if (report.refused) {
    json["live"] = Json::array();
    for (const LivePoint& live : report.live) {
      json["live"].push_back({{"point", board[live.point].name},
                              {"volt", live.volt},
                              {"rms_volt", live.rms_volt},
                              {"kind", live_kind(live.kind)}});
    }
    if (report.tied_ohm) {
      json["tied_ohm"] = *report.tied_ohm;
    }
  }
  if (!report.failure.empty()) {
    json["failure"] = report.failure;
  }
}

void write_json(std::ostream& out, const Board& board, const SweepReport& report) {
  Json json;
  json["padwalk"] = "sweep/1";
  json["verdict"] = report.verdict();
  json["board"] = {{"name", board.name()},
                   {"file", report.board_file},
                   {"state", board.assembled() ? "assembled" : "bare"},
                   {"nets", board.listed_nets()},
                   {"points", board.points().size()}};
  json["tester"] = json_tester(report);
  const std::string& limit_class = board.description().limit_class;
  json["limits"] = {{"isolation_ohm", report.limits.isolation_ohm},
                    {"open_above_ohm", report.limits.open_above_ohm},
                    {"class", limit_class.empty() ? Json(nullptr) : Json(limit_class)}};
  json["hookups"] = report.hookups;
  json["moves"] = report.moves;
  json["touches"] = report.touches;
  json["asked"] = report.asked;
  json["put_right"] = report.slips;
  json["does_not_fit"] = report.misfits;
  json["not_reached"] = names_of(board, report.not_reached);
  json["attached"] = report.hookup.leads.size();
  json["groups"] = report.groups;
  json["readings"] = {{"power_check", report.power_readings},
                      {"scan", report.counts.scan},
                      {"confirm", report.counts.confirm},
                      {"repeat", report.repeated},
                      {"retry", report.link.retries}};
  json["rest_limit_volt"] = report.power_limit_volt;
  json["hum_volt"] = report.hum_volt < kSeenHumVolt ? 0 : report.hum_volt;
  if (!report.left_out.empty()) {
    json["left_out"] = Json::array();
    for (const graph::NetId net : report.left_out) {
      json["left_out"].push_back(board[net].name);
    }
  }
  json["settings"] = report.link.settings;
  json["rounds"] = report.link.rounds;
  json["seconds"] = report.seconds;
  json["findings"] = json_findings(board, report.result.findings);
  if (const std::vector<std::string> ids = report.sharpened(); !ids.empty()) {
    json["history"] = {{"jobs", report.history_jobs}, {"findings", ids}};
  }
  json["causes"] = Json::array();
  for (const graph::Cause& cause : report.result.causes) {
    json["causes"].push_back({{"why", cause.why}, {"findings", cause.findings}});
  }
  json["no_contact"] = notes(board, report.result.no_contact);
  json["untested"] = notes(board, report.result.untested);
  json["cannot_see"] = report.result.cannot_see;
  add_refusal_or_failure(board, report, json);
  if (report.measured.interrupted) {
    json["read"] = read_so_far(board, report.measured.readings);
  }
  out << json.dump(1) << '\n';
}

}  // namespace padwalk::tools
