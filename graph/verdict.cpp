// SPDX-License-Identifier: MIT
#include "graph/verdict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string_view>

#include "graph/copper_ohms.hpp"

namespace padwalk::graph {

namespace {

struct LimitClass {
  std::string_view name;
  double continuity_ohm;
  double isolation_ohm;
};

// Source: IPC-9252A levels by secondary pages; MIL-PRF-55110G and MIL-PRF-50884F (production) as
// published. Their isolation limits assume 40 V and more.
constexpr LimitClass kClasses[] = {
    {"IPC-9252A level A", 100, 0.5e6}, {"IPC-9252A level B", 50, 2e6},
    {"IPC-9252A level C", 10, 10e6},   {"MIL-PRF-55110G", 20, 2e6},
    {"MIL-PRF-50884F", 10, 10e6},
};

constexpr double kBareIsolationOhm = 2e6;
constexpr double kBareVolt = 5;

}  // namespace

std::string ohm_text(double ohm) {
  if (!std::isfinite(ohm)) {
    return "nothing flows";
  }
  return ohm < 1e3   ? fmt::format("{:.3g} ohm", ohm)
         : ohm < 1e6 ? fmt::format("{:.3g} kohm", ohm / 1e3)
                     : fmt::format("{:.3g} Mohm", ohm / 1e6);
}

Limits limits_for(const Board& board) {
  Limits limits;
  if (!board.assembled()) {
    limits.isolation_ohm = kBareIsolationOhm;
    limits.isolation_volt = kBareVolt;
  }
  const BoardDescription& file = board.description();
  if (file.isolation_ohm) {
    limits.isolation_ohm = *file.isolation_ohm;
  }
  for (const LimitClass& one : kClasses) {
    if (one.name == file.limit_class) {
      limits.continuity_ohm = one.continuity_ohm;
      if (!board.assembled()) {
        limits.isolation_ohm = one.isolation_ohm;
      }
    }
  }
  return limits;
}

double good_up_to_ohm(NetRole role, double expected_ohm) {
  return role == NetRole::signal ? expected_ohm + 1 : std::max(expected_ohm + 0.2, 0.5);
}

OhmLimit good_limit(const Board& board, const Limits& limits) {
  const auto copper = std::make_shared<CopperOhms>(board);
  return [&board, limits, copper](PointId a, PointId b) {
    if (board[a].net != board[b].net || board[a].net == kNoNet) {
      return limits.short_up_to_ohm;
    }
    return limits.continuity_ohm.value_or(
        good_up_to_ohm(board[board[a].net].role, copper->between(a, b)));
  };
}

std::string_view finding_kind_name(FindingKind kind) {
  switch (kind) {
    case FindingKind::open:
      return "open";
    case FindingKind::short_circuit:
      return "short";
    case FindingKind::high_resistance:
      return "high resistance";
    case FindingKind::leakage:
      return "leakage";
    case FindingKind::intermittent:
      return "intermittent";
    case FindingKind::part:
      return "part";
  }
  return "";
}

Verdict judge_same_net(const Limits& limits, NetRole role, double expected_ohm, double ohm) {
  if (ohm <= limits.continuity_ohm.value_or(good_up_to_ohm(role, expected_ohm))) {
    return Verdict::good;
  }
  return ohm <= limits.open_above_ohm ? Verdict::high_resistance : Verdict::open;
}

Verdict judge_two_nets(const Limits& limits, double ohm) {
  if (ohm > limits.isolation_ohm) {
    return Verdict::good;
  }
  return ohm <= limits.short_up_to_ohm ? Verdict::short_circuit : Verdict::leakage;
}

}  // namespace padwalk::graph
