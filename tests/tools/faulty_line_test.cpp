// SPDX-License-Identifier: MIT
//
// Whole sweeps over a line that spoils bytes: the right result or an honest failure, never a wrong
// finding.
#include <catch2/catch.hpp>
#include <future>

#include "graph/yaml_reader.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/in_process.hpp"
#include "tests/support/program.hpp"
#include "tools/board_file.hpp"

namespace {

using namespace padwalk;

struct Demo {
  tools::LoadedBoard loaded = tools::load_board(test::source("boards/tide-gauge/board-bare.yaml"));
  tools::Defects defects;

  Demo() {
    const std::string path = test::source("boards/tide-gauge/corroded.yaml");
    graph::Diagnostics diagnostics(path);
    defects = tools::read_defects(graph::read_file(path), loaded.board, diagnostics);
    diagnostics.throw_if_errors();
  }

  tools::SweepReport sweep(const simulated::LineFaults& faults) const {
    simulated::SimulatedTesterOptions options;
    options.faults = faults;
    return test::sweep(loaded.board, defects, true, options);
  }
};

/// What a sweep found, as text, to compare whole results.
std::string found(const graph::Board& board, const tools::SweepReport& report) {
  std::string text = report.verdict();
  for (const graph::Finding& finding : report.result.findings) {
    text += "\n" + std::string(graph::finding_kind_name(finding.kind));
    for (const graph::NetId net : finding.nets) {
      text += " " + board[net].name;
    }
    for (const auto& piece : finding.pieces) {
      text += " |";
      for (const graph::PointId point : piece) {
        text += " " + board[point].name;
      }
    }
  }
  return text;
}

}  // namespace

namespace {

/// Side by side, since a bad line is mostly waiting.
void check_corrupted(std::uint32_t from, std::uint32_t to) {
  const Demo demo;
  const std::string right = found(demo.loaded.board, demo.sweep({}));
  std::vector<std::future<tools::SweepReport>> sweeps;
  for (std::uint32_t seed = from; seed <= to; ++seed) {
    sweeps.push_back(std::async(std::launch::async, [&demo, seed] {
      simulated::LineFaults faults;
      faults.corrupt = 0.01;
      faults.random = seed;
      return demo.sweep(faults);
    }));
  }
  std::uint64_t retries = 0;
  for (std::size_t i = 0; i < sweeps.size(); ++i) {
    INFO("seed " << from + i);
    const tools::SweepReport report = sweeps[i].get();
    CHECK(found(demo.loaded.board, report) == right);
    retries += report.link.retries;
  }
  CHECK(retries > 0);  // the line was really bad
}

}  // namespace

TEST_CASE("sweeps with one byte in a hundred corrupted end right", "[tools][line][slow]") {
  check_corrupted(1, 15 / test::kEvery);
}

TEST_CASE("fifty sweeps with one byte in a hundred corrupted end right",
          "[tools][line][slow][.long]") {
  check_corrupted(1, 50);
}

TEST_CASE("lost, doubled and late bytes change nothing", "[tools][line][slow]") {
  const Demo demo;
  const std::string right = found(demo.loaded.board, demo.sweep({}));
  const auto check = [&](const simulated::LineFaults& faults) {
    CHECK(found(demo.loaded.board, demo.sweep(faults)) == right);
  };
  simulated::LineFaults lost;
  lost.drop = 0.005;
  for (lost.random = 1; lost.random <= 10; lost.random += test::kEvery) {
    INFO("lost, seed " << lost.random);
    check(lost);
  }
  simulated::LineFaults doubled;
  doubled.duplicate_frame = 1;
  check(doubled);
  simulated::LineFaults late;
  late.delay_ms = 3;
  check(late);
}

TEST_CASE("a tester that vanishes at any moment is a failure without findings",
          "[tools][line][slow]") {
  const Demo demo;
  const std::uint64_t all = demo.sweep({}).link.bytes_received;
  REQUIRE(all > 1000);
  for (std::uint64_t bytes = 1; bytes + 64 < all; bytes += all / 60) {
    INFO("gone after " << bytes << " of " << all << " bytes");
    simulated::LineFaults faults;
    faults.vanish_after_bytes = bytes;
    const tools::SweepReport report = demo.sweep(faults);
    CHECK(report.status() == tools::ExitStatus::failed);
    CHECK(report.result.findings.empty());
    CHECK(!report.failure.empty());
  }
}
