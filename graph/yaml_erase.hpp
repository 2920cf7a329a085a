// SPDX-License-Identifier: MIT
//
// Values taken out of a YAML text that a person keeps by hand: the value, its comma or its dash,
// and the line if nothing else is left on it. Comments stay. As sure as yaml_ends is: who erases
// reads the result again.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "graph/yaml_reader.hpp"

namespace padwalk::graph {

/// `text` without item `item` of `list`, a node of parse_yaml(text). Errors: UnclearPlace.
std::string erase_item(std::string_view text, const YamlNode& list, std::size_t item);

/// `text` without entry `entry` of `map`. Errors: UnclearPlace.
std::string erase_entry(std::string_view text, const YamlNode& map, std::size_t entry);

}  // namespace padwalk::graph
