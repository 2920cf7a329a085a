// SPDX-License-Identifier: MIT
#include "graph/verdict.hpp"

#include <catch2/catch.hpp>

namespace {

using namespace padwalk::graph;

Limits limits(BoardState state, const std::string& limit_class = "",
              std::optional<double> isolation_ohm = std::nullopt) {
  BoardDescription description;
  description.state = state;
  description.limit_class = limit_class;
  description.isolation_ohm = isolation_ohm;
  Diagnostics diagnostics("test");
  return limits_for(Board(std::move(description), diagnostics));
}

}  // namespace

TEST_CASE("limits follow the board's state and its file", "[graph][verdict]") {
  const Limits assembled = limits(BoardState::assembled);
  CHECK(assembled.isolation_ohm == 10e3);
  CHECK(assembled.isolation_volt == 0.2);
  CHECK(assembled.open_above_ohm == 10e3);
  CHECK(assembled.short_up_to_ohm == 10);
  CHECK_FALSE(assembled.continuity_ohm);
  const Limits bare = limits(BoardState::bare);
  CHECK(bare.isolation_ohm == 2e6);
  CHECK(bare.isolation_volt == 5);
  CHECK(limits(BoardState::assembled, "", 50e3).isolation_ohm == 50e3);
  CHECK(limits(BoardState::bare, "", 1e6).isolation_ohm == 1e6);
}

TEST_CASE("a class sets both limits of a bare board and one of an assembled board",
          "[graph][verdict]") {
  struct Row {
    const char* name;
    double continuity_ohm;
    double isolation_ohm;
  };
  // Source: IPC-9252A levels A to C by secondary pages; MIL-PRF-55110G and MIL-PRF-50884F
  // (production) from the published specifications.
  for (const Row& row : {Row{"IPC-9252A level A", 100, 0.5e6}, Row{"IPC-9252A level B", 50, 2e6},
                         Row{"IPC-9252A level C", 10, 10e6}, Row{"MIL-PRF-55110G", 20, 2e6},
                         Row{"MIL-PRF-50884F", 10, 10e6}}) {
    CAPTURE(row.name);
    const Limits bare = limits(BoardState::bare, row.name);
    CHECK(bare.continuity_ohm == row.continuity_ohm);
    CHECK(bare.isolation_ohm == row.isolation_ohm);
    const Limits assembled = limits(BoardState::assembled, row.name);
    CHECK(assembled.continuity_ohm == row.continuity_ohm);
    CHECK(assembled.isolation_ohm == 10e3);
    CHECK(judge_same_net(bare, NetRole::supply, 0, row.continuity_ohm) == Verdict::good);
    CHECK(judge_same_net(bare, NetRole::signal, 0, row.continuity_ohm + 0.1) ==
          Verdict::high_resistance);
  }
  for (const std::string_view name : limit_classes()) {
    CHECK(limits(BoardState::bare, std::string(name)).continuity_ohm);
  }
}

TEST_CASE("readings are judged by kind of net and by their distance", "[graph][verdict]") {
  CHECK(good_up_to_ohm(NetRole::signal, 0) == Approx(1));
  CHECK(good_up_to_ohm(NetRole::signal, 2.5) == Approx(3.5));
  CHECK(good_up_to_ohm(NetRole::ground, 0) == Approx(0.5));
  CHECK(good_up_to_ohm(NetRole::supply, 0.2) == Approx(0.5));
  CHECK(good_up_to_ohm(NetRole::supply, 0.4) == Approx(0.6));
  const Limits assembled = limits(BoardState::assembled);
  CHECK(judge_same_net(assembled, NetRole::signal, 0, 1) == Verdict::good);
  CHECK(judge_same_net(assembled, NetRole::ground, 0, 0.7) == Verdict::high_resistance);
  CHECK(judge_same_net(assembled, NetRole::signal, 0, 10e3) == Verdict::high_resistance);
  CHECK(judge_same_net(assembled, NetRole::signal, 0, 10.1e3) == Verdict::open);
  CHECK(judge_same_net(assembled, NetRole::signal, 0, INFINITY) == Verdict::open);
  CHECK(judge_two_nets(assembled, 0) == Verdict::short_circuit);
  CHECK(judge_two_nets(assembled, 10) == Verdict::short_circuit);
  CHECK(judge_two_nets(assembled, 10.1) == Verdict::leakage);
  CHECK(judge_two_nets(assembled, 10e3) == Verdict::leakage);
  CHECK(judge_two_nets(assembled, 10.1e3) == Verdict::good);
  CHECK(judge_two_nets(assembled, INFINITY) == Verdict::good);
}
