// SPDX-License-Identifier: MIT
//
// Defects of parts in a defects/1 file: `part` and `switch`. Used by defects.cpp alone.
#pragma once

#include "graph/yaml_reader.hpp"
#include "tools/defects.hpp"

namespace padwalk::tools {

/// `{part: R7, value: 47k}`, or `value: open`. Errors: a complaint, and nothing is added.
void read_part(const graph::YamlNode& node, const graph::Board& board, Defects& defects,
               graph::Diagnostics& diagnostics);

/// `{switch: S1, stuck: out}`, `{switch: S1, contact: [2, 3], value: 40 ohm}`, or both in one.
/// Errors: a complaint, and nothing is added.
void read_switch(const graph::YamlNode& node, const graph::Board& board, Defects& defects,
                 graph::Diagnostics& diagnostics);

}  // namespace padwalk::tools
