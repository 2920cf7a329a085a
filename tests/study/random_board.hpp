// SPDX-License-Identifier: MIT
//
// A random board as a person might describe one: chips, sockets, connectors, pads and small parts
// on a grid, nets with routes over two sides, nets of which only the members are known. About half
// of them assembled. What is wrong with a board is random_defects.hpp's matter.
#pragma once

#include "graph/board_description.hpp"
#include "tests/study/draws.hpp"

namespace padwalk::study {

/// 10 to 150 points, some of them without a lead.
graph::BoardDescription random_board(Draws& draws);

}  // namespace padwalk::study
