// SPDX-License-Identifier: MIT
//
// padwalk_minutes_table: for boards and netlists, the seconds that ways of measuring take by link,
// and a person's minutes by what is in their hands, movements counted from sweeps that ran. Prints,
// judges nothing. All boards are healthy.
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <iostream>
#include <iterator>
#include <string>
#include <vector>

#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/learn.hpp"
#include "graph/plan.hpp"
#include "graph/yaml_reader.hpp"
#include "tests/support/timed_tester.hpp"
#include "tools/follow_plan.hpp"
#include "tools/simulated_bench.hpp"

namespace {

using namespace padwalk;
using graph::Board;
using graph::PointId;
using session::Channel;
using session::Request;

/// So many of all pairs are measured; the time of all goes by them.
constexpr std::size_t kMostPairs = 1000;
constexpr double kProbeS = 4;  // to put a meter's tip somewhere

constexpr const char* kClips =
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-24: {kind: chip clip, pins: 24, row: 0.6 inch, channels: 17-40, move: 10 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 41-80, move: 12 s}\n"
    "  tip: {kind: tip, channels: [81, 82], move: 4 s}\n";
constexpr const char* kGrabbers =
    "  grabbers: {kind: grabber, channels: 1-16, move: 15 s}\n"
    "  tip: {kind: tip, channels: 17, move: 4 s}\n";
constexpr const char* kTip =
    "  return: {kind: grabber, channels: 1, move: 15 s}\n"
    "  tip: {kind: tip, channels: 2, move: 4 s}\n";

Board load(const std::string& path) {
  graph::Diagnostics diagnostics(path);
  const std::string text = graph::read_file(path);
  graph::BoardDescription description;
  if (path.ends_with(".yaml")) {
    description = graph::read_board(text, diagnostics);
  } else {
    graph::IpcSummary summary;
    description = graph::read_ipc356(text, std::nullopt, diagnostics, summary);
    description.state = graph::BoardState::assembled;  // else a chip has no legs for a clip
  }
  return Board(std::move(description), diagnostics);
}

session::Options options_for(const Board& board) {
  session::Options options;
  options.bare_board = !board.assembled();
  return options;
}

/// All points at once on a tester of as many channels, behind a line of that round trip.
class Link {
 public:
  Link(const Board& board, double round_trip_s)
      : board_(board),
        hookup_(graph::default_hookup(board)),
        tester_(tools::make_circuit(board, {}, hookup_,
                                    static_cast<std::uint16_t>(hookup_.leads.size()), false),
                {round_trip_s, test::kByteS}),
        session_(tester_, options_for(board)) {
    for (const graph::Lead& lead : hookup_.leads) {
      channels_.push_back(lead.channel);
    }
    session_.power_check(channels_);
  }

  std::size_t points() const { return channels_.size(); }

  /// Seconds, by the time of the first pairs: each asked for by itself, as one does without
  /// programs.
  double all_pairs() {
    const std::size_t all = points() * (points() - 1) / 2;
    std::size_t measured = 0;
    const double begin = tester_.now();
    for (std::size_t a = 0; a < points() && measured < kMostPairs; ++a) {
      for (std::size_t b = a + 1; b < points() && measured < kMostPairs; ++b, ++measured) {
        const Request one{{channels_[a]}, {channels_[b]}, session::Purpose::continuity, 0, 0};
        session_.measure({&one, 1});
      }
    }
    return (tester_.now() - begin) * static_cast<double>(all) / static_cast<double>(measured);
  }

  /// Each net against all others in one round, then along each net.
  double one_against_rest() {
    std::vector<std::vector<Channel>> nets;
    for (const graph::Net& net : board_.nets()) {
      std::vector<Channel> leads;
      for (const graph::Lead& lead : hookup_.leads) {
        if (&board_[board_[lead.point].net] == &net) {
          leads.push_back(lead.channel);
        }
      }
      if (!leads.empty()) {
        nets.push_back(std::move(leads));
      }
    }
    std::vector<Request> requests;
    for (const std::vector<Channel>& net : nets) {
      std::vector<Channel> rest;
      std::set_difference(channels_.begin(), channels_.end(), net.begin(), net.end(),
                          std::back_inserter(rest));
      requests.push_back({{net.front()}, std::move(rest), session::Purpose::isolation, 0, 0});
    }
    for (const std::vector<Channel>& net : nets) {
      for (std::size_t i = 1; i < net.size(); ++i) {
        requests.push_back({{net[i - 1]}, {net[i]}, session::Purpose::continuity, 0, 0});
      }
    }
    const double begin = tester_.now();
    session_.measure(requests);
    return tester_.now() - begin;
  }

  double learning() {
    graph::Learn learn(hookup_.points());
    const double begin = tester_.now();
    for (auto wanted = learn.next(); !wanted.empty(); wanted = learn.next()) {
      std::vector<Request> requests;
      for (const graph::WantedReading& one : wanted) {
        requests.push_back({channels_of(one.source), channels_of(one.sink),
                            session::Purpose::follow, channel_of(one.sense), 0});
      }
      const std::vector<session::Measurement> measured = session_.measure(requests);
      std::vector<graph::Reading> readings;
      for (std::size_t i = 0; i < wanted.size(); ++i) {
        readings.push_back({wanted[i], measured[i].ohm, 0, measured[i].volt});
      }
      learn.record(readings);
    }
    return tester_.now() - begin;
  }

  double verification() {
    const std::atomic<bool> stop = false;
    tools::SweepReport report;
    report.limits = graph::limits_for(board_);
    report.hookup = hookup_;
    const double begin = tester_.now();
    session_.power_check(channels_);
    const double checked = tester_.now();
    tools::measure_sweep({session_, board_, false, nullptr, stop}, report);
    return tester_.now() - checked - (checked - begin);  // it has a power check of its own
  }

 private:
  Channel channel_of(PointId point) const {
    return std::find_if(hookup_.leads.begin(), hookup_.leads.end(),
                        [&](const auto& lead) { return lead.point == point; })
        ->channel;
  }
  std::vector<Channel> channels_of(const std::vector<PointId>& points) const {
    std::vector<Channel> channels;
    for (const PointId point : points) {
      channels.push_back(channel_of(point));
    }
    return channels;
  }

  const Board& board_;
  graph::Hookup hookup_;
  test::TimedTester tester_;
  session::Session session_;
  std::vector<Channel> channels_;
};

/// Hands that make no mistake.
class StillHands : public tools::Person, public tools::Hands {
 public:
  StillHands(const Board& board, test::TimedTester& tester, std::uint16_t channels)
      : board_(board), tester_(tester), channels_(channels) {}
  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& now) override {
    done.steps.push_back({step.off, step.moves, {}});
    put(now);
    return {};
  }
  tools::Reached touch(const graph::Hookup& now) override {
    done.steps.back().touches.push_back(now.leads.back().point);
    put(now);
    return tools::Reached::yes;
  }
  bool put_right(const graph::PlanMove&, const graph::Slip&, const graph::Hookup&) override {
    return false;
  }
  bool touch_again(graph::NetId, const graph::Hookup&) override { return false; }
  void reseat(const Board&, const std::vector<graph::Lead>&) override {}

  graph::Plan done;  ///< what was asked for

 private:
  void put(const graph::Hookup& now) {
    tester_.hal().set_circuit(tools::make_circuit(board_, {}, now, channels_, false));
  }

  const Board& board_;
  test::TimedTester& tester_;
  std::uint16_t channels_;
};

void print_minutes(const std::string& name, const std::string& hands, std::size_t hookups,
                   std::size_t moves, std::size_t touches, std::size_t turns, double seconds,
                   double tester_seconds) {
  std::cout << fmt::format("{:<16} {:<22} {:>5} {:>6} {:>8} {:>5} {:>8.1f} {:>8.1f}\n", name, hands,
                           hookups, moves, touches, turns, seconds / 60, tester_seconds / 60);
}

/// Both tips along each net, then on each two nets that a plan brings together; one turn for what
/// lies below.
void print_meter(const std::string& name, const Board& board, const graph::PlanGoal& goal) {
  std::size_t touches = 0;
  bool below = false;
  for (const graph::Net& net : board.nets()) {
    std::size_t points = 0;
    for (const PointId point : net.points) {
      points += goal.points[graph::index(point)] ? 1 : 0;
      below = below || graph::side_to_reach(board, point) == graph::Side::bottom;
    }
    touches += points > 1 ? points : 0;
  }
  touches += 2 * goal.pairs.size();
  const std::size_t turns = below ? 1 : 0;
  print_minutes(name, "meter, two hands", 0, 0, touches, turns,
                kProbeS * static_cast<double>(touches) +
                    graph::Fixtures().turn_s * static_cast<double>(turns),
                0);
}

void print_padwalk(const std::string& name, const std::string& hands, const char* fixtures,
                   const Board& board, const graph::PlanGoal& goal) {
  graph::Diagnostics diagnostics("bench");
  const graph::Fixtures bench = graph::read_fixtures(
      fmt::format("padwalk: fixtures/1\nfixtures:\n{}", fixtures), diagnostics);
  graph::Plan plan = graph::make_plan(board, bench, goal);
  if (plan.steps.empty()) {
    std::cout << fmt::format("{:<16} {:<22} nothing fits\n", name, hands);
    return;
  }
  constexpr std::uint16_t kChannels = 96;
  test::TimedTester tester(tools::make_circuit(board, {}, {}, kChannels, false), {4e-3});
  session::Session session(tester, options_for(board));
  StillHands person(board, tester, kChannels);
  const std::atomic<bool> stop = false;
  tools::SweepReport report;
  report.limits = graph::limits_for(board);
  tools::follow_plan({session, board, false, &person, stop}, bench, goal, plan, person, report);
  const graph::Findings found = graph::find_differences(board, report.limits, report.measured);
  const graph::PlanCost cost = graph::cost_of(board, bench, person.done);
  print_minutes(name, hands, cost.hookups, cost.moves, cost.touches, cost.turns, cost.seconds,
                tester.now());
  if (!found.findings.empty() || !report.failure.empty()) {
    std::cout << "                 (" << found.findings.size() << " findings on a healthy board; "
              << report.failure << ")\n";
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::cerr << "Usage: padwalk_minutes_table BOARD_OR_NETLIST...\n";
    return 2;
  }
  try {
    std::vector<std::pair<std::string, Board>> boards;
    for (int i = 1; i < argc; ++i) {
      const std::string path = argv[i];
      boards.emplace_back(path.substr(path.find_last_of('/') + 1), load(path));
    }
    std::cout << "seconds at 115200 baud, all points clipped, power check aside; all pairs by the "
                 "first of them\n"
              << fmt::format("{:<16} {:>6} {:>9} {:>10} {:>10} {:>9} {:>9} {:>8}\n", "board",
                             "points", "round trip", "all pairs", "one:rest", "learning",
                             "verifying", "ratio");
    for (const auto& [name, board] : boards) {
      for (const int milliseconds : {1, 4, 16}) {
        Link link(board, milliseconds * 1e-3);
        const double all = link.all_pairs();
        const double rest = link.one_against_rest();
        const double learning = link.learning();
        const double verifying = link.verification();
        std::cout << fmt::format(
            "{:<16} {:>6} {:>7} ms {:>10.1f} {:>10.2f} {:>9.2f} {:>9.2f} {:>8.5f}\n", name,
            link.points(), milliseconds, all, rest, learning, verifying, verifying / all);
      }
    }
    std::cout << "\na person's minutes, movements counted, and those that the tester measures\n"
              << fmt::format("{:<16} {:<22} {:>5} {:>6} {:>8} {:>5} {:>8} {:>8}\n", "board",
                             "in hand", "looks", "moves", "touches", "turns", "minutes", "tester");
    for (const auto& [name, board] : boards) {
      const graph::PlanGoal goal = graph::plan_goal(board, graph::NeighbourRules());
      print_meter(name, board, goal);
      print_padwalk(name, "clips, tip", kClips, board, goal);
      print_padwalk(name, "16 grabbers, tip", kGrabbers, board, goal);
      print_padwalk(name, "one lead, tip", kTip, board, goal);
    }
  } catch (const std::exception& error) {
    std::cerr << "padwalk_minutes_table: " << error.what() << '\n';
    return 2;
  }
  return 0;
}
