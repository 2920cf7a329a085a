// SPDX-License-Identifier: MIT
#include "graph/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

namespace padwalk::graph {

std::string Diagnostics::format(const Diagnostic& diagnostic) const {
  if (diagnostic.mark.line == 0) {
    return fmt::format("{}: {}", file_, diagnostic.text);
  }
  return fmt::format("{}:{}:{}: {}", file_, diagnostic.mark.line, diagnostic.mark.column,
                     diagnostic.text);
}

void Diagnostics::throw_if_errors() const {
  if (errors_.empty()) {
    return;
  }
  std::vector<Diagnostic> sorted = errors_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Diagnostic& a, const Diagnostic& b) {
    return std::tie(a.mark.line, a.mark.column) < std::tie(b.mark.line, b.mark.column);
  });
  std::string all;
  for (const Diagnostic& diagnostic : sorted) {
    all += (all.empty() ? "" : "\n") + format(diagnostic);
  }
  if (more_errors_ > 0) {
    all += fmt::format("\n{}: and {} more mistakes", file_, more_errors_);
  }
  throw BadFile(all);
}

}  // namespace padwalk::graph
