// SPDX-License-Identifier: MIT
#include "tests/study/tally.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

namespace padwalk::study {

namespace {

/// Promised: boards with a false finding, of all boards.
constexpr double kFalseBoards = 4.0 / 10'000;

double part_of(std::vector<double> values, double fraction) {
  if (values.empty()) {
    return 0;
  }
  const auto at = static_cast<std::size_t>(fraction * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(at), values.end());
  return values[at];
}

double mean(const std::vector<double>& values) {
  return values.empty() ? 0
                        : std::accumulate(values.begin(), values.end(), 0.0) /
                              static_cast<double>(values.size());
}

}  // namespace

void Tally::add(const BoardRun& run) {
  const BoardScore& score = run.score;
  ++boards_;
  assembled_ += run.assembled;
  points_ += score.attached;
  missed_opens_ += score.missed_opens;
  missed_shorts_ += score.missed_shorts;
  boards_with_false_ += score.false_findings > 0;
  single_breaks_ += score.single_breaks;
  without_true_segment_ += score.without_true_segment;
  bad_likelihoods_ += score.bad_likelihoods;
  failed_ += score.failed;
  compared_ += run.compared;
  line_differences_ += !run.line_difference.empty();
  not_judged_ += score.not_judged;
  boards_not_judged_ += score.not_judged > 0;
  no_contact_ += score.no_contact;
  seconds_ += run.seconds;
  slowest_ = std::max(slowest_, run.seconds);
  for (const Judged& judged : score.planted) {
    ++confusion_[{judged.kind, judged.seen}]
                [judged.reported ? static_cast<std::size_t>(*judged.reported) : kColumns - 1];
    must_ += judged.seen == Seen::yes;
    must_found_ += judged.seen == Seen::yes && judged.found;
  }
  for (const graph::FindingKind kind : score.false_kinds) {
    ++false_[static_cast<std::size_t>(kind)];
  }
  if (!score.failed && score.fewest_readings > 0) {
    const double ratio =
        static_cast<double>(score.readings) / static_cast<double>(score.fewest_readings);
    ratio_.push_back(ratio);
    if (score.planted.empty()) {
      healthy_ratio_.push_back(ratio);
    }
  }
}

void Tally::print_confusion(std::ostream& out) const {
  out << fmt::format("\n{:<22}", "planted, and seen?");
  for (std::size_t kind = 0; kind + 1 < kColumns; ++kind) {
    out << fmt::format("{:>8.7}", graph::finding_kind_name(static_cast<graph::FindingKind>(kind)));
  }
  out << fmt::format("{:>8}\n", "nothing");
  const auto line = [&](const std::string& name, const Row& row) {
    out << fmt::format("{:<22}", name);
    for (const std::size_t count : row) {
      out << (count == 0 ? fmt::format("{:>8}", ".") : fmt::format("{:>8}", count));
    }
    out << '\n';
  };
  constexpr std::array kSeen = {"no", "maybe", "must"};
  for (const auto& [what, row] : confusion_) {
    line(fmt::format("{}, {}", defect_kind_name(what.first),
                     kSeen[static_cast<std::size_t>(what.second)]),
         row);
  }
  line("not planted", false_);
}

void Tally::print_readings(std::ostream& out) const {
  const auto line = [&](const char* name, const std::vector<double>& ratio) {
    out << fmt::format("readings / (N - c + ceil(log2 c)), {:<15} mean {:.2f}, p95 {:.2f}\n", name,
                       mean(ratio), part_of(ratio, 0.95));
  };
  line("healthy boards:", healthy_ratio_);
  line("all boards:", ratio_);
}

bool Tally::print(std::ostream& out) const {
  const auto boards = static_cast<double>(boards_);
  out << fmt::format("{} boards, {} of them assembled; {:.1f} leads a board\n", boards_, assembled_,
                     static_cast<double>(points_) / boards);
  print_confusion(out);
  out << '\n';
  print_readings(out);
  out << fmt::format("attached points not judged: {}, on {} boards; no contact: {}\n", not_judged_,
                     boards_not_judged_, no_contact_);
  out << fmt::format("defects that must be seen: {}, found as what they are: {}\n", must_,
                     must_found_);
  out << fmt::format("a sweep takes {:.1f} ms, at most {:.1f} ms\n\n", 1e3 * seconds_ / boards,
                     1e3 * slowest_);
  bool kept = true;
  const auto promise = [&](const std::string& what, std::size_t broken, double allowed) {
    const bool good = static_cast<double>(broken) <= allowed;
    kept = kept && good;
    out << fmt::format("{:<58} {:>5}  {}\n", what, broken, good ? "kept" : "BROKEN");
  };
  promise("observable opens missed (promised 0)", missed_opens_, 0);
  promise("observable shorts missed (promised 0)", missed_shorts_, 0);
  promise("boards with a false finding (promised 4 of 10,000)", boards_with_false_,
          kFalseBoards * boards);
  promise(fmt::format("true place not suspected, of {} single breaks (promised 0)", single_breaks_),
          without_true_segment_, 0);
  promise("findings whose likelihoods do not sum to 1 (promised 0)", bad_likelihoods_, 0);
  promise("sweeps refused or failed (promised 0)", failed_, 0);
  promise(fmt::format("reports that the line changes, of {} (promised 0)", compared_),
          line_differences_, 0);
  return kept;
}

}  // namespace padwalk::study
