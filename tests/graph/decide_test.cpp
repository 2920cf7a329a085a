// SPDX-License-Identifier: MIT
#include "graph/decide.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <stdexcept>

namespace {

using namespace padwalk::graph;

}  // namespace

TEST_CASE("the lead rule has the error and the mean length of a walk between two walls",
          "[graph][decide]") {
  // Source: computed apart from this code. Errors 1 / (1 + (p1 / p0)^d); lengths of the gambler's
  // ruin walk, d (1 - 2 error) / (p1 - p0); majorities from binomial tails.
  struct Row {
    double right;
    double error;
    std::size_t lead;
    double mean_reads;
    double exact_error;
    std::size_t majority;
  };
  for (const Row& row :
       {Row{.98, 1e-6, 4, 4.1667, 1.73e-7, 9}, Row{.95, 1e-4, 4, 4.4444, 7.67e-6, 9},
        Row{.9, 1e-3, 4, 4.9985, 1.52e-4, 9}}) {
    CAPTURE(row.right);
    CHECK(lead_for(row.right, row.error) == row.lead);
    const TestFigures figures = lead_figures(row.right, row.lead);
    CHECK(figures.mean_reads == Approx(row.mean_reads).margin(0.00005));
    CHECK(figures.error == Approx(row.exact_error).epsilon(0.005));
    CHECK(majority_reads(row.right, row.error) == row.majority);
  }
  for (const double right : {.55, .7, .9, .999}) {
    for (std::size_t lead = 1; lead <= 6; ++lead) {
      CAPTURE(right, lead);
      const TestFigures figures = lead_figures(right, lead);
      const double error = 1 / (1 + std::pow(right / (1 - right), static_cast<double>(lead)));
      CHECK(figures.error == Approx(error).epsilon(1e-9));
      CHECK(figures.mean_reads ==
            Approx(static_cast<double>(lead) * (1 - 2 * error) / (2 * right - 1)).epsilon(1e-9));
    }
  }
  CHECK(lead_figures(.9, 1).error == Approx(.1));
  CHECK(lead_figures(.9, 1).mean_reads == Approx(1));
}

TEST_CASE("Wald's lead keeps the error that was asked for", "[graph][decide]") {
  for (const double right : {.6, .8, .95, .98, .999}) {
    for (const double error : {.1, 1e-3, 1e-6}) {
      CAPTURE(right, error);
      const std::size_t lead = lead_for(right, error);
      CHECK(lead_figures(right, lead).error <= error);
      CHECK((lead == 1 || lead_figures(right, lead - 1).error > error));
      CHECK(lead_figures(right, lead).mean_reads <=
            static_cast<double>(majority_reads(right, error)));
    }
  }
}

TEST_CASE("three hypotheses find an intermittent contact", "[graph][decide]") {
  // Source: computed apart from this code, printed to as many digits.
  const SequentialFigures closed = sequential_figures(100, .98);
  CHECK(closed.closed == Approx(.9970).margin(.00005));
  CHECK(closed.mean_reads == Approx(7.90).margin(.005));
  const SequentialFigures half = sequential_figures(100, .5);
  CHECK(half.intermittent == Approx(.9824).margin(.00005));
  CHECK(half.mean_reads == Approx(6.84).margin(.005));
  const SequentialFigures worn = sequential_figures(100, .9);
  CHECK(worn.closed == Approx(.86).margin(.005));
  CHECK(worn.intermittent == Approx(.14).margin(.005));
  CHECK(worn.mean_reads == Approx(11.9).margin(.05));

  const SequentialFigures sure = sequential_figures(1000, .98);
  CHECK(sure.closed == Approx(.9997).margin(.00005));
  CHECK(sure.mean_reads == Approx(12.4).margin(.05));
  const SequentialFigures sure_half = sequential_figures(1000, .5);
  CHECK(sure_half.intermittent == Approx(.9988).margin(.00005));
  CHECK(sure_half.mean_reads == Approx(9.1).margin(.05));
  CHECK(sequential_figures(1000, .9).closed == Approx(.92).margin(.005));
}

TEST_CASE("closed and open mirror each other, and all fractions add up", "[graph][decide]") {
  for (const double conducts : {0., .02, .3, .5, .9, 1.}) {
    CAPTURE(conducts);
    const SequentialFigures one = sequential_figures(50, conducts, 30);
    const SequentialFigures other = sequential_figures(50, 1 - conducts, 30);
    CHECK(one.closed == Approx(other.open).margin(1e-12));
    CHECK(one.intermittent == Approx(other.intermittent).margin(1e-12));
    CHECK(one.mean_reads == Approx(other.mean_reads));
    CHECK(one.closed + one.intermittent + one.open + one.undecided == Approx(1));
  }
}

TEST_CASE("a test of three hypotheses stops as soon as one leads", "[graph][decide]") {
  // ln 100 = 4.605; a conducting read speaks ln(.98 / .5) = .673 for closed against intermittent:
  // seven of them are 4.71. A silent one speaks ln(.5 / .02) = 3.219 against closed.
  SequentialTest test(100);
  for (int i = 0; i < 6; ++i) {
    test.add(true);
    CHECK_FALSE(test.decided());
  }
  test.add(true);
  CHECK(test.decided() == Contact::closed);
  CHECK(test.reads() == 7);
  test.add(false);
  CHECK(test.reads() == 7);
  CHECK(test.decided() == Contact::closed);
  CHECK_FALSE(test.exhausted());

  SequentialTest open(100);
  for (int i = 0; i < 7; ++i) {
    CHECK_FALSE(open.decided());
    open.add(false);
  }
  CHECK(open.decided() == Contact::open);
  CHECK(open.conducting() == 0);

  // Two of each: 2 * 3.219 - 2 * .673 = 5.09 against both others; one of each: 2.55.
  SequentialTest loose(100);
  for (const bool conducts : {true, false, true}) {
    loose.add(conducts);
    CHECK_FALSE(loose.decided());
  }
  loose.add(false);
  CHECK(loose.decided() == Contact::intermittent);
  CHECK(loose.conducting() == 2);
}

TEST_CASE("a test that may not read on gives up", "[graph][decide]") {
  SequentialTest test(100, 3);
  for (int i = 0; i < 5; ++i) {
    CHECK(test.exhausted() == (i >= 3));
    test.add(true);
  }
  CHECK_FALSE(test.decided());
  CHECK(test.exhausted());
  CHECK(test.reads() == 3);
  CHECK(sequential_figures(100, 1, 6).undecided == 1);
  CHECK(sequential_figures(100, 1, 7).closed == 1);
}

TEST_CASE("the ratio for a board keeps its false alarms below the risk", "[graph][decide]") {
  for (const double risk : {.1, .01}) {
    for (const std::size_t readings : {std::size_t{1}, std::size_t{60}, std::size_t{2000}}) {
      const double ratio = ratio_for(risk, readings);
      double spent = 0;
      for (const double conducts : {kClosedConducts, .99, .999, 1.}) {
        CAPTURE(risk, readings, conducts);
        const SequentialFigures figures = sequential_figures(ratio, conducts, 200);
        const double alarm = static_cast<double>(readings) * (1 - figures.closed);
        CHECK(alarm <= risk);
        spent = std::max(spent, alarm);
      }
      CHECK(spent > risk / 50);  // not so cautious that it wastes reads
    }
  }
}

TEST_CASE("tests refuse senseless figures", "[graph][decide]") {
  CHECK_THROWS_AS(lead_for(.5, .01), std::invalid_argument);
  CHECK_THROWS_AS(lead_for(1, .01), std::invalid_argument);
  CHECK_THROWS_AS(lead_for(.9, .5), std::invalid_argument);
  CHECK_THROWS_AS(lead_figures(.9, 0), std::invalid_argument);
  CHECK_THROWS_AS(majority_reads(.9, 0), std::invalid_argument);
  CHECK_THROWS_AS(SequentialTest(1), std::invalid_argument);
  CHECK_THROWS_AS(SequentialTest(NAN), std::invalid_argument);
  CHECK_THROWS_AS(SequentialTest(100, 0), std::invalid_argument);
  CHECK_THROWS_AS(sequential_figures(100, 1.1), std::invalid_argument);
  CHECK_THROWS_AS(ratio_for(0, 10), std::invalid_argument);
  CHECK_THROWS_AS(ratio_for(.1, 0), std::invalid_argument);
}
