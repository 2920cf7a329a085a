// SPDX-License-Identifier: MIT
#include "graph/part_faults.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <map>
#include <random>
#include <set>
#include <string>

#include "tests/support/log_uniform.hpp"
#include "tests/support/small_board.hpp"

namespace {

using padwalk::test::log_uniform;
using namespace padwalk::graph;

/// A resistor of the real board, between nodes 0, 1, …; node i is net N<i>.
struct Resistor {
  std::size_t u;
  std::size_t v;
  double ohm;
};

/// A board with these resistors as R0, R1, …, of 5 % where nothing is said. `more` are lines of
/// further parts and nets.
Board board_of(std::size_t nets, const std::vector<Resistor>& parts, const std::string& extra = "",
               const std::string& extra_nets = "") {
  std::string text = "parts:\n";
  std::vector<std::string> members(nets);
  for (std::size_t i = 0; i < parts.size(); ++i) {
    text += fmt::format(
        "  R{}: {{kind: resistor, value: {:.9g} ohm, pins: {{1: [{}, 0], 2: [{}, 5]}}}}\n", i,
        parts[i].ohm, i, i);
    members[parts[i].u] += fmt::format("R{}.1, ", i);
    members[parts[i].v] += fmt::format("R{}.2, ", i);
  }
  text += extra + "points:\n";
  for (std::size_t i = 0; i < nets; ++i) {
    text += fmt::format("  T{}: {{xy: [{}, 30]}}\n", i, i);
  }
  text += "nets:\n";
  for (std::size_t i = 0; i < nets; ++i) {
    std::string more;
    if (const std::size_t at = extra_nets.find(fmt::format("N{}:", i)); at != std::string::npos) {
      more = extra_nets.substr(at + 3, extra_nets.find(';', at) - at - 3) + ", ";
    }
    text += fmt::format("  N{}: [{}{}T{}]\n", i, members[i], more, i);
  }
  return padwalk::test::small_board(text);
}

NetId net(std::size_t i) {
  return NetId{static_cast<std::uint32_t>(i)};
}

/// Ohms between all pairs, solved apart from the code under test: one system a pair.
Eigen::MatrixXd solve(std::size_t nodes, const std::vector<Resistor>& parts) {
  const auto n = static_cast<Eigen::Index>(nodes);
  Eigen::MatrixXd laplacian = Eigen::MatrixXd::Zero(n, n);
  for (const Resistor& part : parts) {
    const auto u = static_cast<Eigen::Index>(part.u);
    const auto v = static_cast<Eigen::Index>(part.v);
    const double siemens = 1 / std::clamp(part.ohm, 1e-3, 1e11);
    laplacian(u, u) += siemens;
    laplacian(v, v) += siemens;
    laplacian(u, v) -= siemens;
    laplacian(v, u) -= siemens;
  }
  Eigen::MatrixXd ohms = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index ground = 0; ground < n; ++ground) {
    Eigen::MatrixXd grounded = laplacian;
    grounded.row(ground).setZero();
    grounded.col(ground).setZero();
    grounded(ground, ground) = 1;
    const Eigen::MatrixXd inverse = grounded.partialPivLu().inverse();
    for (Eigen::Index other = 0; other < n; ++other) {
      ohms(ground, other) = other == ground ? 0 : inverse(other, other);
    }
  }
  return ohms;
}

/// All pairs of an ideal tester with `relative` uncertainty (k = 2). Above 5 Mohm nothing flows.
std::vector<PairReading> read_all(std::size_t nodes, const std::vector<Resistor>& parts,
                                  double relative = 0.01) {
  const Eigen::MatrixXd ohms = solve(nodes, parts);
  std::vector<PairReading> readings;
  for (std::size_t a = 0; a < nodes; ++a) {
    for (std::size_t b = a + 1; b < nodes; ++b) {
      const double ohm = ohms(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b));
      const bool flows = ohm < 5e6;
      readings.push_back(
          {net(a), net(b), flows ? ohm : kOpenOhm, flows ? relative * ohm + 0.1 : 0, 0.2, true});
    }
  }
  return readings;
}

PairVerdicts explain(const Board& board, const std::vector<PairReading>& readings,
                     const std::vector<std::pair<NetId, NetId>>& shorted = {}) {
  return explain_pairs(board, limits_for(board), readings, shorted);
}

std::vector<std::string> names(const Board& board, const std::vector<PartId>& parts) {
  std::vector<std::string> found;
  for (const PartId part : parts) {
    found.push_back(board[part].name);
  }
  std::sort(found.begin(), found.end());
  return found;
}

bool between(const PartFault& fault, std::size_t a, std::size_t b) {
  return std::set{fault.a, fault.b} == std::set{net(a), net(b)};
}

/// Four lines N1 … N4 pulled up to N0 by 10 kohm each.
std::vector<Resistor> pull_ups() {
  return {{1, 0, 10e3}, {2, 0, 10e3}, {3, 0, 10e3}, {4, 0, 10e3}};
}

}  // namespace

TEST_CASE("healthy pull-ups read as expected", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  const PairVerdicts verdicts = explain(board, read_all(5, pull_ups()));
  CHECK(verdicts.faults.empty());
  CHECK(verdicts.unexplained.empty());
  CHECK(verdicts.unsure.empty());
}

TEST_CASE("a pull-up of another value is found with its ohms", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real[1].ohm = 47e3;
  const PairVerdicts verdicts = explain(board, read_all(5, real));
  REQUIRE(verdicts.faults.size() == 1);
  const PartFault& fault = verdicts.faults.front();
  CHECK(fault.kind == FindingKind::part);
  CHECK(board[fault.part].name == "R1");
  CHECK(names(board, fault.candidates) == std::vector<std::string>{"R1"});
  CHECK(between(fault, 2, 0));
  CHECK(fault.ohm == Approx(47e3).epsilon(0.01));
  CHECK(fault.uncertainty_ohm > 0);
  CHECK(fault.uncertainty_ohm < 0.1 * 47e3);
  CHECK(fault.measured_ohm == Approx(47e3));
  CHECK(fault.expected_ohm == Approx(10e3));
  CHECK(fault.expected_low_ohm == Approx(9.4e3));  // 5 % and 1 % for age
  CHECK(fault.expected_high_ohm == Approx(10.6e3));
  CHECK(fault.explains.size() == 4);  // every pair with N2
  CHECK(fault.or_leaks.empty());      // a leak cannot raise ohms
  CHECK(verdicts.unexplained.empty());
}

TEST_CASE("an open pull-up is open", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real[3].ohm = INFINITY;
  const PairVerdicts verdicts = explain(board, read_all(5, real));
  REQUIRE(verdicts.faults.size() == 1);
  CHECK(board[verdicts.faults[0].part].name == "R3");
  CHECK(verdicts.faults[0].ohm == kOpenOhm);
  CHECK(verdicts.faults[0].uncertainty_ohm == 0);
  CHECK(verdicts.faults[0].measured_ohm == kOpenOhm);
  CHECK(verdicts.faults[0].explains.size() == 4);
}

TEST_CASE("what is known to be far above, if not how far, is open", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real[3].ohm = INFINITY;
  std::vector<PairReading> readings = read_all(5, real);
  for (PairReading& reading : readings) {
    if (!std::isfinite(reading.ohm)) {
      reading.ohm = 2.1e6;  // next to no current, and half of it noise
      reading.uncertainty_ohm = 1.7e6;
    }
  }
  const PairVerdicts verdicts = explain(board, readings);
  REQUIRE(verdicts.faults.size() == 1);
  CHECK(board[verdicts.faults[0].part].name == "R3");
}

TEST_CASE("a leak between two pulled-up lines is a leak", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real.push_back({1, 3, 3.3e3});
  const PairVerdicts verdicts = explain(board, read_all(5, real));
  REQUIRE(verdicts.faults.size() == 1);
  const PartFault& fault = verdicts.faults.front();
  CHECK(fault.kind == FindingKind::leakage);
  CHECK(fault.part == kNoPart);
  CHECK(between(fault, 1, 3));
  CHECK(fault.ohm == Approx(3.3e3).epsilon(0.02));
  CHECK(fault.measured_ohm == Approx(3300. * 20000 / 23300));  // beside 20 kohm
  CHECK(fault.expected_ohm == Approx(20e3));
  CHECK(fault.candidates.empty());
  CHECK(fault.or_leaks.empty());
  CHECK(verdicts.unexplained.empty());
}

TEST_CASE("a low part and a leak beside it are one, named by the part", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real.push_back({2, 0, 3.3e3});  // 10 kohm beside 3.3 kohm: 2481 ohm
  const PairVerdicts verdicts = explain(board, read_all(5, real));
  REQUIRE(verdicts.faults.size() == 1);
  CHECK(verdicts.faults[0].kind == FindingKind::part);
  CHECK(board[verdicts.faults[0].part].name == "R1");
  CHECK(verdicts.faults[0].ohm == Approx(2481.2).epsilon(0.01));
  REQUIRE(verdicts.faults[0].or_leaks.size() == 1);
  CHECK(verdicts.faults[0].or_leaks[0] == std::make_pair(net(2), net(0)));
}

TEST_CASE("ten pull-ups in parallel", "[graph][part_faults]") {
  // Computed: ten times 4.7 kohm side by side are 470 ohm; nine are 522.2 ohm, eight 587.5 ohm.
  const std::vector<Resistor> parts(10, {0, 1, 4.7e3});
  const Board board = board_of(2, parts);
  const auto with = [&](double ohm) {
    return explain(board, {{net(0), net(1), ohm, 0.01 * ohm, 0.2, true}});
  };
  CHECK(with(470).faults.empty());
  CHECK(with(495).faults.empty());

  // An open one of ten.
  const PairVerdicts open = with(522.2);
  REQUIRE(open.faults.size() == 1);
  CHECK(open.faults[0].kind == FindingKind::part);
  CHECK(open.faults[0].ohm == kOpenOhm);
  CHECK(open.faults[0].candidates.size() == 10);
  CHECK(open.faults[0].or_leaks.empty());

  // Three open: 671.4 ohm. No single one explains that.
  const PairVerdicts three = with(4700. / 7);
  CHECK(three.faults.size() == 3);
  CHECK(three.unexplained.empty());

  // 470 beside 470: a leak beside ten parts rather than one of them with 22 times less.
  const PairVerdicts low = with(235);
  REQUIRE(low.faults.size() == 1);
  CHECK(low.faults[0].kind == FindingKind::leakage);
  CHECK(between(low.faults[0], 0, 1));
  CHECK(low.faults[0].ohm == Approx(470).epsilon(0.02));
  CHECK(low.faults[0].candidates.size() == 10);
}

TEST_CASE("beside several parts it is a leak, however the values fall", "[graph][part_faults]") {
  const Board board = board_of(3, {{0, 1, 10e3}, {0, 1, 10e3}, {1, 2, 4.7e3}});
  for (const double first : {0.95, 1., 1.05}) {
    for (const double second : {0.95, 1., 1.05}) {
      for (const double third : {0.95, 1., 1.05}) {
        CAPTURE(first, second, third);
        const PairVerdicts verdicts = explain(board, read_all(3, {{0, 1, first * 10e3},
                                                                  {0, 1, second * 10e3},
                                                                  {1, 2, third * 4.7e3},
                                                                  {0, 1, 2e3}}));
        REQUIRE(verdicts.faults.size() == 1);
        CHECK(verdicts.faults[0].kind == FindingKind::leakage);
        CHECK(names(board, verdicts.faults[0].candidates) == std::vector<std::string>{"R0", "R1"});
        CHECK(verdicts.faults[0].ohm == Approx(2e3).epsilon(0.05));
      }
    }
  }
}

TEST_CASE("a resistor network names the network and the pair", "[graph][part_faults]") {
  const Board board = padwalk::test::small_board(R"(parts:
  RN1: {kind: network, value: 4k7, pins: {1: [0, 0], 2: [1, 0], 3: [2, 0], 4: [3, 0]}}
nets:
  VCC: [RN1.1]
  A: [RN1.2]
  B: [RN1.3]
  C: [RN1.4]
)");
  std::vector<Resistor> real = {{0, 1, 4.7e3}, {0, 2, 12e3}, {0, 3, 4.7e3}};
  const PairVerdicts verdicts = explain(board, read_all(4, real));
  REQUIRE(verdicts.faults.size() == 1);
  CHECK(board[verdicts.faults[0].part].name == "RN1");
  CHECK(verdicts.faults[0].candidates.size() == 1);
  CHECK(between(verdicts.faults[0], 0, 2));
  CHECK(verdicts.faults[0].ohm == Approx(12e3).epsilon(0.01));
}

TEST_CASE("a small resistor in series with a driven line", "[graph][part_faults]") {
  const std::vector<Resistor> parts = {{0, 1, 47}, {1, 2, 10e3}};
  const Board board = board_of(3, parts);
  CHECK(explain(board, read_all(3, {{0, 1, 49}, {1, 2, 10e3}})).faults.empty());
  const PairVerdicts high = explain(board, read_all(3, {{0, 1, 68}, {1, 2, 10e3}}));
  REQUIRE(high.faults.size() == 1);
  CHECK(board[high.faults[0].part].name == "R0");
  CHECK(high.faults[0].ohm == Approx(68).epsilon(0.02));
  CHECK(high.faults[0].explains.size() == 1);  // 10.07 kohm is within tolerance
  const PairVerdicts open = explain(board, read_all(3, {{0, 1, 1e12}, {1, 2, 10e3}}));
  REQUIRE(open.faults.size() == 1);
  CHECK(board[open.faults[0].part].name == "R0");
  CHECK(open.faults[0].ohm == kOpenOhm);
  CHECK(open.faults[0].explains.size() == 2);
}

TEST_CASE("one resistor of a ring changed", "[graph][part_faults]") {
  // A-B 10k, B-C 10k, C-D 4.7k, A-D 22k. Source: computed, numerators over 467.
  const std::vector<Resistor> parts = {{0, 1, 10e3}, {1, 2, 10e3}, {2, 3, 4.7e3}, {0, 3, 22e3}};
  const Board board = board_of(4, parts);
  std::vector<PairReading> readings;
  for (const auto& [a, b, numerator] : std::vector<std::tuple<int, int, double>>{{0, 1, 3670000},
                                                                                 {1, 2, 3670000},
                                                                                 {0, 2, 5340000},
                                                                                 {0, 3, 5434000},
                                                                                 {1, 3, 4704000},
                                                                                 {2, 3, 1974000}}) {
    readings.push_back({net(static_cast<std::size_t>(a)), net(static_cast<std::size_t>(b)),
                        numerator / 467, numerator / 467 / 100, 0.2, true});
  }
  CHECK(explain(board, readings).faults.empty());
  for (std::size_t changed = 0; changed < parts.size(); ++changed) {
    for (const double factor : {0.2, 0.5, 2., 4.7, 1e9}) {
      CAPTURE(changed, factor);
      std::vector<Resistor> real = parts;
      real[changed].ohm *= factor;
      const PairVerdicts verdicts = explain(board, read_all(4, real));
      REQUIRE(verdicts.faults.size() == 1);
      CHECK(verdicts.unexplained.empty());
      CHECK(verdicts.faults[0].part == *board.find_part(fmt::format("R{}", changed)));
      if (factor < 1e6) {
        CHECK(verdicts.faults[0].ohm == Approx(real[changed].ohm).epsilon(0.03));
      } else {
        CHECK(verdicts.faults[0].ohm == kOpenOhm);
      }
    }
  }
}

TEST_CASE("an open fuse and an open coil read high", "[graph][part_faults]") {
  const std::string extra =
      "  F1: {kind: fuse, pins: {1: [50, 0], 2: [50, 5]}}\n"
      "  L1: {kind: inductor, pins: {1: [51, 0], 2: [51, 5]}}\n";
  const Board board = board_of(4, {{0, 1, 10e3}}, extra, "N1:F1.1;N2:F1.2, L1.1;N3:L1.2;");
  CHECK(explain(board, read_all(4, {{0, 1, 10e3}, {1, 2, 0.2}, {2, 3, 30}})).faults.empty());
  const PairVerdicts fuse = explain(board, read_all(4, {{0, 1, 10e3}, {1, 2, 1e12}, {2, 3, 30}}));
  REQUIRE(fuse.faults.size() == 1);
  CHECK(board[fuse.faults[0].part].name == "F1");
  CHECK(fuse.faults[0].kind == FindingKind::part);
  CHECK(fuse.faults[0].ohm == kOpenOhm);
  CHECK(fuse.faults[0].explains.size() == 4);
  const PairVerdicts coil = explain(board, read_all(4, {{0, 1, 10e3}, {1, 2, 0.2}, {2, 3, 1e12}}));
  REQUIRE(coil.faults.size() == 1);
  CHECK(board[coil.faults[0].part].name == "L1");
}

TEST_CASE("pairs that parts of unknown ohms move are unsure", "[graph][part_faults]") {
  const std::string extra =
      "  K1: {kind: relay, pins: {1: [50, 0], 2: [50, 5]}}\n"
      "  D1: {kind: diode, type: 1N4148, pins: {1: [51, 0], 2: [51, 5]}}\n"
      "  D2: {kind: diode, type: OA90, pins: {1: [52, 0], 2: [52, 5]}}\n";
  const Board board = board_of(5, {{0, 1, 10e3}, {1, 2, 10e3}}, extra,
                               "N0:D1.1, D2.2;N2:D1.2;N3:K1.1, D2.1;N4:K1.2;");
  std::vector<Resistor> real = {{0, 1, 10e3}, {1, 2, 10e3}, {3, 4, 120}, {0, 3, 2e3}};
  const PairVerdicts verdicts = explain(board, read_all(5, real));
  CHECK(verdicts.faults.empty());
  CHECK(verdicts.unexplained.empty());
  CHECK(verdicts.unsure.size() == 7);  // all with N3 or N4
  // The rest of the cluster is judged all the same; silicon passes nothing at the test voltage.
  real[1].ohm = 33e3;
  const PairVerdicts wrong = explain(board, read_all(5, real));
  REQUIRE(wrong.faults.size() == 1);
  CHECK(board[wrong.faults[0].part].name == "R1");
  CHECK(wrong.unsure.size() == 7);
}

TEST_CASE("junctions of chips let a high resistor read low", "[graph][part_faults]") {
  const std::string extra = "  U1: {kind: ic, pins: {1: [50, 0], 2: [50, 5]}}\n";
  const std::vector<Resistor> parts = {{0, 1, 1e6}};
  const std::vector<PairReading> readings = {{net(0), net(1), 400e3, 40e3, 0.2, true}};
  CHECK(explain(board_of(2, parts), readings).faults.size() == 1);
  CHECK(explain(board_of(2, parts, extra, "N0:U1.1;N1:U1.2;"), readings).faults.empty());
}

TEST_CASE("on a bare board no chip lets current pass", "[graph][part_faults]") {
  const std::string parts =
      "parts:\n  U1: {kind: ic, pins: {1: [0, 0], 2: [0, 5]}}\nnets:\n  N0: [U1.1]\n  N1: [U1.2]\n";
  const std::vector<PairReading> leak = {{net(0), net(1), 1.5e6, 20e3, 5, true}};
  const auto faults = [&](const char* state) {
    const Board board = padwalk::test::small_board(state + parts);
    return explain_pairs(board, limits_for(board), leak, {}).faults.size();
  };
  CHECK(faults("state: bare\n") == 1);
  CHECK(faults("state: assembled\n") == 0);
}

TEST_CASE("beside a break only what reads too low accuses", "[graph][part_faults]") {
  const Board board = board_of(2, {{0, 1, 10e3}});
  const auto faults = [&](double ohm) {
    PairReading reading{net(0), net(1), ohm, ohm / 100, 0.2, true};
    const std::size_t whole = explain(board, {reading}).faults.size();
    reading.broken = true;
    return std::pair(whole, explain(board, {reading}).faults.size());
  };
  CHECK(faults(10e3) == std::pair<std::size_t, std::size_t>(0, 0));
  CHECK(faults(25e3) == std::pair<std::size_t, std::size_t>(1, 0));
  CHECK(faults(kOpenOhm) == std::pair<std::size_t, std::size_t>(1, 0));
  CHECK(faults(2e3) == std::pair<std::size_t, std::size_t>(1, 1));
}

TEST_CASE("what clamps may carry accuses nobody", "[graph][part_faults]") {
  const Board board = board_of(2, {{0, 1, 10e3}});
  PairReading reading{net(0), net(1), 8e3, 80, 0.2, true};
  CHECK(explain(board, {reading}).faults.size() == 1);
  reading.stray_siemens = 30e-6;
  CHECK(explain(board, {reading}).faults.empty());
  reading.ohm = 3e3;  // more than they may
  CHECK(explain(board, {reading}).faults.size() == 1);
}

TEST_CASE("a net in pieces may read too low by a lead's own ohms", "[graph][part_faults]") {
  const Board board = board_of(2, {{0, 1, 1e3}});
  PairReading reading{net(0), net(1), 700, 4, 0.2, true};
  CHECK(explain(board, {reading}).faults.size() == 1);
  reading.uneven_ohm = 480;
  CHECK(explain(board, {reading}).faults.empty());
  reading.ohm = 300;
  CHECK(explain(board, {reading}).faults.size() == 1);
}

TEST_CASE("known shorts are contracted first", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real.push_back({1, 2, 0.3});
  // The pair 1-2 is a short; 1-0 and 2-0 read 5 kohm because of it, which is no fault of their own.
  CHECK(explain(board, read_all(5, real), {{net(1), net(2)}}).faults.empty());
  CHECK(explain(board, read_all(5, real), {{net(1), net(2)}}).unexplained.empty());
  real[2].ohm = 22e3;
  const PairVerdicts verdicts = explain(board, read_all(5, real), {{net(1), net(2)}});
  REQUIRE(verdicts.faults.size() == 1);
  CHECK(board[verdicts.faults[0].part].name == "R2");
}

TEST_CASE("a lower bound and a reading of nothing known accuse nobody", "[graph][part_faults]") {
  const Board board = board_of(2, {{0, 1, 10e3}});
  CHECK(explain(board, {{net(0), net(1), 4e3, 40, 0.2, false}}).faults.empty());
  CHECK(explain(board, {{net(0), net(1), 20e3, 200, 0.2, false}}).faults.size() == 1);
  CHECK(explain(board, {{net(0), net(1), 4e3, INFINITY, 0.2, true}}).faults.empty());
  CHECK(explain(board, {{net(0), net(1), NAN, 0, 0.2, true}}).faults.empty());
  CHECK(explain(board, {}).faults.empty());
}

TEST_CASE("a leak counts up to the isolation limit", "[graph][part_faults]") {
  // Nothing joins the two halves but a leak.
  const Board board = board_of(4, {{0, 1, 1e3}, {2, 3, 1e3}});
  const PairVerdicts strong = explain(board, read_all(4, {{0, 1, 1e3}, {2, 3, 1e3}, {1, 2, 2e3}}));
  REQUIRE(strong.faults.size() == 1);
  CHECK(strong.faults[0].kind == FindingKind::leakage);
  CHECK(between(strong.faults[0], 1, 2));
  CHECK(strong.faults[0].ohm == Approx(2e3).epsilon(0.02));
  CHECK(strong.faults[0].expected_ohm == kOpenOhm);
  const PairVerdicts weak = explain(board, read_all(4, {{0, 1, 1e3}, {2, 3, 1e3}, {1, 2, 20e3}}));
  CHECK(weak.faults.empty());
  CHECK(weak.unexplained.empty());
}

TEST_CASE("a closed part may read nothing, or less for noise", "[graph][part_faults]") {
  const std::string extra =
      "  F1: {kind: fuse, pins: {1: [50, 0], 2: [50, 5]}}\n"
      "  W1: {kind: link, pins: {1: [51, 0], 2: [51, 5]}}\n";
  const Board board = board_of(3, {}, extra, "N0:F1.1;N1:F1.2, W1.1;N2:W1.2;");
  for (const double ohm : {0., -0.05, 0.1, 9.}) {
    CAPTURE(ohm);
    const PairVerdicts verdicts =
        explain(board, {{net(0), net(1), ohm, 0, 0.2, true}, {net(0), net(2), ohm, 0, 0.2, true}});
    CHECK(verdicts.faults.empty());
    CHECK(verdicts.unexplained.empty());
  }
}

TEST_CASE("every part of the demo board is found when it is open", "[graph][part_faults]") {
  std::ifstream file(PADWALK_SOURCE_DIR "/boards/tide-gauge/board.yaml");
  REQUIRE(file);
  const std::string text(std::istreambuf_iterator<char>(file), {});
  Diagnostics diagnostics("board.yaml");
  const Board board(read_board(text, diagnostics), diagnostics);
  const std::vector<PartLink> links = board.part_links();
  const auto truth = [&](std::size_t open) {
    std::vector<Resistor> real;
    for (std::size_t i = 0; i < links.size(); ++i) {
      if (i != open && links[i].ohm) {  // diodes pass nothing at the test voltage
        real.push_back({index(links[i].a), index(links[i].b), std::max(*links[i].ohm, 0.1)});
      }
    }
    for (std::size_t i = 1; i < board.nets().size(); ++i) {
      real.push_back({0, i, 1e10});  // so that the sums of the test are sound
    }
    return read_all(board.nets().size(), real);
  };
  const PairVerdicts healthy = explain(board, truth(links.size()));
  CHECK(healthy.faults.empty());
  CHECK(healthy.unexplained.empty());
  std::size_t tried = 0;
  for (std::size_t open = 0; open < links.size(); ++open) {
    if (!links[open].ohm || *links[open].ohm > 500e3) {
      continue;  // more ohms than a tester can tell from none
    }
    CAPTURE(board[links[open].part].name);
    const PairVerdicts verdicts = explain(board, truth(open));
    REQUIRE(verdicts.faults.size() == 1);
    CHECK(verdicts.faults[0].part == links[open].part);
    CHECK(verdicts.faults[0].ohm == kOpenOhm);
    CHECK(verdicts.unexplained.empty());
    ++tried;
  }
  CHECK(tried >= 5);
}

TEST_CASE("two and three faults at once", "[graph][part_faults]") {
  const Board board = board_of(5, pull_ups());
  std::vector<Resistor> real = pull_ups();
  real[0].ohm = 1e12;
  real[2].ohm = 33e3;
  const PairVerdicts two = explain(board, read_all(5, real));
  REQUIRE(two.faults.size() == 2);
  CHECK(two.unexplained.empty());
  CHECK(names(board, {two.faults[0].part, two.faults[1].part}) ==
        std::vector<std::string>{"R0", "R2"});
  real.push_back({2, 4, 1.5e3});
  const PairVerdicts three = explain(board, read_all(5, real));
  REQUIRE(three.faults.size() == 3);
  CHECK(three.unexplained.empty());
  CHECK(std::count_if(three.faults.begin(), three.faults.end(), [](const PartFault& fault) {
          return fault.kind == FindingKind::leakage && between(fault, 2, 4);
        }) == 1);
}

namespace {

/// A random cluster: a tree and some more resistors, values of a decade row.
struct Drawn {
  std::size_t nodes = 0;
  std::vector<Resistor> parts;
};

double uniform(std::mt19937& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}
std::size_t below(std::mt19937& random, std::size_t n) {
  return std::uniform_int_distribution<std::size_t>(0, n - 1)(random);
}
Drawn draw_cluster(std::mt19937& random, std::size_t most_nodes) {
  constexpr double kRow[] = {1, 1.5, 2.2, 3.3, 4.7, 6.8};
  Drawn drawn;
  drawn.nodes = 3 + below(random, most_nodes - 2);
  const auto value = [&] {
    return kRow[below(random, 6)] * std::pow(10., 2 + static_cast<double>(below(random, 3)));
  };
  for (std::size_t node = 1; node < drawn.nodes; ++node) {
    drawn.parts.push_back({node, below(random, 2) == 0 ? 0 : below(random, node), value()});
  }
  for (std::size_t more = below(random, drawn.nodes); more > 0; --more) {
    const std::size_t u = below(random, drawn.nodes);
    const std::size_t v = below(random, drawn.nodes);
    if (u != v) {
      drawn.parts.push_back({u, v, value()});
    }
  }
  return drawn;
}

/// The same parts with values inside their tolerance, often at its edge.
std::vector<Resistor> with_tolerance(std::mt19937& random, std::vector<Resistor> parts) {
  for (Resistor& part : parts) {
    part.ohm *=
        below(random, 3) == 0 ? (below(random, 2) == 0 ? 0.95 : 1.05) : uniform(random, 0.95, 1.05);
  }
  return parts;
}

/// Readings with noise, never more than 3 sigma.
std::vector<PairReading> noisy(std::mt19937& random, std::size_t nodes,
                               const std::vector<Resistor>& parts) {
  std::vector<PairReading> readings = read_all(nodes, parts, log_uniform(random, 0.003, 0.05));
  for (PairReading& reading : readings) {
    if (std::isfinite(reading.ohm)) {
      const double sigmas = std::clamp(std::normal_distribution<double>()(random), -2.9, 2.9);
      reading.ohm = std::max(0., reading.ohm + sigmas * reading.uncertainty_ohm / 2);
    }
  }
  return readings;
}

bool explains_all(const std::vector<Resistor>& parts, std::size_t nodes,
                  const std::vector<PairReading>& readings, std::size_t part, double siemens,
                  std::pair<std::size_t, std::size_t> leak, double slack) {
  const bool is_leak = part >= parts.size();
  std::vector<Resistor> low = parts;
  std::vector<Resistor> high = parts;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    low[i].ohm = i == part ? 1 / siemens : 0.94 * parts[i].ohm;
    high[i].ohm = i == part ? 1 / siemens : 1.06 * parts[i].ohm;
  }
  if (is_leak) {
    low.push_back({leak.first, leak.second, 1 / siemens});
    high.push_back({leak.first, leak.second, 1 / siemens});
  }
  const auto fits = [&](const auto& fits_one) {
    return std::all_of(readings.begin(), readings.end(), [&](const PairReading& reading) {
      return fits_one(reading, index(reading.a), index(reading.b), 1.5 * reading.uncertainty_ohm);
    });
  };
  const Eigen::MatrixXd least = solve(nodes, low);
  if (!fits([&](const PairReading& reading, std::size_t a, std::size_t b, double margin) {
        return !std::isfinite(reading.ohm) ||
               reading.ohm + margin + 0.2 * (reading.ohm > 1e4) * margin >=
                   least(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b)) / (1 + slack);
      })) {
    return false;
  }
  const Eigen::MatrixXd most = solve(nodes, high);
  return fits([&](const PairReading& reading, std::size_t a, std::size_t b, double margin) {
    return (std::isfinite(reading.ohm) ? reading.ohm - margin - 0.5 : 1e6) <=
           most(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b)) * (1 + slack);
  });
}

}  // namespace

TEST_CASE("healthy clusters give no fault, whatever tolerance and noise draw",
          "[graph][part_faults][slow]") {
  std::mt19937 random(20);
  for (int i = 0; i < 3000; ++i) {
    const Drawn drawn = draw_cluster(random, 12);
    const Board board = board_of(drawn.nodes, drawn.parts);
    const PairVerdicts verdicts =
        explain(board, noisy(random, drawn.nodes, with_tolerance(random, drawn.parts)));
    CAPTURE(i);
    REQUIRE(verdicts.faults.empty());
    REQUIRE(verdicts.unexplained.empty());
    REQUIRE(verdicts.unsure.empty());
  }
}

TEST_CASE("one fault is found wherever it can be told from all others",
          "[graph][part_faults][slow]") {
  std::mt19937 random(21);
  std::size_t off = 0;
  std::size_t unique = 0;
  for (int i = 0; i < 130; ++i) {
    const Drawn drawn = draw_cluster(random, 7);
    const std::vector<Resistor>& parts = drawn.parts;
    const Board board = board_of(drawn.nodes, parts);
    std::vector<Resistor> real = with_tolerance(random, parts);
    const auto beside = [&](std::size_t u, std::size_t v) {
      return std::count_if(parts.begin(), parts.end(), [&](const Resistor& part) {
        return std::minmax(part.u, part.v) == std::minmax(u, v);
      });
    };
    // The fault: a part, or a leak where not exactly one part is beside it.
    std::size_t part = below(random, parts.size());
    std::pair<std::size_t, std::size_t> leak{0, 0};
    double true_ohm = 0;
    if (below(random, 2) == 0) {
      leak = {below(random, drawn.nodes), below(random, drawn.nodes)};
    }
    const bool is_leak = leak.first != leak.second && beside(leak.first, leak.second) != 1;
    if (is_leak) {
      part = parts.size();
      true_ohm = log_uniform(random, 15, 5e3);
      real.push_back({leak.first, leak.second, true_ohm});
    } else {
      const std::size_t how = below(random, 3);
      true_ohm = how == 0   ? 1e12
                 : how == 1 ? parts[part].ohm * log_uniform(random, 1.5, 20)
                            : parts[part].ohm / log_uniform(random, 1.5, 20);
      real[part].ohm = true_ohm;
    }
    const std::vector<PairReading> readings = noisy(random, drawn.nodes, real);
    const PairVerdicts verdicts = explain(board, readings);
    CAPTURE(i, is_leak, part, leak.first, leak.second, true_ohm, drawn.nodes, parts.size());
    CHECK(verdicts.unexplained.empty());
    if (verdicts.faults.empty()) {  // then a healthy board explains the readings
      CHECK(explains_all(parts, drawn.nodes, readings, parts.size(), 1e-12, {0, 1}, 1e-3));
      continue;
    }
    ++off;
    REQUIRE(verdicts.faults.size() == 1);
    const PartFault& fault = verdicts.faults.front();
    // The truth is always among the alternatives.
    const auto nets_listed = [&](std::size_t u, std::size_t v) {
      return (fault.kind == FindingKind::leakage && between(fault, u, v)) ||
             std::any_of(fault.or_leaks.begin(), fault.or_leaks.end(), [&](const auto& pair) {
               return std::set{pair.first, pair.second} == std::set{net(u), net(v)};
             });
    };
    const std::vector<std::string> listed = names(board, fault.candidates);
    CHECK((is_leak ? nets_listed(leak.first, leak.second)
                   : std::count(listed.begin(), listed.end(), fmt::format("R{}", part)) == 1));
    // An exhaustive search, with direct solves on a grid of values: who else explains it?
    std::size_t others = 0;
    const auto possible = [&](std::size_t which, std::pair<std::size_t, std::size_t> pair) {
      for (double siemens = 1e-7; siemens < 10; siemens *= 1.12) {
        if (explains_all(parts, drawn.nodes, readings, which, siemens, pair, 0.06)) {
          return true;
        }
      }
      return explains_all(parts, drawn.nodes, readings, which, 1e-12, pair, 0.06);
    };
    for (std::size_t other = 0; other < parts.size(); ++other) {
      others += other != part && possible(other, {0, 0});
    }
    for (std::size_t u = 0; u < drawn.nodes; ++u) {
      for (std::size_t v = u + 1; v < drawn.nodes; ++v) {
        if (beside(u, v) != 1 && std::minmax(u, v) != std::minmax(leak.first, leak.second)) {
          others += possible(parts.size(), {u, v});
        }
      }
    }
    if (others == 0) {
      ++unique;
      CHECK(fault.candidates.size() == (is_leak ? 0 : 1));
      CHECK(fault.kind == (is_leak ? FindingKind::leakage : FindingKind::part));
      if (is_leak) {
        CHECK(between(fault, leak.first, leak.second));
      } else {
        CHECK(board[fault.part].name == fmt::format("R{}", part));
      }
      if (std::isfinite(fault.ohm)) {
        CHECK(std::abs(fault.ohm - true_ohm) <= 2 * fault.uncertainty_ohm + 0.1);
      }
    }
  }
  CAPTURE(off, unique);
  CHECK(off > 78);     // the faults are big enough to be seen
  CHECK(unique > 52);  // and most can be told apart
}

TEST_CASE("two faults are nearly always explained by no more than two", "[graph][part_faults]") {
  std::mt19937 random(22);
  int whole = 0;
  int right = 0;
  constexpr int kTrials = 200;
  for (int i = 0; i < kTrials; ++i) {
    const Drawn drawn = draw_cluster(random, 9);
    const Board board = board_of(drawn.nodes, drawn.parts);
    std::vector<Resistor> real = with_tolerance(random, drawn.parts);
    std::set<std::string> wrong;
    for (int k = 0; k < 2; ++k) {
      const std::size_t part = below(random, drawn.parts.size());
      real[part].ohm =
          below(random, 2) == 0 ? 1e12 : drawn.parts[part].ohm * log_uniform(random, 2, 10);
      wrong.insert(fmt::format("R{}", part));
    }
    const PairVerdicts verdicts = explain(board, noisy(random, drawn.nodes, real));
    whole += verdicts.unexplained.empty() && verdicts.faults.size() <= 2;
    std::set<std::string> accused;
    for (const PartFault& fault : verdicts.faults) {
      for (const std::string& name : names(board, fault.candidates)) {
        accused.insert(name);
      }
    }
    right += std::includes(accused.begin(), accused.end(), wrong.begin(), wrong.end());
  }
  CAPTURE(whole, right);
  CHECK(whole >= kTrials * 95 / 100);
  CHECK(right >= kTrials * 80 / 100);  // some cannot be seen, or told from others
}
