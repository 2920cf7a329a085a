// SPDX-License-Identifier: MIT
#include "tools/board_file.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include "graph/board_yaml.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

LoadedBoard load_board(const std::string& path) {
  graph::Diagnostics diagnostics(path);
  graph::BoardDescription description = graph::read_board(graph::read_file(path), diagnostics);
  // A point that a wrong line would have made must not be missed once more in every net.
  diagnostics.throw_if_errors();
  graph::Board board(std::move(description), diagnostics);
  return {std::move(board), std::move(diagnostics)};
}

void offer_to_file(std::ostream& out, const std::string& path, const std::string& what,
                   Lines& lines, const std::function<std::string(const std::string&)>& spliced) {
  fmt::print(out, "Put {} into {}, where every other byte stays? Enter: yes, n: no: ", what, path);
  out.flush();
  if (lines.wait().value_or("n") == "n") {
    fmt::print(out, "{} is as it was.\n", path);
    return;
  }
  try {
    const std::string text = spliced(graph::read_file(path));
    OutputFile(path).commit(text);
    fmt::print(out, "{} has {} now.\n", path, what);
  } catch (const std::exception& error) {  // nothing is lost: what to add is said
    fmt::print(out, "{}\n", error.what());
  }
}

}  // namespace padwalk::tools
