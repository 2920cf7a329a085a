// SPDX-License-Identifier: MIT
#include "tools/other_bench.hpp"

#include <fmt/format.h>

#include "tools/options.hpp"

namespace padwalk::tools {

graph::Hookup hookup_on(const graph::Board& to, const std::string& file, const graph::Board& from,
                        const graph::Hookup& hookup) {
  graph::Hookup there;
  for (const graph::Lead& lead : hookup.leads) {
    const auto point = to.find_point(from[lead.point].name);
    if (!point) {
      throw UsageError(
          fmt::format("the simulated board {} has no {}; --parts must say what is "
                      "really there",
                      file, from[lead.point].name));
    }
    there.leads.push_back({lead.channel, *point});
  }
  return there;
}

}  // namespace padwalk::tools
