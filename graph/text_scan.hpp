// SPDX-License-Identifier: MIT
//
// A look at the bytes of a YAML text before a parser spends memory on them: size, encoding, how
// deep brackets nest, comments that look like nets. Not a parser: where it cannot tell quotes from
// text it errs towards letting through, and yaml_reader's own limits hold.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

/// Errors: BadFile for too many bytes, content that is not UTF-8 text, and brackets that nest too
/// deep. A comment that looks like a net (`#RESET: [U1.3]`) is a warning. Cost: linear.
void scan_text(std::string_view text, std::size_t max_bytes, int max_nesting,
               Diagnostics& diagnostics);

/// Bytes of the UTF-8 character at the front of a text that is not empty; 0 if there is none.
std::size_t utf8_length(std::string_view text);

/// The sentence about nesting.
std::string too_deep(int max_nesting);

}  // namespace padwalk::graph
