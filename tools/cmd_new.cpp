// SPDX-License-Identifier: MIT
//
// `padwalk new`: the first lines of a board file.
#include <fmt/format.h>

#include <filesystem>

#include "graph/board_yaml.hpp"
#include "graph/yaml_text.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

ExitStatus begin_board(const NewOptions& options) {
  std::error_code ignored;
  if (std::filesystem::symlink_status(options.board, ignored).type() !=
      std::filesystem::file_type::not_found) {
    throw UsageError(
        fmt::format("{0} is there already; 'padwalk enter {0}' adds to it", options.board));
  }
  const std::string text = fmt::format(
      "padwalk: board/1\n"
      "name: {}\n"
      "# state: bare       while its parts are not in place\n"
      "\n"
      "# A part a line; xy, where pin 1 is in mm (seen from the top, y up), may follow later:\n"
      "#   U2: {{kind: ic, type: \"74138\", package: DIP-16, xy: [30, 22.5]}}\n"
      "parts:\n"
      "\n"
      "# A net a line: its points, or a map with the way of its copper.\n"
      "nets:\n",
      graph::yaml_text(options.name));
  graph::Diagnostics diagnostics(options.board);
  graph::read_board(text, diagnostics);  // a name that YAML cannot hold
  diagnostics.throw_if_errors();
  OutputFile(options.board).commit(text);
  fmt::print("Written: {0}\nNext: padwalk enter {0}\n", options.board);
  return ExitStatus::good;
}

}  // namespace padwalk::tools
