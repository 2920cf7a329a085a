// SPDX-License-Identifier: MIT
//
// The benchmark program: what the graph side costs, each figure beside a baseline that is measured
// in the same run. Prints plain tables; asserts nothing and is no part of the tests.
//
// Usage: padwalk_bench [NETLIST.d356]
#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>

#include <algorithm>
#include <boost/graph/connected_components.hpp>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "graph/board_yaml.hpp"
#include "graph/findings.hpp"
#include "graph/ipc356.hpp"
#include "graph/pieces.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/in_process.hpp"

extern char** environ;

namespace {

using namespace padwalk::graph;

constexpr std::size_t kPointsANet = 5;
constexpr std::size_t kOpens = 500;
constexpr std::size_t kShorts = 500;
constexpr double kPitchMm = 2.54;

/// Seconds that `work` takes, the least of `times`.
template <typename Work>
double seconds(Work work, int times = 1) {
  double best = 0;
  for (int i = 0; i < times; ++i) {
    const auto start = std::chrono::steady_clock::now();
    work();
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - start;
    best = i == 0 ? taken.count() : std::min(best, taken.count());
  }
  return best;
}

/// Peak resident memory of this process so far. Units: MB.
double peak_mb() {
  std::ifstream status("/proc/self/status");
  std::string line;
  while (std::getline(status, line)) {
    if (line.rfind("VmHWM:", 0) == 0) {
      return std::stod(line.substr(6)) / 1024;
    }
  }
  return 0;
}

/// Test pads on a grid, five a net in a chain, the pads listed in random order.
BoardDescription make_description(std::size_t points) {
  std::vector<std::size_t> order(points);
  for (std::size_t i = 0; i < points; ++i) {
    order[i] = i;
  }
  std::shuffle(order.begin(), order.end(), std::mt19937(1));
  const auto row = static_cast<std::size_t>(std::sqrt(static_cast<double>(points)));
  BoardDescription board;
  board.name = "benchmark";
  board.state = BoardState::bare;
  for (const std::size_t i : order) {
    PointDescription point;
    point.name = "P" + std::to_string(i);
    point.xy = Xy{static_cast<double>(i % row) * kPitchMm, static_cast<double>(i / row) * kPitchMm};
    point.side = Side::top;
    board.points.push_back(std::move(point));
  }
  for (std::size_t first = 0; first < points; first += kPointsANet) {
    NetDescription net;
    net.name = "N" + std::to_string(first / kPointsANet);
    ChainDescription chain;
    chain.side = Side::top;
    for (std::size_t i = first; i < std::min(first + kPointsANet, points); ++i) {
      chain.points.push_back({"P" + std::to_string(i), {}});
    }
    net.route.push_back(std::move(chain));
    board.nets.push_back(std::move(net));
  }
  return board;
}

Board make_board(BoardDescription description) {
  Diagnostics diagnostics("benchmark");
  return Board(std::move(description), diagnostics);
}

Reading reading(PointId a, PointId b, double ohm) {
  return {{{a}, {b}, Purpose::continuity, kNoPoint, {}}, ohm, ohm < 1 ? 0.01 : 0.0, 0.2};
}

/// What a sweep would have read: every point against the first of its net. Some nets are cut in the
/// middle, others shorted in pairs.
Measured make_measured(const Board& board) {
  std::mt19937 random(2);
  const std::size_t count = board.nets().size();
  std::vector<std::size_t> faulty(count);
  for (std::size_t n = 0; n < count; ++n) {
    faulty[n] = n;
  }
  std::shuffle(faulty.begin(), faulty.end(), random);
  std::vector<bool> is_cut(count, false);
  for (std::size_t i = 0; i < kOpens; ++i) {
    is_cut[faulty[i]] = true;
  }
  Measured measured;
  for (std::size_t n = 0; n < count; ++n) {
    const std::vector<PointId>& points = board.nets()[n].points;
    const std::size_t half = points.size() / 2;
    for (std::size_t i = 1; i < points.size(); ++i) {
      const bool beyond = is_cut[n] && i >= half;
      measured.readings.push_back(reading(points[0], points[i], beyond ? kOpenOhm : 0.05));
      if (beyond && i > half) {
        measured.readings.push_back(reading(points[half], points[i], 0.05));
      }
    }
    measured.attached.insert(measured.attached.end(), points.begin(), points.end());
  }
  for (std::size_t i = 0; i < kShorts; ++i) {
    const Net& a = board.nets()[faulty[kOpens + 2 * i]];
    const Net& b = board.nets()[faulty[kOpens + 2 * i + 1]];
    measured.readings.push_back(reading(a.points[0], b.points[0], 0.4));
  }
  std::shuffle(measured.readings.begin(), measured.readings.end(), random);
  std::shuffle(measured.attached.begin(), measured.attached.end(), random);
  return measured;
}

using PlainGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS>;

/// The same points, joined where a reading conducts, with nothing else.
PlainGraph plain_graph(const Board& board, const Measured& measured) {
  PlainGraph graph(board.points().size());
  for (const Reading& one : measured.readings) {
    if (one.ohm < 10) {
      boost::add_edge(index(one.wanted.source.front()), index(one.wanted.sink.front()), graph);
    }
  }
  return graph;
}

void bench_findings() {
  fmt::print(
      "pieces, findings, suspects, in memory\n"
      "{:>9} {:>9} {:>10} {:>10} {:>14} {:>7} {:>9}\n",
      "points", "findings", "pieces s", "all s", "components s", "ratio", "peak MB");
  for (const std::size_t points : {10'000U, 100'000U, 1'000'000U}) {
    const Board board = make_board(make_description(points));
    const Measured measured = make_measured(board);
    const Limits limits = limits_for(board);
    double baseline = 0;
    {
      const PlainGraph graph = plain_graph(board, measured);
      std::vector<int> component(points);
      baseline = seconds([&] { boost::connected_components(graph, component.data()); }, 3);
    }
    std::size_t found = 0;
    std::size_t pieces = 0;
    const double pieces_s = seconds([&] {
      pieces = measured_pieces(board, measured.attached, measured.readings, limits.open_above_ohm,
                               limits.short_up_to_ohm)
                   .members.size();
    });
    const double all_s =
        seconds([&] { found = find_differences(board, limits, measured).findings.size(); }, 3);
    if (pieces != board.nets().size() + kOpens - kShorts || found != kOpens + kShorts) {
      throw std::runtime_error(fmt::format("unexpected: {} pieces, {} findings", pieces, found));
    }
    fmt::print("{:>9} {:>9} {:>10.4f} {:>10.4f} {:>14.4f} {:>7.1f} {:>9.0f}\n", points, found,
               pieces_s, all_s, baseline, all_s / baseline, peak_mb());
    std::fflush(stdout);
  }
}

std::size_t read_bytes(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream bytes;
  bytes << file.rdbuf();
  return bytes.str().size();
}

void bench_yaml() {
  fmt::print("\nreading YAML boards\n{:>9} {:>8} {:>10} {:>10} {:>10} {:>9} {:>7}\n", "points",
             "MB", "read s", "Board s", "bytes s", "MB/s", "ratio");
  for (const std::size_t points : {10'000U, 100'000U}) {
    const std::string path =
        std::filesystem::temp_directory_path() / fmt::format("padwalk-bench-{}.yaml", points);
    std::ofstream(path) << write_board(make_description(points));
    std::size_t size = 0;
    const double bytes_s = seconds([&] { size = read_bytes(path); }, 3);
    Diagnostics diagnostics(path);
    BoardDescription description;
    const double read_s = seconds([&] { description = read_board(read_file(path), diagnostics); });
    const double board_s = seconds([&] { make_board(std::move(description)); });
    std::filesystem::remove(path);
    const double mb = static_cast<double>(size) / 1e6;
    fmt::print("{:>9} {:>8.2f} {:>10.4f} {:>10.4f} {:>10.4f} {:>9.1f} {:>7.0f}\n", points, mb,
               read_s, board_s, bytes_s, mb / (read_s + board_s), (read_s + board_s) / bytes_s);
    std::fflush(stdout);
  }
}

void count_lines(std::string path) {
  std::string program = "wc";
  std::string option = "-l";
  char* arguments[] = {program.data(), option.data(), path.data(), nullptr};
  pid_t child = 0;
  int status = 0;
  if (posix_spawnp(&child, "wc", nullptr, nullptr, arguments, environ) != 0 ||
      waitpid(child, &status, 0) != child || status != 0) {
    throw std::runtime_error("wc -l " + path + " failed; is coreutils installed?");
  }
}

void bench_import(const std::string& path) {
  const double mb = static_cast<double>(std::filesystem::file_size(path)) / 1e6;
  fmt::print("\nimport of {} ({:.3f} MB)\nlines: ", path, mb);
  std::fflush(stdout);
  const double wc_s = seconds([&] { count_lines(path); });
  std::size_t points = 0;
  const double import_s = seconds(
      [&] {
        Diagnostics diagnostics(path);
        IpcSummary summary;
        const BoardDescription board =
            read_ipc356(read_file(path), std::nullopt, diagnostics, summary);
        points = summary.records;
      },
      3);
  fmt::print("{:>9} {:>10} {:>9} {:>10} {:>9} {:>7}\n", "records", "import s", "MB/s", "wc -l s",
             "MB/s", "ratio");
  fmt::print("{:>9} {:>10.4f} {:>9.1f} {:>10.4f} {:>9.1f} {:>7.1f}\n", points, import_s,
             mb / import_s, wc_s, mb / wc_s, import_s / wc_s);
}

/// A healthy sweep of an imported board through the pseudo-terminal, beside asking every attached
/// point against every other once, at the time that one reading took.
void bench_sweep(const std::string& path) {
  Diagnostics diagnostics(path);
  IpcSummary summary;
  BoardDescription description = read_ipc356(read_file(path), std::nullopt, diagnostics, summary);
  diagnostics.throw_if_errors();
  const Board board(std::move(description), diagnostics);
  const auto begin = std::chrono::steady_clock::now();
  const padwalk::tools::SweepReport report = padwalk::test::sweep(board, {});
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  const auto points = static_cast<double>(report.hookup.leads.size());
  const double all_pairs = points * (points - 1) / 2;
  const auto readings = static_cast<double>(report.counts.scan);
  fmt::print("\nsweep of {} on the simulated tester: {}\n", path, report.verdict());
  fmt::print("{:>8} {:>9} {:>9} {:>10} {:>11} {:>14} {:>7}\n", "points", "readings", "settings",
             "s", "us/reading", "all pairs: s", "ratio");
  fmt::print("{:>8} {:>9} {:>9} {:>10.3f} {:>11.1f} {:>14.1f} {:>7.0f}\n", points, readings,
             report.link.settings, seconds, seconds / readings * 1e6,
             seconds / readings * all_pairs, all_pairs / readings);
}

}  // namespace

int main(int argc, char** argv) {
  try {
    bench_findings();
    bench_yaml();
    for (int i = 1; i < argc; ++i) {
      bench_import(argv[i]);
      bench_sweep(argv[i]);
    }
  } catch (const std::exception& failure) {
    fmt::print(stderr, "padwalk_bench: {}\n", failure.what());
    return 1;
  }
  return 0;
}
