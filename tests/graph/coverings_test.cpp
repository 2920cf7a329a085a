// SPDX-License-Identifier: MIT
#include "graph/coverings.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

namespace {

using namespace padwalk::graph;

/// Every pair is in some block, no block is above k, and no thing twice in one.
bool covers(const Blocks& blocks, std::size_t v, std::size_t k) {
  std::set<std::pair<std::uint32_t, std::uint32_t>> pairs;
  for (const Block& block : blocks) {
    if (block.size() > k || std::set(block.begin(), block.end()).size() != block.size()) {
      return false;
    }
    for (const std::uint32_t a : block) {
      for (const std::uint32_t b : block) {
        if (a >= v) {
          return false;
        }
        if (a < b) {
          pairs.emplace(a, b);
        }
      }
    }
  }
  return pairs.size() == v * (v - 1) / 2;
}

std::size_t longest(const CoveringBase& base) {
  std::size_t longest = 0;
  for (const Block& block : base.blocks) {
    longest = std::max(longest, block.size());
  }
  return longest;
}

}  // namespace

TEST_CASE("each base covers its pairs", "[graph][coverings]") {
  for (const CoveringBase& base : covering_bases()) {
    CAPTURE(base.name);
    CHECK(covers(base.blocks, base.points, longest(base)));
  }
  CHECK(covers(pairs_of_groups(7).blocks, 7, 2));
}

TEST_CASE("coverings of known size, beside the bound", "[graph][coverings]") {
  // Computed for this project; each meets the bound of Schonheim 1964, so none has fewer.
  struct Known {
    std::size_t v, k, blocks;
  };
  for (const Known& known : {Known{8, 4, 6},
                             {13, 4, 13},
                             {21, 5, 21},
                             {32, 16, 6},
                             {64, 16, 20},
                             {7, 3, 7},
                             {9, 3, 12},
                             {12, 6, 6},
                             {16, 4, 20},
                             {25, 5, 30},
                             {31, 6, 31},
                             {5, 3, 4},
                             {6, 3, 6},
                             {24, 10, 8},
                             {11, 4, 11},
                             {128, 16, 72},
                             {128, 32, 20},
                             {128, 64, 6},
                             {256, 32, 72}}) {
    CAPTURE(known.v, known.k);
    const Blocks blocks = cover_pairs(known.v, known.k);
    CHECK(covers(blocks, known.v, known.k));
    CHECK(blocks.size() == known.blocks);
    CHECK(fewest_blocks_bound(known.v, known.k) == known.blocks);
  }
}

TEST_CASE("the most things that so many hookups bring together", "[graph][coverings][slow]") {
  // Rows and columns of a table that was computed for this project; 0: not in it.
  struct Row {
    std::size_t hookups;
    std::size_t most[5];  // for k = 16, 24, 32, 64, 128
  };
  constexpr std::size_t kLeads[] = {16, 24, 32, 64, 128};
  for (const Row& row : {Row{3, {24, 36, 48, 96, 192}},
                         {4, {26, 40, 53, 106, 213}},
                         {5, {28, 43, 57, 115, 230}},
                         {6, {32, 48, 64, 128, 256}},
                         {7, {36, 56, 74, 148, 298}},
                         {8, {38, 0, 76, 153, 306}},
                         {9, {40, 60, 80, 160, 320}},
                         {10, {42, 63, 84, 168, 337}},
                         {11, {44, 0, 88, 177, 355}},
                         {12, {46, 72, 94, 190, 382}},
                         {13, {52, 78, 104, 208, 416}},
                         {20, {64, 96, 128, 256, 512}},
                         {21, {64, 100, 132, 268, 536}},
                         {30, {76, 116, 156, 316, 636}},
                         {31, {81, 124, 162, 329, 658}},
                         {56, {106, 162, 218, 442, 890}},
                         {57, {114, 171, 228, 456, 912}},
                         {72, {128, 192, 256, 512, 1024}}}) {
    for (std::size_t i = 0; i < 5; ++i) {
      if (row.most[i] > 0) {
        CAPTURE(row.hookups, kLeads[i], row.most[i]);
        const Blocks blocks = cover_pairs(row.most[i], kLeads[i]);
        CHECK(blocks.size() <= row.hookups);
        CHECK(covers(blocks, row.most[i], kLeads[i]));
      }
    }
  }
}

TEST_CASE("all pairs of any number of things are covered by sets of any size",
          "[graph][coverings]") {
  for (std::size_t k = 2; k <= 20; ++k) {
    for (std::size_t v = 1; v <= 5 * k; v += 1 + v / 8) {
      CAPTURE(v, k);
      const Blocks blocks = cover_pairs(v, k);
      REQUIRE(covers(blocks, v, k));
      if (v > k) {
        REQUIRE(blocks.size() >= fewest_blocks_bound(v, k));
      }
    }
  }
  CHECK(cover_pairs(0, 4).empty());
}
