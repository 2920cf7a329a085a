// SPDX-License-Identifier: MIT
//
// A name or a text as YAML takes it inside [] and {}: plain where that is safe, else in double
// quotes.
#pragma once

#include <string>
#include <string_view>

namespace padwalk::graph {

/// Quotes what YAML, or a reader of older YAML, would take for something else: "yes", "1e3", "~",
/// "a: b". A byte that is not UTF-8 is taken for Latin-1.
std::string yaml_text(std::string_view text);

/// The same for the name of a pin, where a whole number may stay plain.
std::string yaml_pin(std::string_view name);

}  // namespace padwalk::graph
