// SPDX-License-Identifier: MIT
#include "tools/confirm_report.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "tools/json_values.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using Json = nlohmann::ordered_json;

constexpr std::size_t kMostNamed = 8;

bool has_number(const session::Measurement& one) {
  return !one.clipped && !one.emf && std::isfinite(one.ohm);
}

std::string joint_name(const Board& board, const Joint& joint) {
  return fmt::format("the {} from {} to {}", joint.wire ? "wire" : "copper",
                     board.place_name(joint.a), board.place_name(joint.b));
}

std::string wire_size(const Joint& joint) {
  std::string size;
  if (joint.gauge) {
    size = fmt::format("gauge {}", *joint.gauge);
  }
  if (joint.length_mm) {
    size += fmt::format("{}{} mm", size.empty() ? "" : ", ", *joint.length_mm);
  }
  return size.empty() ? size : fmt::format(" ({})", size);
}

/// Milliohms where that is what there is.
std::string small_ohm_text(double ohm) {
  return ohm < 1 ? fmt::format("{:.2g} mohm", ohm * 1e3) : graph::ohm_text(ohm);
}

std::vector<std::string> nets_read(const Board& board, const ConfirmReport& report) {
  std::set<std::string> nets;
  for (const graph::Lead& lead : report.run.hookup.leads) {
    if (const graph::NetId net = board[lead.point].net; net != graph::kNoNet) {
      nets.insert(board[net].name);
    }
  }
  return {nets.begin(), nets.end()};
}

void write_ohms(std::ostream& out, const Board& board, const ConfirmReport& report) {
  if (!report.ohms || !report.measured || !has_number(*report.measured)) {
    return;
  }
  const session::Measurement& is = *report.measured;
  fmt::print(out, "      {}{}, read from {} to {}: {} ± {} at {:.1f} V; it should have about {}\n",
             joint_name(board, report.joint), wire_size(report.joint),
             board[report.ohms->from].name, board[report.ohms->to].name, graph::ohm_text(is.ohm),
             graph::ohm_text(is.uncertainty_ohm), is.volt,
             small_ohm_text(report.ohms->expected.ohm));
  if (report.bad_joint()) {
    fmt::print(out, "      more than {} is no copper: a cold joint, most likely\n",
               graph::ohm_text(report.ohms->most_ohm));
  } else if (is.uncertainty_ohm > report.ohms->expected.ohm) {
    fmt::print(out, "      (the leads' contacts hide less than {})\n",
               graph::ohm_text(is.uncertainty_ohm));
  }
}

/// All that a finding says is joined to the joint's net, or is in pieces itself.
std::vector<graph::PointId> others_of(const Board& board, const Joint& joint,
                                      const graph::Finding& finding) {
  std::vector<graph::PointId> points = finding.in_no_net;
  for (const graph::NetId net : finding.nets) {
    if (net != joint.net) {
      points.insert(points.end(), board[net].points.begin(), board[net].points.end());
    }
  }
  return points;
}

void write_wrong_pad(std::ostream& out, const Board& board, const ConfirmReport& report) {
  for (const std::size_t n : report.changes.wrong_pad) {
    const graph::Finding& finding = report.run.result.findings[n];
    std::vector<std::string> names;
    for (const graph::NetId net : finding.nets) {
      if (net != report.joint.net) {
        names.push_back("net " + board[net].name);
      }
    }
    for (const graph::PointId point : finding.in_no_net) {
      names.push_back(board[point].name);
    }
    const auto near =
        nearest_to_joint(board, report.joint, others_of(board, report.joint, finding));
    fmt::print(out, "      {} has joined a piece of it: one end is on the wrong pad{}\n",
               listed(names, kMostNamed),
               near ? fmt::format(", {} instead of {}?", board[near->point].name,
                                  board.place_name(near->end))
                    : std::string());
  }
}

void write_flexed(std::ostream& out, const Board& board, const ConfirmReport& report) {
  constexpr std::size_t kMostEvents = 3;
  if (!report.flexed) {
    return;
  }
  const WatchReport& flexed = *report.flexed;
  if (report.watch_lost()) {
    fmt::print(out, "      bent and tapped for {}: the line lost {}, so that is not known\n",
               span_text(flexed.held_s), count_text(flexed.lost, "change"));
  } else if (!report.flutters()) {
    fmt::print(out, "      bent and tapped for {}: no interruption of {} or longer\n",
               span_text(flexed.held_s), span_text(flexed.shortest_certain_s()));
  }
  if (!report.flutters()) {
    return;
  }
  fmt::print(out, "      bent and tapped for {}: {}\n", span_text(flexed.held_s),
             count_text(flexed.interruptions(), "interruption"));
  for (std::size_t n = 0; n < std::min(flexed.events.size(), kMostEvents); ++n) {
    const Interruption& event = flexed.events[n];
    fmt::print(out, "      {}  {}, {}\n", clock_text(event.at_s), span_text(event.open_s),
               left_text(board, flexed, event));
  }
}

void write_net(std::ostream& out, const Board& board, const ConfirmReport& report) {
  const std::string& net = board[report.joint.net].name;
  std::vector<graph::PointId> points;
  for (const graph::Lead& lead : report.run.hookup.leads) {
    if (board[lead.point].net == report.joint.net) {
      points.push_back(lead.point);
    }
  }
  if (report.changes.whole) {
    const bool changed = !report.changes.fresh.empty();
    const bool weak = report.bad_joint() || report.flutters();
    fmt::print(out, "RESTORED{}  net {} is one piece: {}\n",
               changed ? ", BUT SOMETHING ELSE CHANGED"
               : weak  ? ", BUT WEAK"
                       : "",
               net, listed(names_of(board, points), kMostNamed));
  } else {
    fmt::print(out, "NOT RESTORED  net {}{}\n", net,
               report.changes.as_before ? " is in the same pieces as before" : "");
  }
  write_ohms(out, board, report);
  write_flexed(out, board, report);
  if (!report.changes.whole) {
    write_wrong_pad(out, board, report);
    if (report.changes.as_before && report.changes.wrong_pad.empty()) {
      fmt::print(out, "      the joint does not conduct, or both its ends sit on one piece\n");
    }
    for (const std::size_t n : report.changes.of_net) {
      const graph::Finding& finding = report.run.result.findings[n];
      for (const std::vector<graph::PointId>& piece : finding.pieces) {
        fmt::print(out, "      piece: {}\n", listed(names_of(board, piece), kMostNamed));
      }
    }
  }
}

void write_changes(std::ostream& out, const Board& board, const ConfirmReport& report) {
  const Changes& changes = report.changes;
  for (const std::size_t n : changes.fresh) {
    const graph::Finding& finding = report.run.result.findings[n];
    fmt::print(out, "{}", report.before ? "NEW since the sweep:\n" : "");
    write_finding(out, board, finding);
    if (const auto near =
            nearest_to_joint(board, report.joint, others_of(board, report.joint, finding))) {
      fmt::print(out, "      {} is {:.1f} mm from the joint at {}\n", board[near->point].name,
                 near->mm, board.place_name(near->end));
    }
  }
  for (const std::size_t n : changes.same) {
    const graph::Finding& finding = report.run.result.findings[n];
    fmt::print(out, "As before: {} {}\n", graph::finding_kind_name(finding.kind),
               listed(names_of(board, finding.nets), kMostNamed));
  }
  for (const EarlierFinding& gone : changes.gone) {
    fmt::print(out, "Gone since: {} {}\n", gone.kind, listed(gone.nets, kMostNamed));
  }
  std::vector<std::string> others = nets_read(board, report);
  std::erase(others, board[report.joint.net].name);
  if (changes.fresh.empty() && report.run.result.no_contact.empty()) {
    fmt::print(out, "Nothing else {}: {} near it read again ({})\n",
               report.before ? "changed" : "is wrong", count_text(others.size(), "net"),
               others.empty() ? "none" : listed(others, kMostNamed));
  }
  if (!report.left_out.empty()) {
    fmt::print(out, "Not read again, for lack of channels: {}\n",
               listed(names_of(board, report.left_out), kMostNamed));
  }
  if (!report.before) {
    fmt::print(out,
               "No sweep before is known (--job or --after), so what was so before is not "
               "told from what is new.\n");
  }
  for (const graph::PointNote& note : report.run.result.no_contact) {
    fmt::print(out, "No contact: {}: {}\n", board[note.point].name, note.why);
  }
}

void write_thin(std::ostream& out, const Board& board, const ConfirmReport& report) {
  if (!report.thin) {
    return;
  }
  const ThinWire& thin = *report.thin;
  fmt::print(out,
             "CAUTION  a thin wire on a supply: it has {:.3f} mm2 of copper, the widest trace of "
             "net {} {:.3f}{}; take gauge {} or thicker\n",
             thin.wire_mm2, board[report.joint.net].name, thin.trace_mm2,
             thin.width_known ? "" : " (a guess, the file gives no width)", thin.enough_gauge);
}

}  // namespace

bool ConfirmReport::bad_joint() const {
  return ohms && measured && has_number(*measured) &&
         measured->ohm - measured->uncertainty_ohm > ohms->most_ohm;
}

Repaired ConfirmReport::verdict() const {
  if (run.refused || !run.failure.empty() || run.measured.interrupted || run.interrupted) {
    return Repaired::unknown;
  }
  if (!changes.whole) {
    return Repaired::not_yet;
  }
  if (!changes.fresh.empty()) {
    return Repaired::changed;
  }
  if (bad_joint() || flutters()) {
    return Repaired::weak;
  }
  return run.status() == ExitStatus::incomplete || watch_lost() ? Repaired::unknown
                                                                : Repaired::restored;
}

ExitStatus ConfirmReport::status() const {
  switch (verdict()) {
    case Repaired::restored:
      return ExitStatus::good;
    case Repaired::weak:
    case Repaired::changed:
    case Repaired::not_yet:
      return ExitStatus::findings;
    case Repaired::unknown:
      break;
  }
  return run.refused            ? ExitStatus::refused
         : !run.failure.empty() ? ExitStatus::failed
                                : ExitStatus::incomplete;
}

std::string repaired_word(const ConfirmReport& report) {
  switch (report.verdict()) {
    case Repaired::restored:
      return "restored";
    case Repaired::weak:
      return "restored, but weak";
    case Repaired::changed:
      return "restored, but something else changed";
    case Repaired::not_yet:
      return "not restored";
    case Repaired::unknown:
      break;
  }
  return verdict_word(report.status());
}

void write_confirm_json(std::ostream& out, const Board& board, const ConfirmReport& report) {
  Json json;
  json["padwalk"] = "confirm/1";
  json["verdict"] = repaired_word(report);
  json["board"] = {{"name", board.name()}, {"file", report.run.board_file}};
  json["tester"] = json_tester(report.run);
  json["net"] = board[report.joint.net].name;
  json["between"] = {board.place_name(report.joint.a), board.place_name(report.joint.b)};
  json["wire"] = nullptr;
  if (report.joint.wire) {
    json["wire"] = Json::object();
    json["wire"]["gauge"] = report.joint.gauge ? Json(*report.joint.gauge) : Json();
    json["wire"]["length_mm"] = report.joint.length_mm ? Json(*report.joint.length_mm) : Json();
  }
  json["compared_with"] = report.before ? Json(report.before->at) : Json();
  json["ohm"] = nullptr;
  if (report.measured) {
    json["ohm"] = json_number(report.measured->ohm);
    json["uncertainty_ohm"] = json_number(report.measured->uncertainty_ohm);
    json["volt"] = report.measured->volt;
  }
  if (report.ohms) {
    json["read_between"] = {board[report.ohms->from].name, board[report.ohms->to].name};
    json["expected_ohm"] = report.ohms->expected.ohm;
    json["most_ohm"] = report.ohms->most_ohm;
  }
  const auto chosen = [&](const std::vector<std::size_t>& which) {
    std::vector<graph::Finding> some;
    std::transform(which.begin(), which.end(), std::back_inserter(some),
                   [&](std::size_t n) { return report.run.result.findings[n]; });
    return json_findings(board, some);
  };
  json["of_net"] = chosen(report.changes.of_net);
  json["changed"] = chosen(report.changes.fresh);
  json["as_before"] = chosen(report.changes.same);
  json["gone"] = Json::array();
  for (const EarlierFinding& gone : report.changes.gone) {
    json["gone"].push_back({{"kind", gone.kind}, {"nets", gone.nets}});
  }
  json["attached"] = report.run.hookup.leads.size();
  json["nets_read"] = nets_read(board, report);
  json["not_read"] = names_of(board, report.left_out);
  json["flexed"] = nullptr;
  if (report.flexed) {
    json["flexed"] = {{"watched_s", report.flexed->held_s},
                      {"shortest_certain_us", report.flexed->shortest_certain_s() * 1e6},
                      {"interruptions", report.flexed->interruptions()}};
  }
  json["thin_wire"] = report.thin.has_value();
  json["no_contact"] = Json::array();
  for (const graph::PointNote& note : report.run.result.no_contact) {
    json["no_contact"].push_back({{"point", board[note.point].name}, {"why", note.why}});
  }
  add_refusal_or_failure(board, report.run, json);
  out << json.dump(1) << '\n';
}

void write_confirm_text(std::ostream& out, const Board& board, const ConfirmReport& report) {
  if (report.run.refused) {
    write_refusal(out, board, report.run, "confirm");
    return;
  }
  if (!report.run.failure.empty()) {
    fmt::print(out, "{}: {}\nWhat was read until then is not judged.\n",
               report.run.record_lost ? "NO LONGER KEPT" : "THE TESTER FAILED", report.run.failure);
  } else if (report.verdict() == Repaired::unknown && report.run.measured.interrupted) {
    fmt::print(out, "INTERRUPTED: what was read until then is not judged.\n");
  } else {
    write_net(out, board, report);
    write_changes(out, board, report);
    write_thin(out, board, report);
  }
}

std::string after_confirm(const Board& board, const ConfirmReport& report) {
  const Changes& changes = report.changes;
  if (report.run.refused) {
    return {};
  }
  if (report.run.record_lost) {
    return "confirm again, once the job can be written; nothing above is a verdict.";
  }
  if (!report.run.failure.empty()) {
    return "see to the tester and its cable, then confirm again; nothing above is a verdict.";
  }
  if (report.run.interrupted) {
    return "confirm again and let it finish; nothing above is a verdict.";
  }
  if (report.watch_lost()) {
    return "see to the tester's cable, then confirm again.";
  }
  if (!report.run.result.no_contact.empty()) {
    return "re-seat or clean the leads named above and confirm again.";
  }
  if (!changes.wrong_pad.empty()) {
    return "look at both ends under the microscope, move the one that is wrong, then confirm "
           "again.";
  }
  if (!changes.whole || report.bad_joint() || report.flutters()) {
    return fmt::format("flux and reflow {} and {}, then confirm again.",
                       board.place_name(report.joint.a), board.place_name(report.joint.b));
  }
  if (!changes.fresh.empty()) {
    const graph::Finding& first = report.run.result.findings[changes.fresh.front()];
    return first.kind == graph::FindingKind::short_circuit
               ? fmt::format(
                     "look for a bridge of solder at {} and {}, clear it, then confirm "
                     "again.",
                     board.place_name(report.joint.a), board.place_name(report.joint.b))
               : fmt::format(
                     "look for a lifted pad or a cut trace round {} and {}, then confirm "
                     "again.",
                     board.place_name(report.joint.a), board.place_name(report.joint.b));
  }
  return report.thin ? "put a thicker wire there, or go on if little current flows."
                     : "fix the wire to the board, or go on with the next fault.";
}

}  // namespace padwalk::tools
