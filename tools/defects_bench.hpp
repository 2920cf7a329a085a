// SPDX-License-Identifier: MIT
//
// The `bench` key of a defects/1 file: how far the simulated tester is from ideal. Used by
// defects.cpp alone.
#pragma once

#include "graph/yaml_reader.hpp"
#include "tools/defects.hpp"

namespace padwalk::tools {

/// Reads the value of `bench`: the word `reference`, or a map, perhaps with `like: reference`.
void read_bench(const graph::YamlNode& node, Defects& defects, graph::Diagnostics& diagnostics);

}  // namespace padwalk::tools
