// SPDX-License-Identifier: MIT
#include "tests/study/score.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

#include "tests/study/defects_text.hpp"

namespace padwalk::study {

namespace {

using namespace padwalk::graph;

/// Two conductors with at most so many ohms between them may be called one.
constexpr double kMayBeShortOhm = 12.5;

bool inside_a_net(const Planted& planted) {
  return planted.kind == DefectKind::open || planted.kind == DefectKind::split ||
         planted.kind == DefectKind::high_resistance || planted.kind == DefectKind::no_contact ||
         planted.kind == DefectKind::intermittent;
}

bool inside_a_net(FindingKind kind) {
  return kind == FindingKind::open || kind == FindingKind::high_resistance ||
         kind == FindingKind::intermittent;
}

class Scorer {
 public:
  Scorer(const Board& board, std::span<const Planted> planted, const Oracle& all,
         std::span<const Oracle> alone, const tools::SweepReport& report)
      : board_(board), planted_(planted), all_(all), alone_(alone), report_(report) {}

  BoardScore score() {
    count();
    if (report_.refused || !report_.failure.empty()) {
      score_.failed = true;
      trouble(report_.refused ? "the sweep was refused" : "the sweep failed: " + report_.failure);
      return std::move(score_);
    }
    for (std::size_t i = 0; i < planted_.size(); ++i) {
      judge(i);
    }
    for (const Finding& finding : findings()) {
      if (!explained(finding)) {
        ++score_.false_findings;
        score_.false_kinds.push_back(finding.kind);
        trouble(fmt::format("{} ({}) is explained by nothing planted", finding.id,
                            finding_kind_name(finding.kind)));
      }
      check_likelihoods(finding);
    }
    return std::move(score_);
  }

 private:
  const std::vector<Finding>& findings() const { return report_.result.findings; }
  void trouble(std::string text) { score_.troubles.push_back(std::move(text)); }

  void count() {
    score_.attached = report_.hookup.leads.size();
    const std::size_t groups = report_.groups;
    score_.fewest_readings =
        score_.attached - groups +
        (groups > 1 ? static_cast<std::size_t>(std::bit_width(groups - 1)) : 0);
    score_.readings = report_.counts.scan + report_.counts.confirm;
    score_.no_contact = report_.result.no_contact.size();
    for (const PointNote& note : report_.result.untested) {
      const auto& attached = report_.measured.attached;
      score_.not_judged +=
          std::find(attached.begin(), attached.end(), note.point) != attached.end();
    }
  }

  void judge(std::size_t i) {
    const Planted& planted = planted_[i];
    Judged judged;
    judged.kind = planted.kind;
    if (inside_a_net(planted)) {
      judge_in_net(planted, alone_[i], judged);
    } else {
      judge_between(planted, alone_[i], judged);
    }
    for (const Finding& finding : findings()) {
      if (!concerns(finding, planted) ||
          (judged.seen == Seen::no && concerns_another(finding, i))) {
        continue;
      }
      const bool right = satisfies(finding, planted, judged.wanted);
      if (right || !judged.reported) {
        judged.reported = finding.kind;
      }
      judged.found = judged.found || right;
    }
    if (judged.seen == Seen::yes && !judged.found) {
      note_missed(planted, judged);
    }
    if (judged.seen == Seen::yes && judged.found && judged.wanted == FindingKind::open &&
        is_single_break(i)) {
      check_suspects(planted);
    }
    score_.planted.push_back(judged);
  }

  void note_missed(const Planted& planted, const Judged& judged) {
    const bool open = judged.wanted == FindingKind::open;
    const bool shorted =
        judged.wanted == FindingKind::short_circuit && planted.kind == DefectKind::short_circuit;
    score_.missed_opens += open;
    score_.missed_shorts += shorted;
    (open || shorted ? score_.troubles : score_.others)
        .push_back(fmt::format("{}: expected as {}, {}", planted_text(board_, planted),
                               finding_kind_name(judged.wanted),
                               judged.reported
                                   ? fmt::format("found as {}", finding_kind_name(*judged.reported))
                                   : "not found"));
  }

  void judge_in_net(const Planted& planted, const Oracle& alone, Judged& judged) const {
    if (planted.net == kNoNet || (planted.kind == DefectKind::no_contact && !planted.stays)) {
      return;
    }
    const NetState here = all_.net(planted.net);
    const NetState by_itself = alone.net(planted.net);
    if (planted.kind == DefectKind::intermittent) {
      judged.wanted = FindingKind::intermittent;
      judged.seen = Seen::maybe;  // a sweep may look at the wrong time
    } else if (here.open == Seen::yes) {
      judged.seen = by_itself.open == Seen::no && by_itself.high == Seen::no ? Seen::no
                    : by_itself.open == Seen::yes                            ? Seen::yes
                                                                             : Seen::maybe;
    } else if (here.high == Seen::yes) {
      judged.wanted = FindingKind::high_resistance;
      judged.seen = std::max(by_itself.high, by_itself.open);
    } else {
      judged.seen = std::min(Seen::maybe, std::max(here.open, here.high));
    }
  }

  /// The pairs of conductors that a bridge or a part is between.
  std::vector<std::pair<Conductor, Conductor>> pairs_of(const Planted& planted) const {
    std::vector<std::pair<Conductor, Conductor>> pairs;
    const auto add = [&](PlaceId a, PlaceId b) {
      const Conductor one = conductor_at(board_, a);
      const Conductor other = conductor_at(board_, b);
      if (!(one == other)) {
        pairs.emplace_back(one, other);
      }
    };
    if (planted.part == kNoPart) {
      if (planted.a != kNoPlace) {
        add(planted.a, planted.b);
      }
      return pairs;
    }
    const Part& part = board_[planted.part];
    const bool isolated = part.type.find("isolated") != std::string::npos;
    for (std::size_t pin = 1; pin < part.pins.size(); pin += isolated ? 2 : 1) {
      add(board_[part.pins[isolated ? pin - 1 : 0]].held, board_[part.pins[pin]].held);
    }
    return pairs;
  }

  void judge_between(const Planted& planted, const Oracle& alone, Judged& judged) const {
    judged.wanted = planted.kind == DefectKind::part ? FindingKind::part : FindingKind::leakage;
    for (const auto& [a, b] : pairs_of(planted)) {
      const PairState here = all_.pair(a, b);
      const PairState by_itself = alone.pair(a, b);
      const Seen effect = std::max({by_itself.short_circuit, by_itself.leakage, by_itself.off});
      Seen seen = Seen::no;
      if (here.short_circuit == Seen::yes) {
        judged.wanted = FindingKind::short_circuit;
        seen = by_itself.short_circuit == Seen::yes ? Seen::yes : std::min(effect, Seen::maybe);
      } else if (planted.kind == DefectKind::part ? here.off == Seen::yes
                                                  : here.leakage == Seen::yes) {
        seen = effect;
      } else {
        seen = std::min(Seen::maybe, std::max({here.short_circuit, here.leakage, here.off}));
      }
      judged.seen = std::max(judged.seen, seen);
    }
  }

  bool holds(const Finding& finding, const Conductor& conductor) const {
    const auto& nets = finding.nets;
    const auto& points = finding.in_no_net;
    return conductor.net != kNoNet
               ? std::find(nets.begin(), nets.end(), conductor.net) != nets.end()
               : std::find(points.begin(), points.end(), conductor.point) != points.end();
  }

  /// The same by the name of another net of the short.
  bool holds_by_short(const Finding& finding, const Conductor& conductor) const {
    return holds(finding, conductor) ||
           std::any_of(finding.nets.begin(), finding.nets.end(), [&](NetId net) {
             return all_.pair({net, kNoPoint}, conductor).actual.low <= kMayBeShortOhm;
           });
  }

  bool concerns(const Finding& finding, const Planted& planted) const {
    if (inside_a_net(planted)) {
      return inside_a_net(finding.kind) && planted.net != kNoNet && holds(finding, {planted.net});
    }
    const auto pairs = pairs_of(planted);
    return !inside_a_net(finding.kind) &&
           std::any_of(pairs.begin(), pairs.end(), [&](const auto& pair) {
             return finding.kind == FindingKind::leakage
                        ? holds_by_short(finding, pair.first) &&
                              holds_by_short(finding, pair.second)
                        : holds(finding, pair.first) && holds(finding, pair.second);
           });
  }

  bool concerns_another(const Finding& finding, std::size_t i) const {
    for (std::size_t j = 0; j < planted_.size(); ++j) {
      if (j != i && concerns(finding, planted_[j])) {
        return true;
      }
    }
    return false;
  }

  /// A part that reads low and a leak beside it are the same to a tester.
  static bool satisfies(const Finding& finding, const Planted& planted, FindingKind wanted) {
    const FindingKind kind = finding.kind;
    if (wanted == FindingKind::short_circuit && kind == FindingKind::part && finding.fault &&
        !finding.fault->or_leaks.empty()) {
      return true;  // "or something bridges its nets"
    }
    if (wanted == FindingKind::part || planted.kind == DefectKind::part) {
      return kind == FindingKind::part || kind == FindingKind::leakage ||
             kind == FindingKind::short_circuit;
    }
    return kind == wanted || (wanted == FindingKind::leakage && kind == FindingKind::part);
  }

  bool planted_in(NetId net, DefectKind kind) const {
    return std::any_of(planted_.begin(), planted_.end(), [&](const Planted& planted) {
      return planted.kind == kind && planted.net == net;
    });
  }

  bool explained(const Finding& finding) const {
    if (planted_.empty()) {
      return false;
    }
    if (inside_a_net(finding.kind)) {
      const NetState state = all_.net(finding.nets.front());
      const NetId net = finding.nets.front();
      // Beside a break, a weak joint in one of its pieces.
      return planted_in(net, DefectKind::intermittent) ||
             (finding.kind == FindingKind::high_resistance &&
              planted_in(net, DefectKind::high_resistance)) ||
             (finding.kind == FindingKind::high_resistance && state.parts_bridge &&
              state.open != Seen::no) ||
             (finding.kind == FindingKind::open && state.open != Seen::no) ||
             (finding.kind == FindingKind::high_resistance && state.high != Seen::no);
    }
    const auto& silent = finding.or_no_contact;
    if (std::any_of(planted_.begin(), planted_.end(), [&](const Planted& planted) {
          return planted.kind == DefectKind::no_contact && planted.stays &&
                 std::find(silent.begin(), silent.end(), planted.point) != silent.end();
        })) {
      return true;
    }
    std::vector<Conductor> conductors;
    for (const NetId net : finding.nets) {
      conductors.push_back({net, kNoPoint});
    }
    for (const PointId point : finding.in_no_net) {
      conductors.push_back({kNoNet, point});
    }
    return finding.kind == FindingKind::short_circuit ? explained_short(conductors)
                                                      : explained_between(finding, conductors);
  }

  bool has_pin(PartId part, NetId net) const {
    return part != kNoPart && std::any_of(board_[part].pins.begin(), board_[part].pins.end(),
                                          [&](PointId pin) { return board_[pin].net == net; });
  }

  /// Low ohms join all of them, and not by what the board file has there.
  bool explained_short(const std::vector<Conductor>& conductors) const {
    std::vector<std::size_t> group(conductors.size());
    bool unexpected = false;
    for (std::size_t i = 0; i < group.size(); ++i) {
      group[i] = i;
    }
    for (std::size_t i = 0; i < group.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const PairState pair = all_.pair(conductors[i], conductors[j]);
        unexpected = unexpected || pair.short_circuit != Seen::no;
        if (pair.actual.low <= kMayBeShortOhm && group[i] != group[j]) {
          std::replace(group.begin(), group.end(), group[i], group[j]);
        }
      }
    }
    return unexpected && std::all_of(group.begin(), group.end(),
                                     [&](std::size_t one) { return one == group.front(); });
  }

  bool explained_between(const Finding& finding, const std::vector<Conductor>& conductors) const {
    // A break that no two leads of its net are on either side of is one with the part beside it.
    if (finding.kind == FindingKind::part && finding.fault &&
        std::any_of(planted_.begin(), planted_.end(), [&](const Planted& planted) {
          return inside_a_net(planted) && planted.net != kNoNet &&
                 all_.net(planted.net).open != Seen::yes &&
                 has_pin(finding.fault->part, planted.net);
        })) {
      return true;
    }
    // Also by way of a net that no lead may touch.
    if (finding.fault && std::any_of(planted_.begin(), planted_.end(), [&](const Planted& planted) {
          const auto& parts = finding.fault->candidates;
          return planted.part != kNoPart &&
                 std::find(parts.begin(), parts.end(), planted.part) != parts.end();
        })) {
      return true;
    }
    for (std::size_t i = 0; i < conductors.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const PairState pair = all_.pair(conductors[i], conductors[j]);
        if (std::max({pair.off, pair.leakage, pair.short_circuit}) != Seen::no) {
          return true;
        }
      }
    }
    return false;
  }

  /// A cut, a split or a lead without contact that has its net to itself.
  bool is_single_break(std::size_t i) const {
    const NetId net = planted_[i].net;
    for (std::size_t j = 0; j < planted_.size(); ++j) {
      const Planted& other = planted_[j];
      if (j == i) {
        continue;
      }
      const auto pairs = pairs_of(other);
      const bool between =
          !inside_a_net(other) && std::any_of(pairs.begin(), pairs.end(), [&](const auto& pair) {
            return pair.first.net == net || pair.second.net == net;
          });
      if (between || (inside_a_net(other) && other.net == net)) {
        return false;
      }
    }
    return planted_[i].kind != DefectKind::high_resistance;
  }

  void check_suspects(const Planted& planted) {
    ++score_.single_breaks;
    for (const Finding& finding : findings()) {
      if (finding.kind != FindingKind::open || !concerns(finding, planted)) {
        continue;
      }
      for (const OpenSuspect& suspect : finding.open.suspects) {
        const bool right =
            planted.kind == DefectKind::no_contact ? suspect.contact == planted.point
            : planted.kind == DefectKind::open
                ? suspect.segment == planted.segment
                : suspect.segment && board_[*suspect.segment].kind == SegmentKind::unknown_way;
        if (right) {
          return;
        }
      }
    }
    ++score_.without_true_segment;
    trouble(planted_text(board_, planted) +
            ": found, and the true place is not among the suspects");
  }

  void check_likelihoods(const Finding& finding) {
    double sum = 0;
    for (const OpenSuspect& suspect : finding.open.suspects) {
      sum += suspect.likelihood;
    }
    for (const GapSuspect& gap : finding.gaps) {
      sum += gap.likelihood;
    }
    if ((!finding.open.suspects.empty() || !finding.gaps.empty()) && std::abs(sum - 1) > 1e-6) {
      ++score_.bad_likelihoods;
      trouble(fmt::format("{}: likelihoods sum to {}", finding.id, sum));
    }
  }

  const Board& board_;
  std::span<const Planted> planted_;
  const Oracle& all_;
  std::span<const Oracle> alone_;
  const tools::SweepReport& report_;
  BoardScore score_;
};

}  // namespace

BoardScore score(const Board& board, std::span<const Planted> planted, const Oracle& all,
                 std::span<const Oracle> alone, const tools::SweepReport& report) {
  return Scorer(board, planted, all, alone, report).score();
}

}  // namespace padwalk::study
