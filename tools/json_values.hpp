// SPDX-License-Identifier: MIT
//
// What several results say in JSON in the same words.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>

#include "graph/board.hpp"
#include "graph/findings.hpp"
#include "graph/suspects.hpp"

namespace padwalk::tools {

/// JSON has no infinity: what did not conduct is null.
inline nlohmann::ordered_json json_number(double value) {
  return std::isfinite(value) ? nlohmann::ordered_json(value) : nlohmann::ordered_json(nullptr);
}

/// `kind`, `segment` or `point`, `likelihood`.
nlohmann::ordered_json json_suspect(const graph::Board& board, const graph::OpenSuspect& suspect);

struct SweepReport;

/// As sweep/1 has them.
nlohmann::ordered_json json_findings(const graph::Board& board,
                                     const std::vector<graph::Finding>& all);

/// `port`, `unit`, `firmware`, `channels`, `zeroed`.
nlohmann::ordered_json json_tester(const SweepReport& report);

/// `live` and `tied_ohm` where the board was refused, `failure` where the tester failed.
void add_refusal_or_failure(const graph::Board& board, const SweepReport& report,
                            nlohmann::ordered_json& json);

}  // namespace padwalk::tools
