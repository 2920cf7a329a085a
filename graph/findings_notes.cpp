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

/// Readings inside a net that are neither good nor open, or that contradict each other.
void add_untested_in_nets(const Comparison& compared, Findings& findings) {
  std::unordered_set<PointId> noted;
  for (const Reading& reading : compared.measured.readings) {
    const auto [from, to] = two_points(reading.wanted);
    if (from == kNoPoint || !compared.same_net(from, to)) {
      continue;
    }
    const NetRole role = compared.board[compared.board[from].net].role;
    const Verdict verdict = judge_same_net(compared.limits, role, 0, reading.ohm);
    const std::string& name = compared.board[from].name;
    std::string why;
    if (verdict == Verdict::high_resistance) {
      why = fmt::format("reads {} from {}: more than {}, less than an open", ohm_text(reading.ohm),
                        name,
                        ohm_text(compared.limits.continuity_ohm.value_or(good_up_to_ohm(role, 0))));
    } else if (verdict == Verdict::open && compared.one_piece(from, to)) {
      why = fmt::format("read open from {} once and closed once", name);
    }
    if (!why.empty() && noted.insert(to).second) {
      findings.untested.push_back({to, std::move(why)});
    }
  }
}

/// Two nets that conduct, are not of one piece, and have no part between them that may be why.
void add_untested_between_nets(const Comparison& compared, Findings& findings) {
  std::map<std::pair<std::string, std::string>, const Reading*> lowest;
  for (const Reading& reading : compared.measured.readings) {
    if (reading.wanted.purpose != Purpose::isolation) {
      continue;
    }
    const Verdict verdict = judge_two_nets(compared.limits, reading.ohm);
    if (verdict == Verdict::good || compared.share_a_piece(reading.wanted)) {
      continue;
    }
    std::set<NetId> sources;
    std::set<NetId> sinks;
    for (const PointId point : reading.wanted.source) {
      sources.insert(compared.board[point].net);
    }
    for (const PointId point : reading.wanted.sink) {
      sinks.insert(compared.board[point].net);
    }
    const bool by_parts = std::any_of(sources.begin(), sources.end(), [&](NetId a) {
      return std::any_of(sinks.begin(), sinks.end(),
                         [&](NetId b) { return compared.joined_by_parts(a, b); });
    });
    if (by_parts && verdict != Verdict::short_circuit) {
      continue;
    }
    const std::string& a = compared.conductor_name(reading.wanted.source.front());
    const std::string& b = compared.conductor_name(reading.wanted.sink.front());
    const Reading*& held = lowest[std::minmax(a, b)];
    if (held == nullptr || reading.ohm < held->ohm) {
      held = &reading;
    }
  }
  for (const auto& [names, reading] : lowest) {
    const PointId point = reading->wanted.source.front();
    const std::string& other = compared.conductor_name(reading->wanted.sink.front());
    const std::string where = fmt::format("{} reads {} to {}", compared.conductor_name(point),
                                          ohm_text(reading->ohm), other);
    const bool low = judge_two_nets(compared.limits, reading->ohm) == Verdict::short_circuit;
    findings.untested.push_back(
        {point, low ? where + ", and not again point by point"
                    : fmt::format("{}: more than {}, less than {}", where,
                                  ohm_text(compared.limits.short_up_to_ohm),
                                  ohm_text(compared.limits.isolation_ohm))});
  }
}

void add_no_contact(const Comparison& compared, Findings& findings) {
  for (const PointId point : compared.measured.silent_unproven) {
    if (compared.alone(point)) {
      findings.no_contact.push_back({point, "silent, and not asked to re-seat"});
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
  for (const auto& [a, b] : compared.part_pairs) {
    pairs.add(fmt::format("{} and {}", board[a].name, board[b].name));
  }
  if (pairs.count() > 0) {
    findings.cannot_see.push_back(fmt::format(
        "{} pair{} of nets {} joined by parts and judged for shorts only: {}", pairs.count(),
        plural(pairs.count()), pairs.count() == 1 ? "is" : "are", pairs.text()));
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
        fmt::format("nets that a link, a fuse or a switch at rest joins count as one conductor, so "
                    "no short between them can be seen: {}",
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
  add_untested_in_nets(compared, findings);
  add_untested_between_nets(compared, findings);
  add_without_lead(compared, findings);
  add_not_expected(compared, findings);
  add_parts(compared, findings);
  add_hidden_breaks(compared, findings);
  add_limits(compared, findings);
}

}  // namespace padwalk::graph
