// SPDX-License-Identifier: MIT
//
// Why nothing was driven, for the person at the bench; the same for every verb that measures a
// board.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>

#include "tools/name_list.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

constexpr std::size_t kMostRefused = 8;
constexpr std::size_t kMostRefusedNets = 12;

}  // namespace

void write_refusal(std::ostream& out, const Board& board, const SweepReport& report,
                   std::string_view verb) {
  if (report.tied_ohm) {
    fmt::print(out,
               "REFUSED: the board is connected to the computer or to earth, through about {}.\n"
               "Next: unplug it: no other cable on the board; laptop on its battery or behind an "
               "isolator.\n",
               graph::ohm_text(*report.tied_ohm));
    return;
  }
  fmt::print(out, "REFUSED: there is voltage on the board. Nothing {}was driven.\n",
             report.counts.scan == 0 ? "" : "more ");
  // Strongest first; the points of a net are one conductor.
  std::vector<std::pair<std::string, std::vector<graph::PointId>>> by_net;
  for (const LivePoint& live : report.live) {
    const graph::NetId net = board[live.point].net;
    const bool alternates = live.kind == session::LiveKind::alternating;
    const std::string where = fmt::format(
        "{} {}{}",
        alternates ? fmt::format("{:.2f} V AC", live.rms_volt)
                   : fmt::format("{:+.{}f} V", live.volt, std::abs(live.volt) < 0.1 ? 3 : 2),
        net != graph::kNoNet   ? "on net " + board[net].name
        : board.nets().empty() ? "here"
                               : "in no net",
        live.kind == session::LiveKind::weak_source
            ? " (weak: a cell of copper and electrolyte; clean and dry here)"
            : "");
    const auto same = std::find_if(by_net.begin(), by_net.end(),
                                   [&](const auto& entry) { return entry.first == where; });
    (same == by_net.end() ? by_net.emplace_back(where, std::vector<graph::PointId>{}) : *same)
        .second.push_back(live.point);
  }
  for (std::size_t i = 0; i < std::min(by_net.size(), kMostRefusedNets); ++i) {
    fmt::print(out, "      {}: {}\n", by_net[i].first,
               listed(names_of(board, by_net[i].second), kMostRefused));
  }
  if (by_net.size() > kMostRefusedNets) {
    fmt::print(out, "      and more (--json lists all)\n");
  }
  fmt::print(
      out,
      "Volts are read against the tester, through 1 Mohm a lead; the limit is {:.0f} mV.\n"
      "Next: mains plug out; is a memory or calibration kept alive by the cell? Read it out, "
      "then\ntake the cell out; discharge big capacitors through a resistor; {} again.\n",
      report.power_limit_volt * 1e3, verb);
  if (verb == "sweep") {
    fmt::print(out, "A net that must stay live: --leave-out NET measures the rest.\n");
  }
}

}  // namespace padwalk::tools
