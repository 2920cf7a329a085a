// SPDX-License-Identifier: MIT
//
// The two writers of an audit.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "graph/verdict.hpp"
#include "tools/audit_report.hpp"
#include "tools/json_values.hpp"

namespace padwalk::tools {

namespace {

using nlohmann::ordered_json;

/// Below this one lead an end tells nothing of a contact.
constexpr double kToldOhm = 0.2;
/// So many positions are written one by one.
constexpr std::size_t kFewPositions = 3;

/// What can be told of a closed contact: no number that drowns in its own uncertainty, but what it
/// is below with one sigma to spare.
std::string below_or_ohm(const ContactSeen& seen) {
  if (seen.worst_ohm <= 2 * seen.uncertainty_ohm) {
    const double below = std::ceil((seen.worst_ohm + seen.uncertainty_ohm / 2) * 10) / 10;
    return fmt::format("below {} ohm", std::max(kToldOhm, below));
  }
  return fmt::format("{:.3g} ± {:.2g} ohm{}", seen.worst_ohm, seen.uncertainty_ohm,
                     seen.closed > 1 ? " at worst" : "");
}

std::string closed_text(const ContactSeen& seen) {
  return below_or_ohm(seen) + (seen.closed > 1
                                   ? fmt::format(", spread {:.2f}", seen.worst_ohm - seen.best_ohm)
                                   : std::string());
}

std::string open_text(const ContactSeen& seen) {
  return std::isfinite(seen.least_open_ohm) && seen.least_open_ohm < 1e6
             ? "open, " + graph::ohm_text(seen.least_open_ohm)
             : "open";
}

bool closes_directly(const AuditReport& report, const ContactPair& pair) {
  for (std::size_t position = 0; position < pair.at.size(); ++position) {
    if (pair.at[position].closed > 0 && is_direct(report, pair, position)) {
      return true;
    }
  }
  return false;
}

void write_contacts(std::ostream& out, const AuditReport& report) {
  const SwitchReadings& seen = report.seen;
  fmt::print(out,
             "Contacts of {}, read {} at {:.1f} V (a dry circuit has 20 mV; more may break "
             "through oxide):\n",
             report.name, seen.operations == 1 ? "once" : fmt::format("{} times", seen.operations),
             seen.volt);
  std::size_t others = 0;
  for (const ContactPair& pair : seen.pairs) {
    if (!closes_directly(report, pair)) {
      ++others;
      continue;
    }
    std::string line;
    bool left_out = false;
    for (std::size_t position = 0; position < pair.at.size(); ++position) {
      const ContactSeen& at = pair.at[position];
      if (at.closed == 0 && pair.at.size() > kFewPositions) {
        left_out = true;
        continue;
      }
      line += fmt::format("{}{}: {}", line.empty() ? "" : "; ",
                          report.measured.positions[position].name,
                          at.closed > 0 ? closed_text(at) : open_text(at));
    }
    line += left_out ? "; else open" : "";
    fmt::print(out, "      {}-{}  {}\n", report.measured.terminals[pair.a],
               report.measured.terminals[pair.b], line);
  }
  if (others > 0) {
    fmt::print(out, "      {} other pair{}: open, or joined through these.\n", others,
               others == 1 ? "" : "s");
  }
}

std::string order_of(const SwitchMoves& moves) {
  return moves.makes_first == 0 && moves.breaks_first == 0 ? ""
         : moves.breaks_first == 0                         ? "make before break"
         : moves.makes_first == 0                          ? "break before make"
                                                           : "now the one, now the other first";
}

void write_moves(std::ostream& out, const AuditReport& report) {
  const SwitchMoves& moves = report.seen.moves;
  if (moves.contacts.empty()) {
    fmt::print(out, "Bounce was not heard; with --times {} it is.\n", report.seen.operations + 1);
    return;
  }
  const auto span = [&](std::size_t times, double seconds, const char* what) {
    return times == 0 ? std::string()
           : seconds <= moves.gap_s
               ? fmt::format("  {} cleanly", what)
               : fmt::format("  {} with {:.3g} ms of bounce", what, 1e3 * seconds);
  };
  fmt::print(out, "Heard while it moved, to {:.2g} ms{}{}:\n", 1e3 * moves.gap_s,
             order_of(moves).empty() ? "" : "; ", order_of(moves));
  for (const ContactBounce& contact : moves.contacts) {
    fmt::print(out, "      {}-{}{}{}\n", report.measured.terminals[contact.a],
               report.measured.terminals[contact.b],
               span(contact.closings, contact.closing_s, "closes"),
               span(contact.openings, contact.opening_s, "opens"));
  }
}

void write_switch(std::ostream& out, const AuditReport& report) {
  const graph::SwitchDescription& is = *report.is;
  if (is.form == "none") {
    fmt::print(out, "No position of {} differs from another.\n", report.name);
  } else {
    fmt::print(out, "{}: form {}{}{}{}.\n", report.name, is.form, is.trade.empty() ? "" : ", ",
               is.trade,
               !report.seen.stays   ? ""
               : *report.seen.stays ? ", latching"
                                    : ", momentary");
  }
  for (const std::string& sentence : is.ambiguous) {
    fmt::print(out, "      {}\n", sentence);
  }
  for (const std::string& guess : graph::middle_common_guesses(report.measured)) {
    fmt::print(out, "      {}\n", guess);
  }
  if (!report.expected) {
    fmt::print(out, "      {}\n",
               graph::positions_line(report.measured, report.seen.stays == false));
  }
}

std::string next_of_audit(const AuditReport& report) {
  if (report.seen.stopped || !report.is) {
    return "audit again, to the end.";
  }
  const auto has = [&](const char* kind) {
    return std::any_of(report.findings.begin(), report.findings.end(),
                       [&](const AuditFinding& finding) { return finding.kind == kind; });
  };
  if (has("exchanged") || has("exchanged positions") || has("momentary")) {
    return "look at the switch: is it wired as the file says? Mend the one or the other.";
  }
  const bool all_dirt =
      std::all_of(report.findings.begin(), report.findings.end(), [](const AuditFinding& finding) {
        return finding.kind == "contact" || finding.kind == "leak" || finding.kind == "bounce" ||
               finding.kind == "intermittent";
      });
  if (!report.findings.empty()) {
    return all_dirt ? fmt::format("clean the contacts of {}, then audit again.", report.name)
                    : fmt::format("mend or replace {}, then audit again.", report.name);
  }
  if (!report.not_judged.empty()) {
    return fmt::format("take {} out, and audit it by itself: padwalk audit --terminals {}.",
                       report.name, report.measured.terminals.size());
  }
  return report.expected ? fmt::format("nothing: {} does what the file says.", report.name)
                         : std::string("put the line above into the board file.");
}

ordered_json name_list(const std::vector<std::string>& names,
                       const std::vector<std::size_t>& indices) {
  ordered_json list = ordered_json::array();
  for (const std::size_t index : indices) {
    list.push_back(names[index]);
  }
  return list;
}

ordered_json position_map(const graph::SwitchTable& table) {
  ordered_json map = ordered_json::object();
  for (const graph::SwitchTable::Position& position : table.positions) {
    map[position.name] = ordered_json::array();
    for (const std::vector<std::size_t>& group : position.joined) {
      map[position.name].push_back(name_list(table.terminals, group));
    }
  }
  return map;
}

ordered_json pair_json(const AuditReport& report, const ContactPair& pair) {
  ordered_json one;
  one["between"] = name_list(report.measured.terminals, {pair.a, pair.b});
  one["at"] = ordered_json::array();
  for (std::size_t position = 0; position < pair.at.size(); ++position) {
    const ContactSeen& seen = pair.at[position];
    ordered_json at;
    at["position"] = report.measured.positions[position].name;
    at["reads"] = seen.reads;
    at["closed"] = seen.closed;
    const bool closed = seen.closed > 0;
    at["verdict"] = seen.driven                ? "not judged"
                    : seen.reads == 0          ? "not read"
                    : !closed                  ? "open"
                    : seen.closed < seen.reads ? "intermittent"
                                               : below_or_ohm(seen);
    at["mean_ohm"] =
        closed ? ordered_json(seen.sum_ohm / static_cast<double>(seen.closed)) : ordered_json();
    at["worst_ohm"] = closed ? ordered_json(seen.worst_ohm) : ordered_json();
    at["uncertainty_ohm"] = closed ? ordered_json(seen.uncertainty_ohm) : ordered_json();
    at["spread_ohm"] = closed ? ordered_json(seen.worst_ohm - seen.best_ohm) : ordered_json();
    at["least_open_ohm"] = json_number(seen.least_open_ohm);
    one["at"].push_back(std::move(at));
  }
  return one;
}

}  // namespace

void write_audit_text(std::ostream& out, const graph::Board& board, const AuditReport& report) {
  if (report.run.refused) {
    write_refusal(out, board, report.run, "audit");
    return;
  }
  for (std::size_t n = 0; n < report.findings.size(); ++n) {
    fmt::print(out, "F{}  {}: {}\n", n + 1, report.name, report.findings[n].text);
  }
  for (const NotJudged& pair : report.not_judged) {
    fmt::print(out, "Not judged: {}-{}: {}.\n", report.measured.terminals[pair.a],
               report.measured.terminals[pair.b], pair.why);
  }
  if (report.is) {
    write_contacts(out, report);
    write_moves(out, report);
    write_switch(out, report);
  }
  if (!report.run.failure.empty()) {
    fmt::print(out,
               "THE TESTER FAILED: {}\nNext: see to the tester and its cable, then audit again.\n",
               report.run.failure);
    return;
  }
  fmt::print(out, "Next: {}\n", next_of_audit(report));
}

void write_audit_json(std::ostream& out, const graph::Board& board, const AuditReport& report) {
  ordered_json json;
  json["padwalk"] = "audit/1";
  json["verdict"] = verdict_word(report.status());
  if (!report.run.board_file.empty()) {
    json["board"] = {{"name", board.name()}, {"file", report.run.board_file}};
  }
  json["tester"] = json_tester(report.run);
  json["switch"] = report.name;
  json["terminals"] = report.measured.terminals;
  json["times"] = report.seen.operations;
  json["readings"] = report.seen.readings;
  json["volt"] = report.seen.volt;
  json["momentary"] = report.seen.stays ? ordered_json(!*report.seen.stays) : ordered_json();
  if (report.is) {
    const graph::SwitchDescription& is = *report.is;
    json["form"] = is.form;
    json["trade"] = is.trade;
    json["poles"] = is.poles.size();
    json["throws"] = is.throws;
    json["one_of"] = is.one_of;
    json["commons"] = ordered_json::array();
    for (const graph::SwitchPole& pole : is.poles) {
      json["commons"].push_back(pole.common ? ordered_json(report.measured.terminals[*pole.common])
                                            : ordered_json());
    }
    json["ambiguous"] = is.ambiguous;
    json["positions"] = position_map(report.measured);
  }
  json["expected"] = report.expected ? position_map(*report.expected) : ordered_json();
  json["findings"] = ordered_json::array();
  for (std::size_t n = 0; n < report.findings.size(); ++n) {
    const AuditFinding& finding = report.findings[n];
    std::vector<std::string> positions;
    for (const graph::SwitchTable::Position& position : report.measured.positions) {
      positions.push_back(position.name);
    }
    json["findings"].push_back(
        {{"id", fmt::format("F{}", n + 1)},
         {"kind", finding.kind},
         {"terminals", name_list(report.measured.terminals, finding.terminals)},
         {"positions", name_list(positions, finding.positions)},
         {"text", finding.text}});
  }
  json["not_judged"] = ordered_json::array();
  for (const NotJudged& pair : report.not_judged) {
    json["not_judged"].push_back(
        {{"between", name_list(report.measured.terminals, {pair.a, pair.b})}, {"why", pair.why}});
  }
  json["pairs"] = ordered_json::array();
  for (const ContactPair& pair : report.seen.pairs) {
    json["pairs"].push_back(pair_json(report, pair));
  }
  json["bounce_ms"] = ordered_json::array();
  for (const ContactBounce& contact : report.seen.moves.contacts) {
    json["bounce_ms"].push_back(
        {{"between", name_list(report.measured.terminals, {contact.a, contact.b})},
         {"closings", contact.closings},
         {"closing", 1e3 * contact.closing_s},
         {"openings", contact.openings},
         {"opening", 1e3 * contact.opening_s}});
  }
  const std::string order = order_of(report.seen.moves);
  json["order"] = order.empty() ? ordered_json() : ordered_json(order);
  json["heard_to_ms"] = 1e3 * report.seen.moves.gap_s;
  add_refusal_or_failure(board, report.run, json);
  out << json.dump(1) << '\n';
}

}  // namespace padwalk::tools
