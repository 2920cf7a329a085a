// SPDX-License-Identifier: MIT
//
// `padwalk confirm`: after a bodge wire or a mended trace, reads the net and what runs by it again
// and holds it against the sweep before.
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <unistd.h>

#include <algorithm>
#include <sstream>

#include "graph/board_splice.hpp"
#include "graph/values.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/confirm_report.hpp"
#include "tools/hookup_reader.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_record.hpp"
#include "tools/measure.hpp"
#include "tools/net_watch.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/terminal_person.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

/// Of a simulated tester, where nobody says.
constexpr std::uint16_t kUsualChannels = 64;
/// No board is so large.
constexpr double kLongestWireMm = 10'000;

Joint joint_of(const Board& board, const ConfirmOptions& options) {
  const std::vector<std::string>& ends = options.wire.empty() ? options.repaired : options.wire;
  Joint joint = find_joint(board, ends.at(0), ends.at(1));
  joint.wire = !options.wire.empty();
  joint.gauge = options.gauge;
  if (!options.length.empty()) {
    joint.length_mm = graph::parse_value(options.length, graph::Unit::millimetre);
    if (!joint.length_mm || *joint.length_mm <= 0 || *joint.length_mm > kLongestWireMm) {
      throw UsageError(
          fmt::format("--length {}: expected a length such as 45mm or 1.5inch", options.length));
    }
  }
  return joint;
}

/// The last sweep of the job that came to its end, and the leads that it had.
std::optional<EarlierSweep> sweep_of_job(const Job& job, const Board& board,
                                         std::vector<graph::Lead>& leads) {
  const std::vector<JobRun> runs = job.runs();
  const JobRun* const last = last_ended_sweep(runs);
  if (last == nullptr) {
    return std::nullopt;
  }
  EarlierSweep sweep = earlier_sweep(last->report, "the job's last sweep");
  sweep.at = last->at;
  leads = kept_of(job, last->id, board).leads;
  return sweep;
}

void offer_wire(std::ostream& out, const std::string& file, const Board& board, const Joint& joint,
                Lines& lines) {
  graph::BoardAdditions additions;
  additions.wires.push_back(described(board, joint));
  offer_to_file(
      out, file, "wire " + additions.wires.front().name, lines,
      [&](const std::string& text) { return graph::splice_board(text, additions, file).text; });
}

/// Which leads are needed, part by part.
void write_leads(std::ostream& out, const Board& board, const graph::Hookup& hookup, bool stay) {
  std::string all;
  graph::PartId part = graph::kNoPart;
  std::vector<graph::Lead> leads = hookup.leads;
  std::stable_sort(leads.begin(), leads.end(), [&](const graph::Lead& a, const graph::Lead& b) {
    return std::pair(board[a.point].part, a.point) < std::pair(board[b.point].part, b.point);
  });
  for (const graph::Lead& lead : leads) {
    const graph::Point& point = board[lead.point];
    const bool more = point.part == part && part != graph::kNoPart;
    all += fmt::format("{}{} on {}",
                       all.empty() ? ""
                       : more      ? ", "
                                   : "; ",
                       lead.channel, more ? "." + point.pin : point.name);
    part = point.part;
  }
  fmt::print(out, "{} are needed, lead {}.\n",
             stay ? "Of the leads that the sweep had only these" : "Only these leads", all);
}

/// Reads what `report` has leads for, and the joint's own two.
void read_again(const Measuring& measuring, ConfirmReport& report) {
  measure_sweep(measuring, report.run);
  if (!report.ohms || report.run.refused || !report.run.failure.empty() || report.run.interrupted) {
    return;
  }
  const auto channel = [&](graph::PointId point) {
    return std::find_if(report.run.hookup.leads.begin(), report.run.hookup.leads.end(),
                        [&](const auto& lead) { return lead.point == point; })
        ->channel;
  };
  session::Request request;
  request.source = {channel(report.ohms->from)};
  request.sink = {channel(report.ohms->to)};
  request.limit_ohm = report.ohms->most_ohm;
  try {
    report.measured = measuring.session.measure({&request, 1}).front();
    graph::WantedReading wanted;
    wanted.source = {report.ohms->from};
    wanted.sink = {report.ohms->to};
    measuring.record.readings(to_readings({wanted}, {*report.measured}));
  } catch (const session::NotAtRest& live) {
    note_live(live.check, report.run.hookup, report.run);
  } catch (const session::TesterError& error) {
    report.run.failure = error.what();
  } catch (const RecordError& error) {
    note_lost_record(error, report.run);
  }
}

/// Holds the net while the person, or the simulated one, bends and taps the board.
void watch_flexed(const Measuring& measuring, TesterConnection& connection, double seconds,
                  std::ostream& out, ConfirmReport& report) {
  std::vector<graph::Lead> held = report.run.hookup.leads;
  std::erase_if(held, [&](const graph::Lead& lead) {
    return measuring.board[lead.point].net != report.joint.net;
  });
  WatchReport& flexed = report.flexed.emplace();
  flexed.net = report.joint.net;
  flexed.wanted_s = seconds;
  fmt::print(out, "Bend and tap the board round the joint{}.\n",
             seconds > 0 ? "" : "; q when you are done");
  out.flush();
  SingleKeys keys;
  Sound sound(out, connection.bench() == nullptr);
  if (connection.bench() != nullptr) {
    connection.bench()->flex(true);
  }
  NetWatch watch({measuring.session, measuring.board, measuring.stop, keys, sound, measuring.record,
                  out, false, 80, report.run.hookup, "flex"},
                 held, flexed);
  watch.run(seconds, std::nullopt);
  if (connection.bench() != nullptr) {
    connection.bench()->flex(false);
  }
  report.run.failure = flexed.run.failure;
  if (flexed.run.refused) {
    report.run.refused = true;
    report.run.live = flexed.run.live;
    report.run.tied_ohm = flexed.run.tied_ohm;
  }
}

}  // namespace

ExitStatus confirm_repair(const ConfirmOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  ConfirmReport report;
  report.run.board_file = options.board;
  report.run.job = options.job;
  report.joint = joint_of(board, options);
  report.run.limits = graph::limits_for(board);
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  KeptRun kept(options.job, "confirm", board_options_json(options.board), board, options.board);
  std::vector<graph::Lead> leads_before;
  if (!options.after.empty()) {
    report.before = earlier_sweep(graph::read_file(options.after), options.after);
  } else if (kept.job() != nullptr) {
    report.before = sweep_of_job(*kept.job(), board, leads_before);
  }
  std::uint16_t channels = options.channels;
  for (std::size_t i = 0; options.channels == 0 && i < leads_before.size(); ++i) {
    channels = std::max(channels, leads_before[i].channel);
  }
  TesterConnection connection(
      board, graph::Hookup(),
      {options.port, options.simulate, options.defects, channels == 0 ? kUsualChannels : channels,
       0.015, false, BoardThen::mended});
  report.run.port = connection.label();
  report.run.zero = connection.zero();
  report.run.tester = connection.session().capabilities();
  JointHookup chosen = leads_for(board, report.joint, leads_before, report.run.tester.channels);
  report.run.hookup = std::move(chosen.hookup);
  report.left_out = std::move(chosen.left_out);
  if (connection.bench() != nullptr) {
    connection.bench()->touch(report.run.hookup);
  }
  kept.met_tester(report.run.tester, report.run.port);

  StopOnInterrupt stopping;
  connection.wait_for_plug(text, stopping.requested(), isatty(STDIN_FILENO) != 0 ? kPlugWaitS : 0);
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  write_leads(text, board, report.run.hookup, chosen.as_before);
  text.flush();
  InputLines typed;
  ButtonLines lines(typed, connection.session());
  const graph::Fixtures none;
  TerminalPerson at_terminal(text, board, none, stopping.requested(), lines);
  Person* somebody = connection.bench();
  if (somebody == nullptr) {
    somebody = isatty(STDIN_FILENO) != 0 ? &at_terminal : nullptr;
  }
  report.ohms = joint_ohms(board, report.joint, report.run.hookup);
  const Measuring measuring{connection.session(), board,        false, somebody,
                            stopping.requested(), kept.record()};
  read_again(measuring, report);
  if (!report.run.refused) {
    report.run.result = graph::find_differences(board, report.run.limits, report.run.measured);
    report.changes = compare_findings(board, report.joint, report.run.hookup,
                                      report.before ? &*report.before : nullptr, report.run.result);
  }
  if (options.flex && report.verdict() == Repaired::restored) {
    try {
      watch_flexed(measuring, connection, options.seconds, text, report);
    } catch (const session::TesterError& error) {
      report.run.failure = error.what();
    } catch (const RecordError& error) {
      note_lost_record(error, report.run);
    }
  }
  report.thin = thin_wire(board, report.joint);

  std::ostringstream json;
  write_confirm_json(json, board, report);
  kept.end(repaired_word(report), json.str(), report.run, json_output);
  text << '\n';
  write_confirm_text(text, board, report);
  if (report.joint.wire && report.verdict() == Repaired::restored) {
    offer_wire(text, options.board, board, report.joint, lines);
  }
  if (const std::string next = after_confirm(board, report); !next.empty()) {
    fmt::print(text, "Next: {}\n", next);
  }
  return report.status();
}

}  // namespace padwalk::tools
