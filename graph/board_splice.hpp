// SPDX-License-Identifier: MIT
//
// Vias that a person found by sliding the tip, written into the board/1 text that they keep by
// hand: a few characters are put in, every other byte stays. Not a writer of whole boards: that is
// board_yaml.hpp.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// A via on copper whose way the file does not know. Units: mm.
struct FoundVia {
  std::string name;
  std::optional<Xy> xy;
  std::vector<Side> sides = {Side::top, Side::bottom};
  std::string net;
};

/// `text` with each via added to `points:` and to the members of its net, way unknown. `file` is
/// its name, for complaints. Errors: BadFile, one line that says what to add by hand, where a via's
/// name is taken, a net is not there, the text is laid out in a way that this does not know, or the
/// result, read again, would not be a good board that says what `text` says and the vias besides.
/// Cost: linear; the board is read three times and built once.
std::string splice_vias(std::string_view text, std::span<const FoundVia> vias,
                        const std::string& file);

}  // namespace padwalk::graph
