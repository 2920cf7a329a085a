// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <fstream>
#include <iostream>
#include <sstream>

#include "graph/findings.hpp"
#include "tools/board_file.hpp"
#include "tools/measure.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/sweep_report.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

std::atomic<bool> stop_requested{false};

/// Ctrl-C ends the sweep between two rounds; what was read is kept.
class StopOnInterrupt {
 public:
  StopOnInterrupt() {
    struct sigaction action {};
    action.sa_handler = [](int) { stop_requested = true; };
    sigaction(SIGINT, &action, &before_interrupt_);
    sigaction(SIGTERM, &action, &before_terminate_);
  }
  ~StopOnInterrupt() {
    sigaction(SIGINT, &before_interrupt_, nullptr);
    sigaction(SIGTERM, &before_terminate_, nullptr);
  }
  StopOnInterrupt(const StopOnInterrupt&) = delete;
  StopOnInterrupt& operator=(const StopOnInterrupt&) = delete;

 private:
  struct sigaction before_interrupt_ {};
  struct sigaction before_terminate_ {};
};

/// A person at a terminal.
class TerminalPerson : public Person {
 public:
  explicit TerminalPerson(std::ostream& out) : out_(out) {}
  void reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) override {
    out_ << "Silent: take these leads off and put them on again, then press Enter:\n";
    for (const graph::Lead& lead : leads) {
      out_ << fmt::format("      {} (lead {})\n", board[lead.point].name, lead.channel);
    }
    out_.flush();
    std::string line;
    std::getline(std::cin, line);
  }

 private:
  std::ostream& out_;
};

void print_hookup(std::ostream& out, const graph::Board& board, const graph::Hookup& hookup) {
  const std::vector<graph::Lead>& leads = hookup.leads;
  out << fmt::format("Leads 1 to {} in file order: {} to {}.\n", leads.size(),
                     board[leads.front().point].name, board[leads.back().point].name);
}

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

}  // namespace

ExitStatus sweep_board(const SweepOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const graph::Board& board = loaded.board;
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  SweepReport report;
  report.board_file = options.board;
  report.limits = graph::limits_for(board);
  report.hookup = graph::default_hookup(board);
  if (report.hookup.leads.size() < 2) {
    throw UsageError(
        fmt::format("{}: there are fewer than two points to attach a lead to", options.board));
  }
  const graph::Hookup whole = report.hookup;
  leave_out(board, options.leave_out, report);
  if (report.hookup.leads.size() < 2) {
    throw UsageError("--leave-out leaves fewer than two points to measure");
  }
  report.groups = graph::count_groups(board, report.hookup.points());

  TesterConnection connection(board, whole,
                              {options.port, options.simulate, options.defects, options.channels,
                               options.power_limit_volt});
  report.zero = connection.zero();
  report.port = connection.label();
  report.tester = connection.session().capabilities();

  const StopOnInterrupt stopping;
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  print_hookup(text, board, whole);
  text.flush();

  TerminalPerson at_terminal(text);
  Person* person = nullptr;
  if (options.ask.value_or(options.simulate || isatty(STDIN_FILENO) != 0)) {
    person =
        connection.bench() != nullptr ? static_cast<Person*>(connection.bench()) : &at_terminal;
  }
  const auto begin = std::chrono::steady_clock::now();
  measure_sweep(connection.session(), board, options.quick, person, stop_requested, report);
  report.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  if (!report.refused) {
    report.result = graph::find_differences(board, report.limits, report.measured);
    name_leads(report);
  }

  if (json_output.wanted()) {
    std::ostringstream json;
    write_json(json, board, report);
    json_output.write(json.str());
  }
  write_text(text, board, report);
  return report.status();
}

}  // namespace padwalk::tools
