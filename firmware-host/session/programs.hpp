// SPDX-License-Identifier: MIT
//
// What is to be sensed, packed into programs that fit the tester. Order is kept; it knows bytes and
// limits, and nothing of time, ohms or the line.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk::session {

/// One setting and the pairs that are sensed in it: a result each, or two where `head.difference`
/// is set.
struct Sensing {
  wire::StepHead head;
  std::vector<Channel> source;
  std::vector<Channel> sink;
  std::vector<Channel> loaded;
  std::vector<wire::Pair> pairs;
};

struct Program {
  std::vector<std::uint8_t> bytes;
  std::size_t results = 0;
  std::size_t settings = 0;
};

/// Neighbours with one sink channel each and the same source channel become one walk. A setting
/// with more pairs than a program has results comes in several.
/// Errors: TesterError where one setting alone does not fit; `tester` names it.
std::vector<Program> pack(std::span<const Sensing> sensings, const wire::Ability& ability,
                          const std::string& tester);

}  // namespace padwalk::session
