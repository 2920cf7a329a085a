// SPDX-License-Identifier: MIT
//
// Prints the range table from the front end's figures beside the specified one. No test:
// range_table_test.cpp holds the two against each other, and both against simulated readings.
#include <fmt/format.h>

#include <string>

#include "tests/ranges/range_table.hpp"

namespace {

using namespace padwalk;

std::string words(double share, double ohm) {
  if (ohm < 1) {
    return fmt::format("{:.2f} ohm", share * ohm);
  }
  return fmt::format("{:.{}f} %", 100 * share, share < 0.1 ? 1 : 0);
}

}  // namespace

int main() {
  const session::Ranges ranges(tests::reference_ability(), true);
  fmt::print("Uncertainty, k = 2, 64 samples, on minus off; computed / specified.\n");
  fmt::print("Noise {:.0f} uV a conversion, contacts {:.0f} mohm (1 sigma), leakage {:.0f} nA.\n\n",
             session::kNoiseVolt * 1e6, session::Conditions().contact_ohm * 1e3,
             session::kLeakAmpere * 1e9);
  for (std::uint8_t range = 1; range <= wire::kRangeCount; ++range) {
    const tests::SpecifiedRange& specified = tests::kSpecified[range - 1u];
    const session::RangeFigures figures = ranges.figures(range);
    fmt::print("range {}: short {:.3g} / {:.3g} uA, {:.2g} / {:.2g} ohm a code\n", range,
               figures.short_ampere * 1e6, specified.short_ampere * 1e6, figures.ohm_per_code,
               specified.ohm_per_code);
    for (std::size_t k = 0; k < tests::kTableOhms.size(); ++k) {
      const double ohm = tests::kTableOhms[k];
      if (specified.share[k] == 0) {
        continue;
      }
      const double share = ranges.predicted(range, ohm, {}).uncertainty / ohm;
      fmt::print("  {:>9.10g} ohm  {:>9} / {:<9}  {:.2f} of it\n", ohm, words(share, ohm),
                 words(specified.share[k], ohm), share / specified.share[k]);
    }
  }
}
