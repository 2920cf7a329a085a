// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <sstream>

#include "graph/findings.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_history.hpp"
#include "tools/job_record.hpp"
#include "tools/keyed_bench.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/other_bench.hpp"
#include "tools/output_file.hpp"
#include "tools/sweep_report.hpp"
#include "tools/terminal_person.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

/// Takes the points of these nets off the list of what is measured; their leads stay on.
void leave_out(const graph::Board& board, const std::vector<std::string>& names,
               SweepReport& report) {
  for (const std::string& name : names) {
    const std::optional<graph::NetId> net = board.find_net(name);
    if (!net) {
      throw UsageError(
          fmt::format("--leave-out {}: the board has no net of that name; 'padwalk check' lists "
                      "them",
                      name));
    }
    report.left_out.push_back(*net);
    std::erase_if(report.hookup.leads,
                  [&](const graph::Lead& lead) { return board[lead.point].net == *net; });
  }
}

/// Says for each silent point on which lead it is.
void name_leads(SweepReport& report) {
  for (graph::PointNote& note : report.result.no_contact) {
    for (const graph::Lead& lead : report.hookup.leads) {
      if (lead.point == note.point) {
        note.why += fmt::format(", lead {}", lead.channel);
      }
    }
  }
}

/// What is attached when: all at once, or as a plan says.
struct Way {
  graph::Hookup whole;  ///< all at once
  graph::Fixtures bench;
  graph::PlanGoal goal;
  graph::Plan plan;
  bool planned = false;
};

Way plan_way(const graph::Board& board, const SweepOptions& options) {
  Way way;
  way.planned = true;
  way.bench = load_fixtures(options.plan.fixtures);
  way.goal = goal_for(board, options.board, options.plan);
  way.plan = graph::make_plan(board, way.bench, way.goal);
  if (way.plan.steps.empty()) {
    throw UsageError(fmt::format("{}: nothing of it fits on {}; 'padwalk plan' says more",
                                 options.plan.fixtures, options.board));
  }
  return way;
}

Way whole_way(const graph::Board& board, const SweepOptions& options) {
  Way way;
  way.whole = graph::default_hookup(board);
  if (way.whole.leads.size() < 2) {
    throw UsageError(
        fmt::format("{}: there are fewer than two points to attach a lead to", options.board));
  }
  return way;
}

/// What the simulated bench has, where that is not what the file says.
std::optional<LoadedBoard> truth_on_bench(const SweepOptions& options, const graph::Board& board) {
  if (options.simulate_board.empty()) {
    return std::nullopt;
  }
  LoadedBoard truth = load_board(options.simulate_board);
  const auto missing =
      std::find_if(board.points().begin(), board.points().end(),
                   [&](const graph::Point& one) { return !truth.board.find_point(one.name); });
  if (missing != board.points().end() || truth.board.assembled() != board.assembled()) {
    throw UsageError(
        fmt::format("the simulated board {} {}; it must have the parts, points and state of {}",
                    options.simulate_board,
                    missing != board.points().end() ? "has no " + missing->name
                    : truth.board.assembled()       ? "is assembled"
                                                    : "is bare",
                    options.board));
  }
  return truth;
}

/// What the plan leaves out.
void note_plan(const graph::Board& board, const graph::Plan& plan, bool all_pairs,
               graph::Findings& findings) {
  constexpr std::size_t kNamed = 8;
  if (!plan.points_not_covered.empty()) {
    findings.cannot_see.push_back(
        fmt::format("nothing of this bench reaches, together with the rest of its net, {}",
                    listed(names_of(board, plan.points_not_covered), kNamed)));
  }
  std::vector<std::string> pairs;
  for (const auto& [one, other] : plan.pairs_not_covered) {
    pairs.push_back(fmt::format("{} and {}", board[one].name, board[other].name));
  }
  if (!pairs.empty()) {
    findings.cannot_see.push_back(fmt::format(
        "never attached together, so no short between them shows: {}", listed(pairs, kNamed)));
  }
  if (!all_pairs) {
    findings.cannot_see.push_back(
        "a short between nets that are no neighbours, but where both were attached at one time; "
        "--all-pairs brings each two together");
  }
}

}  // namespace

ExitStatus sweep_board(const SweepOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const graph::Board& board = loaded.board;
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  SweepReport report;
  report.board_file = options.board;
  report.job = options.job;
  report.limits = graph::limits_for(board);
  Way way = options.plan.fixtures.empty() ? whole_way(board, options) : plan_way(board, options);
  report.hookup = way.whole;
  leave_out(board, options.leave_out, report);
  if (!way.planned && report.hookup.leads.size() < 2) {
    throw UsageError("--leave-out leaves fewer than two points to measure");
  }

  std::optional<graph::BreakHistory> history;
  if (!options.history.empty()) {
    history = history_in(options.history, options.job, board);
    report.history_jobs = history->jobs;
  }

  KeptRun kept(options.job, "sweep", sweep_options_json(options, options.resumes), board,
               options.board);
  std::optional<Kept> before;
  if (options.resumes != 0) {
    before.emplace(kept_of(*kept.job(), options.resumes, board));
  }

  const std::optional<LoadedBoard> truth = truth_on_bench(options, board);
  TesterConnection connection(
      truth ? truth->board : board,
      truth ? hookup_on(truth->board, options.simulate_board, board, way.whole) : way.whole,
      {options.port, options.simulate, options.defects,
       std::max(options.channels, way.bench.highest_channel()), options.power_limit_volt});
  report.zero = connection.zero();
  report.port = connection.label();
  report.tester = connection.session().capabilities();
  refuse_missing_channels(way.bench, options.plan.fixtures, report.port, report.tester.channels);

  kept.met_tester(report.tester, report.port);

  StopOnInterrupt stopping;
  connection.wait_for_plug(
      text, stopping.requested(),
      options.plug_wait_s.value_or(isatty(STDIN_FILENO) != 0 ? kPlugWaitS : 0));
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  way.planned ? write_cost(text, board, way.bench, way.plan) : write_hookup(text, board, way.whole);
  text.flush();

  SimulatedBench* simulated = connection.bench();
  InputLines typed;
  ButtonLines lines(typed, connection.session());
  Sound sound(text, simulated == nullptr);
  TerminalPerson at_terminal(text, board, way.bench, stopping.requested(), lines);
  if (simulated == nullptr) {
    at_terminal.listen(connection.session(), sound);
  }
  std::optional<KeyedBench> keyed;
  std::optional<OtherBench> other;
  Person* somebody = &at_terminal;
  Hands* hands = &at_terminal;
  if (options.keys) {
    keyed.emplace(text, board, way.bench, stopping.requested(), lines, *simulated);
    somebody = &*keyed;
    hands = &*keyed;
  } else if (truth) {
    other.emplace(*simulated, truth->board, board);
    somebody = &*other;
    hands = &*other;
  } else if (simulated != nullptr) {
    somebody = simulated;
    hands = simulated;
  }
  const bool asks = options.ask.value_or(options.simulate || isatty(STDIN_FILENO) != 0);
  Person* person = asks ? somebody : nullptr;
  const Measuring measuring{connection.session(), board,        options.quick, person,
                            stopping.requested(), kept.record()};
  const auto begin = std::chrono::steady_clock::now();
  if (way.planned) {
    follow_plan(measuring, way.bench, way.goal, way.plan, *hands, report, before);
  } else {
    measure_sweep(measuring, report);
  }
  report.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  report.groups = graph::count_groups(board, report.hookup.points());
  if (!report.refused) {
    report.result = graph::find_differences(board, report.limits, report.measured,
                                            history ? &*history : nullptr);
    name_leads(report);
    if (way.planned) {
      note_plan(board, way.plan, options.plan.all_pairs, report.result);
    }
  }

  std::ostringstream json;
  write_json(json, board, report);
  kept.end(report.verdict(), json.str(), report, json_output);
  write_text(text, board, report);
  return report.status();
}

}  // namespace padwalk::tools
