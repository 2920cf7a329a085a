// SPDX-License-Identifier: MIT
#include "tools/bench_plan.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <cmath>
#include <cstdlib>
#include <utility>

#include "graph/yaml_reader.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::Fixture;
using graph::FixtureKind;
using graph::Fixtures;
using graph::PlanGoal;
using graph::PlanMove;
using graph::PlanStep;
using graph::PointId;
using graph::Side;

/// Where no file says what the bench owns.
constexpr const char* kUsualBench =
    "padwalk: fixtures/1\n"
    "fixtures:\n"
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 17-56, move: 12 s}\n"
    "  grabbers: {kind: grabber, channels: 57-62, move: 15 s}\n"
    "  tip: {kind: tip, channels: [63, 64], move: 4 s}\n"
    "times: {turn: 15 s, confirm: 10 s}\n";
constexpr std::size_t kLine = 90;  // characters of touches

/// Where a chip's pin 1 end points, seen from the part's own side, as a rotation is.
std::string_view notch_text(const graph::PartDescription& part) {
  constexpr std::string_view kNotches[] = {"away from you", "to the left", "towards you",
                                           "to the right"};
  const auto quarter = static_cast<int>(std::lround(part.rotation / 90)) % 4;
  return kNotches[(quarter + 4) % 4];
}

}  // namespace

Fixtures load_fixtures(const std::string& path) {
  graph::Diagnostics diagnostics(path.empty() ? "the usual bench" : path);
  Fixtures bench =
      graph::read_fixtures(path.empty() ? kUsualBench : graph::read_file(path), diagnostics);
  diagnostics.throw_if_errors();
  return bench;
}

void refuse_missing_channels(const graph::Fixtures& bench, const std::string& path,
                             const std::string& port, std::uint16_t channels) {
  if (bench.highest_channel() > channels) {
    throw UsageError(
        fmt::format("{} has a wire on channel {}, and the tester on {} has {} channels", path,
                    bench.highest_channel(), port, channels));
  }
}

std::string move_text(const Board& board, const Fixtures& bench, const PlanMove& move) {
  const Fixture& fixture = bench.fixtures[move.fixture];
  if (move.part == graph::kNoPart) {
    return fmt::format("grabber {} on {}", move.leads.front().channel,
                       board[move.leads.front().point].name);
  }
  const std::string on = fmt::format("{} on {}", fixture.name, board[move.part].name);
  return fixture.kind == FixtureKind::chip_clip
             ? fmt::format("{}, notch {}", on,
                           notch_text(board.description().parts[graph::index(move.part)]))
             : on;
}

PlanGoal goal_for(const Board& board, const std::string& file, const PlanChoice& choice) {
  graph::NeighbourRules rules;
  rules.within_mm = choice.neighbours_mm;
  PlanGoal goal = graph::plan_goal(
      board, choice.all_pairs ? std::nullopt : std::optional<graph::NeighbourRules>(rules));
  if (!choice.near.empty()) {
    const auto near = board.nets_in(choice.near);
    if (!near) {
      throw UsageError(fmt::format("--near: {} has no region {}", file, choice.near));
    }
    return graph::only_nets(std::move(goal), board, *near);
  }
  if (choice.nets.empty()) {
    return goal;
  }
  std::vector<graph::NetId> nets;
  for (const std::string& name : choice.nets) {
    const auto net = board.find_net(name);
    if (!net) {
      throw UsageError(fmt::format("--nets: {} has no net {}", file, name));
    }
    nets.push_back(*net);
  }
  return graph::only_nets(std::move(goal), board, nets);
}

std::string minutes_text(double seconds) {
  const auto whole = static_cast<long>(std::lround(seconds));
  return whole < 60 ? fmt::format("{} s", whole)
                    : fmt::format("{} min {} s", whole / 60, whole % 60);
}

void write_hookup(std::ostream& out, const Board& board, const graph::Hookup& hookup) {
  const std::vector<graph::Lead>& leads = hookup.leads;
  fmt::print(out, "Leads 1 to {} in file order: {} to {}.\n", leads.size(),
             board[leads.front().point].name, board[leads.back().point].name);
}

void write_cost(std::ostream& out, const Board& board, const Fixtures& bench,
                const graph::Plan& plan) {
  const graph::PlanCost cost = graph::cost_of(board, bench, plan);
  fmt::print(out, "{}: {}, {}, {}, {}: about {}\n", board.name(),
             count_text(cost.hookups, "hookup"), count_text(cost.moves, "move"),
             count_text(cost.touches, "touch"), count_text(cost.turns, "turn"),
             minutes_text(cost.seconds));
}

std::string slip_text(const Board& board, const Fixtures& bench, const PlanMove& move,
                      const graph::Slip& slip) {
  const Fixture& fixture = bench.fixtures[move.fixture];
  if (move.part == graph::kNoPart) {
    const graph::Lead& lead = move.leads.front();
    return slip.leads.empty()
               ? fmt::format("grabber {} seems to miss {}", lead.channel, board[lead.point].name)
               : fmt::format("grabber {}: {}, not {}? Put it on {}", lead.channel,
                             board[slip.leads.front().point].name, board[lead.point].name,
                             board[lead.point].name);
  }
  switch (slip.kind) {
    case graph::Slip::Kind::backwards:
      return fmt::format("{} on {} sits backwards: turn it", fixture.name, board[move.part].name);
    case graph::Slip::Kind::along:
      return fmt::format("{} on {} sits {} pin{} too far {} pin 1: move it", fixture.name,
                         board[move.part].name, std::abs(slip.pins),
                         std::abs(slip.pins) == 1 ? "" : "s", slip.pins > 0 ? "from" : "beyond");
    case graph::Slip::Kind::elsewhere:
      return fmt::format("{}: {}, not {}? Put it on {}", fixture.name, board[slip.part].name,
                         board[move.part].name, board[move.part].name);
  }
  return "";
}

void write_turn(std::ostream& out, Side up) {
  fmt::print(out, "      turn the board: {} up\n",
             up == Side::top ? "component side" : "solder side");
}

void StepWriter::turn_to(Side side) {
  if (up_.turn_to(side)) {
    write_turn(out_, side);
  }
}

void StepWriter::write_moves(const PlanStep& step) {
  if (!step.off.empty()) {
    fmt::print(out_, "      take off: {}\n", step.off.size() == 1 ? "one grabber" : "all grabbers");
  }
  for (const PlanMove& move : step.moves) {
    turn_to(graph::side_to_reach(board_, move));
    fmt::print(out_, "      put {}\n", move_text(board_, bench_, move));
  }
}

void StepWriter::write_touches(std::span<const PointId> touches) {
  std::string line;
  for (const PointId touch : touches) {
    const Side side = graph::side_to_reach(board_, touch);
    if (up_.must_turn(side)) {
      write_line(std::exchange(line, ""));
      turn_to(side);
    }
    line += (line.empty() ? "" : ", ") + board_[touch].name;
  }
  write_line(std::move(line));
}

void StepWriter::write_touch(PointId touch) {
  turn_to(graph::side_to_reach(board_, touch));
  fmt::print(out_, "      touch {}", board_[touch].name);
}

void StepWriter::write_line(std::string touches) {
  while (!touches.empty()) {
    std::size_t end = touches.size();
    if (end > kLine) {
      end = touches.rfind(' ', kLine);
    }
    fmt::print(out_, "      touch {}\n", touches.substr(0, end));
    touches.erase(0, end == touches.size() ? end : end + 1);
  }
}

}  // namespace padwalk::tools
