// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "tools/job_history.hpp"
#include "tools/name_list.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::Finding;
using graph::FindingKind;

constexpr std::size_t kMostSuspects = 6;
constexpr std::size_t kMostPoints = 8;
constexpr std::size_t kMostNotes = 12;

std::string list(const Board& board, const std::vector<graph::PointId>& points) {
  return listed(names_of(board, points), kMostPoints);
}

std::string part_list(const Board& board, const std::vector<graph::PartId>& parts) {
  return listed(names_of(board, parts), kMostPoints);
}

void write_pull_first(std::ostream& out, const Board& board, const Finding& finding) {
  if (!finding.pull_first.empty()) {
    fmt::print(out, "      pull first, one at a time, and sweep again: {}\n",
               part_list(board, finding.pull_first));
  }
}

void write_open(std::ostream& out, const Board& board, const Finding& finding) {
  if (finding.kind == FindingKind::open) {
    fmt::print(out, "{}  OPEN   net {} is in {} pieces", finding.id,
               board[finding.nets.front()].name, finding.pieces.size());
  } else {
    fmt::print(out, "{}  {}  net {}: {} pieces, {} ± {} between them at {:.1f} V", finding.id,
               finding.kind == FindingKind::intermittent ? "INTERMITTENT" : "HIGH RESISTANCE",
               board[finding.nets.front()].name, finding.pieces.size(),
               graph::ohm_text(finding.ohm), graph::ohm_text(finding.uncertainty_ohm),
               finding.volt);
  }
  fmt::print(out, "{}\n",
             finding.open.breaks == 1   ? ": one break"
             : finding.open.breaks == 2 ? ": two breaks"
             : finding.open.breaks > 2  ? fmt::format(": at least {} breaks", finding.open.breaks)
                                        : "");
  for (const std::vector<graph::PointId>& piece : finding.pieces) {
    fmt::print(out, "      piece: {}\n", list(board, piece));
  }
  if (!finding.beside.empty()) {
    fmt::print(out, "      {} reads so: the copper beside it is open, most likely\n",
               part_list(board, finding.beside));
  }
  if (finding.kind == FindingKind::intermittent) {
    fmt::print(out, "      it went to and fro; flex and tap the board there, and sweep again\n");
  }
  if (finding.open.contradiction) {
    fmt::print(out,
               "      No break in the route that the file gives leaves these pieces: the route is "
               "wrong,\n      or something that is not in the file joins points of this net.\n");
    return;
  }
  write_suspects(out, board, finding.open.suspects);
  if (finding.open.next_touch) {
    const graph::Side side = board[*finding.open.next_touch].side;
    fmt::print(
        out, "      touch next: {}{}; does it conduct to {}, or to {}?\n",
        board.place_name(*finding.open.next_touch),
        side == graph::Side::unknown ? "" : fmt::format(" ({} side)", graph::side_name(side)),
        board[finding.pieces.front().front()].name, board[finding.pieces.back().front()].name);
  } else if (finding.open.way_unknown) {
    fmt::print(out, "      slide the tip along the copper from {}, until the reading changes\n",
               list(board, finding.pieces.back()));
  }
}

std::string nets_of(const Board& board, const Finding& finding) {
  std::vector<std::string> joined;
  for (const graph::NetId net : finding.nets) {
    joined.push_back("net " + board[net].name);
  }
  for (const graph::PointId point : finding.in_no_net) {
    joined.push_back(board[point].name + ", which is in no net");
  }
  return fmt::format("{}", fmt::join(joined, " and "));
}

void write_gaps(std::ostream& out, const Board& board, const Finding& finding) {
  for (const graph::GapSuspect& gap :
       std::span(finding.gaps).first(std::min(finding.gaps.size(), kMostSuspects))) {
    fmt::print(out, "      {:<14}  {} and {}, {:.2g} mm apart\n",
               likelihood_text(gap.likelihood, finding.gaps.size() == 1), board.place_name(gap.a),
               board.place_name(gap.b), gap.gap_mm);
  }
  if (finding.gaps.size() > kMostSuspects) {
    fmt::print(out, "      and other places: {} (--json lists all)\n",
               finding.gaps.size() - kMostSuspects);
  }
  if (finding.gaps.empty()) {
    fmt::print(out, "      the file gives no positions, so there is no guess where\n");
  }
}

void write_short(std::ostream& out, const Board& board, const Finding& finding) {
  fmt::print(out, "{}  SHORT  {} are joined: {} ± {} at {:.1f} V\n", finding.id,
             nets_of(board, finding), graph::ohm_text(finding.ohm),
             graph::ohm_text(finding.uncertainty_ohm), finding.volt);
  if (finding.comes_and_goes) {
    fmt::print(out, "      but not point by point: a contact on the way comes and goes\n");
  }
  write_gaps(out, board, finding);
  if (finding.fault) {
    fmt::print(out, "      or a part between them: {}\n",
               part_list(board, finding.fault->candidates));
  }
  write_pull_first(out, board, finding);
}

std::string expected_text(const graph::PartFault& fault) {
  return fmt::format("its parts explain {} to {}", graph::ohm_text(fault.expected_low_ohm),
                     graph::ohm_text(fault.expected_high_ohm));
}

void write_leakage(std::ostream& out, const Board& board, const Finding& finding) {
  fmt::print(out, "{}  LEAKAGE  {}: {} ± {} at {:.1f} V\n", finding.id, nets_of(board, finding),
             graph::ohm_text(finding.ohm), graph::ohm_text(finding.uncertainty_ohm), finding.volt);
  if (finding.fault && std::isfinite(finding.fault->expected_ohm)) {
    fmt::print(out, "      the pair reads {}; {}\n", graph::ohm_text(finding.fault->measured_ohm),
               expected_text(*finding.fault));
  }
  write_gaps(out, board, finding);
  if (finding.fault && !finding.fault->candidates.empty()) {
    fmt::print(out, "      or a part between them: {}\n",
               part_list(board, finding.fault->candidates));
  }
  write_pull_first(out, board, finding);
}

void write_part(std::ostream& out, const Board& board, const Finding& finding) {
  const graph::PartFault& fault = *finding.fault;
  const graph::Part& part = board[fault.part];
  fmt::print(out, "{}  PART  {} ({}{}{}) between {}: {}", finding.id, part.name,
             graph::word_for(part.kind), part.ohm && *part.ohm > 0 ? ", " : "",
             part.ohm && *part.ohm > 0 ? graph::ohm_text(*part.ohm) : "", nets_of(board, finding),
             std::isfinite(finding.ohm)
                 ? fmt::format("reads as {} ± {} at {:.1f} V\n", graph::ohm_text(finding.ohm),
                               graph::ohm_text(finding.uncertainty_ohm), finding.volt)
                 : std::string("reads far too high: open, or nearly so\n"));
  if (fault.candidates.size() > 1) {
    fmt::print(out, "      the same would show if it were one of: {}\n",
               part_list(board, fault.candidates));
  }
  if (!finding.or_no_contact.empty()) {
    std::vector<std::string> points;
    for (const graph::PointId point : finding.or_no_contact) {
      points.push_back(board[point].name);
    }
    fmt::print(out, "      or the lead on {} touches no metal: nothing else would show it\n",
               fmt::join(points, " or "));
  }
  fmt::print(out, "      {}lift one leg and meter it by itself\n",
             fault.or_leaks.empty() ? "" : "or something bridges its nets; ");
  write_pull_first(out, board, finding);
}

void write_notes(std::ostream& out, const Board& board, const char* heading,
                 const std::vector<graph::PointNote>& all) {
  if (all.empty()) {
    return;
  }
  fmt::print(out, "{}:\n", heading);
  for (std::size_t i = 0; i < std::min(all.size(), kMostNotes); ++i) {
    fmt::print(out, "      {}: {}\n", board[all[i].point].name, all[i].why);
  }
  if (all.size() > kMostNotes) {
    fmt::print(out, "      and {} more (--json lists all)\n", all.size() - kMostNotes);
  }
}

/// The one line that says what to do.
std::string next_step(const Board& board, const SweepReport& report) {
  const std::string again = report.job.empty() ? "sweep again" : "padwalk resume " + report.job;
  if (report.record_lost) {
    return fmt::format("{}, once the job can be written; nothing above is a verdict.", again);
  }
  if (!report.failure.empty()) {
    return fmt::format("see to the tester and its cable, then {}; nothing above is a verdict.",
                       again);
  }
  if (report.interrupted) {
    return fmt::format("{} and let it finish; nothing above is a verdict.", again);
  }
  for (const Finding& finding : report.result.findings) {
    if (finding.kind == FindingKind::short_circuit) {
      return finding.gaps.empty()
                 ? fmt::format("clear the short {}, then sweep again.", finding.id)
                 : fmt::format(
                       "look between {} and {} under the microscope ({}), clear it, then "
                       "sweep again.",
                       board.place_name(finding.gaps.front().a),
                       board.place_name(finding.gaps.front().b), finding.id);
    }
    if (finding.open.next_touch) {
      return fmt::format("touch {} ({}).", board.place_name(*finding.open.next_touch), finding.id);
    }
  }
  if (!report.result.findings.empty()) {
    const Finding& first = report.result.findings.front();
    if (!first.pull_first.empty()) {
      return fmt::format("pull {} and sweep again ({}).", board[first.pull_first.front()].name,
                         first.id);
    }
    if (first.kind == FindingKind::part) {
      return fmt::format("lift one leg of {} and meter it ({}).", board[first.fault->part].name,
                         first.id);
    }
    if (first.kind == FindingKind::leakage) {
      return first.gaps.empty()
                 ? fmt::format("clean and dry the board round net {} ({}), then sweep again.",
                               board[first.nets.front()].name, first.id)
                 : fmt::format("clean and dry between {} and {} ({}), then sweep again.",
                               board.place_name(first.gaps.front().a),
                               board.place_name(first.gaps.front().b), first.id);
    }
    return first.open.suspects.empty()
               ? fmt::format("check the file against the board for net {} ({}).",
                             board[first.nets.front()].name, first.id)
               : fmt::format("look at {} ({}).", suspect_text(board, first.open.suspects.front()),
                             first.id);
  }
  if (!report.result.no_contact.empty()) {
    return "re-seat or clean the leads named above and sweep again.";
  }
  if (report.status() == ExitStatus::incomplete) {
    return "look at the points named above: they are neither good nor a clear fault.";
  }
  return "attach leads to what is not tested yet, or close the job.";
}

}  // namespace

std::string likelihood_text(double share, bool alone) {
  if (alone) {
    return "the only place";
  }
  const long tenths = std::lround(share * 10);
  return tenths == 0    ? "below 1 in 10"
         : tenths == 10 ? "nearly certain"
                        : fmt::format("about {} in 10", tenths);
}

std::string suspect_text(const Board& board, const graph::OpenSuspect& suspect) {
  if (!suspect.segment) {
    return fmt::format("the lead's own contact on {}", board[suspect.contact].name);
  }
  const graph::Segment& segment = board[*suspect.segment];
  const std::string a = board.place_name(segment.a);
  const std::string b = board.place_name(segment.b);
  switch (segment.kind) {
    case graph::SegmentKind::trace:
      return segment.side == graph::Side::unknown
                 ? fmt::format("the trace from {} to {}", a, b)
                 : fmt::format("the trace from {} to {}, on the {}", a, b,
                               graph::side_name(segment.side));
    case graph::SegmentKind::barrel:
      return fmt::format("the barrel of the hole, {} to {}", a, b);
    case graph::SegmentKind::joint:
      return fmt::format("the solder joint from {} to {}", a, b);
    case graph::SegmentKind::contact:
      return fmt::format("the contact from {} to {}", a, b);
    case graph::SegmentKind::wire:
      return fmt::format("the wire from {} to {}", a, b);
    case graph::SegmentKind::unknown_way:
      return fmt::format("the copper that leads to {}; its way is not known",
                         board[segment.member].name);
  }
  return {};
}

void write_suspects(std::ostream& out, const Board& board,
                    const std::vector<graph::OpenSuspect>& suspects) {
  for (std::size_t i = 0; i < std::min(suspects.size(), kMostSuspects); ++i) {
    fmt::print(out, "      {:<14}  {}\n",
               likelihood_text(suspects[i].likelihood, suspects.size() == 1),
               suspect_text(board, suspects[i]));
  }
  if (suspects.size() > kMostSuspects) {
    fmt::print(out, "      and less likely places: {} (--json lists all)\n",
               suspects.size() - kMostSuspects);
  }
}

void write_finding(std::ostream& out, const Board& board, const Finding& finding) {
  switch (finding.kind) {
    case FindingKind::open:
    case FindingKind::high_resistance:
    case FindingKind::intermittent:
      return write_open(out, board, finding);
    case FindingKind::short_circuit:
      return write_short(out, board, finding);
    case FindingKind::leakage:
      return write_leakage(out, board, finding);
    case FindingKind::part:
      return write_part(out, board, finding);
  }
}

void write_text(std::ostream& out, const Board& board, const SweepReport& report) {
  fmt::print(out, "{} ({}), {}\n\n", board.name(), board.assembled() ? "assembled" : "bare",
             report.port == "simulated"
                 ? "on a simulated tester"
                 : fmt::format("tester {} on {}", report.tester.unit, report.port));
  if (report.refused) {
    write_refusal(out, board, report, "sweep");
    return;
  }
  if (!report.failure.empty()) {
    fmt::print(out, "{}: {}\nWhat was read until then is not judged.\n",
               report.record_lost ? "NO LONGER KEPT" : "THE TESTER FAILED", report.failure);
  } else if (report.interrupted) {
    fmt::print(out, "INTERRUPTED: what was read until then is not judged.\n");
  }
  for (const Finding& finding : report.result.findings) {
    write_finding(out, board, finding);
  }
  if (const std::vector<std::string> ids = report.sharpened(); !ids.empty()) {
    fmt::print(out, "likelihoods of {}: {}\n", listed(ids, kMostPoints),
               sharpened_text(report.history_jobs));
  }
  for (const graph::Cause& cause : report.result.causes) {
    fmt::print(out, "cause  {}\n", cause.why);
  }
  if (!report.left_out.empty()) {
    std::string names;
    for (const graph::NetId net : report.left_out) {
      names += (names.empty() ? "" : ", ") + board[net].name;
    }
    fmt::print(out, "Left out, as you asked, neither driven nor judged: {}\n", names);
  }
  write_notes(out, board, "No contact", report.result.no_contact);
  if (!report.not_reached.empty()) {
    fmt::print(out, "Planned, but could not be reached: {}\n", list(board, report.not_reached));
  }
  for (const std::string& misfit : report.misfits) {
    fmt::print(out, "Does not fit, planned around: {}\n", misfit);
  }
  write_notes(out, board, "Not judged", report.result.untested);
  if (!report.result.cannot_see.empty()) {
    fmt::print(out, "What this sweep cannot see:\n");
    for (const std::string& sentence : report.result.cannot_see) {
      fmt::print(out, "      {}\n", sentence);
    }
  }
  if (report.hookups > 1 || report.touches > 0) {
    fmt::print(out, "Done: {} hookup{}, {} fixture{} put on, {} touch{}{}.\n", report.hookups,
               report.hookups == 1 ? "" : "s", report.moves, report.moves == 1 ? "" : "s",
               report.touches, report.touches == 1 ? "" : "es",
               report.slips == 0 ? "" : fmt::format(", {} put right", report.slips));
  }
  const bool good = report.result.findings.empty() && report.status() == ExitStatus::good;
  fmt::print(out, "{}: {} of {} points, {} groups; {} readings in {} settings, {:.3g} s.\n",
             good                             ? "Good as far as tested"
             : report.measured.interrupted    ? "Read so far"
             : report.result.findings.empty() ? "No fault found, but not all could be judged"
                                              : "Tested",
             report.hookup.leads.size(), board.points().size(), report.groups,
             report.counts.scan + report.counts.confirm + report.repeated, report.link.settings,
             report.seconds);
  std::string next = next_step(board, report);
  if (!report.job.empty() && report.status() == ExitStatus::findings) {
    next.erase(next.find_last_not_of('.') + 1);
    next += fmt::format("; where the file is wrong: padwalk settle {}", report.job);
  }
  fmt::print(out, "Next: {}\n", next);
}

}  // namespace padwalk::tools
