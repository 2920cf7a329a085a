// SPDX-License-Identifier: MIT
//
// `padwalk watch`: everything that is clipped, coarsely, until something comes or goes; then one
// net, held.
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <optional>
#include <sstream>

#include "tools/board_file.hpp"
#include "tools/interrupt.hpp"
#include "tools/job_record.hpp"
#include "tools/name_list.hpp"
#include "tools/net_watch.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/tester_connection.hpp"
#include "tools/watch_rounds.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

constexpr std::size_t kWatchColumns = 80;  // of a terminal that does not say
constexpr std::size_t kListedLeads = 16;

/// The leads of a sweep, and behind them second ones.
struct WatchLeads {
  graph::Hookup sweep;
  std::vector<graph::Lead> second;

  graph::Hookup all() const {
    graph::Hookup both = sweep;
    both.leads.insert(both.leads.end(), second.begin(), second.end());
    return both;
  }
  /// Of one net; the driven one first, then by channel.
  std::vector<graph::Lead> of(const Board& board, graph::NetId net) const {
    std::vector<graph::Lead> leads = all().leads;
    std::erase_if(leads, [&](const graph::Lead& lead) { return board[lead.point].net != net; });
    return leads;
  }
};

WatchLeads leads_for(const Board& board, const WatchOptions& options) {
  WatchLeads leads;
  leads.sweep = graph::default_hookup(board);
  if (leads.sweep.leads.size() < 2) {
    throw UsageError(
        fmt::format("{}: there are fewer than two points to attach a lead to", options.board));
  }
  for (const std::string& name : options.second) {
    const auto point = board.find_point(name);
    const auto has = [&](const std::vector<graph::Lead>& list) {
      return std::any_of(list.begin(), list.end(),
                         [&](const graph::Lead& lead) { return lead.point == *point; });
    };
    if (!point || !has(leads.sweep.leads) || has(leads.second)) {
      throw UsageError(fmt::format("--second-lead {}: {}", name,
                                   !point                    ? "the board has no such point"
                                   : !has(leads.sweep.leads) ? "it has no first lead"
                                                             : "it has two already"));
    }
    const std::size_t channel = leads.sweep.leads.size() + leads.second.size() + 1;
    leads.second.push_back({static_cast<std::uint16_t>(channel), *point});
  }
  return leads;
}

/// Points of a net that have a lead.
std::size_t points_with_lead(const Board& board, const WatchLeads& leads, graph::NetId net) {
  return static_cast<std::size_t>(
      std::count_if(leads.sweep.leads.begin(), leads.sweep.leads.end(),
                    [&](const graph::Lead& lead) { return board[lead.point].net == net; }));
}

graph::NetId named_net(const Board& board, const WatchOptions& options, const WatchLeads& leads) {
  const auto net = board.find_net(options.net);
  if (!net) {
    throw UsageError(fmt::format(
        "--net {}: the board has no net of that name; 'padwalk check' lists them", options.net));
  }
  if (points_with_lead(board, leads, *net) < 2) {
    throw UsageError(
        fmt::format("--net {}: a lead holds on fewer than two of its points", options.net));
  }
  return *net;
}

std::size_t watch_columns() {
  winsize size{};
  return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 1 ? size.ws_col
                                                                         : kWatchColumns;
}

void write_leads(std::ostream& out, const Board& board, const std::vector<graph::Lead>& leads) {
  std::vector<std::string> where;
  for (const graph::Lead& lead : leads) {
    where.push_back(fmt::format("lead {} on {}", lead.channel, board[lead.point].name));
  }
  fmt::print(out, "Held: net {}, {}.\n", board[board[leads.front().point].net].name,
             listed(where, kListedLeads));
  fmt::print(out, "Keys: f flex, t tap, c cold, h heat, space none of these, q end.\n");
  out.flush();
}

/// Rounds over everything, until something comes or goes, the time is over or the person stops.
/// `tag`: of the key that was pressed last. Returns when it began, on the tester's clock.
double watch_everything(session::Session& session, const Board& board, const WatchLeads& leads,
                        const std::atomic<bool>& stop, SingleKeys& keys, std::ostream& out,
                        WatchReport& report, std::string& tag) {
  WatchRounds rounds(session, board, leads.all(), report);
  if (!rounds.check_power()) {
    return 0;
  }
  const double zero_s = session.clock_s();
  double now_s = zero_s;
  while (report.changes.empty() && (report.wanted_s <= 0 || now_s - zero_s < report.wanted_s)) {
    while (const auto key = keys.next()) {
      report.stopped = report.stopped || *key == 'q';
      tag = tag_of(*key).value_or(tag);
    }
    report.stopped = report.stopped || stop;
    const std::size_t before = report.rounds;
    if (report.stopped || !rounds.round(now_s - zero_s)) {
      break;
    }
    const double began_s = std::exchange(now_s, session.clock_s());
    report.round_s = std::max(report.round_s, now_s - began_s);
    report.rounds_s = now_s - zero_s;
    if (before == 0) {
      for (const std::string& text : report.before) {
        fmt::print(out, "      from the start  {}\n", text);
      }
    }
    for (const RoundChange& change : report.changes) {
      fmt::print(out, "      {}  {}\n", clock_text(change.at_s), change.what);
    }
    out.flush();
  }
  return zero_s;
}

}  // namespace

ExitStatus watch_board(const WatchOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  const WatchLeads leads = leads_for(board, options);
  WatchReport report;
  report.wanted_s = options.seconds;
  report.run.board_file = options.board;
  report.run.job = options.job;
  report.run.limits = graph::limits_for(board);
  report.run.hookup = leads.sweep;
  if (!options.net.empty()) {
    report.net = named_net(board, options, leads);
  }
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  KeptRun kept(options.job, "watch", board_options_json(options.board), board, options.board);
  TesterConnection connection(board, leads.all(),
                              {options.port, options.simulate, options.defects, options.channels});
  report.run.zero = connection.zero();
  report.run.port = connection.label();
  report.run.tester = connection.session().capabilities();
  kept.met_tester(report.run.tester, report.run.port);

  StopOnInterrupt stopping;
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  Sound sound(text, options.sound && connection.bench() == nullptr);
  SingleKeys keys;
  std::string tag;
  try {
    std::optional<double> zero_s;
    double left_s = options.seconds;
    if (report.net == graph::kNoNet) {
      fmt::print(text,
                 "Leads as for a sweep, {} points; round by round, until something comes or "
                 "goes.\n",
                 leads.sweep.leads.size());
      text.flush();
      zero_s = watch_everything(connection.session(), board, leads, stopping.requested(), keys,
                                text, report, tag);
      left_s -= report.rounds_s;
      const auto changed = std::find_if(
          report.changes.begin(), report.changes.end(), [&](const RoundChange& change) {
            return change.net != graph::kNoNet && points_with_lead(board, leads, change.net) > 1;
          });
      const bool goes_on = !report.stopped && !report.run.refused && report.run.failure.empty() &&
                           (options.seconds <= 0 || left_s > 0);
      if (changed != report.changes.end() && goes_on) {
        report.net = changed->net;
      }
    }
    if (report.net != graph::kNoNet) {
      const std::vector<graph::Lead> held = leads.of(board, report.net);
      report.run.hookup.leads = held;
      write_leads(text, board, held);
      kept.record().leads({held});
      const bool strip = isatty(STDOUT_FILENO) != 0 && &text == &std::cout;
      NetWatch watch({connection.session(), board, stopping.requested(), keys, sound, kept.record(),
                      text, strip, watch_columns(), leads.all(), tag},
                     held, report);
      watch.run(options.seconds > 0 ? left_s : 0, zero_s);
      judge_watch(board, report);
    }
  } catch (const session::TesterError& error) {
    report.run.failure = error.what();
  } catch (const RecordError& error) {
    note_lost_record(error, report.run);
  }
  std::ostringstream json;
  write_watch_json(json, board, report);
  kept.end(verdict_word(report.status()), json.str(), report.run, json_output);
  write_watch_text(text, board, report);
  return report.status();
}

}  // namespace padwalk::tools
