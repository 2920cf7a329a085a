// SPDX-License-Identifier: MIT
//
// The entry of one part in a board/1 file: its fields, pins and switch positions. The rest of the
// file is board_yaml_read.cpp's.
#pragma once

#include <string>

#include "graph/board_description.hpp"
#include "graph/yaml_reader.hpp"

namespace padwalk::graph {

/// Errors: every mistake goes to `diagnostics`; what could be read is returned, without name and
/// mark.
PartDescription read_part(const std::string& name, const YamlNode& node, Diagnostics& diagnostics);

}  // namespace padwalk::graph
