// SPDX-License-Identifier: MIT
#include "tools/watch_report.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "tools/json_values.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PointId;
using nlohmann::ordered_json;

/// Of what left, the most frequent first; more are as good as none.
constexpr std::size_t kMostWatchFindings = 3;

/// Points that left together, and how often. What is shorter than a round over all leads may have
/// been seen of some alone.
std::vector<std::vector<PointId>> what_left(const WatchReport& report) {
  std::map<std::vector<PointId>, std::size_t> whole;
  std::set<PointId> any;
  for (const Interruption& event : report.events) {
    if (event.clip == graph::kNoPoint) {
      any.insert(event.points.begin(), event.points.end());
      if (event.open_s >= report.shortest_certain_s()) {
        ++whole[event.points];
      }
    }
  }
  std::vector<std::vector<PointId>> sets;
  for (const auto& [points, times] : whole) {
    sets.push_back(points);
  }
  std::stable_sort(sets.begin(), sets.end(),
                   [&](const auto& a, const auto& b) { return whole[a] > whole[b]; });
  if (sets.empty() && !any.empty()) {
    sets.emplace_back(any.begin(), any.end());
  }
  sets.resize(std::min(sets.size(), kMostWatchFindings));
  return sets;
}

}  // namespace

ExitStatus WatchReport::status() const {
  if (run.refused) {
    return ExitStatus::refused;
  }
  if (!run.failure.empty()) {
    return ExitStatus::failed;
  }
  const bool board = std::any_of(events.begin(), events.end(), [](const Interruption& event) {
    return event.clip == graph::kNoPoint;
  });
  if (board || more_events > 0 || !changes.empty() || !before.empty()) {
    return ExitStatus::findings;
  }
  const bool cut_short = stopped && wanted_s > 0;
  return cut_short || !events.empty() || lost > 0 ? ExitStatus::incomplete : ExitStatus::good;
}

void judge_watch(const Board& board, WatchReport& report) {
  std::vector<PointId> all = report.watched;
  all.push_back(report.driven);
  std::sort(all.begin(), all.end());
  const auto doubtful = [&](const std::vector<PointId>& piece) {
    return piece.size() == 1 && std::find(report.two_leads.begin(), report.two_leads.end(),
                                          piece.front()) == report.two_leads.end();
  };
  for (const std::vector<PointId>& left : what_left(report)) {
    std::vector<PointId> stayed;
    std::set_difference(all.begin(), all.end(), left.begin(), left.end(),
                        std::back_inserter(stayed));
    graph::Finding finding;
    finding.id = "F" + std::to_string(report.run.result.findings.size() + 1);
    // What was so from the first looks to the last is open, no more.
    const bool always =
        std::all_of(report.events.begin(), report.events.end(), [&](const Interruption& event) {
          return event.points == left &&
                 event.open_s + report.shortest_certain_s() >= report.held_s;
        });
    finding.kind = always ? graph::FindingKind::open : graph::FindingKind::intermittent;
    finding.nets = {report.net};
    finding.volt = report.sight.volt;
    finding.pieces = {stayed, left};
    std::stable_sort(finding.pieces.begin(), finding.pieces.end(),
                     [](const auto& a, const auto& b) { return a.size() > b.size(); });
    graph::OpenCase open;
    open.net = report.net;
    for (const std::vector<PointId>& piece : finding.pieces) {
      open.pieces.emplace_back();
      for (const PointId point : piece) {
        open.pieces.back().push_back(board[point].held);
      }
      if (doubtful(piece)) {
        open.contact_doubtful.push_back(piece.front());
      }
    }
    finding.open = find_open_suspects(board, open);
    report.run.result.findings.push_back(std::move(finding));
  }
}

void write_watch_json(std::ostream& out, const Board& board, const WatchReport& report) {
  const auto microseconds = [](double seconds) { return std::llround(1e6 * seconds); };
  ordered_json json;
  json["padwalk"] = "watch/1";
  json["verdict"] = verdict_word(report.status());
  json["board"] = {{"name", board.name()}, {"file", report.run.board_file}};
  json["tester"] = json_tester(report.run);
  json["rounds"] = report.rounds;
  json["round_s"] = report.round_s;
  json["rounds_s"] = report.rounds_s;
  json["from_the_start"] = report.before;
  json["changes"] = ordered_json::array();
  for (const RoundChange& change : report.changes) {
    json["changes"].push_back(
        {{"at_s", change.at_s},
         {"net",
          change.net == graph::kNoNet ? ordered_json() : ordered_json(board[change.net].name)},
         {"what", change.what}});
  }
  json["net"] = report.net == graph::kNoNet ? ordered_json() : ordered_json(board[report.net].name);
  if (report.net != graph::kNoNet) {
    json["driven"] = board[report.driven].name;
    json["watched"] = names_of(board, report.watched);
    json["two_leads"] = names_of(board, report.two_leads);
    json["not_watched"] = names_of(board, report.not_watched);
    json["volt"] = report.sight.volt;
    json["least_ohm"] = json_number(report.sight.least_ohm);
    json["watched_s"] = report.held_s;
    json["gap_us"] = microseconds(report.gap_s);
    json["shortest_certain_us"] = microseconds(report.shortest_certain_s());
    const bool latch = report.run.tester.edge_latch && report.sight.latch;
    json["edges"] = latch ? ordered_json(report.edges) : ordered_json();
    json["lost"] = report.lost;
    json["silences"] = report.silences;
    json["interruptions"] = report.interruptions();
  }
  json["events"] = ordered_json::array();
  for (const Interruption& event : report.events) {
    json["events"].push_back(
        {{"at_s", event.at_s},
         {"open_us", microseconds(event.open_s)},
         {"over", event.over},
         {"points", names_of(board, event.points)},
         {"clip",
          event.clip == graph::kNoPoint ? ordered_json() : ordered_json(board[event.clip].name)},
         {"tag", event.tag}});
  }
  json["findings"] = json_findings(board, report.run.result.findings);
  add_refusal_or_failure(board, report.run, json);
  out << json.dump(1) << '\n';
}

}  // namespace padwalk::tools
