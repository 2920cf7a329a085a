// SPDX-License-Identifier: MIT
#include "graph/findings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <unordered_map>

#include "graph/break_history.hpp"
#include "graph/comparison.hpp"

namespace padwalk::graph {

namespace {

using Parts = std::vector<std::vector<PointId>>;

/// The points of one net by piece, largest first. Points without proof of contact are left out.
Parts parts_of_net(const Comparison& compared, const Pieces& pieces,
                   const std::vector<PointId>& points) {
  std::map<std::uint32_t, std::vector<PointId>> by_piece;
  for (const PointId point : points) {
    if (!compared.unproven[index(point)] || !Comparison::alone(pieces, point)) {
      by_piece[pieces[point]].push_back(point);
    }
  }
  Parts parts;
  for (auto& [piece, part] : by_piece) {
    parts.push_back(std::move(part));
  }
  std::sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) {
    return a.size() != b.size() ? a.size() > b.size() : a.front() < b.front();
  });
  return parts;
}

/// Of several hookups: what was never read against each other may be one piece, and the fewest
/// breaks that explain all are the likeliest.
Parts with_unread_joined(const Comparison& compared, Parts parts) {
  Parts joined;
  for (std::vector<PointId>& part : parts) {
    const auto with = std::find_if(joined.begin(), joined.end(), [&](const auto& other) {
      return !compared.read_against(part, other);
    });
    if (with == joined.end()) {
      joined.push_back(std::move(part));
    } else {
      with->insert(with->end(), part.begin(), part.end());
      std::sort(with->begin(), with->end());
    }
  }
  return joined;
}

/// The reading of lowest ohms between two points of `points` that are not of one piece.
const Reading* reading_across(const Comparison& compared, const Pieces& pieces,
                              const std::vector<PointId>& points) {
  const std::set<PointId> among(points.begin(), points.end());
  const Reading* lowest = nullptr;
  for (const Reading* reading : compared.readings_of(compared.board[points.front()].net)) {
    const auto [a, b] = two_points(reading->wanted);
    if (among.count(a) != 0 && among.count(b) != 0 && pieces[a] != pieces[b] &&
        (lowest == nullptr || reading->ohm <= lowest->ohm)) {
      lowest = reading;
    }
  }
  return lowest;
}

/// A finding of a net in pieces, with its suspects. Nothing where no two pieces are proven.
std::optional<Finding> in_pieces(const Comparison& compared, FindingKind kind, const Pieces& pieces,
                                 const std::vector<PointId>& points) {
  Parts parts = with_unread_joined(compared, parts_of_net(compared, pieces, points));
  if (parts.size() < 2) {
    return std::nullopt;
  }
  Finding finding;
  finding.kind = kind;
  finding.nets = {compared.board[points.front()].net};
  OpenCase open;
  open.net = finding.nets.front();
  for (const std::vector<PointId>& part : parts) {
    open.pieces.emplace_back();
    for (const PointId point : part) {
      open.pieces.back().push_back(compared.board[point].held);
    }
  }
  for (const PointId point : compared.measured.silent_believed) {
    if (compared.board[point].net == open.net && Comparison::alone(pieces, point) &&
        std::find(points.begin(), points.end(), point) != points.end()) {
      open.contact_doubtful.push_back(point);
    }
  }
  if (compared.history != nullptr) {
    sharpen(compared.board, *compared.history, open);
  }
  finding.open = find_open_suspects(compared.board, open);
  finding.pieces = std::move(parts);
  if (const Reading* reading = reading_across(compared, pieces, points)) {
    set_numbers(finding, *reading);
    if (reading->intermittent) {
      finding.kind = FindingKind::intermittent;
    }
  }
  return finding;
}

void add_opens(const Comparison& compared, Findings& findings) {
  for (const std::vector<PointId>& points : compared.by_net) {
    const bool whole = std::all_of(points.begin(), points.end(), [&](PointId point) {
      return compared.one_piece(point, points.front());
    });
    if (whole) {
      continue;
    }
    for (const std::vector<PointId>& together : compared.read_together(points)) {
      if (auto finding = in_pieces(compared, FindingKind::open, compared.pieces, together)) {
        findings.findings.push_back(*std::move(finding));
        break;  // what is known by itself only is listed as not judged
      }
    }
  }
}

/// Resistors whose two ends are in this net, on two of its pieces, and that read so.
std::vector<PartId> resistors_beside(const Comparison& compared, const Finding& finding) {
  const Board& board = compared.board;
  std::vector<PartId> beside;
  const auto joined = [&](const Part& part) {
    const std::uint32_t piece = compared.strong[part.pins[0]];
    return piece != Pieces::kNotAttached && piece == compared.strong[part.pins[1]];
  };
  for (std::size_t i = 0; board.assembled() && i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    const bool both_ends = part.pins.size() == 2 &&
                           board[part.pins[0]].net == finding.nets.front() &&
                           board[part.pins[1]].net == finding.nets.front();
    if (part.kind == PartKind::resistor && both_ends && part.ohm && !joined(part) &&
        std::abs(finding.ohm - *part.ohm) <= 0.1 * *part.ohm + finding.uncertainty_ohm + 1) {
      beside.push_back(PartId{static_cast<std::uint32_t>(i)});
    }
  }
  return beside;
}

/// What conducts, but worse than its copper should.
void add_high_resistances(const Comparison& compared, Findings& findings) {
  for (const std::vector<PointId>& points : compared.by_net) {
    std::map<std::uint32_t, std::vector<PointId>> by_piece;
    for (const PointId point : points) {
      by_piece[compared.pieces[point]].push_back(point);
    }
    for (const auto& [piece, together] : by_piece) {
      if (auto finding =
              in_pieces(compared, FindingKind::high_resistance, compared.strong, together)) {
        finding->beside = resistors_beside(compared, *finding);
        findings.findings.push_back(*std::move(finding));
      }
    }
  }
}

/// Two pins whose exchange in the file makes nets `a` and `b` what was measured.
std::optional<std::pair<PointId, PointId>> exchanged_pins(const Comparison& compared, NetId a,
                                                          NetId b) {
  std::map<std::uint32_t, std::array<std::vector<PointId>, 2>> by_piece;
  for (const std::size_t which : {0, 1}) {
    for (const PointId point : compared.by_net[index(which == 0 ? a : b)]) {
      by_piece[compared.pieces[point]][which].push_back(point);
    }
  }
  if (by_piece.size() != 2) {
    return std::nullopt;
  }
  std::optional<std::pair<PointId, PointId>> found;
  for (auto stays = by_piece.begin(); stays != by_piece.end(); ++stays) {
    const auto other = stays == by_piece.begin() ? std::prev(by_piece.end()) : by_piece.begin();
    for (const auto& [piece, points] : {*stays, *other}) {
      if (compared.pieces.members[piece].size() != points[0].size() + points[1].size()) {
        return std::nullopt;  // a third net is in it
      }
    }
    const std::vector<PointId>& leaves_a = other->second[0];
    const std::vector<PointId>& leaves_b = stays->second[1];
    if (leaves_a.size() != 1 || leaves_b.size() != 1 ||
        compared.unproven[index(leaves_a.front())] || compared.unproven[index(leaves_b.front())]) {
      continue;
    }
    const std::pair<PointId, PointId> pins(leaves_a.front(), leaves_b.front());
    const PartId part = compared.board[pins.first].part;
    if (!found || (part != kNoPart && part == compared.board[pins.second].part)) {
      found = pins;  // pins of one part are the likelier slip
    }
  }
  return found;
}

void add_causes(const Comparison& compared, Findings& findings) {
  const Board& board = compared.board;
  std::unordered_map<NetId, std::string> open_of;
  for (const Finding& finding : findings.findings) {
    if (finding.kind == FindingKind::open) {
      open_of[finding.nets.front()] = finding.id;
    }
  }
  for (const Finding& finding : findings.findings) {
    if (finding.kind != FindingKind::short_circuit) {
      continue;
    }
    if (finding.in_no_net.size() == 1 && finding.nets.size() == 1) {
      const std::string& name = board[finding.in_no_net.front()].name;
      findings.causes.push_back(
          {fmt::format("{} is in no net of the file; perhaps the file lacks it in net {}", name,
                       board[finding.nets.front()].name),
           {finding.id},
           std::nullopt});
    }
    if (finding.nets.size() != 2 || !finding.in_no_net.empty()) {
      continue;
    }
    const NetId a = finding.nets[0];
    const NetId b = finding.nets[1];
    Cause cause;
    for (const NetId net : {a, b}) {
      if (const auto open = open_of.find(net); open != open_of.end()) {
        cause.findings.push_back(open->second);
      }
    }
    if (cause.findings.empty()) {
      continue;
    }
    if (const auto pins = exchanged_pins(compared, a, b)) {
      const std::string& in_a = board[pins->first].name;
      const std::string& in_b = board[pins->second].name;
      cause.why = fmt::format(
          "probably a slip of the file: {} and {} are exchanged; with {} in net {} and {} in net "
          "{} all that was measured is right",
          in_a, in_b, in_b, board[a].name, in_a, board[b].name);
      cause.findings.push_back(finding.id);
      cause.exchanged = pins;
      findings.causes.push_back(std::move(cause));
    }
  }
}

}  // namespace

void set_numbers(Finding& finding, const Reading& reading) {
  finding.ohm = reading.ohm;
  finding.uncertainty_ohm = reading.uncertainty_ohm;
  finding.volt = reading.volt;
}

Findings find_differences(const Board& board, const Limits& limits, const Measured& measured,
                          const BreakHistory* history) {
  Findings findings;
  if (measured.interrupted) {
    findings.cannot_see = {"the sweep did not come to its end, so nothing is judged"};
    return findings;
  }
  Comparison compared(board, limits, measured);
  compared.history = history;
  add_opens(compared, findings);
  add_high_resistances(compared, findings);
  add_between_nets(compared, findings);
  for (std::size_t i = 0; i < findings.findings.size(); ++i) {
    findings.findings[i].id = fmt::format("F{}", i + 1);
  }
  add_causes(compared, findings);
  add_notes(compared, findings);
  return findings;
}

}  // namespace padwalk::graph
