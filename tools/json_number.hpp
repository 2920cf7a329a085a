// SPDX-License-Identifier: MIT
//
// Numbers in what is written as JSON.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>

namespace padwalk::tools {

/// JSON has no infinity: what did not conduct is null.
inline nlohmann::ordered_json json_number(double value) {
  return std::isfinite(value) ? nlohmann::ordered_json(value) : nlohmann::ordered_json(nullptr);
}

}  // namespace padwalk::tools
