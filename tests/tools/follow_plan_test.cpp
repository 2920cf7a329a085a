// SPDX-License-Identifier: MIT
//
// Sweeps over several hookups: by the program on the demo board, and with hands that slip.
#include "tools/follow_plan.hpp"

#include <atomic>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/in_process.hpp"
#include "tests/support/program.hpp"
#include "tests/support/small_board.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;

json sweep_json(const std::vector<std::string>& more, int status) {
  const test::TemporaryFolder folder;
  std::vector<std::string> words = {"sweep", kDemo + "board.yaml", "--json", folder.path("s.json"),
                                    "--simulate"};
  words.insert(words.end(), more.begin(), more.end());
  const test::Outcome outcome = test::padwalk(words);
  CHECK(outcome.status == status);
  CHECK(outcome.err == "");
  return json::parse(test::read_text(folder.path("s.json")));
}

/// What a finding says of the copper, whatever the numbers.
json copper_of(const json& finding) {
  return {finding["kind"], finding.value("net", json()), finding.value("nets", json()),
          finding.value("pieces", json())};
}

const std::string kTwoChips =
    "parts:\n"
    "  U1: {kind: ic, type: 74HC00, package: DIP-14, xy: [0, 60]}\n"
    "  U2: {kind: ic, type: 74HC138, package: DIP-16, xy: [20, 60]}\n"
    "  R1: {kind: resistor, value: 10k, package: axial 10 mm, xy: [60, 60]}\n"
    "nets:\n"
    "  GND: {role: ground, points: [U1.7, U2.8]}\n"
    "  VCC: {role: supply, points: [U1.14, U2.16]}\n"
    "  A: [U1.1, U2.1]\n"
    "  B: [U1.2, U2.2, R1.1]\n"
    "  C: [U1.3, U2.3]\n"
    "  D: [U1.4, U2.7, R1.2]\n";
const std::string kBench =
    "padwalk: fixtures/1\n"
    "fixtures:\n"
    "  clip: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  other: {kind: chip clip, pins: 14, row: 0.3 inch, channels: 17-30, move: 8 s}\n"
    "  tip: {kind: tip, channels: 31, move: 4 s}\n";

/// Puts the 16-pin clip on as `slipped` says, until it is told so.
class SlippingHands : public tools::Hands {
 public:
  SlippingHands(const graph::Board& board, const graph::Fixtures& bench,
                simulated::SimulatedTester& tester, std::optional<graph::Slip::Kind> slipped,
                int pins)
      : board_(board), bench_(bench), tester_(tester), slipped_(slipped), pins_(pins) {}

  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& all) override {
    moves_ = step.moves;
    std::vector<std::size_t> misfits;
    graph::Hookup now = all;
    for (std::size_t i = 0; i < step.moves.size(); ++i) {
      const graph::PlanMove& move = step.moves[i];
      if (move.part == graph::kNoPart || board_[move.part].name != fits_nothing) {
        continue;
      }
      misfits.push_back(i);
      std::erase_if(now.leads, [&](const graph::Lead& lead) {
        return std::any_of(move.leads.begin(), move.leads.end(),
                           [&](const graph::Lead& off) { return off.channel == lead.channel; });
      });
    }
    apply(now);
    return misfits;
  }
  bool put_right(const graph::PlanMove& move, const graph::Slip& slip,
                 const graph::Hookup& now) override {
    asked.push_back(slip);
    const bool was = slipped_.has_value() && bench_.fixtures[move.fixture].name == "clip";
    slipped_ = was ? std::nullopt : slipped_;
    apply(now);
    return was;
  }
  bool touch_again(graph::NetId, const graph::Hookup&) override { return false; }
  tools::Reached touch(const graph::Hookup& now) override {
    apply(now);
    const std::string& name = board_[now.leads.back().point].name;
    touched.push_back(name);
    if (name == unreachable) {
      return tools::Reached::no;
    }
    const bool later = name == put_off && times_to_put_off > 0;
    times_to_put_off -= later ? 1 : 0;
    return later ? tools::Reached::later : tools::Reached::yes;
  }

  std::vector<graph::Slip> asked;
  std::vector<std::string> touched;
  std::string unreachable;
  std::string put_off;
  int times_to_put_off = 0;
  std::string fits_nothing;  ///< no clip goes on this part

 private:
  void apply(const graph::Hookup& now) {
    graph::Hookup real = now;
    for (std::size_t i = 0; slipped_ && i < moves_.size(); ++i) {
      if (bench_.fixtures[moves_[i].fixture].name != "clip") {
        continue;
      }
      for (const graph::Slip& slip : graph::possible_slips(board_, bench_, moves_[i], i)) {
        if (slip.kind == *slipped_ && slip.pins == pins_) {
          std::erase_if(real.leads, [](const graph::Lead& lead) { return lead.channel <= 16; });
          real.leads.insert(real.leads.end(), slip.leads.begin(), slip.leads.end());
        }
      }
    }
    tester_.set_circuit(test::still(tools::make_circuit(board_, {}, real, 31, true)));
  }

  const graph::Board& board_;
  const graph::Fixtures& bench_;
  simulated::SimulatedTester& tester_;
  std::optional<graph::Slip::Kind> slipped_;
  int pins_;
  std::vector<graph::PlanMove> moves_;
};

/// A point that is put off so often when it is to be touched.
struct PutOff {
  std::string point;
  int times = 0;
};

struct Followed {
  tools::SweepReport report;
  std::vector<std::string> touched;
  std::vector<graph::Slip> asked;
};

Followed follow(std::optional<graph::Slip::Kind> slipped, int pins = 0,
                const std::string& unreachable = "", const std::string& fits_nothing = "",
                const PutOff& put_off = {}) {
  const graph::Board board = test::small_board(kTwoChips);
  graph::Diagnostics diagnostics("bench");
  const graph::Fixtures bench = graph::read_fixtures(kBench, diagnostics);
  const graph::PlanGoal goal = graph::plan_goal(board, std::nullopt);
  graph::Plan plan = graph::make_plan(board, bench, goal);
  REQUIRE(plan.points_not_covered.empty());
  simulated::SimulatedTester tester(test::still(tools::make_circuit(board, {}, {}, 31, true)), {});
  const auto stream = transport::open_port(tester.port_name());
  session::Session session(*stream, {});
  Followed followed;
  followed.report.limits = graph::limits_for(board);
  SlippingHands hands(board, bench, tester, slipped, pins);
  hands.unreachable = unreachable;
  hands.fits_nothing = fits_nothing;
  hands.put_off = put_off.point;
  hands.times_to_put_off = put_off.times;
  const std::atomic<bool> stop{false};
  tools::follow_plan({session, board, false, nullptr, stop}, bench, goal, plan, hands,
                     followed.report);
  REQUIRE(!followed.report.measured.interrupted);
  followed.report.result =
      graph::find_differences(board, followed.report.limits, followed.report.measured);
  followed.asked = hands.asked;
  followed.touched = hands.touched;
  return followed;
}

}  // namespace

TEST_CASE("a sweep that follows a plan does what the plan says", "[tools][follow_plan]") {
  const test::TemporaryFolder folder;
  const std::string nets = "--nets=TIDE_CLK,FLOAT_B,A7";
  const test::Outcome planned =
      test::padwalk({"plan", kDemo + "board.yaml", "--fixtures", kDemo + "fixtures.yaml", nets,
                     "--json", folder.path("plan.json")});
  CHECK(planned.err == "");
  const json plan = json::parse(test::read_text(folder.path("plan.json")));
  const json sweep = sweep_json({"--fixtures", kDemo + "fixtures.yaml", nets}, 0);
  CHECK(sweep["verdict"] == "good");
  for (const char* count : {"hookups", "moves", "touches"}) {
    CHECK(sweep[count] == plan[count]);
  }
  CHECK(sweep["findings"].empty());
}

TEST_CASE("a plan finds what all leads at once find", "[tools][follow_plan]") {
  const std::string defects = kDemo + "corroded.yaml";
  const json whole = sweep_json({defects}, 1);
  const json followed = sweep_json(
      {defects, "--fixtures", kDemo + "fixtures.yaml", "--nets=TIDE_CLK,FLOAT_B,CPU_CLK,OSC_OUT"},
      1);
  REQUIRE(followed["findings"].size() == whole["findings"].size());
  for (std::size_t i = 0; i < whole["findings"].size(); ++i) {
    CHECK(copper_of(followed["findings"][i]) == copper_of(whole["findings"][i]));
  }
  CHECK(followed["hookups"] > 1);
}

TEST_CASE("a fixture that sits wrong is named before anything is believed",
          "[tools][follow_plan]") {
  using Kind = graph::Slip::Kind;
  const Followed right = follow(std::nullopt);
  CHECK(right.asked.empty());
  CHECK(right.report.result.findings.empty());
  for (const auto& [kind, pins] : std::vector<std::pair<Kind, int>>{{Kind::backwards, 0},
                                                                    {Kind::along, 1},
                                                                    {Kind::along, -1},
                                                                    {Kind::along, 2},
                                                                    {Kind::along, -2}}) {
    CAPTURE(static_cast<int>(kind), pins);
    const Followed wrong = follow(kind, pins);
    REQUIRE(!wrong.asked.empty());
    CHECK(wrong.asked.back().kind == kind);
    CHECK(wrong.asked.back().pins == pins);
    CHECK(wrong.report.slips == 1);
    CHECK(wrong.report.result.findings.empty());
    CHECK(wrong.report.result.no_contact.empty());
  }
}

TEST_CASE("what the tip cannot reach is said, and the sweep is not complete",
          "[tools][follow_plan]") {
  const Followed followed = follow(std::nullopt, 0, "R1.2");
  REQUIRE(followed.report.not_reached.size() == 1);
  CHECK(followed.report.status() == tools::ExitStatus::incomplete);
  CHECK(followed.report.result.findings.empty());
}

TEST_CASE("who goes away in the middle of a plan leaves an interrupted sweep",
          "[tools][follow_plan]") {
  test::Running tester({PADWALK_PROGRAM, "simulate", kDemo + "board.yaml"});
  const std::string port = tester.read_line();
  const test::Outcome outcome = test::padwalk(
      {"sweep", kDemo + "board.yaml", "--fixtures", kDemo + "fixtures.yaml", "--port", port});
  CHECK(outcome.status == 5);
  CHECK(outcome.out.find("put ") != std::string::npos);
  CHECK(outcome.out.find("INTERRUPTED") != std::string::npos);

  const test::TemporaryFolder folder;
  const std::string bench =
      folder.write("bench.yaml",
                   "padwalk: fixtures/1\nfixtures:\n"
                   "  grabbers: {kind: grabber, channels: 998-999, move: 15 s}\n");
  const test::Outcome too_high =
      test::padwalk({"sweep", kDemo + "board.yaml", "--fixtures", bench, "--port", port});
  CHECK(too_high.status == 2);
  CHECK(too_high.err == "padwalk: " + bench + " has a wire on channel 999, and the tester on " +
                            port + " has 208 channels\n");
}

TEST_CASE("a touch that is put off comes behind the others, once", "[tools][follow_plan]") {
  for (const int times : {1, 2}) {
    CAPTURE(times);
    const Followed followed = follow(std::nullopt, 0, "", "", {"R1.1", times});
    const auto asked = [&](const char* name) {
      return std::count(followed.touched.begin(), followed.touched.end(), name);
    };
    CHECK(asked("R1.1") == 2);
    CHECK(followed.touched.back() == "R1.1");
    CHECK(followed.report.not_reached.size() == (times == 2 ? 1 : 0));
    CHECK(followed.report.result.findings.empty());
  }
}

TEST_CASE("where no clip fits on a chip, the tip does what it would have done",
          "[tools][follow_plan]") {
  const Followed followed = follow(std::nullopt, 0, "", "U1");
  // A clip that did not fit is not tried there again.
  const std::vector<std::string>& misfits = followed.report.misfits;
  REQUIRE(!misfits.empty());
  CHECK(std::set(misfits.begin(), misfits.end()).size() == misfits.size());
  for (const std::string& misfit : misfits) {
    CHECK(misfit.find(" on U1") != std::string::npos);
  }
  CHECK(followed.report.result.findings.empty());
  CHECK(followed.report.result.no_contact.empty());
  CHECK(followed.report.not_reached.empty());
  CHECK(followed.report.status() == tools::ExitStatus::good);
  const graph::Board board = test::small_board(kTwoChips);
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    const graph::PointId point{i};
    if (board[point].net == graph::kNoNet) {
      continue;
    }
    CAPTURE(board[point].name);
    const auto& attached = followed.report.measured.attached;
    CHECK(std::find(attached.begin(), attached.end(), point) != attached.end());
  }
}

TEST_CASE("what nothing reaches once a clip does not fit is said", "[tools][follow_plan]") {
  const Followed followed = follow(std::nullopt, 0, "U1.3", "U1");
  REQUIRE(followed.report.not_reached.size() == 1);
  CHECK(followed.report.status() == tools::ExitStatus::incomplete);
  CHECK(followed.report.result.findings.empty());
}
