// SPDX-License-Identifier: MIT
//
// The demo board, swept whole: healthy, with each defects file, and with every single segment
// broken. What should be found comes from tests/oracle/board_oracle.py, which shares no source with
// graph/.
#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <numeric>
#include <set>

#include "graph/suspects.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/in_process.hpp"
#include "tests/support/program.hpp"
#include "tools/board_file.hpp"

namespace {

using namespace padwalk;
using graph::Board;
using graph::PlaceId;
using graph::SegmentId;
using nlohmann::json;

json ask_oracle(const std::string& board) {
  const test::Outcome outcome =
      test::run({"/usr/bin/python3", test::source("tests/oracle/board_oracle.py"), board});
  INFO(outcome.err);
  REQUIRE(outcome.status == 0);
  return json::parse(outcome.out);
}

std::set<std::string> ends(const std::string& a, const std::string& b) {
  return {a, b};
}

/// The board's segment for one of the oracle's; parallel ones by their order.
SegmentId find_segment(const Board& board, const json& all, std::size_t which) {
  const json& wanted = all[which];
  std::size_t skip = 0;
  for (std::size_t i = 0; i < which; ++i) {
    skip += all[i]["kind"] == wanted["kind"] && all[i]["a"] == wanted["a"] &&
                    all[i]["b"] == wanted["b"] && all[i]["net"] == wanted["net"]
                ? 1
                : 0;
  }
  for (std::size_t i = 0; i < board.segments().size(); ++i) {
    const graph::Segment& segment = board.segments()[i];
    if (graph::segment_kind_name(segment.kind) != wanted["kind"].get<std::string>()) {
      continue;
    }
    const bool same = segment.kind == graph::SegmentKind::unknown_way
                          ? board[segment.member].name == wanted["point"].get<std::string>()
                          : ends(board.place_name(segment.a), board.place_name(segment.b)) ==
                                ends(wanted["a"], wanted["b"]);
    if (same && skip-- == 0) {
      return SegmentId{static_cast<std::uint32_t>(i)};
    }
  }
  FAIL("the board lacks segment " << wanted.dump());
  return SegmentId{};
}

/// What conducts to what with one of the oracle's segments gone, as the tip would hear it.
class Copper {
 public:
  Copper(const json& all, std::size_t broken) {
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (i != broken) {
        const std::string net = all[i]["net"].is_null() ? "" : all[i]["net"].get<std::string>();
        join(name(net, all[i]["a"]), name(net, all[i]["b"]));
      }
    }
  }
  bool joined(const std::string& a, const std::string& b) { return root(a) == root(b); }

 private:
  static std::string name(const std::string& net, const std::string& place) {
    return place == "hub" ? net + " hub" : place;
  }
  std::string root(std::string place) {
    while (parent_.count(place) != 0 && parent_[place] != place) {
      place = parent_[place];
    }
    return place;
  }
  void join(const std::string& a, const std::string& b) { parent_[root(a)] = root(b); }
  std::map<std::string, std::string> parent_;
};

using Partition = std::set<std::set<std::string>>;

Partition expected_pieces(const json& segment) {
  Partition pieces;
  for (const json& piece : segment["pieces"]) {
    pieces.insert(piece.get<std::set<std::string>>());
  }
  return pieces;
}

Partition found_pieces(const Board& board, const graph::Finding& finding) {
  Partition pieces;
  for (const auto& piece : finding.pieces) {
    std::set<std::string> names;
    for (const graph::PointId point : piece) {
      names.insert(board[point].name);
    }
    pieces.insert(names);
  }
  return pieces;
}

/// Touches as advised until nothing more is advised. Returns the suspects that are left.
graph::OpenSuspects pinpoint(const Board& board, const graph::Finding& finding, Copper& copper) {
  graph::OpenCase open;
  open.net = finding.nets.front();
  for (const auto& piece : finding.pieces) {
    open.pieces.emplace_back();
    for (const graph::PointId point : piece) {
      open.pieces.back().push_back(board[point].held);
    }
    if (piece.size() == 1) {
      open.contact_doubtful.push_back(piece.front());
    }
  }
  graph::OpenSuspects suspects = graph::find_open_suspects(board, open);
  int touches = 0;
  while (suspects.next_touch) {
    const PlaceId touched = *suspects.next_touch;
    REQUIRE(board[touched].access != graph::Access::none);
    REQUIRE(++touches < 30);
    bool known = false;
    for (auto& piece : open.pieces) {
      if (copper.joined(board.place_name(touched), board.place_name(piece.front()))) {
        piece.push_back(touched);
        known = true;
        break;
      }
    }
    if (!known) {
      open.pieces.push_back({touched});
    }
    suspects = graph::find_open_suspects(board, open);
  }
  return suspects;
}

/// Every `step`-th of the observable segments.
void check_segments(const std::string& file, std::size_t step) {
  const std::string path = test::source(file);
  const tools::LoadedBoard loaded = tools::load_board(path);
  const Board& board = loaded.board;
  const json oracle = ask_oracle(path);
  const json& all = oracle["segments"];
  REQUIRE(all.size() == board.segments().size());
  CHECK(oracle["points"] == board.points().size());
  CHECK(oracle["nets"] == board.listed_nets());
  std::size_t observable = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!all[i]["observable"].get<bool>()) {
      continue;
    }
    if (++observable % step != 0) {
      continue;
    }
    INFO(all[i].dump());
    tools::Defects defects;
    const SegmentId broken = find_segment(board, all, i);
    defects.cuts.push_back({broken});
    const tools::SweepReport report = test::sweep(board, defects);
    REQUIRE(report.failure.empty());
    REQUIRE(report.result.findings.size() == 1);
    CHECK(report.result.untested.empty());
    CHECK(report.result.no_contact.empty());
    const graph::Finding& finding = report.result.findings.front();
    REQUIRE(finding.kind == graph::FindingKind::open);
    CHECK(board[finding.nets.front()].name == all[i]["net"].get<std::string>());
    CHECK(found_pieces(board, finding) == expected_pieces(all[i]));
    const auto holds = [&](const graph::OpenSuspects& suspects, SegmentId id) {
      return std::any_of(suspects.suspects.begin(), suspects.suspects.end(),
                         [&](const graph::OpenSuspect& one) { return one.segment == id; });
    };
    CHECK(holds(finding.open, broken));
    Copper copper(all, i);
    const graph::OpenSuspects last = pinpoint(board, finding, copper);
    CHECK(holds(last, broken));
    const bool way_known = std::none_of(all.begin(), all.end(), [&](const json& other) {
      return other["net"] == all[i]["net"] && other["kind"] == "unknown way";
    });
    if (way_known) {  // then it ends on the segment or on what no touch can tell from it
      CHECK(last.suspects.size() == all[i]["group"].size());
      for (const json& other : all[i]["group"]) {
        CHECK(holds(last, find_segment(board, all, other.get<std::size_t>())));
      }
    }
  }
  CHECK(observable > 100);
}

json sweep_json(const std::string& board, const std::string& defects, int status,
                std::vector<std::string> more = {}) {
  std::vector<std::string> arguments = {"sweep", test::source("boards/tide-gauge/" + board),
                                        "--json", "-", "--simulate"};
  if (!defects.empty()) {
    arguments.push_back(test::source("boards/tide-gauge/" + defects));
  }
  arguments.insert(arguments.end(), more.begin(), more.end());
  const test::Outcome outcome = test::padwalk(arguments);
  INFO(outcome.err);
  CHECK(outcome.status == status);
  return json::parse(outcome.out);
}

}  // namespace

TEST_CASE("every observable break of the bare demo board is found and pinned down",
          "[tools][demo][slow]") {
  check_segments("boards/tide-gauge/board-bare.yaml", test::kEvery);
}

TEST_CASE("breaks all over the assembled demo board are found and pinned down",
          "[tools][demo][slow]") {
  check_segments("boards/tide-gauge/board.yaml", 6 * test::kEvery);
}

// Minutes: tools_tests "[slow]".
TEST_CASE("every observable break of the assembled demo board is found and pinned down",
          "[.][slow]") {
  check_segments("boards/tide-gauge/board.yaml", 1);
}

TEST_CASE("the healthy demo board is good as far as tested", "[tools][demo][slow]") {
  for (const char* board : {"board.yaml", "board-bare.yaml"}) {
    for (const char* defects : {"none.yaml"}) {
      INFO(board << " " << defects);
      const json result = sweep_json(board, defects, 0);
      CHECK(result["verdict"] == "good");
      CHECK(result["findings"].empty());
      // Pairs that chips lead beside are read again.
      CHECK((result["readings"]["confirm"] == 0 || result["board"]["state"] == "assembled"));
    }
  }
}

TEST_CASE("a healthy bare board takes N - c + ceil(log2 c) readings", "[tools][demo]") {
  const json result = sweep_json("board-bare.yaml", "", 0);
  const int n = result["attached"];
  const int c = result["groups"];
  CHECK(result["readings"]["scan"] ==
        n - c + static_cast<int>(std::ceil(std::log2(static_cast<double>(c)))));
}

TEST_CASE("a quick sweep of a healthy bare board takes ceil(log2 c) + 1 settings",
          "[tools][demo]") {
  const json plain = sweep_json("board-bare.yaml", "", 0);
  const json quick = sweep_json("board-bare.yaml", "", 0, {"--quick"});
  const int n = quick["attached"];
  const int c = quick["groups"];
  const int codes = static_cast<int>(std::ceil(std::log2(static_cast<double>(c))));
  CHECK(quick["readings"]["scan"] == n - c + codes);
  // Each is off and on; after 5 V, off again.
  const int power = plain["settings"].get<int>() - (2 * (n - c) + 3 * codes);
  CHECK(power > 0);
  CHECK(quick["settings"] == 3 * codes + 2 * 1 + power);
}

TEST_CASE("the corroded demo board has two opens and a short", "[tools][demo][slow]") {
  for (const char* board : {"board.yaml", "board-bare.yaml"}) {
    INFO(board);
    const json result = sweep_json(board, "corroded.yaml", 1);
    CHECK(result["verdict"] == "faulty");
    REQUIRE(result["findings"].size() == 3);
    CHECK(result["findings"][0]["kind"] == "open");
    CHECK(result["findings"][1]["kind"] == "open");
    CHECK(result["findings"][2]["kind"] == "short");
    for (const json& finding : result["findings"]) {
      double sum = 0;
      for (const json& suspect : finding["suspects"]) {
        sum += suspect["likelihood"].get<double>();
      }
      CHECK(sum == Approx(1));
    }
  }
}

namespace {

using Names = std::set<std::string>;

json only_finding(const std::string& board, const std::string& defects) {
  const json result = sweep_json(board, defects, 1);
  INFO(defects);
  CHECK(result["verdict"] == "faulty");
  REQUIRE(result["findings"].size() == 1);
  return result["findings"][0];
}

}  // namespace

TEST_CASE("one break or bridge is one finding on the bare demo board", "[tools][demo]") {
  const json open = only_finding("board-bare.yaml", "open.yaml");
  CHECK(open["kind"] == "open");
  CHECK(open["net"] == "FLOAT_A");
  CHECK(open["pieces"] == json::parse(R"([["RN1.4", "J2.1"], ["U5.2"]])"));
  const json bridge = only_finding("board-bare.yaml", "short.yaml");
  CHECK(bridge["kind"] == "short");
  CHECK(bridge["nets"].get<Names>() == Names{"A0", "A1"});
  CHECK(bridge["ohm"].get<double>() == Approx(0.3).margin(0.1));
}

TEST_CASE("one weak joint, leak or blown fuse is one finding on the assembled demo board",
          "[tools][demo][slow]") {
  const json fuse = only_finding("board.yaml", "part-fuse.yaml");
  CHECK(fuse["kind"] == "part");
  CHECK(fuse["part"] == "F1");
  const json leak = only_finding("board.yaml", "leakage.yaml");
  CHECK(leak["kind"] == "leakage");
  CHECK(leak["nets"].get<Names>() == Names{"CPU_CLK", "OSC_OUT"});
  CHECK(leak["ohm"].get<double>() == Approx(3.3e3).epsilon(0.05));
  const json weak = only_finding("board.yaml", "high-resistance.yaml");
  CHECK(weak["kind"] == "high resistance");
  CHECK(weak["net"] == "CELL_POS");
  CHECK(weak["ohm"].get<double>() == Approx(35).margin(0.5));
}

TEST_CASE("one stuck key or dead capacitor is one finding on the assembled demo board",
          "[tools][demo][slow]") {
  const json key = only_finding("board.yaml", "reset-key-stuck.yaml");
  CHECK(key["kind"] == "short");
  CHECK(key["nets"].get<Names>() == Names{"GND", "RESET_N"});
  const json capacitor = only_finding("board.yaml", "part-capacitor.yaml");
  CHECK(capacitor["ohm"].get<double>() == Approx(2).margin(0.2));
  const json electrolytic = only_finding("board.yaml", "part-electrolytic.yaml");
  CHECK(electrolytic["kind"] == "leakage");
  CHECK(electrolytic["nets"].get<Names>() == Names{"GND", "VCC"});
  CHECK(electrolytic["ohm"].get<double>() == Approx(1.5e3).epsilon(0.1));
  CHECK(electrolytic["candidates"].get<Names>().count("C3") == 1);
}

TEST_CASE("a silent leg is cured by a re-seat, or believed, or left open", "[tools][demo]") {
  CHECK(sweep_json("board-bare.yaml", "silent-leg.yaml", 0)["verdict"] == "good");
  const json stays = sweep_json("board-bare.yaml", "silent-leg-stays.yaml", 1);
  REQUIRE(stays["findings"].size() == 1);
  CHECK(stays["findings"][0]["kind"] == "open");
  const json& suspects = stays["findings"][0]["suspects"];
  CHECK(std::any_of(suspects.begin(), suspects.end(), [](const json& suspect) {
    return suspect["kind"] == "contact" && suspect.contains("point");
  }));
  for (const char* defects : {"silent-leg.yaml", "silent-leg-stays.yaml"}) {
    const json unasked = sweep_json("board-bare.yaml", defects, 5, {"--ask", "no"});
    CHECK(unasked["verdict"] == "incomplete");
    CHECK(unasked["findings"].empty());
    CHECK(unasked["no_contact"].size() == 1);
  }
}

TEST_CASE("a cell that was left in is refused before anything is driven", "[tools][demo]") {
  const json result = sweep_json("board.yaml", "cell-left-in.yaml", 4);
  CHECK(result["verdict"] == "refused");
  CHECK(result["readings"]["scan"] == 0);
  REQUIRE(!result["live"].empty());
  CHECK(std::abs(result["live"][0]["volt"].get<double>()) > 0.015);
}

TEST_CASE("what stands on the board is refused before anything is driven", "[tools][demo][slow]") {
  for (const char* defects : {"charged.yaml", "winding.yaml", "wet.yaml"}) {
    INFO(defects);
    const json result = sweep_json("board.yaml", defects, 4);
    CHECK(result["verdict"] == "refused");
    CHECK(result["readings"]["scan"] == 0);
    CHECK(!result["live"].empty());
  }
}

TEST_CASE("hum is no reason to refuse a board", "[tools][demo][slow]") {
  const json result = sweep_json("board-bare.yaml", "hum.yaml", 0);
  CHECK(result["findings"].empty());
  CHECK(result["no_contact"].empty());
  CHECK(result["hum_volt"].get<double>() > 0.05);
}

TEST_CASE("the simulated tester in another process gives the same result", "[tools][demo]") {
  const std::string board = test::source("boards/tide-gauge/board-bare.yaml");
  const std::string defects = test::source("boards/tide-gauge/corroded.yaml");
  test::Running tester({PADWALK_PROGRAM, "simulate", board, defects});
  const std::string port = tester.read_line();
  const test::Outcome outcome =
      test::padwalk({"sweep", board, "--port", port, "--ask", "yes", "--json", "-"});
  INFO(outcome.err);
  CHECK(outcome.status == 1);
  json there = json::parse(outcome.out);
  json here = sweep_json("board-bare.yaml", "corroded.yaml", 1);
  CHECK(there["tester"]["port"] == port);
  for (json* result : {&here, &there}) {
    result->erase("seconds");
    (*result)["tester"].erase("port");
    (*result)["readings"].erase("retry");  // a busy machine answers late and is asked again
  }
  CHECK(here.dump(1) == there.dump(1));
}
