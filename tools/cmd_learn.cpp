// SPDX-License-Identifier: MIT
//
// `padwalk learn`: from parts and their packages alone, a board file of what copper joins.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <optional>
#include <sstream>

#include "graph/board_yaml.hpp"
#include "graph/part_list.hpp"
#include "graph/verdict.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/bench_plan.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_record.hpp"
#include "tools/learn_follow.hpp"
#include "tools/options.hpp"
#include "tools/other_bench.hpp"
#include "tools/output_file.hpp"
#include "tools/terminal_person.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

/// What no isolation limit at 0.2 V of an assembled board is above; less is hardly a part.
constexpr double kLinkOhm = 100e3;

/// Parts and points with no nets, but for those that must never be driven.
graph::Board blank_board(const LearnOptions& options) {
  graph::Diagnostics diagnostics(options.parts_from.empty() ? "--parts" : options.parts_from);
  graph::BoardDescription board;
  if (!options.parts_from.empty()) {
    board = graph::read_board(graph::read_file(options.parts_from), diagnostics);
    diagnostics.throw_if_errors();
    std::erase_if(board.nets, [](const graph::NetDescription& net) { return !net.drive_never; });
    board.copper.clear();
    board.note.clear();
  } else {
    board.state = options.assembled ? graph::BoardState::assembled : graph::BoardState::bare;
    graph::read_part_list(options.parts, board, diagnostics);
    graph::read_point_list(options.points, board, diagnostics);
    diagnostics.throw_if_errors();
  }
  if (!options.name.empty()) {
    board.name = options.name;
  }
  return graph::Board(std::move(board), diagnostics);
}

/// The board that the simulated bench has.
std::optional<LoadedBoard> board_on_bench(const LearnOptions& options, const graph::Board& blank) {
  if (!options.simulate) {
    return std::nullopt;
  }
  LoadedBoard truth = load_board(options.simulate_board);
  if (truth.board.assembled() != blank.assembled()) {
    throw UsageError(fmt::format("the simulated board {} is {}; {}", options.simulate_board,
                                 truth.board.assembled() ? "assembled" : "bare",
                                 !options.parts_from.empty()
                                     ? options.parts_from + " says otherwise"
                                 : truth.board.assembled() ? "say --assembled"
                                                           : "leave --assembled out"));
  }
  return truth;
}

void learn_at_once(const Measuring& measuring, const graph::Hookup& whole, LearnReport& report) {
  report.sweep.hookup = whole;
  report.sweep.hookups = 1;
  report.pieces = learn_hookup(measuring, whole, {}, whole.points(), report).pieces;
  report.no_lead = without_lead(measuring.board, whole);
}

void note_silent(LearnReport& report) {
  for (const graph::PointId point : report.sweep.hookup.points()) {
    if (report.heard.count(point) == 0) {
      report.silent.push_back(point);
    }
  }
  std::sort(report.silent.begin(), report.silent.end());
}

std::string board_note(const LearnReport& report) {
  return fmt::format(
      "Learned at 0.2 V through {} leads; copper: {} at most; no drawing was held "
      "against it",
      report.sweep.hookup.leads.size(), graph::ohm_text(report.joined_ohm));
}

}  // namespace

ExitStatus learn_board(const LearnOptions& options) {
  const graph::Board blank = blank_board(options);
  const std::optional<LoadedBoard> truth = board_on_bench(options, blank);
  OutputFile output(options.output);
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  LearnReport report;
  report.output = options.output;
  report.sweep.limits = graph::limits_for(blank);
  report.joined_ohm = graph::good_up_to_ohm(graph::NetRole::signal, 0);
  report.link_ohm = kLinkOhm;
  SweepReport& sweep = report.sweep;
  const bool at_once = options.fixtures.empty();
  const graph::Fixtures bench = at_once ? graph::Fixtures() : load_fixtures(options.fixtures);
  const graph::Hookup whole = graph::default_hookup(blank);
  if (whole.leads.size() < 2) {
    throw UsageError("there are fewer than two points to attach a lead to");
  }
  const graph::Hookup on_bench =
      truth ? hookup_on(truth->board, options.simulate_board, blank, whole) : whole;

  const TesterChoice choice{options.port, options.simulate, options.defects,
                            std::max(options.channels, bench.highest_channel()),
                            options.power_limit_volt};
  TesterConnection connection(truth ? truth->board : blank, at_once ? on_bench : graph::Hookup(),
                              choice);
  sweep.zero = connection.zero();
  sweep.port = connection.label();
  sweep.tester = connection.session().capabilities();
  KeptRun kept(options.job, "learn", board_options_json(options.output), &blank);
  kept.met_tester(sweep.tester, sweep.port);
  refuse_missing_channels(bench, options.fixtures, sweep.port, sweep.tester.channels);

  StopOnInterrupt stopping;
  connection.wait_for_plug(text, stopping.requested(), isatty(STDIN_FILENO) != 0 ? kPlugWaitS : 0);
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  if (at_once) {
    write_hookup(text, blank, whole);
  }
  text.flush();

  InputLines typed;
  ButtonLines lines(typed, connection.session());
  TerminalPerson at_terminal(text, blank, bench, stopping.requested(), lines);
  std::optional<OtherBench> simulated;
  if (truth) {
    simulated.emplace(*connection.bench(), truth->board, blank);
  }
  Person* person = nullptr;
  if (options.ask.value_or(options.simulate || isatty(STDIN_FILENO) != 0)) {
    person = simulated ? static_cast<Person*>(&*simulated) : &at_terminal;
  }
  const Measuring measuring{connection.session(), blank,        false, person,
                            stopping.requested(), kept.record()};
  const auto begin = std::chrono::steady_clock::now();
  try {
    if (at_once) {
      kept.record().leads(whole);
      learn_at_once(measuring, whole, report);
    } else {
      learn_by_moves(measuring, bench, simulated ? static_cast<Hands&>(*simulated) : at_terminal,
                     report);
    }
  } catch (const RecordError& error) {
    note_lost_record(error, sweep);
  }
  note_silent(report);
  sweep.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  sweep.counts.scan = report.follow_readings + report.current_readings;

  if (report.to_the_end()) {
    report.nets = graph::name_learned(blank, report.pieces, report.between, report.link_ohm);
    graph::BoardDescription learned = graph::describe_learned(blank, report.nets);
    learned.note = board_note(report) + (learned.note.empty() ? "" : "; " + learned.note);
    output.commit(graph::write_board(learned));
  }
  std::ostringstream json;
  write_learn_json(json, blank, report);
  kept.end(verdict_word(report.status()), json.str(), sweep, json_output);
  write_learn_text(text, blank, report);
  return report.status();
}

}  // namespace padwalk::tools
