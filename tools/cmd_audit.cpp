// SPDX-License-Identifier: MIT
//
// `padwalk audit`: what a switch's contact pairs do, on its board or loose on the bench.
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <unistd.h>

#include <algorithm>
#include <set>
#include <sstream>

#include "graph/verdict.hpp"
#include "tools/audit.hpp"
#include "tools/audit_report.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_record.hpp"
#include "tools/measure.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/switch_forms.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

/// More terminals than a person keeps apart.
constexpr std::size_t kMostTerminals = 24;

/// The switch that `--switch` names. Errors: UsageError.
graph::PartId named_switch(const Board& board, const std::string& name) {
  const auto part = board.find_part(name);
  if (!part || board[*part].kind != graph::PartKind::switch_) {
    std::string there;
    for (const graph::Part& one : board.parts()) {
      if (one.kind == graph::PartKind::switch_) {
        there += (there.empty() ? "" : ", ") + one.name;
      }
    }
    throw UsageError(fmt::format("--switch {}: {}; its switches: {}", name,
                                 part ? "it is no switch" : "the board has no such part",
                                 there.empty() ? "none" : there));
  }
  if (!board.assembled()) {
    throw UsageError(
        fmt::format("{} is not there on a bare board; loose on the bench it is audited "
                    "with --terminals {}",
                    name, board[*part].pins.size()));
  }
  if (board[*part].positions.size() < 2) {
    throw UsageError(
        fmt::format("{} has no positions in the file; 'padwalk audit --terminals {}' "
                    "finds them out",
                    name, board[*part].pins.size()));
  }
  if (board[*part].pins.size() < 2 || board[*part].pins.size() > kMostTerminals) {
    throw UsageError(fmt::format("{} has {} pins; an audit takes 2 to {}", name,
                                 board[*part].pins.size(), kMostTerminals));
  }
  return *part;
}

/// A loose switch: the part S1, which joins something only for a simulated bench.
Board loose_switch(const AuditOptions& options) {
  graph::PartDescription part;
  if (options.simulate) {
    part = switch_of_form(options.form, options.terminals);
  } else {
    part.name = "S1";
    part.kind = graph::PartKind::switch_;
    part.package = fmt::format("row {}", options.terminals);
  }
  graph::BoardDescription description;
  description.name = "a loose switch";
  description.parts.push_back(std::move(part));
  graph::Diagnostics diagnostics("--terminals");
  return {std::move(description), diagnostics};
}

graph::Hookup leads_on(const Board& board, graph::PartId id) {
  const std::vector<bool> never = graph::never_driven(board);
  graph::Hookup hookup;
  for (const graph::PointId pin : board[id].pins) {
    if (never[graph::index(pin)]) {
      throw UsageError(
          fmt::format("{} must not be driven: the file says drive: never", board[pin].name));
    }
    if (board[pin].access == graph::Access::none) {
      throw UsageError(fmt::format("{} cannot be reached: access: none", board[pin].name));
    }
    hookup.leads.push_back({static_cast<std::uint16_t>(hookup.leads.size() + 1), pin});
  }
  return hookup;
}

/// What the file says of it, in terminals.
graph::SwitchTable table_of(const Board& board, graph::PartId id) {
  graph::SwitchTable table;
  for (const graph::PointId pin : board[id].pins) {
    table.terminals.push_back(board[pin].pin);
  }
  for (const auto& [name, joined] : board[id].positions) {
    graph::TerminalPartition partition(table.terminals.size(), joined);
    table.positions.push_back({name, partition.groups()});
  }
  return table;
}

/// As told, else as the form has them, else out and in.
void name_loose_positions(const AuditOptions& options, graph::SwitchTable& table) {
  const std::size_t has = table.positions.size();
  std::vector<std::string> names = options.positions;
  if (names.empty() && has == 0) {
    names = {"out", "in"};
  }
  if (names.empty()) {
    return;
  }
  if (names.size() < 2 || std::set<std::string>(names.begin(), names.end()).size() < names.size()) {
    throw UsageError("--positions needs two names or more, each once, the one at rest first");
  }
  if (has > 0 && has != names.size()) {
    throw UsageError(fmt::format("--positions names {} positions, and --simulate-switch {} has {}",
                                 names.size(), options.form, has));
  }
  table.positions.resize(names.size());
  for (std::size_t n = 0; n < names.size(); ++n) {
    table.positions[n].name = names[n];
  }
}

std::optional<std::size_t> ground_terminal(const Board& board, graph::PartId id) {
  for (std::size_t n = 0; n < board[id].pins.size(); ++n) {
    const graph::NetId net = board[board[id].pins[n]].net;
    if (net != graph::kNoNet && board[net].role == graph::NetRole::ground) {
      return n;
    }
  }
  return std::nullopt;
}

}  // namespace

ExitStatus audit_switch(const AuditOptions& options) {
  const bool loose = options.board.empty();
  const Board board = loose ? loose_switch(options) : load_board(options.board).board;
  const graph::PartId part = loose ? *board.find_part("S1") : named_switch(board, options.part);
  graph::SwitchTable table = table_of(board, part);
  const bool momentary = board.description().parts[graph::index(part)].momentary;

  AuditReport report;
  report.name = loose ? "the switch" : options.part;
  report.run.board_file = options.board;
  if (loose) {
    name_loose_positions(options, table);
  } else {
    report.expected = table;
    report.expected_momentary = momentary;
  }
  report.measured = table;
  std::vector<std::string> positions;
  for (graph::SwitchTable::Position& position : report.measured.positions) {
    positions.push_back(position.name);
    position.joined.clear();
  }
  report.run.hookup = leads_on(board, part);
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();
  std::optional<ContactOutside> outside;
  if (!loose) {
    outside.emplace(board, part);
  }

  TesterConnection connection(board, report.run.hookup,
                              {options.port, options.simulate, options.defects, options.channels});
  report.run.port = connection.label();
  report.run.zero = connection.zero();
  report.run.tester = connection.session().capabilities();
  KeptRun kept(options.job, "audit", board_options_json(options.board), &board);
  kept.met_tester(report.run.tester, report.run.port);
  StopOnInterrupt stopping;
  connection.wait_for_plug(text, stopping.requested(), isatty(STDIN_FILENO) != 0 ? kPlugWaitS : 0);
  text << (loose ? "Nothing but the leads on the switch?\n"
                 : "Mains plug out, cell out (memory saved first), big capacitors discharged and "
                   "metered?\n");
  std::string where;
  std::vector<std::string> names;
  for (const graph::Lead& lead : report.run.hookup.leads) {
    names.push_back(loose ? "terminal " + board[lead.point].pin : board[lead.point].name);
    where +=
        fmt::format("{} {} on {}", where.empty() ? "Lead" : ", lead", lead.channel, names.back());
  }
  fmt::print(text, "{}; no other is needed.\n",
             loose ? fmt::format("Leads 1 to {0} on terminals 1 to {0}", names.size()) : where);

  std::vector<bool> should_conduct(table.terminals.size(), loose);
  for (const graph::SwitchTable::Position& position : table.positions) {
    for (const std::vector<std::size_t>& group : position.joined) {
      for (const std::size_t terminal : group) {
        should_conduct[terminal] = true;
      }
    }
  }
  std::vector<graph::JoinedTerminals> joined;
  for (const graph::SwitchTable::Position& position : table.positions) {
    if (!loose) {
      joined.push_back(position.joined);
    }
  }
  const bool makes_first = options.form.find('D') != std::string::npos;
  InputLines typed;
  ButtonLines lines(typed, connection.session());
  const bool person = options.keys || connection.bench() == nullptr;
  Audit audit({connection.session(), outside ? &*outside : nullptr, connection.bench(),
               person ? &lines : nullptr, stopping.requested(), text, report.name, part, !momentary,
               makes_first, joined, names, positions, ground_terminal(board, part), should_conduct,
               report.run.hookup.points(), kept.record()});
  try {
    if (!audit.run(options.times)) {
      note_live(*audit.live(), report.run.hookup, report.run);
    }
  } catch (const session::TesterError& error) {
    report.run.failure = error.what();
  } catch (const RecordError& error) {
    note_lost_record(error, report.run);
  }
  report.seen = audit.readings();
  judge_switch(outside ? &*outside : nullptr, graph::limits_for(board).isolation_ohm, report);
  std::ostringstream json;
  write_audit_json(json, board, report);
  kept.end(verdict_word(report.status()), json.str(), report.run, json_output);
  text << '\n';
  write_audit_text(text, board, report);
  return report.status();
}

}  // namespace padwalk::tools
