// SPDX-License-Identifier: MIT
#include "tests/study/slip_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <numeric>
#include <optional>
#include <set>

#include "graph/board_yaml.hpp"
#include "graph/pieces.hpp"
#include "graph/plan.hpp"
#include "tests/study/memory_tester.hpp"
#include "tests/study/random_board.hpp"
#include "tests/study/random_defects.hpp"
#include "tools/follow_plan.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::study {

namespace {

using graph::Board;
using graph::PointId;

constexpr std::uint64_t kSlipBoardStream = 0;
constexpr std::uint64_t kFaultStream = 1;
constexpr std::uint64_t kHandStream = 2;
constexpr std::uint64_t kSlipStreams = 3;
constexpr double kSlip = 0.05;     // of a move, and of a touch
constexpr double kMisfit = 0.01;   // of a clip or a plug
constexpr double kTarnish = 0.02;  // of a lead that is put on
constexpr std::size_t kMostFaults = 3;
constexpr std::uint16_t kChannels = 80;

constexpr std::array kBenches = {
    "padwalk: fixtures/1\nfixtures:\n"
    "  clip-16: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  clip-40: {kind: chip clip, pins: 40, row: 0.6 inch, channels: 17-56, move: 12 s}\n"
    "  grabbers: {kind: grabber, channels: 57-62, move: 15 s}\n"
    "  tip: {kind: tip, channels: 63, move: 4 s}\n",
    "padwalk: fixtures/1\nfixtures:\n"
    "  grabbers: {kind: grabber, channels: 1-16, move: 15 s}\n"
    "  tip: {kind: tip, channels: 17, move: 4 s}\n",
    "padwalk: fixtures/1\nfixtures:\n"
    "  clips: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  other clips: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 17-32, move: 8 s}\n"
    "  grabbers: {kind: grabber, channels: 33-36, move: 15 s}\n"
    "  tip: {kind: tip, channels: 37, move: 4 s}\n"};

/// What else than copper conducts: nothing; links, fuses, coils and closed contacts; or any part
/// but a chip.
enum class Through : std::uint8_t { copper, ties, parts };

/// What is one conductor, place by place.
class Conductor {
 public:
  Conductor(const Board& board, const tools::Defects& defects, Through through)
      : board_(board),
        rank_(board.places().size() + defects.splits.size()),
        parent_(rank_.size()),
        sets_(rank_.data(), parent_.data()) {
    for (std::size_t i = 0; i < rank_.size(); ++i) {
      sets_.make_set(i);
    }
    std::map<PointId, std::size_t> hub;
    for (std::size_t i = 0; i < defects.splits.size(); ++i) {
      for (const PointId point : defects.splits[i].off) {
        hub[point] = board.places().size() + i;
      }
    }
    for (std::uint32_t i = 0; i < board.segments().size(); ++i) {
      const graph::Segment& segment = board.segments()[i];
      const bool cut = std::any_of(defects.cuts.begin(), defects.cuts.end(), [&](const auto& one) {
        return one.segment == graph::SegmentId{i};
      });
      const auto at = hub.find(segment.member);
      const bool moved = segment.kind == graph::SegmentKind::unknown_way && at != hub.end();
      if (!cut) {
        sets_.union_set(graph::index(segment.a), moved ? at->second : graph::index(segment.b));
      }
    }
    for (const auto& bridge : defects.bridges) {
      sets_.union_set(graph::index(bridge.a), graph::index(bridge.b));
    }
    for (const graph::Part& part : board.parts()) {
      using Kind = graph::PartKind;
      const bool ties =
          part.kind == Kind::link || part.kind == Kind::fuse || part.kind == Kind::inductor;
      const bool conducts = through == Through::parts || (through == Through::ties && ties);
      for (std::size_t pin = 1; board.assembled() && pin < part.pins.size(); ++pin) {
        if (conducts) {
          join(part.pins[0], part.pins[pin]);
        }
      }
      if (board.assembled() && through == Through::ties && !part.positions.empty()) {
        for (const std::vector<std::size_t>& closed : part.positions.front().second) {
          for (const std::size_t pin : closed) {
            join(part.pins[closed.front()], part.pins[pin]);
          }
        }
      }
    }
  }

  void join(PointId a, PointId b) {
    sets_.union_set(graph::index(board_[a].held), graph::index(board_[b].held));
  }
  std::size_t of(PointId point) { return sets_.find_set(graph::index(board_[point].held)); }

 private:
  const Board& board_;
  std::vector<std::size_t> rank_;
  std::vector<std::size_t> parent_;
  boost::disjoint_sets<std::size_t*, std::size_t*> sets_;
};

/// Where a lead is: on its point, on another one, or on no metal.
using Really = std::map<std::uint16_t, std::optional<PointId>>;

/// The person, and the tester's circuit as the person's hands make it.
class SlippingPerson : public tools::Person, public tools::Hands {
 public:
  SlippingPerson(const Board& board, const graph::Fixtures& bench, const tools::Defects& defects,
                 MemoryTester& tester, Draws draws, SlipRun& run)
      : board_(board),
        bench_(bench),
        defects_(defects),
        tester_(tester),
        draws_(draws),
        run_(run),
        copper_(board, defects, Through::ties) {}

  std::vector<std::size_t> place(const graph::PlanStep& step, const graph::Hookup& all) override {
    std::vector<std::size_t> misfits;
    graph::Hookup now = all;
    for (std::size_t i = 0; i < step.moves.size(); ++i) {
      if (step.moves[i].part != graph::kNoPart && draws_.chance(kMisfit)) {
        misfits.push_back(i);
        ++run_.misfits;
        std::erase_if(now.leads, [&](const graph::Lead& lead) {
          return std::any_of(step.moves[i].leads.begin(), step.moves[i].leads.end(),
                             [&](const auto& off) { return off.channel == lead.channel; });
        });
      }
    }
    forget_all_but(now);
    for (std::size_t i = 0; i < step.moves.size(); ++i) {
      leave([&](std::uint16_t channel) { return channel == step.moves[i].leads.front().channel; });
      if (std::find(misfits.begin(), misfits.end(), i) != misfits.end()) {
        continue;
      }
      ++run_.moves;
      put_straight(step.moves[i]);
      const auto slips = graph::possible_slips(board_, bench_, step.moves[i], i);
      if (!slips.empty() && draws_.chance(kSlip)) {
        for (const graph::Lead& lead : step.moves[i].leads) {
          really_[lead.channel] = std::nullopt;
        }
        for (const graph::Lead& lead : slips[draws_.below(slips.size())].leads) {
          really_[lead.channel] = lead.point;
        }
        ++run_.slips;
        slipped_.insert(step.moves[i].leads.front().channel);
      }
      tarnish(step.moves[i].leads);
    }
    apply(now);
    return misfits;
  }

  bool put_right(const graph::PlanMove& move, const graph::Slip&,
                 const graph::Hookup& now) override {
    const bool slipped = slipped_.erase(move.leads.front().channel) > 0;
    (slipped ? run_.put_right : run_.asked_in_vain) += 1;
    put_straight(move);
    for (const graph::Lead& lead : move.leads) {
      doubtful_.erase(lead.point);
    }
    apply(now);
    return slipped;
  }

  tools::Reached touch(const graph::Hookup& now) override {
    const graph::Lead& tip = now.leads.back();
    forget_all_but(now);
    ++run_.touches;
    leave([&](std::uint16_t channel) { return channel == tip.channel; });
    really_[tip.channel] = tip.point;
    const std::vector<PointId> beside = pins_beside(tip.point);
    if (!beside.empty() && draws_.chance(kSlip)) {
      really_[tip.channel] = beside[draws_.below(beside.size())];
      ++run_.slips;
      slipped_.insert(tip.channel);
    }
    tarnish({tip});
    apply(now);
    return tools::Reached::yes;
  }

  bool touch_again(graph::NetId, const graph::Hookup& now) override {
    const graph::Lead& tip = now.leads.back();
    const bool slipped = slipped_.erase(tip.channel) > 0;
    (slipped ? run_.put_right : run_.asked_in_vain) += 1;
    really_[tip.channel] = tip.point;
    apply(now);
    return slipped;
  }

  /// Whoever takes a lead off and on again sees where it was, and what else sits wrong on that
  /// part.
  void reseat(const Board&, const std::vector<graph::Lead>& leads) override {
    for (const graph::Lead& lead : leads) {
      dirty_.erase(lead.channel);
    }
    for (const graph::Lead& lead : leads) {
      for (const graph::Lead& other : now_.leads) {
        if (other.channel == lead.channel || on_one_fixture(other.channel, lead.channel)) {
          really_[other.channel] = other.point;
          run_.put_right += slipped_.erase(other.channel);
        }
      }
    }
    apply(now_);
  }

  const std::set<PointId>& doubtful() const { return doubtful_; }
  const std::vector<std::set<PointId>>& together() const { return together_; }

  /// At the end: slips that nobody asked about.
  void end() {
    look();
    leave([](std::uint16_t) { return true; });
  }

 private:
  /// Before the leads are moved.
  void look() {
    if (contradictions(true) > contradictions(false)) {
      shown_.insert(slipped_.begin(), slipped_.end());
    }
    std::set<PointId> true_now;
    for (const graph::Lead& lead : now_.leads) {
      const std::optional<PointId>& point = really_[lead.channel];
      if (point == lead.point && dirty_.count(lead.channel) == 0) {
        true_now.insert(lead.point);
      } else if (point != lead.point) {
        doubtful_.insert(lead.point);
      }
    }
    together_.push_back(std::move(true_now));
  }

  bool on_one_fixture(std::uint16_t a, std::uint16_t b) const {
    return std::any_of(bench_.fixtures.begin(), bench_.fixtures.end(), [&](const auto& fixture) {
      const auto has = [&](std::uint16_t channel) {
        return std::find(fixture.channels.begin(), fixture.channels.end(), channel) !=
               fixture.channels.end();
      };
      return fixture.kind != graph::FixtureKind::grabber && has(a) && has(b);
    });
  }

  void forget_all_but(const graph::Hookup& now) {
    look();
    Really kept;
    for (const graph::Lead& lead : now.leads) {
      const auto at = really_.find(lead.channel);
      kept[lead.channel] = at == really_.end() ? lead.point : at->second;
    }
    really_ = std::move(kept);
    run_.not_provable +=
        std::erase_if(slipped_, [&](std::uint16_t channel) { return really_.count(channel) == 0; });
    std::erase_if(dirty_, [&](std::uint16_t channel) { return really_.count(channel) == 0; });
  }

  /// Leads that go elsewhere: slips that nobody asked about.
  template <typename Goes>
  void leave(Goes goes) {
    for (const std::uint16_t channel : slipped_) {
      if (goes(channel) && shown_.count(channel) != 0) {
        run_.troubles.push_back(fmt::format(
            "the fixture with channel {} sat wrong, it showed, and nobody asked", channel));
      }
    }
    run_.not_provable += std::erase_if(slipped_, goes);
    std::erase_if(shown_, goes);
  }

  void put_straight(const graph::PlanMove& move) {
    for (const graph::Lead& lead : move.leads) {
      really_[lead.channel] = lead.point;
    }
  }

  void tarnish(const std::vector<graph::Lead>& leads) {
    for (const graph::Lead& lead : leads) {
      dirty_.erase(lead.channel);
      if (draws_.chance(kTarnish)) {
        dirty_.insert(lead.channel);
        ++run_.tarnished;
      }
    }
  }

  /// The neighbours of a pin on its part.
  std::vector<PointId> pins_beside(PointId point) const {
    std::vector<PointId> beside;
    if (board_[point].part == graph::kNoPart) {
      return beside;
    }
    const auto& pins = board_[board_[point].part].pins;
    const auto at = std::find(pins.begin(), pins.end(), point);
    if (at != pins.begin()) {
      beside.push_back(*std::prev(at));
    }
    if (at != pins.end() && std::next(at) != pins.end()) {
      beside.push_back(*std::next(at));
    }
    return beside;
  }

  void apply(const graph::Hookup& now) {
    now_ = now;
    graph::Hookup real;
    for (const auto& [channel, point] : really_) {
      if (point && dirty_.count(channel) == 0) {
        real.leads.push_back({channel, *point});
      }
    }
    tester_.hal().set_circuit(tools::make_circuit(board_, defects_, real, kChannels, true));
  }

  /// What the file does not explain, with the leads where they are or where they should be.
  std::size_t contradictions(bool really) {
    std::map<graph::NetId, std::set<std::size_t>> pieces_of_net;
    std::map<std::size_t, std::set<std::pair<graph::NetId, PointId>>> nets_of_piece;
    for (const graph::Lead& lead : now_.leads) {
      const bool air_really = really && dirty_.count(lead.channel) != 0;
      const std::optional<PointId> at = air_really ? std::nullopt
                                        : really   ? really_[lead.channel]
                                                   : lead.point;
      const std::size_t air = board_.places().size() * 2 + lead.channel;
      const std::size_t piece = at ? copper_.of(*at) : air;
      const graph::NetId net = board_[lead.point].net;
      pieces_of_net[net].insert(piece);
      nets_of_piece[piece].emplace(net, net == graph::kNoNet ? lead.point : graph::kNoPoint);
    }
    pieces_of_net.erase(graph::kNoNet);
    std::size_t count = 0;
    for (const auto& [net, pieces] : pieces_of_net) {
      count += pieces.size() - 1;
    }
    for (const auto& [piece, nets] : nets_of_piece) {
      count += nets.size() - 1;
    }
    return count;
  }

  const Board& board_;
  const graph::Fixtures& bench_;
  const tools::Defects& defects_;
  MemoryTester& tester_;
  Draws draws_;
  SlipRun& run_;
  Conductor copper_;
  Really really_;
  std::set<std::uint16_t> dirty_;
  std::set<std::uint16_t> slipped_;  ///< by a channel of what slipped
  std::set<std::uint16_t> shown_;    ///< of these: some reading told of it
  graph::Hookup now_;
  std::set<PointId> doubtful_;  ///< a lead was taken for being on these, and was not
  std::vector<std::set<PointId>> together_;
};

/// Nets that a fault touches.
std::set<graph::NetId> faulty_nets(const Board& board, std::span<const Planted> planted) {
  std::set<graph::NetId> nets;
  for (const Planted& one : planted) {
    nets.insert(one.net);
    for (const graph::PlaceId place : {one.a, one.b}) {
      if (place != graph::kNoPlace) {
        nets.insert(board[board[place].point].net);
      }
    }
  }
  nets.erase(graph::kNoNet);
  return nets;
}

/// Measured pieces against the copper.
void check_pieces(const Board& board, const tools::Defects& defects, const graph::Fixtures& bench,
                  const graph::Plan& plan, const SlippingPerson& person,
                  const tools::SweepReport& report, SlipRun& run) {
  Conductor copper(board, defects, Through::copper);
  Conductor anything(board, defects, Through::parts);
  Conductor tied(board, {}, Through::ties);
  const auto pieces_by = [&](const std::vector<graph::Reading>& readings) {
    return graph::measured_pieces(board, report.measured.attached, readings,
                                  report.limits.open_above_ohm, report.limits.short_up_to_ohm);
  };
  const graph::Pieces pieces = pieces_by(report.measured.readings);
  // A lead on another pin of the same net says nothing that the file does not.
  std::set<PointId> unsure = person.doubtful();
  std::vector<graph::Reading> beyond_doubt = report.measured.readings;
  std::erase_if(beyond_doubt, [&](const graph::Reading& reading) {
    const auto [a, b] = graph::two_points(reading.wanted);
    return unsure.count(a) + unsure.count(b) != 0;
  });
  const graph::Pieces sound = pieces_by(beyond_doubt);
  unsure.insert(plan.points_not_covered.begin(), plan.points_not_covered.end());
  std::vector<PointId> sure;
  std::copy_if(report.measured.attached.begin(), report.measured.attached.end(),
               std::back_inserter(sure), [&](PointId point) { return unsure.count(point) == 0; });
  const bool grabber = std::any_of(
      bench.fixtures.begin(), bench.fixtures.end(),
      [](const graph::Fixture& fixture) { return fixture.kind == graph::FixtureKind::grabber; });
  const auto met = [&](PointId a, PointId b) {
    return std::any_of(person.together().begin(), person.together().end(),
                       [&](const auto& points) { return points.count(a) + points.count(b) == 2; });
  };
  for (std::size_t i = 0; i < sure.size(); ++i) {
    for (std::size_t j = i + 1; j < sure.size(); ++j) {
      const PointId a = sure[i];
      const PointId b = sure[j];
      const bool same_net = board[a].net == board[b].net && board[a].net != graph::kNoNet;
      const bool could_hold = grabber && (board[a].access == graph::Access::clip ||
                                          board[b].access == graph::Access::clip);
      if (sound[a] == sound[b] && anything.of(a) != anything.of(b)) {
        run.troubles.push_back(
            fmt::format("{} and {} measured as joined, and are not", board[a].name, board[b].name));
      } else if (pieces[a] != pieces[b] && copper.of(a) == copper.of(b) &&
                 (same_net ? met(a, b) || could_hold : met(a, b) && tied.of(a) != tied.of(b))) {
        run.troubles.push_back(fmt::format("{} and {} are joined, and were not measured so",
                                           board[a].name, board[b].name));
      }
    }
  }
}

}  // namespace

SlipRun run_slips(std::uint64_t number, std::uint64_t seed) {
  SlipRun run;
  Draws board_draws(seed, number * kSlipStreams + kSlipBoardStream);
  graph::Diagnostics diagnostics("board");
  const Board board(graph::read_board(graph::write_board(random_board(board_draws)), diagnostics),
                    diagnostics);
  graph::Diagnostics bench_diagnostics("bench");
  const graph::Fixtures bench =
      graph::read_fixtures(kBenches[number % kBenches.size()], bench_diagnostics);
  const graph::PlanGoal goal = graph::plan_goal(board, graph::NeighbourRules{});
  graph::Plan plan = graph::make_plan(board, bench, goal);
  if (plan.steps.empty()) {
    return run;
  }
  run.planned = true;
  Draws draws(seed, number * kSlipStreams + kFaultStream);
  constexpr std::array kKinds = {DefectKind::open, DefectKind::split, DefectKind::short_circuit};
  const std::vector<Planted> planted =
      random_defects(draws, board, kKinds, draws.below(kMostFaults + 1));
  run.faults = planted.size();
  const tools::Defects defects = make_defects(planted, {});

  tools::SweepReport report;
  report.limits = graph::limits_for(board);
  MemoryTester tester(tools::make_circuit(board, defects, {}, kChannels, true));
  SlippingPerson person(board, bench, defects, tester,
                        Draws(seed, number * kSlipStreams + kHandStream), run);
  const std::atomic<bool> stop{false};
  session::Options options;
  options.bare_board = !board.assembled();
  session::Session session(tester, options);
  tools::follow_plan({session, board, false, &person, stop}, bench, goal, plan, person, report);
  person.end();
  run.hookups = report.hookups;
  if (report.measured.interrupted) {
    run.troubles.push_back(report.refused ? "refused" : "failed: " + report.failure);
    return run;
  }
  check_pieces(board, defects, bench, plan, person, report, run);
  const std::set<graph::NetId> faulty = faulty_nets(board, planted);
  for (const graph::Finding& finding :
       graph::find_differences(board, report.limits, report.measured).findings) {
    const bool explained = std::any_of(finding.nets.begin(), finding.nets.end(),
                                       [&](graph::NetId net) { return faulty.count(net) != 0; });
    // Kilohms are the other study's matter.
    const bool of_copper =
        finding.kind != graph::FindingKind::leakage && finding.kind != graph::FindingKind::part;
    run.beside += !explained && !of_copper ? 1 : 0;
    if (!explained && of_copper) {
      run.troubles.push_back(fmt::format("{} of net {} is explained by nothing planted",
                                         graph::finding_kind_name(finding.kind),
                                         board[finding.nets.front()].name));
    }
  }
  return run;
}

}  // namespace padwalk::study
