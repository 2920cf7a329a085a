// SPDX-License-Identifier: MIT
//
// The study of slips: random boards swept by plans, by a person who puts fixtures on wrongly and
// whose leads are tarnished. Prints one table; exit status 1 if a promise is broken.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <atomic>
#include <iostream>
#include <mutex>
#include <thread>
#include <vector>

#include "tests/study/slip_run.hpp"

int main(int argc, char** argv) {
  using padwalk::study::SlipRun;
  std::uint64_t sweeps = 3000;
  std::uint64_t first = 0;
  std::uint64_t seed = 1;
  unsigned threads = std::max(1u, std::thread::hardware_concurrency());
  CLI::App app("Sweeps that follow plans, by a person who slips.");
  app.add_option("--sweeps", sweeps, "How many")->capture_default_str();
  app.add_option("--first", first, "Number of the first")->capture_default_str();
  app.add_option("--seed", seed, "Seed of all")->capture_default_str();
  app.add_option("--threads", threads, "Sweeps at a time")
      ->check(CLI::Range(1, 256))
      ->capture_default_str();
  CLI11_PARSE(app, argc, argv);

  std::atomic<std::uint64_t> next{0};
  std::mutex mutex;
  SlipRun all;
  std::size_t planned = 0;
  std::size_t broken = 0;
  const auto work = [&] {
    for (std::uint64_t i = next++; i < sweeps; i = next++) {
      SlipRun run;
      try {
        run = padwalk::study::run_slips(first + i, seed);
      } catch (const std::exception& error) {
        run.troubles.push_back(error.what());
      }
      const std::lock_guard lock(mutex);
      planned += run.planned ? 1 : 0;
      all.hookups += run.hookups;
      all.moves += run.moves;
      all.touches += run.touches;
      all.slips += run.slips;
      all.put_right += run.put_right;
      all.not_provable += run.not_provable;
      all.asked_in_vain += run.asked_in_vain;
      all.misfits += run.misfits;
      all.tarnished += run.tarnished;
      all.faults += run.faults;
      all.beside += run.beside;
      broken += run.troubles.size();
      for (const std::string& trouble : run.troubles) {
        std::cerr << fmt::format("  sweep {}: {}\n", first + i, trouble);
      }
    }
  };
  std::vector<std::thread> others;
  for (unsigned i = 1; i < threads; ++i) {
    others.emplace_back(work);
  }
  work();
  for (std::thread& thread : others) {
    thread.join();
  }
  std::cout << fmt::format(
      "seed {}, sweeps {} to {}; a plan for {} of them\n"
      "{} hookups, {} moves, {} touches, {} misfits, {} leads without contact at first, {} faults\n"
      "slips: {}; put right: {}; not provable: {}; asked in vain: {}\n"
      "leaks and parts reported beside, for which this study promises nothing: {}\n"
      "broken promises: {}\n",
      seed, first, first + sweeps - 1, planned, all.hookups, all.moves, all.touches, all.misfits,
      all.tarnished, all.faults, all.slips, all.put_right, all.not_provable, all.asked_in_vain,
      all.beside, broken);
  return broken == 0 ? 0 : 1;
}
