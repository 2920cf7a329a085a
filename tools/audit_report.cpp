// SPDX-License-Identifier: MIT
#include "tools/audit_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "graph/verdict.hpp"

namespace padwalk::tools {

namespace {

const ContactPair& pair_of(const AuditReport& report, std::size_t a, std::size_t b) {
  return *std::find_if(
      report.seen.pairs.begin(), report.seen.pairs.end(),
      [&](const ContactPair& pair) { return std::minmax(a, b) == std::minmax(pair.a, pair.b); });
}

class SwitchJudge {
 public:
  SwitchJudge(const ContactOutside* outside, double isolation_ohm, AuditReport& report)
      : outside_(outside), isolation_ohm_(isolation_ohm), report_(report) {}

  void judge() {
    for (const ContactPair& pair : report_.seen.pairs) {
      for (const ContactSeen& seen : pair.at) {
        if (seen.reads == 0 && !seen.driven) {
          return;  // stopped before every position was read once
        }
      }
    }
    make_table();
    report_.is = graph::describe_switch(report_.measured);
    compare();
    for (const ContactPair& pair : report_.seen.pairs) {
      judge_contact(pair);
    }
    judge_leaks();
    judge_travel();
    judge_bounce();
  }

 private:
  std::size_t positions() const { return report_.measured.positions.size(); }
  const std::string& name(std::size_t terminal) const {
    return report_.measured.terminals[terminal];
  }

  /// What conducted at least once.
  void make_table() {
    for (std::size_t position = 0; position < positions(); ++position) {
      graph::TerminalPartition joined(report_.measured.terminals.size(), {});
      for (const ContactPair& pair : report_.seen.pairs) {
        if (pair.at[position].closed > 0) {
          joined.join(pair.a, pair.b);
        }
      }
      report_.measured.positions[position].joined = joined.groups();
    }
    report_.measured.rest_known = report_.expected.has_value() || report_.seen.stays == false;
  }

  bool is_hidden(const ContactPair& pair) const {
    return outside_ != nullptr && outside_->least_ohm(pair.a, pair.b) < ContactOutside::kHidesOhm;
  }

  /// What the board itself joins is joined in both tables: nothing is said of it.
  void compare() {
    graph::SwitchTable is = report_.measured;
    graph::SwitchTable should = report_.expected.value_or(is);
    const std::vector<graph::TerminalPartition> alone = graph::partitions_of(should);
    for (const ContactPair& pair : report_.seen.pairs) {
      const bool driven = std::any_of(pair.at.begin(), pair.at.end(),
                                      [](const ContactSeen& seen) { return seen.driven; });
      if (driven) {
        report_.not_judged.push_back({pair.a, pair.b, "something on the board drives them"});
      }
      if (!is_hidden(pair)) {
        continue;
      }
      const bool always = std::all_of(alone.begin(), alone.end(), [&](const auto& one) {
        return one.together(pair.a, pair.b);
      });
      if (!always) {
        report_.not_judged.push_back(
            {pair.a, pair.b,
             fmt::format("{} may join them with {} or less, so open is not told from closed",
                         outside_->names(pair.a, pair.b),
                         graph::ohm_text(outside_->least_ohm(pair.a, pair.b)))});
      }
      for (graph::SwitchTable* table : {&is, &should}) {
        for (graph::SwitchTable::Position& position : table->positions) {
          graph::TerminalPartition joined(is.terminals.size(), position.joined);
          joined.join(pair.a, pair.b);
          position.joined = joined.groups();
        }
      }
    }
    if (!report_.expected) {
      return;
    }
    for (const graph::SwitchFault& fault : graph::compare_switch(should, is)) {
      const bool pairless = fault.kind == graph::SwitchFaultKind::stuck ||
                            fault.kind == graph::SwitchFaultKind::exchanged_positions;
      std::vector<std::size_t> terminals;
      if (!pairless) {
        terminals.push_back(fault.a);
        if (fault.kind != graph::SwitchFaultKind::dead_pole) {
          terminals.push_back(fault.b);
        }
      }
      report_.findings.push_back({switch_fault_name(fault.kind),
                                  switch_fault_text(*report_.expected, fault), std::move(terminals),
                                  fault.positions});
    }
  }

  void judge_contact(const ContactPair& pair) {
    for (std::size_t position = 0; position < positions(); ++position) {
      const ContactSeen& seen = pair.at[position];
      const std::string& where = report_.measured.positions[position].name;
      if (seen.closed == 0 || is_hidden(pair) || !is_direct(report_, pair, position)) {
        continue;
      }
      if (seen.closed < seen.reads) {
        report_.findings.push_back(
            {"intermittent",
             fmt::format("{} and {} close {} of {} times in '{}'", name(pair.a), name(pair.b),
                         seen.closed, seen.reads, where),
             {pair.a, pair.b},
             {position}});
      }
      if (seen.worst_ohm - seen.uncertainty_ohm > kWornOhm) {
        report_.findings.push_back(
            {"contact",
             fmt::format("{} and {} close badly in '{}': {} (± {:.2g} ohm), {} is the most",
                         name(pair.a), name(pair.b), where, graph::ohm_text(seen.worst_ohm),
                         seen.uncertainty_ohm, graph::ohm_text(kWornOhm)),
             {pair.a, pair.b},
             {position}});
      }
    }
  }

  /// Between two groups of one position the pair of least ohms is the leak, the others go through.
  void judge_leaks() {
    std::map<std::pair<std::size_t, std::size_t>, std::vector<std::size_t>> leaks;
    const std::vector<graph::TerminalPartition> joined = graph::partitions_of(report_.measured);
    for (std::size_t position = 0; position < positions(); ++position) {
      for (const ContactPair& pair : report_.seen.pairs) {
        const ContactSeen& seen = pair.at[position];
        if (seen.closed > 0 || seen.least_open_ohm + seen.least_open_uncertainty_ohm >=
                                   std::min(isolation_ohm_, seen.outside_ohm)) {
          continue;
        }
        const bool least = std::all_of(
            report_.seen.pairs.begin(), report_.seen.pairs.end(), [&](const ContactPair& other) {
              const auto same = [&](std::size_t a, std::size_t b) {
                return joined[position].together(a, other.a) &&
                       joined[position].together(b, other.b);
              };
              return !(same(pair.a, pair.b) || same(pair.b, pair.a)) ||
                     other.at[position].least_open_ohm >= seen.least_open_ohm;
            });
        if (least) {
          leaks[{pair.a, pair.b}].push_back(position);
        }
      }
    }
    for (const auto& [terminals, where] : leaks) {
      const auto& [a, b] = terminals;
      double ohm = std::numeric_limits<double>::infinity();
      std::string names;
      for (const std::size_t position : where) {
        ohm = std::min(ohm, pair_of(report_, a, b).at[position].least_open_ohm);
        names += fmt::format("{}'{}'", names.empty() ? "" : ", ",
                             report_.measured.positions[position].name);
      }
      report_.findings.push_back(
          {"leak",
           fmt::format("{} and {} leak in {}: {}", name(a), name(b), names, graph::ohm_text(ohm)),
           {a, b},
           where});
    }
  }

  void judge_travel() {
    if (report_.expected && report_.seen.stays == report_.expected_momentary) {
      report_.findings.push_back({"momentary",
                                  report_.expected_momentary
                                      ? "it stays when let go; the file says that it springs back"
                                      : "it springs back; the file says that it stays",
                                  {},
                                  {}});
    }
  }

  void judge_bounce() {
    for (const ContactBounce& contact : report_.seen.moves.contacts) {
      const double seconds = std::max(contact.closing_s, contact.opening_s);
      if (seconds > kMostBounceS) {
        report_.findings.push_back(
            {"bounce",
             fmt::format("{} and {} bounce for {:.3g} ms when they {}; {:.0f} ms is the most",
                         name(contact.a), name(contact.b), 1e3 * seconds,
                         contact.closing_s >= contact.opening_s ? "close" : "open",
                         1e3 * kMostBounceS),
             {contact.a, contact.b},
             {}});
      }
    }
    // What was heard tells the two change-overs apart.
    const SwitchMoves& moves = report_.seen.moves;
    if (moves.makes_first > 0 && moves.breaks_first == 0) {
      std::replace(report_.is->form.begin(), report_.is->form.end(), 'C', 'D');
    }
    if (moves.makes_first + moves.breaks_first > 0) {
      std::erase_if(report_.is->ambiguous, [](const std::string& sentence) {
        return sentence.rfind("Form C or D", 0) == 0 || sentence.rfind("Shorting or not", 0) == 0;
      });
    }
  }

  const ContactOutside* outside_;
  double isolation_ohm_;
  AuditReport& report_;
};

}  // namespace

bool is_direct(const AuditReport& report, const ContactPair& pair, std::size_t position) {
  const double ohm = pair.at[position].worst_ohm;
  for (std::size_t c = 0; c < report.measured.terminals.size(); ++c) {
    if (c == pair.a || c == pair.b) {
      continue;
    }
    const ContactSeen& left = pair_of(report, pair.a, c).at[position];
    const ContactSeen& right = pair_of(report, c, pair.b).at[position];
    if (left.closed > 0 && right.closed > 0 && std::max(left.worst_ohm, right.worst_ohm) < ohm) {
      return false;
    }
  }
  return true;
}

ExitStatus AuditReport::status() const {
  return run.refused                                  ? ExitStatus::refused
         : !run.failure.empty()                       ? ExitStatus::failed
         : !findings.empty()                          ? ExitStatus::findings
         : seen.stopped || !is || !not_judged.empty() ? ExitStatus::incomplete
                                                      : ExitStatus::good;
}

void judge_switch(const ContactOutside* outside, double isolation_ohm, AuditReport& report) {
  SwitchJudge(outside, isolation_ohm, report).judge();
}

}  // namespace padwalk::tools
