// SPDX-License-Identifier: MIT
//
// `padwalk walk`: what is clipped stays, the tip touches anything, and its net is named at once.
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tools/bench_plan.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_record.hpp"
#include "tools/json_values.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/terminal_person.hpp"
#include "tools/tester_connection.hpp"
#include "tools/walk.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PointId;
using nlohmann::ordered_json;

constexpr std::size_t kUsualColumns = 80;

std::size_t terminal_columns() {
  winsize size{};
  return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col
                                                                         : kUsualColumns;
}

/// What is clipped, and which channels the tip has.
struct WalkLeads {
  graph::Hookup clipped;
  std::vector<session::Channel> tip;
};

/// As the person says, point by point, on channels 1, 2, …; the tip is next.
WalkLeads held_points(const Board& board, const std::vector<std::string>& names, bool two_needles) {
  WalkLeads leads;
  for (const std::string& name : names) {
    const auto point = board.find_point(name);
    if (!point || graph::never_driven(board)[graph::index(*point)]) {
      throw UsageError(
          fmt::format("--hold {}: {}", name,
                      point ? "it must never be driven" : "the board has no such point"));
    }
    leads.clipped.leads.push_back(
        {static_cast<std::uint16_t>(leads.clipped.leads.size() + 1), *point});
  }
  if (names.empty()) {
    leads.clipped = graph::default_hookup(board);
  }
  for (int needle = 0; needle < (two_needles ? 2 : 1); ++needle) {
    leads.tip.push_back(
        static_cast<std::uint16_t>(leads.clipped.leads.size() + 1 + leads.tip.size()));
  }
  return leads;
}

/// What a plan of this bench puts on first.
WalkLeads planned(const Board& board, const WalkOptions& options, const graph::Fixtures& bench,
                  graph::PlanStep& first) {
  if (bench.tip() == nullptr) {
    throw UsageError(fmt::format("{} has no tip to walk with", options.fixtures));
  }
  PlanChoice choice;
  choice.fixtures = options.fixtures;
  const graph::Plan plan = graph::make_plan(board, bench, goal_for(board, options.board, choice));
  WalkLeads leads;
  leads.tip = bench.tip()->channels;
  leads.tip.resize(std::min<std::size_t>(leads.tip.size(), 2));
  if (!plan.steps.empty()) {
    first = plan.steps.front();
    first.touches.clear();
    for (const graph::PlanMove& move : first.moves) {
      leads.clipped.leads.insert(leads.clipped.leads.end(), move.leads.begin(), move.leads.end());
    }
  }
  return leads;
}

std::string_view answer_word(Answer answer) {
  switch (answer) {
    case Answer::named:
      return "named";
    case Answer::expected:
      return "expected";
    case Answer::another:
      return "another";
    case Answer::nothing:
      return "nothing";
  }
  return "nothing";
}

ordered_json to_json(const Board& board, const SweepReport& report,
                     const std::vector<WalkTouch>& touches) {
  ordered_json json;
  json["padwalk"] = "walk/1";
  json["touches"] = ordered_json::array();
  for (const WalkTouch& touch : touches) {
    ordered_json one;
    one["answer"] = answer_word(touch.answer);
    one["point"] = touch.point ? ordered_json(board[*touch.point].name) : ordered_json();
    const bool named = touch.lead != graph::kNoPoint;
    one["net"] = touch.net != graph::kNoNet ? ordered_json(board[touch.net].name) : ordered_json();
    one["lead"] = named ? ordered_json(board[touch.lead].name) : ordered_json();
    one["ohm"] = named ? json_number(touch.ohm) : ordered_json();
    one["uncertainty_ohm"] = named ? json_number(touch.uncertainty_ohm) : ordered_json();
    one["evidence"] = touch.evidence;
    json["touches"].push_back(std::move(one));
  }
  std::ostringstream sweep;
  write_json(sweep, board, report);
  json["sweep"] = ordered_json::parse(sweep.str());
  return json;
}

}  // namespace

ExitStatus walk_board(const WalkOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  graph::Fixtures bench;
  graph::PlanStep first;
  WalkLeads leads;
  if (options.fixtures.empty()) {
    leads = held_points(board, options.hold, options.two_needles);
  } else {
    bench = load_fixtures(options.fixtures);
    leads = planned(board, options, bench, first);
  }
  if (leads.clipped.leads.size() < 2) {
    throw UsageError("a walk needs two leads at least beside the tip");
  }

  SweepReport report;
  report.board_file = options.board;
  report.limits = graph::limits_for(board);
  report.hookup = leads.clipped;
  report.moves = first.moves.size();
  // A tester needs channels for the tip too, and for all that a fixture is wired to.
  graph::Hookup all = leads.clipped;
  for (const session::Channel channel : leads.tip) {
    all.leads.push_back({channel, all.leads.front().point});
  }
  std::uint16_t highest = 0;
  for (const graph::Lead& lead : all.leads) {
    highest = std::max(highest, lead.channel);
  }
  TesterConnection connection(
      board, leads.clipped,
      {options.port, options.simulate, options.defects, std::max(options.channels, highest)});
  report.zero = connection.zero();
  report.port = connection.label();
  report.tester = connection.session().capabilities();
  if (highest > report.tester.channels) {
    throw UsageError(fmt::format("channel {} is needed, and the tester on {} has {} channels",
                                 highest, report.port, report.tester.channels));
  }

  StopOnInterrupt stopping;
  connection.wait_for_plug(text, stopping.requested(), isatty(STDIN_FILENO) != 0 ? kPlugWaitS : 0);
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  InputLines typed;
  ButtonLines lines(typed, connection.session());
  TerminalPerson at_terminal(text, board, bench, stopping.requested(), lines);
  SimulatedBench* simulated = connection.bench();
  if (options.fixtures.empty()) {
    fmt::print(text, "Leads on {}; the tip is {} {}.\n",
               listed(names_of(board, leads.clipped.points()), 8),
               leads.tip.size() > 1 ? "leads" : "lead", fmt::join(leads.tip, " and "));
  } else if (simulated != nullptr) {
    StepWriter(text, board, bench).write_moves(first);
    simulated->place(first, leads.clipped);
  } else {
    for (const std::size_t which : at_terminal.place(first, leads.clipped)) {
      for (const graph::Lead& off : first.moves[which].leads) {
        std::erase_if(leads.clipped.leads,
                      [&](const graph::Lead& lead) { return lead.channel == off.channel; });
      }
    }
  }
  std::vector<PointId> never;
  const std::vector<bool> is_never = graph::never_driven(board);
  for (std::size_t i = 0; i < is_never.size(); ++i) {
    if (is_never[i]) {
      never.push_back(PointId{static_cast<std::uint32_t>(i)});
    }
  }
  if (!never.empty()) {
    fmt::print(text, "Keep the tip off {}.\n", listed(names_of(board, never), 8));
  }
  text.flush();

  Person* person = nullptr;
  if (options.simulate || isatty(STDIN_FILENO) != 0) {
    person = simulated != nullptr ? static_cast<Person*>(simulated) : &at_terminal;
  }
  KeptRun kept(options.job, "walk", board_options_json(options.board), board, options.board);
  kept.met_tester(report.tester, report.port);
  const Measuring measuring{connection.session(), board,        false, person,
                            stopping.requested(), kept.record()};
  Sound sound(text, options.sound);
  Walk walk(measuring, leads.clipped, leads.tip, simulated, lines, sound, text, terminal_columns(),
            report);
  const auto begin = std::chrono::steady_clock::now();
  try {
    walk.run();
  } catch (const RecordError& error) {
    note_lost_record(error, report);
  }
  report.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  report.groups = graph::count_groups(board, report.hookup.points());
  if (!report.refused) {
    report.result = graph::find_differences(board, report.limits, report.measured);
  }
  try {
    kept.end(report.verdict(), to_json(board, report, walk.touches()).dump());
  } catch (const RecordError& error) {
    note_lost_record(error, report);
  }
  if (json_output.wanted()) {
    json_output.write(to_json(board, report, walk.touches()).dump(1) + "\n");
  }
  text << '\n';
  report.refused ? write_refusal(text, board, report, "walk") : write_text(text, board, report);
  return report.status();
}

}  // namespace padwalk::tools
