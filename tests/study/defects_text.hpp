// SPDX-License-Identifier: MIT
//
// Planted defects in words, and as a file that `padwalk sweep --simulate` takes.
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "graph/board.hpp"
#include "tests/study/random_defects.hpp"

namespace padwalk::study {

/// The words of `bench:` that set the electronics: "reference", or "{random: 7}" and the like.
std::string bench_text(bool reference, std::uint32_t random);

/// A defects/1 text that does the same as make_defects().
std::string defects_text(const graph::Board& board, std::span<const Planted> planted,
                         std::span<const tools::Defects::PartValue> values,
                         const std::string& bench);

/// One defect for people: "short of 0.4 ohm: U2.3 of A, U2.4 of B".
std::string planted_text(const graph::Board& board, const Planted& planted);

}  // namespace padwalk::study
