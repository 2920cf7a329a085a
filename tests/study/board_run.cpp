// SPDX-License-Identifier: MIT
#include "tests/study/board_run.hpp"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <nlohmann/json.hpp>
#include <sstream>

#include "graph/board_yaml.hpp"
#include "graph/hookup.hpp"
#include "tests/study/defects_text.hpp"
#include "tests/study/one_sweep.hpp"
#include "tests/study/oracle.hpp"
#include "tests/study/random_board.hpp"

namespace padwalk::study {

namespace {

/// Streams of draws of one board.
constexpr std::uint64_t kBoardStream = 0;
constexpr std::uint64_t kDefectStream = 1;
constexpr std::uint64_t kStreams = 2;

/// What a sweep's JSON says, but for what the line and the clock bring; a busy machine answers
/// late, and then requests are sent again.
nlohmann::ordered_json comparable(const graph::Board& board, const tools::SweepReport& report) {
  std::ostringstream out;
  tools::write_json(out, board, report);
  nlohmann::ordered_json json = nlohmann::ordered_json::parse(out.str());
  for (const char* key : {"seconds", "time", "date"}) {
    json.erase(key);
  }
  json["tester"].erase("port");
  json["readings"].erase("retry");
  return json;
}

std::string first_difference(const nlohmann::ordered_json& a, const nlohmann::ordered_json& b) {
  const nlohmann::ordered_json patch = nlohmann::ordered_json::diff(a, b);
  return patch.empty() ? "" : patch.front().dump();
}

}  // namespace

BoardRun run_board(std::uint64_t number, const RunOptions& options, bool compare) {
  BoardRun run;
  Draws board_draws(options.seed, number * kStreams + kBoardStream);
  const std::string board_text = graph::write_board(random_board(board_draws));
  const std::string file = fmt::format("board {}", number);
  graph::Diagnostics diagnostics(file);
  const graph::Board board(graph::read_board(board_text, diagnostics), diagnostics);
  run.assembled = board.assembled();

  Draws draws(options.seed, number * kStreams + kDefectStream);
  constexpr std::array kHowMany = {0.25, 0.4, 0.2, 0.15};
  const auto values = random_part_values(draws, board);
  const auto planted = random_defects(draws, board, options.kinds, draws.weighted(kHowMany));
  const std::string bench =
      bench_text(options.reference_bench, static_cast<std::uint32_t>(draws.below(1'000'000'000)));
  // Through the text, so that what a verbose run prints is what was simulated.
  const std::string text = defects_text(board, planted, values, bench);
  graph::Diagnostics defect_diagnostics(file + "'s defects");
  const tools::Defects defects = tools::read_defects(text, board, defect_diagnostics);
  defect_diagnostics.throw_if_errors();

  const auto start = std::chrono::steady_clock::now();
  const tools::SweepReport report = sweep(board, defects, Line::memory);
  run.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  if (compare) {
    run.compared = true;
    run.line_difference = first_difference(
        comparable(board, report), comparable(board, sweep(board, defects, Line::pseudo_terminal)));
  }

  const std::vector<graph::PointId> leads = report.hookup.points();
  const double isolation = report.limits.isolation_ohm;
  const Oracle all(board, make_defects(planted, values), leads, isolation);
  std::vector<Oracle> alone;
  for (const Planted& one : planted) {
    alone.emplace_back(board, make_defects({&one, 1}, values), leads, isolation);
  }
  run.score = score(board, planted, all, alone, report);
  if (!run.line_difference.empty()) {
    run.score.troubles.push_back("another report over a pseudo-terminal: " + run.line_difference);
  }
  if (options.verbose) {
    std::ostringstream out;
    out << "---- board " << number << '\n'
        << board_text << "---- defects\n"
        << text << "---- sweep\n";
    tools::write_text(out, board, report);
    out << "---- planted\n";
    for (std::size_t i = 0; i < run.score.planted.size(); ++i) {
      const Judged& judged = run.score.planted[i];
      constexpr std::array kSeen = {"cannot be seen", "may be seen", "must be seen"};
      out << fmt::format(
          "{}: {} as {}, {}\n", planted_text(board, planted[i]),
          kSeen[static_cast<std::size_t>(judged.seen)], graph::finding_kind_name(judged.wanted),
          judged.reported ? fmt::format("found as {}", graph::finding_kind_name(*judged.reported))
                          : "not found");
    }
    run.text = out.str();
  }
  return run;
}

}  // namespace padwalk::study
