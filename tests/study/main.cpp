// SPDX-License-Identifier: MIT
//
// The study: random boards with planted defects, each swept by the real firmware core, session,
// scan and findings on a simulated bench, and held against an oracle that shares no code with them.
// Prints one table; exit status 1 if a promise is broken, 2 for a bad command line. Speed is
// printed, never judged.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <atomic>
#include <iostream>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "tests/study/board_run.hpp"
#include "tests/study/tally.hpp"

namespace {

using namespace padwalk::study;

constexpr const char* kDefaultKinds = "all";
constexpr const char* kDefaultBench = "reference";
constexpr std::size_t kLinesShown = 30;
constexpr std::uint64_t kProgressEvery = 100;

std::optional<DefectKind> find_kind(const std::string& name) {
  for (std::size_t i = 0; i < kDefectKinds; ++i) {
    if (defect_kind_name(static_cast<DefectKind>(i)) == name) {
      return static_cast<DefectKind>(i);
    }
  }
  return std::nullopt;
}

/// A word that is no kind of defect.
std::string check_kind(const std::string& name) {
  if (name == "all" || find_kind(name)) {
    return "";
  }
  std::string known = "all";
  for (std::size_t i = 0; i < kDefectKinds; ++i) {
    known += fmt::format(", {}", defect_kind_name(static_cast<DefectKind>(i)));
  }
  return fmt::format("there is no kind {}; there are {}", name, known);
}

struct Options {
  std::uint64_t boards = 10'000;
  std::uint64_t first = 0;
  std::uint64_t sample_pty = 100;
  unsigned threads = std::max(1u, std::thread::hardware_concurrency());
  RunOptions run;
};

/// Boards in any order by several threads; results in order. Says how far it is, and at once what
/// is broken.
std::vector<std::optional<BoardRun>> run_all(const Options& options,
                                             std::vector<std::string>& errors) {
  std::vector<std::optional<BoardRun>> runs(options.boards);
  std::atomic<std::uint64_t> next{0};
  std::mutex mutex;
  std::uint64_t done = 0;
  const std::uint64_t every =
      options.sample_pty == 0 ? 0 : std::max<std::uint64_t>(1, options.boards / options.sample_pty);
  const auto work = [&] {
    for (std::uint64_t i = next++; i < options.boards; i = next++) {
      const bool compare = every != 0 && i % every == 0 && i / every < options.sample_pty;
      try {
        runs[i] = run_board(options.first + i, options.run, compare);
        const std::lock_guard lock(mutex);
        for (const std::string& trouble : runs[i]->score.troubles) {
          std::cerr << fmt::format("  board {}: {}\n", options.first + i, trouble);
        }
        if (++done % kProgressEvery == 0) {
          std::cerr << fmt::format("{} of {} boards\n", done, options.boards);
        }
      } catch (const std::exception& error) {
        const std::lock_guard lock(mutex);
        errors.push_back(fmt::format("board {}: {}", options.first + i, error.what()));
      }
    }
  };
  std::vector<std::thread> threads;
  for (unsigned i = 1; i < options.threads; ++i) {
    threads.emplace_back(work);
  }
  work();
  for (std::thread& thread : threads) {
    thread.join();
  }
  return runs;
}

/// The first few of many sentences, each behind the number of its board.
class Lines {
 public:
  void add(std::uint64_t board, const std::vector<std::string>& sentences) {
    for (const std::string& sentence : sentences) {
      if (++count_ <= kLinesShown) {
        text_ += fmt::format("  board {}: {}\n", board, sentence);
      }
    }
  }
  void print(const char* title) const {
    if (count_ > 0) {
      std::cout << fmt::format("{}: {}{}\n", title, count_,
                               count_ > kLinesShown ? ", the first of them" : "")
                << text_;
    }
  }

 private:
  std::size_t count_ = 0;
  std::string text_;
};

}  // namespace

int main(int argc, char** argv) {
  Options options;
  std::vector<std::string> kinds;
  std::string bench = kDefaultBench;
  CLI::App app("Random boards with planted defects: what a sweep finds of what can be seen.");
  app.add_option("--boards", options.boards, "How many boards")
      ->check(CLI::Range(std::uint64_t{1}, std::uint64_t{100'000'000}))
      ->capture_default_str();
  app.add_option("--seed", options.run.seed, "Seed of boards and defects")->capture_default_str();
  app.add_option("--threads", options.threads, "Boards at a time")
      ->check(CLI::Range(1, 256))
      ->capture_default_str();
  app.add_option("--first", options.first, "Number of the first board")->capture_default_str();
  app.add_option("--sample-pty", options.sample_pty,
                 "So many boards also over a pseudo-terminal; the reports must agree")
      ->capture_default_str();
  app.add_option("--kinds", kinds,
                 fmt::format("Kinds of defects, by commas, or all (default {})", kDefaultKinds))
      ->delimiter(',')
      ->check(check_kind);
  app.add_option("--bench", bench, "The tester's electronics")
      ->check(CLI::IsMember({"ideal", "reference"}))
      ->capture_default_str();
  app.add_flag("--verbose", options.run.verbose, "Print each board, its defects and its report");
  try {
    app.parse(argc, argv);
    if (kinds.empty()) {
      kinds = CLI::detail::split(kDefaultKinds, ',');
    }
  } catch (const CLI::ParseError& error) {
    const int status = app.exit(error);
    return status == 0 ? 0 : 2;
  }
  for (const std::string& name : kinds) {
    for (std::size_t i = 0; i < kDefectKinds; ++i) {
      const auto kind = static_cast<DefectKind>(i);
      const auto& held = options.run.kinds;
      if ((name == "all" || name == defect_kind_name(kind)) &&
          std::find(held.begin(), held.end(), kind) == held.end()) {
        options.run.kinds.push_back(kind);
      }
    }
  }
  options.run.reference_bench = bench == "reference";

  std::cout << fmt::format("seed {}, boards {} to {}\n", options.run.seed, options.first,
                           options.first + options.boards - 1)
            << std::flush;
  std::vector<std::string> errors;
  const std::vector<std::optional<BoardRun>> runs = run_all(options, errors);
  Tally tally;
  Lines troubles;
  Lines others;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (runs[i]) {
      std::cout << runs[i]->text;
      troubles.add(options.first + i, runs[i]->score.troubles);
      others.add(options.first + i, runs[i]->score.others);
      tally.add(*runs[i]);
    }
  }
  others.print("seen by the oracle and not found, beside opens and shorts");
  troubles.print("broken promises");
  for (const std::string& error : errors) {
    std::cout << error << '\n';
  }
  const bool kept = tally.print(std::cout);
  return kept && errors.empty() ? 0 : 1;
}
