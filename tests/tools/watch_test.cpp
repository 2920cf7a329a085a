// SPDX-License-Identifier: MIT
//
// `padwalk watch` as a person runs it: a barrel that opens and closes, a clip that does, a good
// net, everything round by round; what is typed meanwhile, what a job keeps.
#include <catch2/catch.hpp>
#include <cmath>
#include <csignal>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"
#include "tools/interruptions.hpp"
#include "tools/job.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

using test::kDemo;
using test::kDemoBoard;
const std::string kNoisy = "bench: {noise: 200 uV, offset: 100 uV}\n";

struct Watched {
  int status = -1;
  std::string out;
  json result;

  std::vector<double> lengths_us() const {
    std::vector<double> all;
    for (const json& event : result.at("events")) {
      all.push_back(event.at("open_us"));
    }
    return all;
  }
};

Watched watch(const std::string& defects, std::vector<std::string> more) {
  const test::TemporaryFolder folder;
  const std::string file = folder.write("defects.yaml", "padwalk: defects/1\n" + defects);
  std::vector<std::string> words = {"watch", kDemoBoard, "--simulate",
                                    file,    "--json",   folder.path("watch.json")};
  words.insert(words.end(), more.begin(), more.end());
  const test::Outcome outcome = test::padwalk(words);
  CAPTURE(outcome.out, outcome.err);
  CHECK(outcome.err == "");
  const std::string text = test::read_text(folder.path("watch.json"));
  REQUIRE(!text.empty());
  return {outcome.status, outcome.out, json::parse(text)};
}

std::string barrel(const std::string& open_for, const std::string& every) {
  return "defects: [{intermittent: [V4@top, V4@bottom], open for: " + open_for +
         ", every: " + every + "}]\n";
}

using test::has;

const std::vector<std::string> kTideClock = {"--net", "TIDE_CLK", "--for", "1 s"};

}  // namespace

TEST_CASE("a barrel that comes and goes is told with times, points and suspects",
          "[tools][watch]") {
  const Watched seen = watch(barrel("4 ms", "50 ms") + "bench: reference\n", kTideClock);
  CHECK(seen.status == 1);
  CHECK(seen.result.at("padwalk") == "watch/1");
  CHECK(seen.result.at("verdict") == "faulty");
  CHECK(seen.result.at("volt") == 0.2);
  CHECK(seen.result.at("watched_s").get<double>() == Approx(1).margin(1e-3));
  const json& events = seen.result.at("events");
  REQUIRE(events.size() >= 19);
  REQUIRE(events.size() <= 21);
  const double gap_us = seen.result.at("gap_us");
  CHECK(gap_us < 1000);
  CHECK(seen.result.at("shortest_certain_us").get<double>() >= gap_us);
  for (std::size_t i = 1; i + 1 < events.size(); ++i) {
    CHECK(std::abs(events[i].at("open_us").get<double>() - 4000) <= gap_us);
    const double apart_s =
        events[i + 1].at("at_s").get<double>() - events[i].at("at_s").get<double>();
    CHECK(apart_s == Approx(0.05).margin(1e-6 * gap_us));
    CHECK(events[i].at("points") == json({"U6.3"}));
    CHECK(events[i].at("clip").is_null());
    CHECK(events[i].at("tag") == "");
  }
  CHECK(seen.result.at("driven") == "U1.16");
  CHECK(seen.result.at("watched").size() == 3);
  CHECK(seen.result.at("edges").get<std::size_t>() >= events.size() - 1);
  const json& finding = seen.result.at("findings").at(0);
  CHECK(seen.result.at("findings").size() == 1);
  CHECK(finding.at("kind") == "intermittent");
  bool barrel_named = false;
  for (const json& suspect : finding.at("suspects")) {
    barrel_named = barrel_named || (suspect.at("kind") == "barrel" &&
                                    suspect.at("segment") == json({"V4@top", "V4@bottom"}));
  }
  CHECK(barrel_named);
  CHECK(has(seen.out, "F1  INTERMITTENT  net TIDE_CLK"));
  CHECK(has(seen.out, "would have been seen for certain"));
}

TEST_CASE("every interruption longer than the stated shortest is told", "[tools][watch]") {
  struct Case {
    const char* open_for;
    const char* every;
    double open_us;
    double every_s;
    const char* time;
  };
  for (const Case& one :
       {Case{"50 us", "5.3 ms", 50, 5.3e-3, "0.4 s"},
        Case{"400 us", "7.1 ms", 400, 7.1e-3, "0.5 s"}, Case{"20 ms", "61 ms", 20e3, 61e-3, "1 s"},
        Case{"500 ms", "0.8 s", 500e3, 0.8, "3 s"}}) {
    CAPTURE(one.open_for);
    const Watched seen =
        watch(barrel(one.open_for, one.every) + kNoisy, {"--net", "TIDE_CLK", "--for", one.time});
    const double watched_s = seen.result.at("watched_s");
    const auto whole = static_cast<std::size_t>((watched_s - 1e-6 * one.open_us) / one.every_s);
    const std::vector<double> lengths = seen.lengths_us();
    const double gap_us = seen.result.at("gap_us");
    if (one.open_us >= seen.result.at("shortest_certain_us").get<double>()) {
      CHECK(lengths.size() >= whole);
    }
    CHECK(lengths.size() <= whole + 2);
    for (std::size_t i = 1; i + 1 < lengths.size(); ++i) {
      CHECK(std::abs(lengths[i] - one.open_us) <= gap_us);
    }
  }
}

TEST_CASE("a good net is good, and what would have been seen is said", "[tools][watch]") {
  const Watched seen =
      watch("defects: []\nbench: reference\n", {"--net", "TIDE_CLK", "--for", "10 s"});
  CHECK(seen.status == 0);
  CHECK(seen.result.at("verdict") == "good");
  CHECK(seen.result.at("events").empty());
  CHECK(seen.result.at("findings").empty());
  CHECK(seen.result.at("edges") == 0);
  CHECK(has(seen.out, "Net TIDE_CLK held: not interrupted in 0:10.0."));
}

TEST_CASE("capacitors on a net make the shortest certain interruption longer", "[tools][watch]") {
  const Watched signal = watch("defects: []\n", {"--net", "A0", "--for", "0.1 s"});
  const Watched supply = watch("defects: []\n", {"--net", "VCC", "--for", "0.1 s"});
  const auto rise_us = [](const Watched& of) {
    return of.result.at("shortest_certain_us").get<double>() - of.result.at("gap_us").get<double>();
  };
  CHECK(rise_us(signal) < 2);
  CHECK(rise_us(supply) > 100);
}

TEST_CASE("a clip that flutters is told from the board where a point has two leads",
          "[tools][watch]") {
  const std::string clip = "defects: [{no contact: U6.3, open for: 5 ms, every: 60 ms}]\n";
  std::vector<std::string> two = kTideClock;
  two.insert(two.end(), {"--second-lead", "U6.3,U1.16"});
  const Watched fluttering = watch(clip + kNoisy, two);
  CHECK(fluttering.status == 5);
  CHECK(fluttering.result.at("two_leads") == json({"U6.3", "U1.16"}));
  REQUIRE(fluttering.result.at("events").size() >= 15);
  for (const json& event : fluttering.result.at("events")) {
    CHECK(event.at("clip") == "U6.3");
    CHECK(event.at("points") == json({"U6.3"}));
  }
  CHECK(fluttering.result.at("findings").empty());
  CHECK(has(fluttering.out, "seat the clip on U6.3"));

  const Watched board = watch(barrel("5 ms", "60 ms") + kNoisy, two);
  CHECK(board.status == 1);
  for (const json& event : board.result.at("events")) {
    CHECK(event.at("clip").is_null());
  }
  // Of the point that is driven.
  const Watched driven =
      watch("defects: [{no contact: U1.16, open for: 5 ms, every: 60 ms}]\n" + kNoisy, two);
  CHECK(driven.status == 5);
  CHECK(driven.result.at("events").at(2).at("clip") == "U1.16");
  // With one lead it may be either.
  const Watched either = watch(clip + kNoisy, kTideClock);
  CHECK(either.status == 1);
  CHECK(has(either.out, "contact"));
}

TEST_CASE("everything is read round by round until something comes or goes, then that net is held",
          "[tools][watch]") {
  const Watched seen = watch(barrel("40 ms", "100 ms") + kNoisy, {"--for", "3 s"});
  CHECK(seen.status == 1);
  CHECK(seen.result.at("rounds").get<int>() >= 2);
  REQUIRE(seen.result.at("changes").size() >= 1);
  CHECK(seen.result.at("changes").at(0).at("net") == "TIDE_CLK");
  CHECK(seen.result.at("net") == "TIDE_CLK");
  CHECK(seen.result.at("events").size() > 10);
  const double all_s =
      seen.result.at("rounds_s").get<double>() + seen.result.at("watched_s").get<double>();
  CHECK(all_s == Approx(3).margin(0.1));

  const Watched good = watch("defects: []\n", {"--for", "0.5 s"});
  CHECK(good.status == 0);
  CHECK(has(good.out, "nothing came or went"));

  const Watched shorted = watch("defects: [{short: [U2.3, U2.4]}]\n", {"--for", "0.5 s"});
  CHECK(shorted.status == 1);
  CHECK(shorted.result.at("net").is_null());
  CHECK(shorted.result.at("changes").empty());
  CHECK(shorted.result.at("from_the_start").size() == 1);
  CHECK(shorted.result.at("rounds").get<int>() >= 2);
}

TEST_CASE("keys say what the person does, and q ends", "[tools][watch]") {
  const test::TemporaryFolder folder;
  const std::string file =
      folder.write("defects.yaml", "padwalk: defects/1\n" + barrel("4 ms", "50 ms"));
  test::Running running({PADWALK_PROGRAM, "watch", kDemoBoard, "--simulate", file, "--net",
                         "TIDE_CLK", "--json", folder.path("watch.json")});
  running.send("f");
  std::string line;
  do {
    line = running.read_line();
  } while (!has(line, "more are counted"));
  running.send("hq");
  const test::Outcome outcome = running.finish();
  CHECK(outcome.status == 1);
  CHECK(has(outcome.out, " flex"));
  const json result = json::parse(test::read_text(folder.path("watch.json")));
  CHECK(result.at("events").at(1).at("tag") == "flex");
}

TEST_CASE("Ctrl-C ends a watch with its summary", "[tools][watch]") {
  const test::TemporaryFolder folder;
  test::Running running({PADWALK_PROGRAM, "watch", kDemoBoard, "--simulate", "--net", "TIDE_CLK"});
  while (!has(running.read_line(), "Keys:")) {
  }
  running.signal(SIGINT);
  const test::Outcome outcome = running.finish();
  CHECK(outcome.status == 0);
  CHECK(has(outcome.out, "would have been seen for certain"));
}

TEST_CASE("a live board is not watched, and a job keeps what was", "[tools][watch]") {
  const test::TemporaryFolder folder;
  const test::Outcome live = test::padwalk(
      {"watch", kDemoBoard, "--net", "A0", "--simulate", kDemo + "cell-left-in.yaml"});
  CHECK(live.status == 4);
  CHECK(has(live.out, "CELL_POS"));

  const std::string file =
      folder.write("defects.yaml", "padwalk: defects/1\n" + barrel("4 ms", "50 ms"));
  const test::Outcome kept =
      test::padwalk({"watch", kDemoBoard, "--net", "TIDE_CLK", "--for", "0.3 s", "--simulate", file,
                     "--job", folder.path("tide.job")});
  CHECK(kept.status == 1);
  tools::Job job(folder.path("tide.job"), tools::Job::Open::existing);
  REQUIRE(job.runs().size() == 1);
  CHECK(job.runs().front().verb == "watch");
  CHECK(job.runs().front().verdict == "faulty");
  CHECK(json::parse(job.runs().front().report).at("padwalk") == "watch/1");
  CHECK(job.readings(job.runs().front().id) >= 5);
}

TEST_CASE("what cannot be watched is refused in a sentence", "[tools][watch]") {
  const auto refused = [](std::vector<std::string> words) {
    words.insert(words.begin(), {"watch", kDemoBoard});
    const test::Outcome outcome = test::padwalk(words);
    CHECK(outcome.status == 2);
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
    return outcome.err;
  };
  CHECK(has(refused({}), "watch needs a tester"));
  CHECK(has(refused({"--simulate", "--net", "NOPE"}), "no net of that name"));
  CHECK(has(refused({"--simulate", "--for", "soon"}), "expected a time such as 60s"));
  CHECK(has(refused({"--simulate", "--for", "0 s"}), "expected a time"));
  CHECK(has(refused({"--simulate", "--second-lead", "U99.1"}), "no such point"));
  CHECK(has(refused({"--simulate", "--second-lead", "U1.16,U1.16"}), "two already"));
}

TEST_CASE("interruptions are put together of what single leads do", "[tools][watch]") {
  const auto point = [](std::uint32_t n) { return graph::PointId{n}; };
  // Driven: 0, with a second lead; 1 has two leads, 2 one.
  tools::Interruptions together(point(0), {point(0), point(1), point(1), point(2)});
  const auto one = [&](std::initializer_list<std::size_t> leads, double seconds) {
    for (const std::size_t lead : leads) {
      CHECK_FALSE(together.note(lead, true, 1, "tap", 1e-3));
    }
    std::optional<tools::Interruption> ended;
    for (const std::size_t lead : leads) {
      CHECK_FALSE(ended);
      ended = together.note(lead, false, 1 + seconds, "", 1e-3);
    }
    REQUIRE(ended);
    CHECK(ended->open_s == Approx(seconds));
    CHECK(ended->tag == "tap");
    return *ended;
  };
  CHECK(one({1}, 1).clip == point(1));
  CHECK(one({1, 2}, 1).clip == graph::kNoPoint);
  CHECK(one({1, 2}, 1).points == std::vector{point(1)});
  CHECK(one({3}, 1).clip == graph::kNoPoint);
  CHECK(one({0}, 1).clip == point(0));
  CHECK(one({0, 1, 2, 3}, 1).clip == point(0));
  CHECK(one({1, 2, 3}, 1).points == std::vector{point(1), point(2)});
  CHECK(one({1}, 1e-4).clip == graph::kNoPoint);  // the other lead may not have been looked at
  CHECK_FALSE(together.end(5, 1e-3));
  together.note(3, true, 6, "", 1e-3);
  const auto lasting = together.end(8, 1e-3);
  REQUIRE(lasting);
  CHECK_FALSE(lasting->over);
  CHECK(lasting->open_s == 2);
}
