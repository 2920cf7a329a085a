// SPDX-License-Identifier: MIT
//
// What a sweep says beside its findings: no contact, not judged, not seen.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <unordered_set>

#include "graph/comparison.hpp"
#include "graph/hookup.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kListedPoints = 20;  ///< from so many on, points without a lead are counted
constexpr std::size_t kFewNames = 3;

const char* plural(std::size_t n) {
  return n == 1 ? "" : "s";
}

/// The first few of many names.
class Names {
 public:
  void add(std::string name) {
    if (++count_ <= kFewNames) {
      text_ += (count_ == 1 ? "" : ", ") + std::move(name);
    }
  }
  std::size_t count() const { return count_; }
  std::string text() const {
    return count_ <= kFewNames ? text_ : fmt::format("{} and {} more", text_, count_ - kFewNames);
  }

 private:
  std::size_t count_ = 0;
  std::string text_;
};

/// Readings inside a net that say nothing clear, or that contradict each other.
void add_untested_in_nets(const Comparison& compared, Findings& findings) {
  std::unordered_set<PointId> noted;
  for (const std::vector<const Reading*>& of_net : compared.in_net) {
    for (const Reading* reading : of_net) {
      const auto [from, to] = two_points(reading->wanted);
      const std::string& name = compared.board[from].name;
      const double limit = compared.good(from, to);
      std::string why;
      if (!reading->number) {
        why = fmt::format(
            "gave no ohms from {}: a voltage of the board's own, a path that comes and goes, or "
            "over range",
            name);
      } else if (reading->ohm > compared.limits.open_above_ohm && compared.one_piece(from, to)) {
        why = fmt::format("read open from {} once and closed once", name);
      } else if (reading->close) {
        why = fmt::format("reads {} ± {} from {}: too close to {} to call", ohm_text(reading->ohm),
                          ohm_text(reading->uncertainty_ohm), name, ohm_text(limit));
      } else if (reading->ohm > limit && compared.strong[from] == compared.strong[to]) {
        why = fmt::format("reads {} from {} once and less once", ohm_text(reading->ohm), name);
      }
      if (!why.empty() && noted.insert(to).second) {
        findings.untested.push_back({to, std::move(why)});
      }
    }
  }
}

/// Points that were attached, but never beside the rest of their net, or never at rest.
void add_never_together(const Comparison& compared, Findings& findings) {
  for (const std::vector<PointId>& points : compared.by_net) {
    if (points.empty()) {
      continue;
    }
    const auto groups = compared.read_together(points);
    for (std::size_t i = 1; i < groups.size(); ++i) {
      for (const PointId point : groups[i]) {
        findings.untested.push_back({point, fmt::format("never read together with {}",
                                                        compared.board[groups[0].front()].name)});
      }
    }
  }
}

PointId first_point(const Comparison& compared, NetId net) {
  const std::vector<PointId>& points = compared.by_net[index(net)];
  return points.empty() ? kNoPoint : points.front();
}

std::string read_between(const Comparison& compared, NetId a, NetId b) {
  for (const PairReading& pair : compared.measured.nets.pairs) {
    if ((pair.a == a && pair.b == b) || (pair.a == b && pair.b == a)) {
      return fmt::format("{} ± {}", ohm_text(pair.ohm), ohm_text(pair.uncertainty_ohm));
    }
  }
  return "otherwise";
}

/// Of a reading that was no end of filling; what empties has no lower bound.
std::string not_at_rest(double ohm) {
  return ohm > 0 ? fmt::format("a capacitor was still filling, not judged; no less than {}",
                               ohm_text(ohm))
                 : "a capacitor was still emptying, not judged";
}

/// Two nets that could not be judged.
void add_untested_between_nets(const Comparison& compared, Findings& findings) {
  const Board& board = compared.board;
  std::set<std::pair<NetId, NetId>> unsettled;
  for (const PairReading& pair : compared.measured.nets.pairs) {
    if (!pair.settled && pair.ohm < compared.limits.isolation_ohm &&
        unsettled.emplace(pair.a, pair.b).second) {
      findings.untested.push_back(
          {first_point(compared, pair.a), fmt::format("net {} to {}: {}", board[pair.a].name,
                                                      board[pair.b].name, not_at_rest(pair.ohm))});
    }
  }
  for (const auto& [a, b] : compared.verdicts.unexplained) {
    if (unsettled.count({a, b}) == 0) {
      findings.untested.push_back(
          {first_point(compared, a),
           fmt::format("net {} to {} reads {}, not as its parts should, and no one part or leak "
                       "explains it; padwalk ohms says what it should be",
                       board[a].name, board[b].name, read_between(compared, a, b))});
    }
  }
  const auto is_short = [&](const Reading& reading) {
    return std::any_of(findings.findings.begin(), findings.findings.end(), [&](const Finding& one) {
      const auto holds = [&](PointId point) {
        const NetId net = board[point].net;
        return net == kNoNet ? std::find(one.in_no_net.begin(), one.in_no_net.end(), point) !=
                                   one.in_no_net.end()
                             : std::find(one.nets.begin(), one.nets.end(), net) != one.nets.end();
      };
      return one.comes_and_goes && holds(reading.wanted.source.front()) &&
             holds(reading.wanted.sink.front());
    });
  };
  std::set<std::pair<std::string, std::string>> said;  // conductors, of what was not at rest
  for (const Reading& reading : compared.measured.readings) {
    const bool shorted = judge_two_nets(compared.limits, reading.ohm) == Verdict::short_circuit;
    if (reading.wanted.purpose != Purpose::isolation || (reading.number && !shorted) ||
        compared.share_a_piece(reading.wanted) || is_short(reading)) {
      continue;
    }
    const PointId point = reading.wanted.source.front();
    const std::string from = compared.conductor_name(point);
    const std::string to = compared.conductor_name(reading.wanted.sink.front());
    if (!reading.number) {
      if (said.emplace(from, to).second) {
        findings.untested.push_back(
            {point, fmt::format("{} to {} gave no ohms: a voltage of the board's own, or a path "
                                "that comes and goes",
                                from, to)});
      }
    } else if (reading.settled) {
      findings.untested.push_back({point, fmt::format("{} reads {} to {}, and not again point by "
                                                      "point",
                                                      from, ohm_text(reading.ohm), to)});
    } else if (said.emplace(from, to).second) {
      findings.untested.push_back(
          {point, fmt::format("{} to {}: {}", from, to, not_at_rest(reading.ohm))});
    }
  }
}

void add_no_contact(const Comparison& compared, Findings& findings) {
  for (const PointId point : compared.measured.silent_unproven) {
    if (Comparison::alone(compared.pieces, point)) {
      findings.no_contact.push_back({point, "silent, and not asked to re-seat"});
    } else if (Comparison::alone(compared.strong, point)) {
      findings.no_contact.push_back({point, "conducts badly, and not asked to re-seat"});
    }
  }
}

void add_without_lead(const Comparison& compared, Findings& findings) {
  const Board& board = compared.board;
  std::vector<bool> has_lead(board.points().size());
  for (const PointId point : compared.measured.attached) {
    has_lead[index(point)] = true;
  }
  const std::vector<bool> never = never_driven(board);
  std::vector<PointId> without;
  Names left_alone;
  for (std::size_t i = 0; i < has_lead.size(); ++i) {
    if (never[i]) {
      left_alone.add(board.points()[i].name);
    } else if (!has_lead[i]) {
      without.push_back(PointId{static_cast<std::uint32_t>(i)});
    }
  }
  if (without.size() < kListedPoints) {
    for (const PointId point : without) {
      findings.untested.push_back({point, "not attached"});
    }
  } else {
    findings.cannot_see.push_back(fmt::format("{} points have no lead on them", without.size()));
  }
  if (left_alone.count() > 0) {
    findings.cannot_see.push_back(fmt::format(
        "{} point{} must never be driven and {} left alone: {}", left_alone.count(),
        plural(left_alone.count()), left_alone.count() == 1 ? "was" : "were", left_alone.text()));
  }
}

void add_not_expected(const Comparison& compared, Findings& findings) {
  const auto count = static_cast<std::size_t>(
      std::count_if(compared.attached.begin(), compared.attached.end(), [&](PointId point) {
        const NetId net = compared.board[point].net;
        return net == kNoNet || compared.by_net[index(net)].size() == 1;
      }));
  if (count > 0) {
    findings.cannot_see.push_back(fmt::format(
        "from {} point{} nothing is expected (in no net, or alone of its net with a lead): {} "
        "tested for shorts only",
        count, plural(count), count == 1 ? "it is" : "they are"));
  }
}

void add_parts(const Comparison& compared, Findings& findings) {
  const Board& board = compared.board;
  Names pairs;
  for (const auto& [a, b] : compared.measured.nets.unsure) {
    pairs.add(fmt::format("{} and {}", board[a].name, board[b].name));
  }
  if (pairs.count() > 0) {
    findings.cannot_see.push_back(fmt::format(
        "{} pair{} of nets {} joined by parts whose ohms the file does not give, and judged for "
        "shorts only: {}",
        pairs.count(), plural(pairs.count()), pairs.count() == 1 ? "is" : "are", pairs.text()));
  }
  Names one_way;
  for (const OneWay& one : compared.measured.nets.one_way) {
    one_way.add(fmt::format("from {} to {} ({})", board[one.from].name, board[one.to].name,
                            ohm_text(one.ohm)));
  }
  if (one_way.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("current flows one way only {}: a junction, no short; a leak beside it that "
                    "conducts less is not seen",
                    one_way.text()));
  }
  Names filling;
  for (const auto& [a, b] : compared.filling_pairs) {
    filling.add(fmt::format("{} and {}", board[a].name, board[b].name));
  }
  if (filling.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("a large capacitor, by way of some kilohms, fills for longer than a reading "
                    "waits: what reads low by no more than that is not judged, between {}",
                    filling.text()));
  }
  Names backward;
  for (const PairReading& pair : compared.clamped_pairs) {
    backward.add(
        fmt::format("{} and {} ({})", board[pair.a].name, board[pair.b].name, ohm_text(pair.ohm)));
  }
  if (backward.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("the clamps of chips pass a little backwards, and no leak is told from that "
                    "between {}",
                    backward.text()));
  }
  Names clamped;
  for (const NetId net : compared.clamps.at_fault()) {
    clamped.add(board[net].name);
  }
  if (clamped.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("parts that read too low on and around net{} {}, until the short or leak is "
                    "cleared: the clamps of chips conduct there",
                    plural(clamped.count()), clamped.text()));
  }
  Names broken;
  for (const NetId net : compared.broken_nets) {
    const std::uint32_t cluster = compared.parts.cluster[index(net)];
    if (std::count(compared.parts.cluster.begin(), compared.parts.cluster.end(), cluster) > 1) {
      broken.add(board[net].name);
    }
  }
  if (board.assembled() && broken.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("parts that read too high on and around net{} {}, until the break is mended",
                    broken.count() == 1 ? "" : "s", broken.text()));
  }
  const auto chips = static_cast<std::size_t>(
      std::count_if(board.parts().begin(), board.parts().end(), [](const Part& part) {
        return part.kind == PartKind::ic && part.chip != ChipState::pulled;
      }));
  if (board.assembled() && chips > 0) {
    findings.cannot_see.push_back(fmt::format(
        "what is inside the {} chip{} is not known: a path through one is not told from a leak",
        chips, plural(chips)));
  }
  std::map<std::uint32_t, NetId> first_of_tie;
  Names tied;
  for (std::size_t i = 0; i < compared.by_net.size(); ++i) {
    if (compared.by_net[i].empty()) {
      continue;
    }
    const NetId net{static_cast<std::uint32_t>(i)};
    const auto [first, fresh] = first_of_tie.emplace(compared.parts.tie[i], net);
    if (!fresh) {
      tied.add(fmt::format("{} and {}", board[first->second].name, board[net].name));
    }
  }
  if (tied.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("nets that a link, a fuse, a coil or a switch at rest joins: no short between "
                    "them can be seen: {}",
                    tied.text()));
  }
}

/// A break inside a shorted net: the short may be the way round it.
void add_hidden_breaks(const Comparison& compared, Findings& findings) {
  std::set<NetId> hidden;
  for (const Finding& finding : findings.findings) {
    if (finding.kind != FindingKind::short_circuit) {
      continue;
    }
    for (const std::vector<PointId>& piece : finding.pieces) {
      std::map<NetId, std::size_t> points;
      for (const PointId point : piece) {
        if (compared.board[point].net != kNoNet && ++points[compared.board[point].net] == 2) {
          hidden.insert(compared.board[point].net);
        }
      }
    }
  }
  for (const NetId net : hidden) {
    findings.cannot_see.push_back(
        fmt::format("net {}: a break cannot be excluded until the short is cleared; sweep again",
                    compared.board[net].name));
  }
}

/// Copper that runs two ways round: one break leaves the other.
void add_loops(const Comparison& compared, Findings& findings) {
  const Board& board = compared.board;
  std::vector<std::size_t> segments(board.nets().size());
  std::vector<std::set<PlaceId>> places(board.nets().size());
  for (const Segment& segment : board.segments()) {
    if (segment.net == kNoNet) {
      continue;
    }
    ++segments[index(segment.net)];
    places[index(segment.net)].insert({segment.a, segment.b});
  }
  Names looped;
  for (std::size_t net = 0; net < segments.size(); ++net) {
    if (segments[net] > 0 && segments[net] >= places[net].size()) {
      looped.add(board.nets()[net].name);
    }
  }
  if (looped.count() > 0) {
    findings.cannot_see.push_back(
        fmt::format("a break that a second way round bridges, in net{} {}",
                    looped.count() == 1 ? "" : "s", looped.text()));
  }
}

/// What no tester of this kind sees.
void add_physics(Findings& findings) {
  findings.cannot_see.push_back(
      "a thinned track or hole: a sound via has about 1 mohm, and what carries a milliampere may "
      "not carry its load");
  const bool shorted = std::any_of(
      findings.findings.begin(), findings.findings.end(),
      [](const Finding& finding) { return finding.kind == FindingKind::short_circuit; });
  if (shorted) {
    findings.cannot_see.push_back(
        "where along its copper a short lies: a millimetre of track gives 0.4 uV here, and some "
        "20 uV (10 mA) are needed");
  }
}

void add_limits(const Comparison& compared, Findings& findings) {
  const Limits& limits = compared.limits;
  findings.cannot_see.push_back(
      fmt::format("two nets are called good where no path of {} or less was seen at {:.3g} V; a "
                  "path that needs more volts is not seen",
                  ohm_text(limits.isolation_ohm), limits.isolation_volt));
  const std::string& name = compared.board.description().limit_class;
  if (!name.empty()) {
    findings.cannot_see.push_back(
        compared.board.assembled()
            ? fmt::format("{} sets the continuity limit only, since the board is assembled", name)
            : fmt::format("the isolation limit of {} is meant for 40 V and more", name));
  }
  const bool quick =
      std::any_of(compared.measured.readings.begin(), compared.measured.readings.end(),
                  [](const Reading& reading) { return reading.wanted.purpose == Purpose::follow; });
  if (quick) {
    findings.cannot_see.push_back(
        compared.board.assembled()
            ? "a quick sweep sees no weak joint, and no break that parts bridge"
            : "a quick sweep sees no weak joint");
  }
}

}  // namespace

void add_notes(const Comparison& compared, Findings& findings) {
  add_no_contact(compared, findings);
  add_never_together(compared, findings);
  add_untested_in_nets(compared, findings);
  add_untested_between_nets(compared, findings);
  add_without_lead(compared, findings);
  add_not_expected(compared, findings);
  add_parts(compared, findings);
  add_hidden_breaks(compared, findings);
  add_loops(compared, findings);
  add_physics(findings);
  add_limits(compared, findings);
}

}  // namespace padwalk::graph
