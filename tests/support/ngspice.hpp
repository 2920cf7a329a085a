// SPDX-License-Identifier: MIT
//
// Runs ngspice (a general circuit simulator, Debian package `ngspice`) as an outside judge of what
// padwalk computes. One run may hold many circuits side by side, which is far quicker than a run
// each: give every circuit its own node names.
#pragma once

#include <cstddef>
#include <cstdlib>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/support/program.hpp"

namespace padwalk::test {

/// The values of the expressions `wanted` after `analysis`, in order, to 12 digits.
/// `elements`: the lines of the circuit, `.model` lines as well, without title, control and `.end`.
/// `analysis`: lines of ngspice's control language: "op", or
/// "tran 10u 20m uic\nmeas tran at_1ms find v(a) at=1m". Each of `wanted` must be one number after
/// that: "v(a)" after op, "at_1ms" after the other.
/// Errors: std::runtime_error with all that ngspice said where it does not give every number.
inline std::vector<double> ngspice(const std::string& elements, const std::string& analysis,
                                   const std::vector<std::string>& wanted) {
  std::string deck = "* padwalk\n" + elements + "\n.control\nset numdgt=12\n" + analysis + "\n";
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    deck += "echo padwalk wants " + std::to_string(i) + "\nprint " + wanted[i] + "\n";
  }
  deck += "quit\n.endc\n.end\n";
  const TemporaryFolder folder;
  const Outcome outcome = run({"ngspice", "-b", folder.write("deck.cir", deck)});
  std::vector<double> values;
  std::size_t at = 0;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    const std::string mark = "padwalk wants " + std::to_string(i) + "\n";
    at = outcome.out.find(mark, at);
    if (at == std::string::npos) {
      break;
    }
    at += mark.size();
    const std::string line = outcome.out.substr(at, outcome.out.find('\n', at) - at);
    const std::size_t equals = line.find(" = ");
    if (equals == std::string::npos) {
      break;
    }
    char* end = nullptr;
    const std::string number = line.substr(equals + 3);
    const double value = std::strtod(number.c_str(), &end);
    if (end == number.c_str()) {
      break;
    }
    values.push_back(value);
  }
  if (values.size() != wanted.size()) {
    throw std::runtime_error(
        outcome.status == 127
            ? std::string("ngspice cannot be started; tools/setup check installs it")
            : "ngspice gave no number for '" + wanted[values.size()] + "':\n" + outcome.out +
                  outcome.err);
  }
  return values;
}

}  // namespace padwalk::test
