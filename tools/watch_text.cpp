// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "graph/verdict.hpp"
#include "tools/name_list.hpp"
#include "tools/watch_report.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;

constexpr std::size_t kWatchPoints = 8;
constexpr std::size_t kListedChanges = 12;

std::string point_list(const Board& board, const std::vector<graph::PointId>& points) {
  return listed(names_of(board, points), kWatchPoints);
}

bool is_clip(const Interruption& event) {
  return event.clip != graph::kNoPoint;
}

void write_lengths(std::ostream& out, const WatchReport& report) {
  const auto longer = [](const Interruption& a, const Interruption& b) {
    return a.open_s < b.open_s;
  };
  const auto [least, most] =
      std::minmax_element(report.events.begin(), report.events.end(), longer);
  fmt::print(out, "      {}",
             report.interruptions() == 1
                 ? fmt::format("of {}", span_text(most->open_s))
                 : fmt::format("of {} to {}", span_text(least->open_s), span_text(most->open_s)));
  std::map<std::string, std::size_t> by_tag;
  for (const Interruption& event : report.events) {
    ++by_tag[event.tag];
  }
  if (by_tag.size() > 1 || !by_tag.begin()->first.empty()) {
    std::string tags;
    for (const auto& [tag, times] : by_tag) {
      tags += fmt::format("{}{} {}", tags.empty() ? "" : ", ", times,
                          tag.empty() ? "without a key" : tag);
    }
    fmt::print(out, "; {}", tags);
  }
  fmt::print(out, "\n");
  if (!report.events.back().over) {
    fmt::print(out, "      the last one was not over at the end\n");
  }
}

void write_watch_finding(std::ostream& out, const Board& board, const graph::Finding& finding) {
  fmt::print(out, "{}  {}  net {}, in {} pieces\n", finding.id,
             finding.kind == graph::FindingKind::open ? "OPEN ALL THE TIME" : "INTERMITTENT",
             board[finding.nets.front()].name, finding.pieces.size());
  for (const std::vector<graph::PointId>& piece : finding.pieces) {
    fmt::print(out, "      piece: {}\n", point_list(board, piece));
  }
  if (finding.open.contradiction) {
    fmt::print(out,
               "      No break in the route that the file gives parts them so: the route is "
               "wrong, or two contacts flutter.\n");
    return;
  }
  write_suspects(out, board, finding.open.suspects);
}

void write_held(std::ostream& out, const Board& board, const WatchReport& report) {
  const std::string& net = board[report.net].name;
  if (report.interruptions() == 0) {
    fmt::print(out, "Net {} held: not interrupted in {}.\n", net, clock_text(report.held_s));
  } else {
    const auto clips = static_cast<std::size_t>(
        std::count_if(report.events.begin(), report.events.end(), is_clip));
    fmt::print(
        out, "Net {} was interrupted {} in {}:\n", net,
        report.interruptions() == 1 ? "once" : fmt::format("{} times", report.interruptions()),
        clock_text(report.held_s));
    write_lengths(out, report);
    if (clips > 0) {
      fmt::print(out,
                 "      {} of these: one of two leads on a point left alone, so its clip, not "
                 "the board\n",
                 clips);
    }
    for (const graph::Finding& finding : report.run.result.findings) {
      write_watch_finding(out, board, finding);
    }
  }
  fmt::print(out,
             "An interruption of {} or more would have been seen for certain: more than {} in the "
             "way to one of\n{}, against {}, at {:.1f} V.\n",
             span_text(report.shortest_certain_s()), graph::ohm_text(report.sight.least_ohm),
             point_list(board, report.watched), board[report.driven].name, report.sight.volt);
  if (report.run.tester.edge_latch && !report.sight.latch) {
    fmt::print(out, "The edge latch does not see one of so many points leave.\n");
  } else if (report.run.tester.edge_latch) {
    fmt::print(
        out, "The edge latch, which sees 2 us, caught {}{}.\n",
        report.edges == 0 ? "nothing" : count_text(report.edges, "fall"),
        report.edges > report.interruptions()
            ? fmt::format(": {} too short for the above", report.edges - report.interruptions())
            : "");
  }
  if (!report.not_watched.empty()) {
    fmt::print(out, "Not watched, since one more would drown in the noise: {}.\n",
               point_list(board, report.not_watched));
  }
  if (report.silences > 0) {
    fmt::print(out,
               "The tester heard nothing for a second and opened its switches {}: not watched "
               "meanwhile.\n",
               report.silences == 1 ? "once" : fmt::format("{} times", report.silences));
  }
  if (report.lost > 0) {
    fmt::print(out, "The line lost {}: there was more than is listed.\n",
               count_text(report.lost, "change"));
  }
}

void write_rounds(std::ostream& out, const WatchReport& report) {
  fmt::print(out,
             "All that is clipped: {} in {}, {} at most each: what is open for less is seen by "
             "chance.\n",
             count_text(report.rounds, "round"), clock_text(report.rounds_s),
             span_text(report.round_s));
  for (const std::string& text : report.before) {
    fmt::print(out, "      from the start  {}\n", text);
  }
  for (std::size_t i = 0; i < std::min(report.changes.size(), kListedChanges); ++i) {
    fmt::print(out, "      {}  {}\n", clock_text(report.changes[i].at_s), report.changes[i].what);
  }
  if (report.changes.size() > kListedChanges) {
    fmt::print(out, "      and {} more (--json lists all)\n",
               report.changes.size() - kListedChanges);
  }
  if (report.changes.empty() && report.rounds > 0) {
    fmt::print(out, "      nothing came or went\n");
  }
}

std::string after_watch(const Board& board, const WatchReport& report) {
  if (report.lost > 0) {
    return "see to the tester's cable, then watch again.";
  }
  if (!report.run.result.findings.empty()) {
    const auto& suspects = report.run.result.findings.front().open.suspects;
    if (!suspects.empty()) {
      return fmt::format("look at {} under the microscope, mend it, then watch again.",
                         suspect_text(board, suspects.front()));
    }
    return "check the file against the board.";
  }
  const auto clip = std::find_if(report.events.begin(), report.events.end(), is_clip);
  if (clip != report.events.end()) {
    return fmt::format("seat the clip on {}, then watch again.", board[clip->clip].name);
  }
  if (!report.before.empty()) {
    return "sweep: what is apart or joined from the start is no matter of a watch.";
  }
  if (report.net == graph::kNoNet && report.changes.empty()) {
    return "watch --net NAME the net that you suspect, and flex and tap the board meanwhile.";
  }
  if (report.net == graph::kNoNet) {
    return "sweep, and see what is joined or apart now.";
  }
  return "if it still fails in use: warm it, cool it, or watch another net.";
}

}  // namespace

std::string span_text(double seconds) {
  return seconds < 1e-3   ? fmt::format("{:.0f} us", 1e6 * seconds)
         : seconds < 1    ? fmt::format("{:.3g} ms", 1e3 * seconds)
         : seconds < 59.5 ? fmt::format("{:.3g} s", seconds)
                          : fmt::format("{:.0f} s", seconds);
}

std::string clock_text(double seconds) {
  const auto tenths = std::llround(10 * seconds);
  return fmt::format("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10);
}

std::string left_text(const Board& board, const WatchReport& report, const Interruption& event) {
  if (is_clip(event)) {
    return fmt::format("one of two leads on {} left: its clip, not the board",
                       board[event.clip].name);
  }
  return fmt::format("{} left {}", point_list(board, event.points), board[report.driven].name);
}

void write_watch_text(std::ostream& out, const Board& board, const WatchReport& report) {
  if (report.run.refused) {
    write_refusal(out, board, report.run, "watch");
    return;
  }
  if (report.net != graph::kNoNet && report.held_s > 0) {
    write_held(out, board, report);
  }
  if (report.rounds > 0) {
    write_rounds(out, report);
  }
  if (report.run.record_lost) {
    fmt::print(out, "NO LONGER KEPT: {}\nNext: watch again, once the job can be written.\n",
               report.run.failure);
    return;
  }
  if (!report.run.failure.empty()) {
    fmt::print(out,
               "THE TESTER FAILED: {}\nNext: see to the tester and its cable, then watch "
               "again.\n",
               report.run.failure);
    return;
  }
  fmt::print(out, "Next: {}\n", after_watch(board, report));
}

}  // namespace padwalk::tools
