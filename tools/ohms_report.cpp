// SPDX-License-Identifier: MIT
#include "tools/ohms_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace padwalk::tools {

namespace {

using graph::kOpenOhm;

/// Two leads' contacts and the copper to the parts, which the expected ohms of parts leave out.
constexpr double kLeadsOhm = 1;
/// Above this a reading of a part says little: the tester is unsure by a third and more.
constexpr double kBlindOhm = 1e6;
constexpr double kBlindAt5VoltOhm = 10e6;
constexpr double kFiveVolt = 1;  // the levels are 0.2 V and 5 V

std::string up_to(const std::string& what, double ohm) {
  return fmt::format("{} up to {} is good", what, graph::ohm_text(ohm));
}

}  // namespace

double OhmsReport::limit_ohm(const graph::Board& board) const {
  if (same_net()) {
    return std::max(graph::good_up_to_ohm(board[ends[0].net].role, expected.ohm),
                    expected.high_ohm);
  }
  return expected.ohm == kOpenOhm && expected.sure
             ? std::min(expected.low_ohm, limits.isolation_ohm)
             : 0;
}

std::optional<bool> OhmsReport::agrees(const graph::Board& board, std::string& why) const {
  const session::Measurement& is = *measured;
  if (is.clipped) {
    why = "a converter was over range, so there is no number";
    return std::nullopt;
  }
  if (is.emf) {
    why = fmt::format("something on the board drives the two: {:+.2f} V with the source off",
                      is.emf_volt);
    return std::nullopt;
  }
  const double least = is.ohm - is.uncertainty_ohm;
  const double most = is.ohm + is.uncertainty_ohm;
  if (same_net()) {
    const double limit = limit_ohm(board);
    why = up_to("for this copper", limit);
    if (least > limit && !is.settled) {
      why = "a capacitor still fills: measure again";
      return std::nullopt;
    }
    return least <= limit;
  }
  const double blind = is.volt > kFiveVolt ? kBlindAt5VoltOhm : kBlindOhm;
  if (expected.ohm == kOpenOhm && expected.sure) {
    const double limit = limit_ohm(board);
    why = fmt::format("nothing should conduct; above {} is good", graph::ohm_text(limit));
    if (most < limit && !is.settled) {
      why = "a capacitor still fills: measure again";
      return std::nullopt;
    }
    return most >= limit;
  }
  const double from = std::min(expected.low_ohm, blind);
  const double to = expected.high_ohm + kLeadsOhm;
  if (most < from) {
    why = fmt::format("it should have at least {}", graph::ohm_text(from));
    return false;
  }
  if (!expected.sure) {
    why = "the file does not say enough to judge it";
    return std::nullopt;
  }
  if (to > blind && !std::isfinite(is.ohm)) {
    why = fmt::format("above {} this tester cannot tell at {:.1f} V", graph::ohm_text(blind),
                      is.volt);
    return std::nullopt;
  }
  why = fmt::format("{} to {} is good, the leads counted", graph::ohm_text(from),
                    graph::ohm_text(to));
  if (least > to && !is.settled) {
    why = "a capacitor still fills: measure again";
    return std::nullopt;
  }
  return least <= to;
}

ExitStatus OhmsReport::status(const graph::Board& board) const {
  if (refused) {
    return ExitStatus::refused;
  }
  if (!measured) {
    return ExitStatus::good;
  }
  std::string why;
  const std::optional<bool> fits = agrees(board, why);
  if (fits.has_value()) {
    return *fits ? ExitStatus::good : ExitStatus::findings;
  }
  return measured->clipped || measured->emf || !measured->settled ? ExitStatus::incomplete
                                                                  : ExitStatus::good;
}

void expect_ohms(const graph::Board& board, const graph::CopperOhms& copper, OhmsReport& report) {
  const OhmsEnd& a = report.ends[0];
  const OhmsEnd& b = report.ends[1];
  if (report.same_net()) {
    const graph::CopperOhm ohm = copper.estimate(a.point, b.point);
    report.expected = {ohm.ohm, ohm.low_ohm, ohm.high_ohm, true};
    report.copper = copper.consists_of(a.point, b.point);
    return;
  }
  if (a.net == graph::kNoNet || b.net == graph::kNoNet) {
    report.expected = {kOpenOhm, 0, kOpenOhm, false};
    return;
  }
  const graph::PartOhms parts(board);
  report.expected = parts.between(a.net, b.net);
  report.parts = parts.consists_of(a.net, b.net);
  report.unsure = parts.unsure(a.net, b.net);
}

}  // namespace padwalk::tools
