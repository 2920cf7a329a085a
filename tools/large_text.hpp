// SPDX-License-Identifier: MIT
//
// Names in letters that read from two metres.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace padwalk::tools {

/// Five rows of a capital letter's height, as wide as `columns` allow: what does not fit is left
/// out at the front, since the ends of names differ. What has no letter becomes a box.
std::vector<std::string> large_text(std::string_view text, std::size_t columns);

}  // namespace padwalk::tools
