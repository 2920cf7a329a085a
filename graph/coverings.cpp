// SPDX-License-Identifier: MIT
#include "graph/coverings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cassert>
#include <numeric>
#include <random>
#include <set>

namespace padwalk::graph {

namespace {

/// Arithmetic of the fields of 2, 3, 4, 5, 7 and 8 elements; of 4 and 8 as polynomials over two.
class Field {
 public:
  explicit Field(std::uint32_t order) : order_(order) {}
  std::uint32_t order() const { return order_; }
  std::uint32_t add(std::uint32_t a, std::uint32_t b) const {
    return two() ? a ^ b : (a + b) % order_;
  }
  std::uint32_t multiply(std::uint32_t a, std::uint32_t b) const {
    if (!two()) {
      return a * b % order_;
    }
    const std::uint32_t modulus = order_ == 4 ? 0b111 : 0b1011;  // x^2 + x + 1, x^3 + x + 1
    std::uint32_t product = 0;
    for (; b != 0; b >>= 1) {
      product ^= (b & 1) != 0 ? a : 0;
      a <<= 1;
      a ^= a >= order_ ? modulus : 0;
    }
    return product;
  }

 private:
  bool two() const { return order_ == 4 || order_ == 8; }
  std::uint32_t order_;
};

/// Points (x, y); lines y = m x + b and x = a, by direction.
CoveringBase affine_plane(std::uint32_t order) {
  const Field field(order);
  CoveringBase plane{fmt::format("affine plane {}", order), order * order, {}};
  for (std::uint32_t slope = 0; slope <= order; ++slope) {
    for (std::uint32_t shift = 0; shift < order; ++shift) {
      Block line;
      for (std::uint32_t t = 0; t < order; ++t) {
        const bool upright = slope == order;
        const std::uint32_t x = upright ? shift : t;
        const std::uint32_t y = upright ? t : field.add(field.multiply(slope, t), shift);
        line.push_back(x * order + y);
      }
      std::sort(line.begin(), line.end());
      plane.blocks.push_back(std::move(line));
    }
  }
  return plane;
}

/// The affine plane with a point at infinity for each direction, and the line of those.
CoveringBase projective_plane(std::uint32_t order) {
  CoveringBase plane = affine_plane(order);
  plane.name = fmt::format("projective plane {}", order);
  const auto first = static_cast<std::uint32_t>(plane.points);
  for (std::uint32_t i = 0; i < plane.blocks.size(); ++i) {
    plane.blocks[i].push_back(first + i / order);
  }
  Block infinity(order + 1);
  std::iota(infinity.begin(), infinity.end(), first);
  plane.blocks.push_back(std::move(infinity));
  plane.points += order + 1;
  return plane;
}

std::vector<CoveringBase> make_bases() {
  std::vector<CoveringBase> bases = {
      {"5 in blocks of 3", 5, {{0, 1, 3}, {0, 2, 4}, {2, 3, 4}, {1, 2, 4}}},
      {"9 in blocks of 5",
       9,
       {{1, 3, 4, 6, 8}, {0, 1, 4, 7, 8}, {1, 2, 4, 5, 8}, {2, 3, 5, 6, 7}, {0, 2, 3, 5, 6}}},
      {"10 in blocks of 4",
       10,
       {{0, 1, 8, 9},
        {0, 2, 4, 6},
        {0, 3, 5, 7},
        {1, 2, 4, 9},
        {1, 3, 4, 5},
        {1, 6, 7, 9},
        {2, 3, 5, 9},
        {2, 4, 7, 8},
        {3, 5, 6, 8}}},
      {"11 in blocks of 4",
       11,
       {{0, 1, 3, 6},
        {0, 2, 7, 10},
        {0, 4, 5, 9},
        {0, 4, 7, 8},
        {1, 2, 4, 6},
        {1, 3, 7, 9},
        {1, 5, 8, 10},
        {2, 3, 8, 9},
        {2, 5, 6, 7},
        {3, 4, 5, 10},
        {6, 8, 9, 10}}},
      {"18 in blocks of 7",
       18,
       {{0, 1, 6, 7, 8, 12, 17},
        {0, 1, 8, 13, 14, 15, 17},
        {0, 2, 3, 4, 6, 14, 16},
        {0, 5, 6, 9, 10, 11, 14},
        {1, 2, 3, 4, 8, 10, 17},
        {1, 5, 8, 9, 11, 16, 17},
        {2, 3, 4, 5, 9, 11, 13},
        {2, 5, 7, 8, 9, 12, 15},
        {3, 4, 7, 11, 12, 14, 15},
        {6, 7, 10, 12, 13, 15, 16}}},
      {"24 in blocks of 10",
       24,
       {{0, 1, 3, 5, 8, 10, 11, 17, 20, 23},
        {0, 2, 4, 9, 10, 16, 17, 19, 20, 21},
        {0, 6, 7, 10, 12, 13, 15, 17, 20, 22},
        {0, 7, 10, 12, 13, 14, 15, 17, 18, 20},
        {1, 2, 5, 6, 9, 11, 14, 18, 19, 22},
        {1, 4, 5, 7, 11, 12, 13, 15, 16, 21},
        {2, 3, 7, 8, 9, 12, 13, 15, 19, 23},
        {3, 4, 6, 8, 14, 16, 18, 21, 22, 23}}},
      {"25 in blocks of 9",
       25,
       {{0, 1, 3, 11, 13, 16, 18, 19, 22},
        {0, 2, 3, 4, 9, 10, 14, 16, 21},
        {0, 3, 5, 7, 15, 16, 17, 23, 24},
        {0, 3, 6, 8, 12, 16, 17, 20, 24},
        {1, 2, 4, 5, 7, 13, 20, 22, 23},
        {1, 2, 4, 6, 8, 12, 13, 15, 22},
        {1, 9, 10, 13, 14, 17, 21, 22, 24},
        {2, 4, 7, 11, 17, 18, 19, 21, 24},
        {5, 6, 7, 8, 9, 10, 12, 14, 23},
        {5, 6, 8, 11, 12, 18, 19, 21, 23},
        {9, 10, 11, 14, 15, 18, 19, 20, 21}}},
      {"6 in blocks of 3", 6, {{0, 1, 4}, {0, 2, 4}, {0, 3, 5}, {1, 2, 3}, {1, 2, 5}, {3, 4, 5}}},
  };
  for (const std::uint32_t order : {2u, 3u, 4u, 5u, 7u, 8u}) {
    bases.push_back(affine_plane(order));
    bases.push_back(projective_plane(order));
  }
  std::stable_sort(bases.begin(), bases.end(), [](const CoveringBase& a, const CoveringBase& b) {
    return a.blocks.size() < b.blocks.size();
  });
  return bases;
}

std::size_t longest_block(const CoveringBase& base) {
  std::size_t longest = 0;
  for (const Block& block : base.blocks) {
    longest = std::max(longest, block.size());
  }
  return longest;
}

/// Each thing takes room in as many blocks as hold its point.
std::size_t most_things(const CoveringBase& base, std::size_t k) {
  std::vector<std::size_t> blocks_of(base.points);
  for (const Block& block : base.blocks) {
    for (const std::uint32_t point : block) {
      ++blocks_of[point];
    }
  }
  return base.blocks.size() * k / *std::min_element(blocks_of.begin(), blocks_of.end());
}

}  // namespace

const std::vector<CoveringBase>& covering_bases() {
  static const std::vector<CoveringBase> bases = make_bases();
  return bases;
}

CoveringBase pairs_of_groups(std::size_t groups) {
  CoveringBase base{fmt::format("pairs of {} groups", groups), groups, {}};
  for (std::uint32_t a = 0; a < groups; ++a) {
    for (std::uint32_t b = a + 1; b < groups; ++b) {
      base.blocks.push_back({a, b});
    }
  }
  return base;
}

std::size_t fewest_blocks_bound(std::size_t v, std::size_t k) {
  assert(k >= 2 && k <= v);
  const auto up = [](std::size_t a, std::size_t b) { return (a + b - 1) / b; };
  return up(v * up(v - 1, k - 1), k);
}

std::vector<std::size_t> group_sizes(const CoveringBase& base, std::size_t k) {
  const std::size_t longest = longest_block(base);
  std::vector<std::vector<std::size_t>> blocks_of(base.points);
  for (std::size_t block = 0; block < base.blocks.size(); ++block) {
    for (const std::uint32_t point : base.blocks[block]) {
      blocks_of[point].push_back(block);
    }
  }
  std::vector<std::size_t> sizes(base.points, k / longest);
  std::vector<std::size_t> room(base.blocks.size());
  for (std::size_t block = 0; block < base.blocks.size(); ++block) {
    room[block] = k - base.blocks[block].size() * (k / longest);
  }
  std::mt19937 random(1);
  std::vector<std::size_t> order(base.points);
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto grow = [&](std::vector<std::size_t>& now, std::vector<std::size_t>& left) {
    std::shuffle(order.begin(), order.end(), random);
    std::size_t grown = 0;
    for (bool any = true; any;) {
      any = false;
      for (const std::size_t point : order) {
        if (std::all_of(blocks_of[point].begin(), blocks_of[point].end(),
                        [&](std::size_t block) { return left[block] > 0; })) {
          for (const std::size_t block : blocks_of[point]) {
            --left[block];
          }
          ++now[point];
          ++grown;
          any = true;
        }
      }
    }
    return grown;
  };
  grow(sizes, room);
  // A few groups smaller by one, then all as large as they may be: kept where nothing is lost.
  constexpr int kTries = 3000;
  for (int i = 0; i < kTries; ++i) {
    std::vector<std::size_t> now = sizes;
    std::vector<std::size_t> left = room;
    std::size_t taken = 0;
    for (std::size_t n = 1 + random() % 4; n > 0; --n) {
      const std::size_t point = random() % base.points;
      if (now[point] > 0) {
        --now[point];
        ++taken;
        for (const std::size_t block : blocks_of[point]) {
          ++left[block];
        }
      }
    }
    if (grow(now, left) >= taken) {
      sizes = std::move(now);
      room = std::move(left);
    }
  }
  return sizes;
}

Blocks blow_up(const CoveringBase& base, const std::vector<std::size_t>& sizes, std::size_t v) {
  std::vector<Block> groups;
  std::uint32_t next = 0;
  for (const std::size_t size : sizes) {
    groups.emplace_back();
    for (std::size_t i = 0; i < size && next < v; ++i) {
      groups.back().push_back(next++);
    }
  }
  assert(next == v);
  std::set<Block> blocks;
  for (const Block& block : base.blocks) {
    Block all;
    for (const std::uint32_t group : block) {
      all.insert(all.end(), groups[group].begin(), groups[group].end());
    }
    std::sort(all.begin(), all.end());
    blocks.insert(std::move(all));
  }
  // What lies in another block adds no pair.
  Blocks kept;
  for (const Block& block : blocks) {
    const bool inside = std::any_of(blocks.begin(), blocks.end(), [&](const Block& other) {
      return other.size() > block.size() &&
             std::includes(other.begin(), other.end(), block.begin(), block.end());
    });
    if (!inside && (block.size() > 1 || v == 1)) {
      kept.push_back(block);
    }
  }
  return kept;
}

Blocks cover_pairs(std::size_t v, std::size_t k) {
  assert(k >= 2);
  if (v == 0) {
    return {};
  }
  if (v <= k) {
    Block all(v);
    std::iota(all.begin(), all.end(), 0u);
    return {all};
  }
  const auto total = [](const std::vector<std::size_t>& sizes) {
    return std::accumulate(sizes.begin(), sizes.end(), std::size_t{0});
  };
  // Halves always work.
  const CoveringBase halves = pairs_of_groups((v + k / 2 - 1) / (k / 2));
  Blocks best = blow_up(halves, std::vector<std::size_t>(halves.points, k / 2), v);
  for (const CoveringBase& base : covering_bases()) {
    if (base.blocks.size() >= best.size()) {
      break;
    }
    // No search where the answer is plain.
    if (most_things(base, k) < v) {
      continue;
    }
    const std::vector<std::size_t> alike(base.points, k / longest_block(base));
    const std::vector<std::size_t> sizes = total(alike) >= v ? alike : group_sizes(base, k);
    if (total(sizes) >= v) {
      best = blow_up(base, sizes, v);
    }
  }
  return best;
}

}  // namespace padwalk::graph
