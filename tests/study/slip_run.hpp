// SPDX-License-Identifier: MIT
//
// One sweep that follows a plan, by a person who slips and whose leads are tarnished, held against
// where the leads really were. Shares with the product only what the product is asked.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace padwalk::study {

struct SlipRun {
  bool planned = false;  ///< some fixture fits the board
  std::size_t hookups = 0;
  std::size_t moves = 0;
  std::size_t touches = 0;
  std::size_t slips = 0;
  std::size_t put_right = 0;     ///< asked about, or put right with a silent lead
  std::size_t not_provable = 0;  ///< changed no reading that the file speaks of
  std::size_t asked_in_vain = 0;
  std::size_t misfits = 0;  ///< clips and plugs that did not fit where the plan has them
  std::size_t tarnished = 0;
  std::size_t faults = 0;
  std::size_t beside = 0;             ///< leaks and parts reported where none was planted
  std::vector<std::string> troubles;  ///< promises broken
};

/// The same number and seed: the same sweep on every machine.
SlipRun run_slips(std::uint64_t number, std::uint64_t seed);

}  // namespace padwalk::study
