// SPDX-License-Identifier: MIT
#include "graph/decide.hpp"

#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

namespace padwalk::graph {

namespace {

/// Mass of undecided sequences that no figure can notice any more.
constexpr double kNegligible = 1e-18;

void require(bool holds, const char* what) {
  if (!holds) {
    throw std::invalid_argument(what);
  }
}

void require_right(double right) {
  require(right > 0.5 && right < 1, "the chance of a right read must lie between 0.5 and 1");
}

void require_error(double error) {
  require(error > 0 && error < 0.5, "the error of a test must lie between 0 and 0.5");
}

double log_likelihood(double conducts, std::size_t conducting, std::size_t silent) {
  return static_cast<double>(conducting) * std::log(conducts) +
         static_cast<double>(silent) * std::log1p(-conducts);
}

/// The hypothesis that leads both others by log_ratio after these reads.
std::optional<Contact> leader(double log_ratio, std::size_t conducting, std::size_t silent) {
  constexpr std::array<double, 3> kConducts = {kClosedConducts, kIntermittentConducts,
                                               kOpenConducts};
  std::array<double, 3> logs{};
  for (std::size_t i = 0; i < logs.size(); ++i) {
    logs[i] = log_likelihood(kConducts[i], conducting, silent);
  }
  for (std::size_t i = 0; i < logs.size(); ++i) {
    bool leads = true;
    for (std::size_t other = 0; other < logs.size(); ++other) {
      leads = leads && (other == i || logs[i] - logs[other] >= log_ratio);
    }
    if (leads) {
      return static_cast<Contact>(i);
    }
  }
  return std::nullopt;
}

}  // namespace

std::size_t lead_for(double right, double error) {
  require_right(right);
  require_error(error);
  return static_cast<std::size_t>(
      std::ceil(std::log((1 - error) / error) / std::log(right / (1 - right))));
}

TestFigures lead_figures(double right, std::size_t lead) {
  require_right(right);
  require(lead >= 1, "a lead is at least one read");
  // chance[i]: undecided, with the right answer i - (lead - 1) reads ahead.
  std::vector<double> chance(2 * lead - 1);
  chance[lead - 1] = 1;
  TestFigures figures;
  for (double undecided = 1; undecided > kNegligible;) {
    figures.mean_reads += undecided;
    figures.error += (1 - right) * chance.front();
    std::vector<double> next(chance.size());
    undecided = 0;
    for (std::size_t i = 0; i < chance.size(); ++i) {
      if (i > 0) {
        next[i] += right * chance[i - 1];
      }
      if (i + 1 < chance.size()) {
        next[i] += (1 - right) * chance[i + 1];
      }
      undecided += next[i];
    }
    chance = std::move(next);
  }
  return figures;
}

std::size_t majority_reads(double right, double error) {
  require_right(right);
  require_error(error);
  std::vector<double> chance = {1};  // by number of wrong reads
  for (std::size_t reads = 1;; ++reads) {
    chance.push_back(0);
    for (std::size_t wrong = chance.size(); wrong-- > 0;) {
      chance[wrong] = right * chance[wrong] + (wrong > 0 ? (1 - right) * chance[wrong - 1] : 0);
    }
    if (reads % 2 == 0) {
      continue;
    }
    double wrong_majority = 0;
    for (std::size_t wrong = chance.size(); wrong-- > reads / 2 + 1;) {
      wrong_majority += chance[wrong];
    }
    if (wrong_majority <= error) {
      return reads;
    }
  }
}

SequentialTest::SequentialTest(double ratio, std::size_t most_reads)
    : log_ratio_(std::log(ratio)), most_reads_(most_reads) {
  require(ratio > 1 && std::isfinite(ratio), "the likelihood ratio of a test must be above 1");
  require(most_reads >= 1, "a test takes at least one read");
}

void SequentialTest::add(bool conducts) {
  if (decided_ || exhausted()) {
    return;
  }
  ++(conducts ? conducting_ : silent_);
  decided_ = leader(log_ratio_, conducting_, silent_);
}

SequentialFigures sequential_figures(double ratio, double conducts, std::size_t most_reads) {
  const SequentialTest checked(ratio, most_reads);  // for its errors
  require(conducts >= 0 && conducts <= 1, "a chance lies between 0 and 1");
  const double log_ratio = std::log(ratio);
  std::vector<double> chance = {1};  // undecided, by number of conducting reads
  SequentialFigures figures;
  for (std::size_t reads = 1; reads <= most_reads; ++reads) {
    std::vector<double> next(reads + 1);
    for (std::size_t conducting = 0; conducting < reads; ++conducting) {
      figures.mean_reads += chance[conducting];
      next[conducting] += chance[conducting] * (1 - conducts);
      next[conducting + 1] += chance[conducting] * conducts;
    }
    for (std::size_t conducting = 0; conducting <= reads; ++conducting) {
      const auto decided = leader(log_ratio, conducting, reads - conducting);
      if (!decided) {
        continue;
      }
      (*decided == Contact::closed         ? figures.closed
       : *decided == Contact::intermittent ? figures.intermittent
                                           : figures.open) += next[conducting];
      next[conducting] = 0;
    }
    chance = std::move(next);
  }
  for (const double left : chance) {
    figures.undecided += left;
  }
  return figures;
}

double ratio_for(double board_risk, std::size_t readings) {
  require(board_risk > 0 && board_risk < 1, "the risk of a board must lie between 0 and 1");
  require(readings >= 1, "there is at least one reading");
  return 2 * static_cast<double>(readings) / board_risk;
}

}  // namespace padwalk::graph
