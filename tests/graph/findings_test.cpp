// SPDX-License-Identifier: MIT
#include "graph/findings.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <random>
#include <set>

#include "graph/scan.hpp"

namespace {

using namespace padwalk::graph;
using Names = std::vector<std::string>;

/// Nets of test points in a row, 2.54 mm apart; "A: a1 a2 a3" becomes {"A", {"a1", "a2", "a3"}}.
/// A net named "-" holds points that are in no net.
BoardDescription describe(const std::vector<std::pair<std::string, Names>>& nets) {
  BoardDescription description;
  description.state = BoardState::bare;
  for (const auto& [name, points] : nets) {
    NetDescription net;
    net.name = name;
    for (const std::string& point : points) {
      PointDescription pad;
      pad.name = point;
      pad.xy = Xy{2.54 * static_cast<double>(description.points.size()), 0};
      pad.side = Side::top;
      description.points.push_back(pad);
      net.members.push_back({point, {}});
    }
    if (name != "-") {
      description.nets.push_back(net);
    }
  }
  return description;
}

Board build(BoardDescription description) {
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

std::vector<PointId> all_points(const Board& board) {
  std::vector<PointId> points;
  for (std::uint32_t i = 0; i < board.points().size(); ++i) {
    points.push_back(PointId{i});
  }
  return points;
}

/// The conductors of the real board, each as a list of names; the others are as the nets say.
using Conductors = std::vector<Names>;

/// Ohms between two points beside the copper.
struct Leak {
  std::string a;
  std::string b;
  double ohm = kOpenOhm;
};

/// Scans the board whose copper is `actual`; where a point stands in no conductor it touches
/// nothing.
Measured scan(const Board& board, const Conductors& actual, bool quick = false,
              const Leak& leak = {}) {
  std::map<PointId, std::size_t> conductor;
  for (std::size_t i = 0; i < actual.size(); ++i) {
    for (const std::string& name : actual[i]) {
      conductor[board.find_point(name).value()] = i;
    }
  }
  const auto joined = [&](PointId a, PointId b) {
    return conductor.count(a) != 0 && conductor.count(b) != 0 && conductor[a] == conductor[b];
  };
  Measured measured;
  measured.attached = all_points(board);
  ScanLimits limits;
  limits.quick = quick;
  limits.good_ohm = good_limit(board, limits_for(board));
  Scan run(board, measured.attached, limits);
  for (auto round = run.next(); !round.empty(); round = run.next()) {
    std::vector<Reading> readings;
    for (const WantedReading& wanted : round) {
      Reading reading{wanted, kOpenOhm, 0, 0.2};
      for (const PointId source : wanted.source) {
        for (const PointId sink : wanted.sink.empty() ? std::vector{wanted.sense} : wanted.sink) {
          const std::set<std::string> names = {board[source].name, board[sink].name};
          if (names == std::set<std::string>{leak.a, leak.b}) {
            reading.ohm = std::min(reading.ohm, leak.ohm);
          }
          if (joined(source, sink)) {
            reading.ohm = 0.4;
            reading.uncertainty_ohm = 0.1;
          }
        }
      }
      readings.push_back(reading);
    }
    run.record(readings);
  }
  measured.readings = run.readings();
  measured.nets = run.net_readings();
  measured.silent_believed = run.silent();
  return measured;
}

Findings judge(const Board& board, const Measured& measured) {
  return find_differences(board, limits_for(board), measured);
}

std::vector<Names> named(const Board& board, const std::vector<std::vector<PointId>>& pieces) {
  std::vector<Names> all;
  for (const std::vector<PointId>& piece : pieces) {
    all.emplace_back();
    for (const PointId point : piece) {
      all.back().push_back(board[point].name);
    }
  }
  return all;
}

Names net_names(const Board& board, const Finding& finding) {
  Names names;
  for (const NetId net : finding.nets) {
    names.push_back(board[net].name);
  }
  return names;
}

Names notes(const Board& board, const std::vector<PointNote>& all) {
  Names lines;
  for (const PointNote& note : all) {
    lines.push_back(board[note.point].name + ": " + note.why);
  }
  return lines;
}

bool says(const Findings& findings, const std::string& text) {
  return std::any_of(findings.cannot_see.begin(), findings.cannot_see.end(),
                     [&](const std::string& line) { return line.find(text) != std::string::npos; });
}

Reading read(const Board& board, const std::string& a, const std::string& b, double ohm,
             Purpose purpose = Purpose::continuity) {
  Reading reading;
  reading.wanted = {
      {board.find_point(a).value()}, {board.find_point(b).value()}, purpose, kNoPoint, {}};
  reading.ohm = ohm;
  reading.volt = 0.2;
  return reading;
}

const std::vector<std::pair<std::string, Names>> kThree = {
    {"A", {"a1", "a2", "a3", "a4"}}, {"B", {"b1", "b2", "b3"}}, {"C", {"c1", "c2"}}, {"D", {"d1"}}};

}  // namespace

TEST_CASE("a healthy board has no findings", "[graph][findings]") {
  const Board board = build(describe(kThree));
  for (const bool quick : {false, true}) {
    const Findings findings = judge(
        board,
        scan(board, {{"a1", "a2", "a3", "a4"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}}, quick));
    CHECK(findings.findings.empty());
    CHECK(findings.causes.empty());
    CHECK(findings.no_contact.empty());
    CHECK(findings.untested.empty());
    CHECK(says(findings, "from 1 point nothing is expected"));
    CHECK(says(findings, "no path of 2 Mohm or less was seen at 5 V"));
    CHECK(says(findings, "a quick sweep sees no weak joint") == quick);
  }
}

TEST_CASE("a broken net is one open finding with its pieces, largest first", "[graph][findings]") {
  const Board board = build(describe(kThree));
  const Findings findings = judge(
      board, scan(board, {{"a1"}, {"a2", "a4"}, {"a3"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}}));
  REQUIRE(findings.findings.size() == 1);
  const Finding& open = findings.findings[0];
  CHECK(open.id == "F1");
  CHECK(open.kind == FindingKind::open);
  CHECK(net_names(board, open) == Names{"A"});
  CHECK(named(board, open.pieces) == std::vector<Names>{{"a2", "a4"}, {"a1"}, {"a3"}});
  CHECK(open.ohm == kOpenOhm);
  CHECK(open.volt == 0.2);
  CHECK(open.open.breaks >= 1);
  // Silence that a re-seat did not cure has the lead's own contact among its suspects.
  CHECK(std::any_of(open.open.suspects.begin(), open.open.suspects.end(),
                    [](const OpenSuspect& suspect) { return suspect.contact != kNoPoint; }));
}

TEST_CASE("a merged group is one short finding with the ohms of its confirmation",
          "[graph][findings]") {
  const Board board = build(describe(kThree));
  const Findings findings =
      judge(board, scan(board, {{"a1", "a2", "a3", "a4", "c1", "c2"}, {"b1", "b2", "b3", "d1"}}));
  REQUIRE(findings.findings.size() == 2);
  CHECK(findings.findings[0].kind == FindingKind::short_circuit);
  CHECK(net_names(board, findings.findings[0]) == Names{"A", "C"});
  CHECK(findings.findings[0].ohm == Approx(0.4));
  CHECK(findings.findings[0].uncertainty_ohm == Approx(0.1));
  REQUIRE(!findings.findings[0].gaps.empty());
  CHECK(net_names(board, findings.findings[1]) == Names{"B", "D"});
  CHECK(
      says(findings, "net A: a break cannot be excluded until the short is cleared; sweep again"));
  CHECK(says(findings, "net B: a break cannot be excluded"));
  CHECK_FALSE(says(findings, "net D: a break"));
}

TEST_CASE("a fragment that touches a foreign net is an open and a short", "[graph][findings]") {
  const Board board = build(describe(kThree));
  const Findings findings =
      judge(board, scan(board, {{"a1", "a2"}, {"a3", "a4", "b1", "b2", "b3", "c1", "c2"}, {"d1"}}));
  REQUIRE(findings.findings.size() == 2);
  CHECK(findings.findings[0].kind == FindingKind::open);
  CHECK(named(board, findings.findings[0].pieces) ==
        std::vector<Names>{{"a1", "a2"}, {"a3", "a4"}});
  CHECK(net_names(board, findings.findings[1]) == Names{"A", "B", "C"});
  CHECK(findings.causes.empty());
}

TEST_CASE("silence without proof of contact is no open", "[graph][findings]") {
  const Board board = build(describe(kThree));
  Measured measured =
      scan(board, {{"a1", "a2", "a3"}, {"b1", "b2", "b3"}, {"d1"}});  // a4, c1, c2 silent
  measured.silent_unproven = measured.silent_believed;
  measured.silent_believed.clear();
  const Findings findings = judge(board, measured);
  CHECK(findings.findings.empty());
  CHECK(notes(board, findings.no_contact) == Names{"a4: silent, and not asked to re-seat",
                                                   "c1: silent, and not asked to re-seat",
                                                   "c2: silent, and not asked to re-seat"});

  Measured broken = scan(board, {{"a1"}, {"a2", "a3"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}});
  broken.silent_unproven = {*board.find_point("a4")};
  broken.silent_believed = {*board.find_point("a1")};
  const Findings open = judge(board, broken);
  REQUIRE(open.findings.size() == 1);
  CHECK(named(board, open.findings[0].pieces) == std::vector<Names>{{"a2", "a3"}, {"a1"}});
  CHECK(open.no_contact.size() == 1);
}

TEST_CASE("exchanged pins are said to be a probable slip of the file", "[graph][findings]") {
  const Board board = build(describe(kThree));
  const Findings findings = judge(
      board, scan(board, {{"a1", "b2", "a3", "a4"}, {"b1", "a2", "b3"}, {"c1", "c2"}, {"d1"}}));
  REQUIRE(findings.findings.size() == 3);
  REQUIRE(findings.causes.size() == 1);
  CHECK(findings.causes[0].findings == Names{"F1", "F2", "F3"});
  CHECK(findings.causes[0].why ==
        "probably a slip of the file: a2 and b2 are exchanged; with b2 in net A and a2 in net B "
        "all that was measured is right");

  // A third net in it, or two points on the wrong side: no exchange of two pins explains that.
  CHECK(
      judge(board, scan(board, {{"a1", "b2", "a3", "a4", "d1"}, {"b1", "a2", "b3"}, {"c1", "c2"}}))
          .causes.empty());
  CHECK(judge(board,
              scan(board, {{"a1", "a4", "b2"}, {"a2", "a3", "b1", "b3"}, {"c1", "c2"}, {"d1"}}))
            .causes.empty());
}

TEST_CASE("of two exchanges that explain all, the one inside a part is named",
          "[graph][findings]") {
  BoardDescription description = describe({{"A", {"a1"}}, {"B", {"b1"}}});
  PartDescription chip;
  chip.name = "U1";
  chip.pins.resize(2);
  chip.pins[0].name = "1";
  chip.pins[1].name = "2";
  description.parts.push_back(chip);
  description.nets[0].members.push_back({"U1.1", {}});
  description.nets[1].members.push_back({"U1.2", {}});
  const Board board = build(std::move(description));
  const Findings findings = judge(board, scan(board, {{"a1", "U1.2"}, {"b1", "U1.1"}}));
  REQUIRE(findings.causes.size() == 1);
  CHECK(findings.causes[0].why.find("U1.1 and U1.2 are exchanged") != std::string::npos);
}

TEST_CASE("every exchange of two pins is recognised", "[graph][findings]") {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    std::vector<std::pair<std::string, Names>> nets;
    Conductors actual;
    for (std::size_t net = 0; net < 5; ++net) {
      nets.emplace_back("N" + std::to_string(net), Names{});
      for (std::size_t i = 3 + random() % 4; i > 0; --i) {
        nets.back().second.push_back("p" + std::to_string(net) + "_" + std::to_string(i));
      }
      actual.push_back(nets.back().second);
    }
    const std::size_t a = random() % 5;
    const std::size_t b = (a + 1 + random() % 4) % 5;
    std::string& one = actual[a][random() % actual[a].size()];
    std::string& other = actual[b][random() % actual[b].size()];
    std::swap(one, other);
    const Board board = build(describe(nets));
    const Findings findings = judge(board, scan(board, actual));
    REQUIRE(findings.findings.size() == 3);
    REQUIRE(findings.causes.size() == 1);
    CHECK(findings.causes[0].why.find(one) != std::string::npos);
    CHECK(findings.causes[0].why.find(other) != std::string::npos);
  }
}

TEST_CASE("a point in no net that conducts to a net is a short and perhaps a gap in the file",
          "[graph][findings]") {
  const Board board = build(describe({{"A", {"a1", "a2"}}, {"-", {"x1", "x2"}}}));
  const Findings findings = judge(board, scan(board, {{"a1", "a2", "x1"}, {"x2"}}));
  REQUIRE(findings.findings.size() == 1);
  CHECK(findings.findings[0].kind == FindingKind::short_circuit);
  CHECK(net_names(board, findings.findings[0]) == Names{"A"});
  CHECK(findings.findings[0].in_no_net == std::vector<PointId>{*board.find_point("x1")});
  REQUIRE(findings.causes.size() == 1);
  CHECK(findings.causes[0].why ==
        "x1 is in no net of the file; perhaps the file lacks it in net A");
}

TEST_CASE("what is neither good nor a finding is listed as not judged", "[graph][findings]") {
  const Board board = build(describe(kThree));
  Measured measured =
      scan(board, {{"a1", "a2", "a3", "a4"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}});
  measured.readings.push_back(read(board, "a1", "a3", 35));
  measured.readings.push_back(read(board, "b1", "b2", kOpenOhm));
  measured.readings.push_back(read(board, "b1", "d1", 4, Purpose::isolation));
  for (const char* to : {"a1", "a1", "a2"}) {
    measured.readings.push_back(read(board, "c1", to, kOpenOhm, Purpose::isolation));
    measured.readings.back().number = false;
  }
  measured.readings.push_back(read(board, "c1", "c2", kOpenOhm));
  measured.readings.back().number = false;
  const Findings findings = judge(board, measured);
  CHECK(findings.findings.empty());
  CHECK(notes(board, findings.untested) ==
        Names{"a3: reads 35 ohm from a1 once and less once",
              "b2: read open from b1 once and closed once",
              "c2: gave no ohms from c1: a voltage of the board's own, a path that comes and goes, "
              "or over range",
              "b1: B reads 4 ohm to D, and not again point by point",
              "c1: C to A gave no ohms: a voltage of the board's own, or a path that comes and "
              "goes"});
}

TEST_CASE("what still fills or empties between two nets is no short", "[graph][findings]") {
  const Board board = build(describe(kThree));
  Measured measured =
      scan(board, {{"a1", "a2", "a3", "a4"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}});
  measured.readings.push_back(read(board, "b1", "d1", 0));
  measured.readings.back().settled = false;
  CHECK(judge(board, measured).findings.empty());
  measured.readings.back().settled = true;
  CHECK(judge(board, measured).findings.size() == 1);
}

TEST_CASE("whole nets that read shorted twice are shorted, though no two points read so",
          "[graph][findings]") {
  const Board board = build(describe(kThree));
  Measured measured =
      scan(board, {{"a1", "a2", "a3", "a4"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}});
  measured.readings.push_back(read(board, "b1", "d1", 4, Purpose::isolation));
  measured.readings.push_back(read(board, "b1", "d1", 4.2, Purpose::isolation));
  const Findings findings = judge(board, measured);
  REQUIRE(findings.findings.size() == 1);
  const Finding& finding = findings.findings.front();
  CHECK(finding.kind == FindingKind::short_circuit);
  CHECK(net_names(board, finding) == Names{"B", "D"});
  CHECK(finding.comes_and_goes);
  CHECK(finding.ohm == Approx(4.2));
  CHECK(!finding.gaps.empty());
  CHECK(findings.untested.empty());
}

TEST_CASE("a leak between two nets and a weak joint are findings with their ohms",
          "[graph][findings]") {
  BoardDescription description = describe(kThree);
  description.state = BoardState::assembled;
  const Board board = build(std::move(description));
  const Conductors copper = {{"a1", "a2", "a3", "a4"}, {"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}};
  const Findings findings = judge(board, scan(board, copper, false, {"c1", "d1", 4.7e3}));
  REQUIRE(findings.findings.size() == 1);
  CHECK(findings.findings[0].kind == FindingKind::leakage);
  CHECK(net_names(board, findings.findings[0]) == Names{"C", "D"});
  CHECK(findings.findings[0].ohm == Approx(4.7e3).epsilon(1e-3));
  CHECK(findings.untested.empty());
  const Findings weak = judge(
      board, scan(board, {{"a1", "a2", "a3", "a4"}, {"b1", "b2"}, {"b3"}, {"c1", "c2"}, {"d1"}},
                  false, {"b1", "b3", 35}));
  REQUIRE(weak.findings.size() == 1);
  CHECK(weak.findings[0].kind == FindingKind::high_resistance);
  CHECK(net_names(board, weak.findings[0]) == Names{"B"});
  CHECK(weak.findings[0].ohm == 35);
  REQUIRE(weak.findings[0].pieces.size() == 2);
  CHECK(weak.findings[0].pieces[1] == std::vector<PointId>{*board.find_point("b3")});
  CHECK(weak.untested.empty());
}

TEST_CASE("points without a lead are listed, or counted where they are many", "[graph][findings]") {
  Names many;
  for (int i = 0; i < 22; ++i) {
    many.push_back("m" + std::to_string(i));
  }
  const Board board = build(describe({{"A", {"a1", "a2"}}, {"M", many}}));
  Measured measured;
  measured.attached = {PointId{0}, PointId{1}};
  measured.readings = {read(board, "a1", "a2", 0)};
  const Findings counted = judge(board, measured);
  CHECK(counted.untested.empty());
  CHECK(says(counted, "22 points have no lead on them"));
  for (std::uint32_t i = 2; i < 5; ++i) {
    measured.attached.push_back(PointId{i});
    measured.readings.push_back(read(board, "m0", "m" + std::to_string(i - 2), 0));
  }
  const Findings listed = judge(board, measured);
  CHECK(listed.findings.empty());
  REQUIRE(listed.untested.size() == 19);
  CHECK(listed.untested[0].why == "not attached");
}

TEST_CASE("nets that parts join are held against these parts", "[graph][findings]") {
  BoardDescription description = describe({{"A", {"a1"}}, {"B", {"b1"}}, {"C", {"c1"}}});
  description.state = BoardState::assembled;
  const auto add = [&](const char* name, PartKind kind, const char* value, std::size_t to) {
    PartDescription part;
    part.name = name;
    part.kind = kind;
    part.value = value;
    part.package = "axial 10 mm";
    description.parts.push_back(part);
    description.nets[0].members.push_back({std::string(name) + ".1", {}});
    description.nets[to].members.push_back({std::string(name) + ".2", {}});
  };
  add("R1", PartKind::resistor, "4k7", 1);
  add("F1", PartKind::fuse, "", 2);
  const Board board = build(std::move(description));
  const Findings blown =
      judge(board, scan(board, {{"a1", "R1.1", "F1.1"}, {"b1", "R1.2"}, {"c1", "F1.2"}}, false,
                        {"a1", "b1", 4700}));
  REQUIRE(blown.findings.size() == 1);
  CHECK(blown.findings[0].kind == FindingKind::part);
  REQUIRE(blown.findings[0].fault);
  CHECK(board[blown.findings[0].fault->part].name == "F1");
  CHECK(blown.findings[0].ohm == kOpenOhm);
  CHECK(blown.findings[0].or_no_contact.empty());  // two leads on each net prove each other
  CHECK(says(blown, "no short between them can be seen: A and C"));

  // C's short to nothing else: the fuse alone is no short; B to C is.
  const Findings shorted =
      judge(board, scan(board, {{"a1", "R1.1", "F1.1", "b1", "R1.2", "c1", "F1.2"}}));
  REQUIRE(shorted.findings.size() == 1);
  CHECK(net_names(board, shorted.findings[0]) == Names{"A", "B", "C"});
  double sum = 0;
  for (const GapSuspect& gap : shorted.findings[0].gaps) {
    const auto tied = [&](PlaceId place) { return board[board[place].net].name != "B"; };
    CHECK(tied(gap.a) != tied(gap.b));
    sum += gap.likelihood;
  }
  CHECK(sum == Approx(1));
}

TEST_CASE("of a part that reads open it is said which leads nothing else proves",
          "[graph][findings]") {
  BoardDescription description = describe({{"A", {}}, {"B", {}}, {"C", {"c1", "c2"}}});
  description.state = BoardState::assembled;
  PartDescription part;
  part.name = "R1";
  part.kind = PartKind::resistor;
  part.value = "4k7";
  part.package = "axial 10 mm";
  description.parts.push_back(part);
  description.nets[0].members.push_back({"R1.1", {}});
  description.nets[1].members.push_back({"R1.2", {}});
  const Board board = build(std::move(description));
  Measured measured = scan(board, {{"R1.1"}, {"R1.2"}, {"c1", "c2"}});
  const Findings open = judge(board, measured);
  REQUIRE(open.findings.size() == 1);
  CHECK(open.findings[0].kind == FindingKind::part);
  CHECK(named(board, {open.findings[0].or_no_contact}) == std::vector<Names>{{"R1.1", "R1.2"}});
  // Before anybody was asked to press them, nothing is judged by them.
  measured.silent_unproven = std::move(measured.silent_believed);
  measured.silent_believed.clear();
  CHECK(judge(board, measured).findings.empty());
}

TEST_CASE("points that must never be driven are left alone and counted", "[graph][findings]") {
  BoardDescription description = describe(kThree);
  description.points[0].drive_never = true;
  const Board board = build(std::move(description));
  const Findings findings = judge(board, scan(board, {{"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}}));
  CHECK(findings.findings.empty());
  CHECK(findings.untested.empty());
  CHECK(says(findings, "4 points must never be driven and were left alone: a1, a2, a3 and 1 more"));
}

TEST_CASE("nothing is judged where the measuring was interrupted", "[graph][findings]") {
  const Board board = build(describe(kThree));
  Measured measured = scan(board, {{"b1", "b2", "b3"}, {"c1", "c2"}, {"d1"}});
  measured.interrupted = true;
  const Findings findings = judge(board, measured);
  CHECK(findings.findings.empty());
  CHECK(says(findings, "did not come to its end"));
}

TEST_CASE("findings of random boards are the differences of the two partitions",
          "[graph][findings]") {
  for (unsigned seed = 1; seed <= 500; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    std::vector<std::pair<std::string, Names>> nets;
    std::map<std::string, std::size_t> conductor;
    std::size_t fresh = 0;
    for (std::size_t net = 2 + random() % 8; net > 0; --net) {
      nets.emplace_back("N" + std::to_string(nets.size()), Names{});
      for (std::size_t i = 1 + random() % 5; i > 0; --i) {
        const std::string name = "p" + std::to_string(conductor.size());
        nets.back().second.push_back(name);
        conductor[name] = fresh;
      }
      ++fresh;
    }
    for (std::size_t faults = random() % 5; faults > 0; --faults) {
      const std::string one = "p" + std::to_string(random() % conductor.size());
      if (random() % 2 == 0) {
        conductor[one] = fresh++;
      } else {
        conductor[one] = conductor["p" + std::to_string(random() % conductor.size())];
      }
    }
    Conductors actual(fresh);
    for (const auto& [name, label] : conductor) {
      actual[label].push_back(name);
    }
    const Board board = build(describe(nets));
    const Findings findings = judge(board, scan(board, actual));
    std::set<std::string> open;
    std::map<std::size_t, std::set<std::string>> nets_of;
    for (const auto& [net, points] : nets) {
      std::set<std::size_t> labels;
      for (const std::string& point : points) {
        labels.insert(conductor[point]);
        nets_of[conductor[point]].insert(net);
      }
      if (labels.size() > 1) {
        open.insert(net);
      }
    }
    std::set<std::set<std::string>> shorts;
    for (const auto& [label, names] : nets_of) {
      if (names.size() > 1) {
        shorts.insert(names);
      }
    }
    std::set<std::string> found_open;
    std::set<std::set<std::string>> found_shorts;
    for (const Finding& finding : findings.findings) {
      const Names names = net_names(board, finding);
      if (finding.kind == FindingKind::open) {
        CHECK(found_open.insert(names[0]).second);
      } else {
        CHECK(found_shorts.insert({names.begin(), names.end()}).second);
        CHECK(finding.ohm == Approx(0.4));
      }
    }
    REQUIRE(found_open == open);
    REQUIRE(found_shorts == shorts);
  }
}
