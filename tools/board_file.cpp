// SPDX-License-Identifier: MIT
#include "tools/board_file.hpp"

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"

namespace padwalk::tools {

LoadedBoard load_board(const std::string& path) {
  graph::Diagnostics diagnostics(path);
  graph::BoardDescription description = graph::read_board(graph::read_file(path), diagnostics);
  // A point that a wrong line would have made must not be missed once more in every net.
  diagnostics.throw_if_errors();
  graph::Board board(std::move(description), diagnostics);
  return {std::move(board), std::move(diagnostics)};
}

}  // namespace padwalk::tools
