// SPDX-License-Identifier: MIT
//
// Findings between nets: shorts, leaks, parts that read wrong.
#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <tuple>
#include <unordered_map>

#include "graph/comparison.hpp"
#include "graph/part_ohms.hpp"

namespace padwalk::graph {

namespace {

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

/// All that a reading of sets is between.
Joined on_both_sides(const Board& board, const WantedReading& wanted) {
  Joined both;
  std::set<NetId> nets;
  for (const auto* side : {&wanted.source, &wanted.sink}) {
    for (const PointId point : *side) {
      if (board[point].net == kNoNet) {
        both.in_no_net.push_back(point);
      } else {
        nets.insert(board[point].net);
      }
    }
  }
  both.nets.assign(nets.begin(), nets.end());
  return both;
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

/// Nets that read as shorted at rest, and not again point by point: something on the way comes and
/// goes. Seen twice at least, the second time perhaps to and fro, which gives no ohms.
void add_unlocated_shorts(const Comparison& compared, const ShortSuspects& suspects,
                          Findings& findings) {
  struct Read {
    const Reading* shorted = nullptr;
    std::size_t times = 0;
  };
  std::map<Joined, Read> pairs;
  for (const Reading& reading : compared.measured.readings) {
    const bool shorted = reading.number && reading.settled &&
                         judge_two_nets(compared.limits, reading.ohm) == Verdict::short_circuit;
    if (reading.wanted.purpose != Purpose::isolation || (reading.number && !shorted) ||
        compared.share_a_piece(reading.wanted)) {
      continue;
    }
    Read& read = pairs[on_both_sides(compared.board, reading.wanted)];
    read.shorted = shorted ? &reading : read.shorted;
    ++read.times;
  }
  // Points that conduct at all, or gave no ohms, speak for it too.
  for (const Reading& reading : compared.measured.readings) {
    const auto [a, b] = two_points(reading.wanted);
    if (a == kNoPoint || reading.wanted.purpose == Purpose::isolation || compared.same_net(a, b) ||
        (reading.number && reading.ohm > compared.limits.isolation_ohm)) {
      continue;
    }
    // But for what parts let through.
    if (reading.number && compared.parts_join(a, b)) {
      continue;
    }
    for (auto& [joined, read] : pairs) {
      const auto holds = [&, &nets = joined.nets](PointId point) {
        return std::find(nets.begin(), nets.end(), compared.board[point].net) != nets.end();
      };
      read.times += holds(a) && holds(b);
    }
  }
  for (const auto& [joined, read] : pairs) {
    if (read.shorted == nullptr || read.times < 2) {
      continue;
    }
    Finding finding;
    finding.kind = FindingKind::short_circuit;
    finding.nets = joined.nets;
    finding.in_no_net = joined.in_no_net;
    finding.comes_and_goes = true;
    finding.gaps = gaps_between(compared, suspects, joined.nets);
    set_numbers(finding, *read.shorted);
    findings.findings.push_back(std::move(finding));
  }
}

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
  add_unlocated_shorts(compared, suspects, findings);
}

/// Of nets that closed parts tie no reading tells where it leaks; the rail is the one to name.
NetId main_net(const Comparison& compared, NetId net) {
  const std::vector<std::uint32_t>& tie = compared.parts.tie;
  for (std::size_t other = 0; other < tie.size(); ++other) {
    const NetId id{static_cast<std::uint32_t>(other)};
    if (tie[other] == tie[index(net)] && compared.board[id].role != NetRole::signal) {
      return id;
    }
  }
  return net;
}

/// Parts that read wrong and nets that leak, by way of parts or not.
void add_net_faults(const Comparison& compared, Findings& findings) {
  const ShortSuspects suspects(compared.board);
  for (const PartFault& fault : compared.verdicts.faults) {
    Finding finding;
    finding.kind = fault.kind;
    finding.nets = {std::min(fault.a, fault.b), std::max(fault.a, fault.b)};
    if (fault.kind == FindingKind::leakage) {
      finding.nets = {main_net(compared, finding.nets[0]), main_net(compared, finding.nets[1])};
      std::sort(finding.nets.begin(), finding.nets.end());
    }
    finding.ohm = fault.ohm;
    finding.uncertainty_ohm = fault.uncertainty_ohm;
    finding.volt = compared.limits.isolation_volt;
    if (fault.kind == FindingKind::leakage) {
      finding.gaps = gaps_between(compared, suspects, finding.nets);
      add_part_suspects(compared, finding);
    }
    // Parts that die that way stand beside those that the readings accuse.
    std::vector<PartId> candidates = fault.candidates;
    if (finding.fault) {
      for (const PartId part : finding.fault->candidates) {
        if (std::find(candidates.begin(), candidates.end(), part) == candidates.end()) {
          candidates.push_back(part);
        }
      }
    }
    finding.fault = fault;
    finding.fault->candidates = std::move(candidates);
    if (fault.ohm == kOpenOhm) {
      for (const PointId point : compared.measured.silent_believed) {
        if (compared.board[point].net == fault.a || compared.board[point].net == fault.b) {
          finding.or_no_contact.push_back(point);
        }
      }
    }
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
    Joined sides = on_both_sides(compared.board, reading.wanted);
    finding.nets = std::move(sides.nets);
    finding.in_no_net = std::move(sides.in_no_net);
    // The pin's own clamp conducts, with what others pass backwards or a way to ground lets
    // through.
    const bool clamped =
        std::any_of(finding.in_no_net.begin(), finding.in_no_net.end(), [&](PointId point) {
          const PartId part = compared.board[point].part;
          return part != kNoPart && has_schottky_clamps(compared.board[part].type);
        });
    if (clamped && std::any_of(finding.nets.begin(), finding.nets.end(), [&](NetId net) {
          return compared.clamps.forward_way(net) || compared.drive_ground.count(net) > 0 ||
                 1 / reading.ohm - compared.clamps.backward_siemens(net, reading.across_volt) <
                     1 / compared.limits.isolation_ohm;
        })) {
      continue;
    }
    set_numbers(finding, reading);
    findings.findings.push_back(std::move(finding));
  }
}

}  // namespace

void add_between_nets(const Comparison& compared, Findings& findings) {
  add_shorts(compared, findings);
  add_net_faults(compared, findings);
}

}  // namespace padwalk::graph
