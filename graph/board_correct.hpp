// SPDX-License-Identifier: MIT
//
// A board/1 text that a person keeps by hand, made to say what was measured: points that are in
// another net, nets that are one, parts of another value. Every other byte stays, comments too. For
// what is only added see board_splice.hpp; what to correct is file_slips.hpp's.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "graph/board_splice.hpp"

namespace padwalk::graph {

/// A point, and the net of the text that it is in.
struct NetMember {
  std::string net;
  std::string point;
};

struct PartValue {
  std::string part;
  std::string value;  ///< as the file is to have it: "4k7"
};

/// In this order. No net is in both of the first two.
struct BoardCorrection {
  std::vector<NetMember> taken_out;
  std::vector<std::string> removed_nets;  ///< with all their points
  std::vector<NetAddition> additions;     ///< each net once
  std::vector<PartValue> values;

  bool empty() const {
    return taken_out.empty() && removed_nets.empty() && additions.empty() && values.empty();
  }
};

/// What changes, in words: "U2.7 from net CKL to net CLK; R7 has 47k".
std::string correction_text(const BoardCorrection& correction);

/// `text` with the correction, and `note`, one line, as a comment above the first net or part that
/// it speaks of (below all else where the file is written in brackets); no comment where `note` is
/// empty. `file` is its name, for complaints. A point inside a chain of a route is not taken out,
/// since nobody knows how the copper runs without it. Errors: BadFile, one line that says what to
/// change by hand, where the text is laid out in a way that this does not know, or the result, read
/// again, would not be a good board that says all that `text` says but for the correction.
/// Cost: linear in the text for each change.
std::string correct_board(std::string_view text, const BoardCorrection& correction,
                          const std::string& note, const std::string& file);

}  // namespace padwalk::graph
