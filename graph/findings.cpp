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

void set_numbers(Finding& finding, const Reading& reading) {
  finding.ohm = reading.ohm;
  finding.uncertainty_ohm = reading.uncertainty_ohm;
  finding.volt = reading.volt;
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
  Parts parts = parts_of_net(compared, pieces, points);
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
    if (auto finding = in_pieces(compared, FindingKind::open, compared.pieces, points)) {
      findings.findings.push_back(*std::move(finding));
    }
  }
}

/// Resistors whose two ends are in this net and that read so.
std::vector<PartId> resistors_beside(const Comparison& compared, const Finding& finding) {
  const Board& board = compared.board;
  std::vector<PartId> beside;
  for (std::size_t i = 0; board.assembled() && i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    const bool both_ends = part.pins.size() == 2 &&
                           board[part.pins[0]].net == finding.nets.front() &&
                           board[part.pins[1]].net == finding.nets.front();
    if (part.kind == PartKind::resistor && both_ends && part.ohm &&
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

/// What one piece joins that should be apart. Empty: nothing.
struct Joined {
  std::vector<NetId> nets;
  std::vector<PointId> in_no_net;
  bool operator<(const Joined& other) const {
    return std::tie(nets, in_no_net) < std::tie(other.nets, other.in_no_net);
  }
};

Joined joined_in(const Comparison& compared, const std::vector<PointId>& piece) {
  Joined joined;
  const NetId first = compared.board[piece.front()].net;
  if (first != kNoNet && std::all_of(piece.begin(), piece.end(), [&](PointId point) {
        return compared.board[point].net == first;
      })) {
    return joined;
  }
  std::set<NetId> nets;
  std::set<std::uint32_t> ties;
  for (const PointId point : piece) {
    const NetId net = compared.board[point].net;
    if (net == kNoNet) {
      joined.in_no_net.push_back(point);
    } else if (nets.insert(net).second) {
      ties.insert(compared.parts.tie[index(net)]);
    }
  }
  if (ties.size() + joined.in_no_net.size() < 2) {
    return {};
  }
  joined.nets.assign(nets.begin(), nets.end());
  return joined;
}

/// For each piece that is part of a short, what it reads between its nets: whole nets against each
/// other if there is such a reading, else single points.
class ShortReadings {
 public:
  ShortReadings(const Comparison& compared, const std::vector<bool>& shorted) {
    for (const Reading& reading : compared.measured.readings) {
      const auto [a, b] = two_points(reading.wanted);
      if (reading.wanted.purpose != Purpose::isolation) {
        if (a != kNoPoint && !compared.same_net(a, b) && compared.one_piece(a, b) &&
            !tied(compared, a, b)) {
          keep(between_points_[compared.pieces[a]], reading);
        }
        continue;
      }
      std::set<std::uint32_t> driven;
      for (const PointId point : reading.wanted.source) {
        if (shorted[compared.pieces[point]]) {
          driven.insert(compared.pieces[point]);
        }
      }
      for (const PointId point : reading.wanted.sink) {
        if (driven.count(compared.pieces[point]) != 0) {
          keep(between_nets_[compared.pieces[point]], reading);
        }
      }
    }
  }

  const Reading* find(std::uint32_t piece) const {
    for (const auto* readings : {&between_nets_, &between_points_}) {
      const auto found = readings->find(piece);
      if (found != readings->end()) {
        return found->second;
      }
    }
    return nullptr;
  }

 private:
  /// Closed parts join their nets: what they read says nothing of the short.
  static bool tied(const Comparison& compared, PointId a, PointId b) {
    const NetId net_a = compared.board[a].net;
    const NetId net_b = compared.board[b].net;
    return net_a != kNoNet && net_b != kNoNet &&
           compared.parts.tie[index(net_a)] == compared.parts.tie[index(net_b)];
  }
  static void keep(const Reading*& held, const Reading& reading) {
    if (held == nullptr || reading.ohm < held->ohm) {
      held = &reading;
    }
  }
  std::unordered_map<std::uint32_t, const Reading*> between_nets_;
  std::unordered_map<std::uint32_t, const Reading*> between_points_;
};

/// Places between nets that closed parts join anyway say nothing.
std::vector<GapSuspect> gaps_between(const Comparison& compared, const ShortSuspects& suspects,
                                     const std::vector<NetId>& nets) {
  if (nets.size() < 2) {
    return {};
  }
  std::vector<GapSuspect> gaps = suspects.find(nets);
  const auto tie = [&](PlaceId place) {
    return compared.parts.tie[index(compared.board[place].net)];
  };
  std::erase_if(gaps, [&](const GapSuspect& gap) { return tie(gap.a) == tie(gap.b); });
  double sum = 0;
  for (const GapSuspect& gap : gaps) {
    sum += gap.likelihood;
  }
  for (GapSuspect& gap : gaps) {
    gap.likelihood /= sum > 0 ? sum : 1;
  }
  return gaps;
}

void add_part_suspects(const Comparison& compared, Finding& finding);

void add_shorts(const Comparison& compared, Findings& findings) {
  const auto& pieces = compared.pieces.members;
  std::vector<bool> shorted(pieces.size());
  std::map<Joined, std::vector<std::uint32_t>> pieces_of;  // in net order
  for (std::uint32_t piece = 0; piece < pieces.size(); ++piece) {
    if (pieces[piece].size() > 1) {
      Joined joined = joined_in(compared, pieces[piece]);
      if (!joined.nets.empty() || !joined.in_no_net.empty()) {
        shorted[piece] = true;
        pieces_of[std::move(joined)].push_back(piece);
      }
    }
  }
  if (pieces_of.empty()) {
    return;
  }
  const ShortReadings readings(compared, shorted);
  const ShortSuspects suspects(compared.board);
  for (const auto& [joined, where] : pieces_of) {
    Finding finding;
    finding.kind = FindingKind::short_circuit;
    finding.nets = joined.nets;
    finding.in_no_net = joined.in_no_net;
    finding.gaps = gaps_between(compared, suspects, joined.nets);
    for (const std::uint32_t piece : where) {
      finding.pieces.push_back(pieces[piece]);
      const Reading* reading = readings.find(piece);
      if (reading != nullptr && reading->ohm < finding.ohm) {
        set_numbers(finding, *reading);
      }
    }
    add_part_suspects(compared, finding);
    findings.findings.push_back(std::move(finding));
  }
}

bool joins(const Board& board, const Part& part, const std::vector<NetId>& a,
           const std::vector<NetId>& b) {
  const auto on = [&](const std::vector<NetId>& nets) {
    return std::any_of(part.pins.begin(), part.pins.end(), [&](PointId pin) {
      return std::find(nets.begin(), nets.end(), board[pin].net) != nets.end();
    });
  };
  return on(a) && on(b);
}

/// Of a short or leak between two nets: a part between them that dies that way, and the chips to
/// pull where one net is a supply and the other ground.
void add_part_suspects(const Comparison& compared, Finding& finding) {
  const Board& board = compared.board;
  if (!board.assembled() || finding.nets.size() < 2 || !finding.in_no_net.empty()) {
    return;
  }
  // Nets that closed parts tie stand on one side.
  std::array<std::vector<NetId>, 2> sides;
  for (const NetId net : finding.nets) {
    const bool first = compared.parts.tie[index(net)] == compared.parts.tie[index(finding.nets[0])];
    sides[first ? 0 : 1].push_back(net);
  }
  if (sides[1].empty() || std::any_of(sides[1].begin(), sides[1].end(), [&](NetId net) {
        return compared.parts.tie[index(net)] != compared.parts.tie[index(sides[1][0])];
      })) {
    return;
  }
  const auto has = [&](const std::vector<NetId>& side, NetRole role) {
    return std::any_of(side.begin(), side.end(),
                       [&](NetId net) { return board[net].role == role; });
  };
  const auto is_pair = [&](NetRole one, NetRole other) {
    return (has(sides[0], one) && has(sides[1], other)) ||
           (has(sides[0], other) && has(sides[1], one));
  };
  const bool supply = is_pair(NetRole::supply, NetRole::ground);
  std::vector<PartId> dying;
  for (std::size_t i = 0; i < board.parts().size(); ++i) {
    const Part& part = board.parts()[i];
    if (part.chip == ChipState::pulled || !joins(board, part, sides[0], sides[1])) {
      continue;
    }
    const PartId id{static_cast<std::uint32_t>(i)};
    if (part.pins.size() == 2 &&
        (part.kind == PartKind::diode || part.kind == PartKind::capacitor)) {
      dying.push_back(id);
    } else if (supply && part.kind == PartKind::ic && part.chip == ChipState::socketed) {
      finding.pull_first.push_back(id);
    }
  }
  if (finding.kind == FindingKind::short_circuit && dying.size() == 1) {
    finding.kind = FindingKind::part;
  }
  if (!dying.empty()) {
    PartFault fault;
    fault.kind = finding.kind;
    fault.part = finding.kind == FindingKind::part ? dying.front() : kNoPart;
    fault.candidates = std::move(dying);
    fault.a = sides[0].front();
    fault.b = sides[1].front();
    fault.ohm = fault.measured_ohm = finding.ohm;
    fault.uncertainty_ohm = finding.uncertainty_ohm;
    fault.or_leaks = {{fault.a, fault.b}};
    finding.fault = std::move(fault);
  }
}

/// Parts that read wrong and nets that leak, by way of parts or not.
void add_net_faults(const Comparison& compared, Findings& findings) {
  const ShortSuspects suspects(compared.board);
  for (const PartFault& fault : compared.verdicts.faults) {
    Finding finding;
    finding.kind = fault.kind;
    finding.nets = {std::min(fault.a, fault.b), std::max(fault.a, fault.b)};
    finding.ohm = fault.ohm;
    finding.uncertainty_ohm = fault.uncertainty_ohm;
    finding.volt = compared.limits.isolation_volt;
    if (fault.kind == FindingKind::leakage) {
      finding.gaps = gaps_between(compared, suspects, finding.nets);
      add_part_suspects(compared, finding);
    }
    finding.fault = fault;
    findings.findings.push_back(std::move(finding));
  }
  for (const Reading& reading : compared.measured.readings) {
    if (reading.wanted.purpose != Purpose::isolation || !reading.number || !reading.settled ||
        judge_two_nets(compared.limits, reading.ohm) != Verdict::leakage ||
        compared.share_a_piece(reading.wanted)) {
      continue;
    }
    Finding finding;  // of a point in no net; pairs of nets are among the verdicts
    finding.kind = FindingKind::leakage;
    std::set<NetId> nets;
    for (const auto* side : {&reading.wanted.source, &reading.wanted.sink}) {
      for (const PointId point : *side) {
        if (compared.board[point].net == kNoNet) {
          finding.in_no_net.push_back(point);
        } else {
          nets.insert(compared.board[point].net);
        }
      }
    }
    finding.nets.assign(nets.begin(), nets.end());
    set_numbers(finding, reading);
    findings.findings.push_back(std::move(finding));
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
           {finding.id}});
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
      findings.causes.push_back(std::move(cause));
    }
  }
}

}  // namespace

Findings find_differences(const Board& board, const Limits& limits, const Measured& measured) {
  Findings findings;
  if (measured.interrupted) {
    findings.cannot_see = {"the sweep did not come to its end, so nothing is judged"};
    return findings;
  }
  const Comparison compared(board, limits, measured);
  add_opens(compared, findings);
  add_high_resistances(compared, findings);
  add_shorts(compared, findings);
  add_net_faults(compared, findings);
  for (std::size_t i = 0; i < findings.findings.size(); ++i) {
    findings.findings[i].id = fmt::format("F{}", i + 1);
  }
  add_causes(compared, findings);
  add_notes(compared, findings);
  return findings;
}

}  // namespace padwalk::graph
