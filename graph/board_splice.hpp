// SPDX-License-Identifier: MIT
//
// Parts, points, members of nets and wires, written into the board/1 text that a person keeps by
// hand: a few characters are put in, every other byte stays. Not a writer of whole boards: that is
// board_yaml.hpp.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board_description.hpp"

namespace padwalk::graph {

/// Points that a net gets, way unknown. A net that is not there yet is made, with this role.
struct NetAddition {
  std::string name;
  NetRole role = NetRole::signal;
  std::vector<std::string> members;
};

/// What a text is to say besides.
struct BoardAdditions {
  std::vector<PartDescription> parts;
  std::vector<PointDescription> points;
  std::vector<NetAddition> nets;  ///< each net once
  std::vector<WireDescription> wires = {};
};

/// A piece that was put in. `at` counts bytes of the text before.
struct Insertion {
  std::size_t at = 0;
  std::string text;
};

struct SplicedText {
  std::string text;
  std::vector<Insertion> insertions;  ///< in order of `at`
};

/// `text` with each addition at the end of its section, list or net. `file` is its name, for
/// complaints. Errors: BadFile, one line that says what to add by hand, where a name is taken, the
/// text is laid out in a way that this does not know, or the result, read again, would not be a
/// good board that says what `text` says and the additions besides.
/// Cost: linear; the board is read three times and built once.
SplicedText splice_board(std::string_view text, const BoardAdditions& additions,
                         const std::string& file);

/// The text before, from the text after. Errors: nothing where the insertions are not in it.
std::optional<std::string> unspliced(std::string_view after, std::span<const Insertion> insertions);

/// A via on copper whose way the file does not know. Units: mm.
struct FoundVia {
  std::string name;
  std::optional<Xy> xy;
  std::vector<Side> sides = {Side::top, Side::bottom};
  std::string net;
};

/// The same for vias: each is added to `points:` and to the members of its net, which must be
/// there.
std::string splice_vias(std::string_view text, std::span<const FoundVia> vias,
                        const std::string& file);

}  // namespace padwalk::graph
