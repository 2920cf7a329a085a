// SPDX-License-Identifier: MIT
//
// What an audit read, judged: the switch's table, its contacts, what is wrong with it; and the two
// writers. They ask nothing of anybody.
#pragma once

#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "graph/switch_compare.hpp"
#include "graph/switch_table.hpp"
#include "tools/audit.hpp"
#include "tools/contact_outside.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

struct AuditFinding {
  /// A SwitchFault's name, or "contact", "leak", "intermittent", "momentary".
  std::string kind;
  std::string text;
  std::vector<std::size_t> terminals;
  std::vector<std::size_t> positions;
};

/// Two terminals that could not be judged, and why.
struct NotJudged {
  std::size_t a = 0;
  std::size_t b = 0;
  std::string why;
};

struct AuditReport {
  SweepReport run;  ///< tester, hookup, power check, failure
  std::string name;
  std::optional<graph::SwitchTable> expected;
  bool expected_momentary = false;
  SwitchReadings seen;

  // Filled in by judge_switch(); `is` only where every position was read.
  graph::SwitchTable measured;
  std::optional<graph::SwitchDescription> is;
  std::vector<AuditFinding> findings;
  std::vector<NotJudged> not_judged;

  ExitStatus status() const;
};

/// `outside` null: a loose switch. `isolation_ohm`: open pairs are good above it.
void judge_switch(const ContactOutside* outside, double isolation_ohm, AuditReport& report);

/// Whether no third terminal lies between the two while they conduct in that position.
bool is_direct(const AuditReport& report, const ContactPair& pair, std::size_t position);

/// audit/1, as boards/FORMAT.md describes it.
void write_audit_json(std::ostream& out, const graph::Board& board, const AuditReport& report);
/// For the person at the bench: findings first. Plain lines, no colour.
void write_audit_text(std::ostream& out, const graph::Board& board, const AuditReport& report);

}  // namespace padwalk::tools
