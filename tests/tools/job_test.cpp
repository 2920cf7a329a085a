// SPDX-License-Identifier: MIT
//
// The record of a repair: kept as it happens, told in order, and gone on with after whatever ended
// it.
#include "tools/job.hpp"

#include <sqlite3.h>
#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <iostream>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>
#include <thread>

#include "tests/support/program.hpp"
#include "tools/options.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;
using tools::Job;

const std::string kJobBoard =
    "padwalk: board/1\nname: pump control\nparts:\n"
    "  U1: {kind: ic, type: 74HC00, package: DIP-14, xy: [0, 60]}\n"
    "  U2: {kind: ic, type: 74HC138, package: DIP-16, xy: [20, 60]}\n"
    "  U3: {kind: ic, type: 74HC00, package: DIP-14, xy: [40, 60]}\n"
    "  J1: {kind: connector, package: header 2x5, xy: [60, 60]}\n"
    "nets:\n"
    "  GND: {role: ground, points: [U1.7, U2.8, U3.7, J1.1]}\n"
    "  VCC: {role: supply, points: [U1.14, U2.16, U3.14, J1.2]}\n"
    "  A: [U1.1, U2.1, J1.3]\n"
    "  B: [U1.2, U2.2, U3.1]\n"
    "  C: [U1.3, U2.3]\n"
    "  D: [U1.4, U3.2, J1.5]\n"
    "  E: [U2.7, U3.4, J1.6]\n";
const std::string kDefects =
    "padwalk: defects/1\ndefects:\n"
    "  - {split: A, off: [J1.3]}\n  - {short: [U2.2, U2.3], value: 0.4 ohm}\n";
const std::string kJobFixtures =
    "padwalk: fixtures/1\nfixtures:\n"
    "  clip: {kind: chip clip, pins: 16, row: 0.3 inch, channels: 1-16, move: 8 s}\n"
    "  tip: {kind: tip, channels: 17, move: 4 s}\n";

struct Files {
  test::TemporaryFolder folder;
  std::string board = folder.write("board.yaml", kJobBoard);
  std::string defects = folder.write("defects.yaml", kDefects);
  std::string bench = folder.write("bench.yaml", kJobFixtures);
  std::string job = folder.path("pump.job");

  std::vector<std::string> sweep(const std::vector<std::string>& more) const {
    std::vector<std::string> words = {PADWALK_PROGRAM, "sweep",      board,  "--fixtures",
                                      bench,           "--simulate", defects};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  }
  json read(const std::string& name) const {
    return json::parse(test::read_text(folder.path(name)));
  }
};

/// What the findings say of the copper, whatever the numbers.
json all_copper_of(const json& report) {
  json all = {report["verdict"]};
  for (const json& finding : report["findings"]) {
    all.push_back({finding["kind"], finding.value("net", json()), finding.value("nets", json()),
                   finding.value("pieces", json())});
  }
  return all;
}

std::size_t spells(const Job& job) {
  std::size_t count = 0;
  for (const tools::JobEvent& event : job.events(std::nullopt)) {
    count += event.kind == "spell" ? 1 : 0;
  }
  return count;
}

std::size_t all_readings(const Job& job) {
  std::size_t count = 0;
  for (const tools::JobRun& run : job.runs()) {
    count += job.readings(run.id);
  }
  return count;
}

/// Kills sweeps at random instants and goes on with them.
void kill_and_resume(int times, unsigned seed) {
  const Files files;
  const auto begin = std::chrono::steady_clock::now();
  REQUIRE(test::run(files.sweep({"--job", files.job, "--json", files.folder.path("whole.json")}))
              .status == 1);
  const double whole_s =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  const json whole = files.read("whole.json");
  const std::size_t whole_spells = spells(Job(files.job, Job::Open::existing));
  REQUIRE(whole_spells > 5);
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> when(0, whole_s);
  int resumed = 0;
  for (int i = 0; i < times; ++i) {
    CAPTURE(i);
    const std::string job = files.folder.path("killed-" + std::to_string(i) + ".job");
    std::fflush(nullptr);
    const pid_t child = fork();
    if (child == 0) {
      const std::vector<std::string> command = files.sweep({"--job", job});
      std::vector<char*> words;
      for (const std::string& word : command) {
        words.push_back(const_cast<char*>(word.c_str()));
      }
      words.push_back(nullptr);
      if (std::freopen("/dev/null", "w", stdout) == nullptr) {
        _exit(126);
      }
      execv(words[0], words.data());
      _exit(127);
    }
    std::this_thread::sleep_for(std::chrono::duration<double>(when(random)));
    std::size_t seen = 0;
    try {
      seen = all_readings(Job(job, Job::Open::existing));
    } catch (const tools::RecordError&) {
      // it had not made the file yet
    }
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    try {
      const Job kept(job, Job::Open::existing);
      CHECK(all_readings(kept) >= seen);
      if (kept.runs().empty() || !kept.runs().back().verdict.empty()) {
        continue;  // before it began, or when it was over
      }
    } catch (const tools::RecordError&) {
      CHECK(seen == 0);
      continue;
    }
    const std::string result = files.folder.path("resumed.json");
    const test::Outcome outcome = test::padwalk({"resume", job, "--json", result});
    CHECK(outcome.err == "");
    CHECK(outcome.status == 1);
    CHECK(all_copper_of(json::parse(test::read_text(result))) == all_copper_of(whole));
    const Job ended(job, Job::Open::existing);
    // What was finished is not measured again, but for the clip that is put on anew to go on.
    CHECK(spells(ended) <= whole_spells + 2);
    CHECK(ended.runs().back().verdict == "faulty");
    ++resumed;
  }
  CHECK(resumed > times / 4);
}

}  // namespace

TEST_CASE("a job keeps a sweep as it happens, and tells it", "[tools][job]") {
  const Files files;
  const test::Outcome swept =
      test::run(files.sweep({"--job", files.job, "--json", files.folder.path("s.json")}));
  CHECK(swept.status == 1);
  const json report = files.read("s.json");
  {
    const Job job(files.job, Job::Open::existing);
    REQUIRE(job.runs().size() == 1);
    const tools::JobRun run = job.runs().front();
    CHECK(run.verb == "sweep");
    CHECK(run.board == kJobBoard);
    CHECK(run.verdict == "faulty");
    CHECK(run.tester == "simulated, padwalk core 1.0, on simulated");
    CHECK(json::parse(run.report) == report);
    CHECK(job.readings(run.id) == report["readings"]["scan"].get<std::size_t>() +
                                      report["readings"]["confirm"].get<std::size_t>());
    CHECK(spells(job) >= report["hookups"].get<std::size_t>());
  }
  const std::string photo = files.folder.write("v4.jpg", std::string("\xff\xd8\0picture", 10));
  CHECK(test::padwalk({"note", files.job, "green salt on J1", "--photo", photo}).status == 0);
  CHECK(test::padwalk({"job", files.job, "--done", "cell,rinsed"}).status == 0);
  const test::Outcome told = test::padwalk({"job", files.job});
  CHECK(told.status == 0);
  for (const char* line :
       {"  sweep of board.yaml: faulty\n", "      F1  open: A\n", "      F2  short: B, C\n",
        "  note: green salt on J1 (with a photo)\n", "      [x] cell: cell or battery out (ticked ",
        "      [x] supplies: supplies apart from ground and from each other (sweep of ",
        "      [ ] dry: dry\n",
        "Next: big capacitors discharged through a resistor, and metered; "}) {
    CAPTURE(line, told.out);
    CHECK(told.out.find(line) != std::string::npos);
  }
  const Job job(files.job, Job::Open::existing);
  for (const tools::JobEvent& event : job.events(std::nullopt)) {
    if (event.kind == "note") {
      CHECK(job.photo(event.id) == std::string("\xff\xd8\0picture", 10));
    }
  }
  // The tip: pinpoint and walk are kept too.
  const test::Outcome pinned =
      test::padwalk({"pinpoint", files.board, "--after", files.folder.path("s.json"), "--simulate",
                     files.defects, "--job", files.job});
  CHECK(pinned.status == 1);
  test::Running walker({PADWALK_PROGRAM, "walk", files.board, "--hold", "U1.1,U2.7", "--simulate",
                        files.defects, "--quiet", "--job", files.job});
  walker.send("U2.1\n");
  while (walker.read_line().find("kept for U2.1") == std::string::npos) {
  }
  walker.send("q\n");
  CHECK(walker.finish().status == 0);
  const test::Outcome all = test::padwalk({"job", files.job});
  CHECK(all.out.find("  pinpoint of board.yaml: faulty\n") != std::string::npos);
  CHECK(all.out.find("  walk of board.yaml: good\n") != std::string::npos);
  CHECK(all.out.find("      [x] touch: breaks pinned down with the tip (pinpoint of ") !=
        std::string::npos);
  const test::Outcome ended = test::padwalk({"resume", files.job});
  CHECK(ended.status == 2);
  CHECK(ended.err.find("there is no sweep that was cut off") != std::string::npos);
}

TEST_CASE("every command that measures keeps itself in the job", "[tools][job]") {
  const test::TemporaryFolder folder;
  const std::string job = folder.path("all.job");
  const std::string board = test::source("boards/tide-gauge/board.yaml");
  setenv("XDG_STATE_HOME", folder.path("").c_str(), 1);  // the zero is for this folder alone
  CHECK(test::padwalk({"zero", "--simulate", "--job", job}).status == 0);
  unsetenv("XDG_STATE_HOME");
  CHECK(test::padwalk({"ohms", board, "VCC", "GND", "--measure", "--simulate", "--job", job})
            .status == 0);
  CHECK(test::padwalk({"learn", "--parts", "U4 DIP-16, C5 radial 5 mm", "--assembled", "-o",
                       folder.path("learned.yaml"), "--simulate", "--simulate-board", board,
                       "--job", job})
            .status == 0);
  CHECK(test::padwalk({"audit", board, "--switch", "S1", "--simulate", "--job", job}).status == 0);
  const tools::Job record(job, tools::Job::Open::existing);
  const std::vector<tools::JobRun> runs = record.runs();
  REQUIRE(runs.size() == 4);
  CHECK(runs[3].verb == "audit");
  CHECK(record.readings(runs[3].id) == 2);
  CHECK(runs[0].verb == "zero");
  CHECK(runs[0].verdict == "stored");
  CHECK(json::parse(runs[0].report).at("padwalk") == "zero/1");
  CHECK(runs[1].verb == "ohms");
  CHECK(record.readings(runs[1].id) == 1);
  CHECK(json::parse(runs[1].report).at("padwalk") == "ohms/1");
  CHECK(runs[2].verb == "learn");
  CHECK(record.readings(runs[2].id) > 16);
  CHECK(json::parse(runs[2].report).at("padwalk") == "learn/1");
  const test::Outcome told = test::padwalk({"job", job});
  CHECK(told.status == 0);
  CHECK(told.out.find("  zero: stored\n") != std::string::npos);
}

TEST_CASE("a sweep that finds a supply shorted does not tick the supplies", "[tools][job]") {
  const Files files;
  const std::string shorted = files.folder.write(
      "shorted.yaml", "padwalk: defects/1\ndefects:\n  - {short: [U1.7, U1.14], value: 0.2 ohm}\n");
  CHECK(
      test::run({PADWALK_PROGRAM, "sweep", files.board, "--simulate", shorted, "--job", files.job})
          .status == 1);
  const test::Outcome told = test::padwalk({"job", files.job});
  CHECK(told.out.find("      [ ] supplies: ") != std::string::npos);
  CHECK(told.out.find("      [x] corroded area: ") != std::string::npos);
}

TEST_CASE("a sweep that is killed goes on and ends as if nothing had happened",
          "[tools][job][slow]") {
  kill_and_resume(10, 1);
}

TEST_CASE("300 kills", "[tools][job][slow][.long]") {
  kill_and_resume(300, 2);
}

TEST_CASE("a sweep whose board file changed is not gone on with", "[tools][job]") {
  const Files files;
  {
    Job job(files.job, Job::Open::make_or_go_on);
    job.begin_run("sweep",
                  R"({"before": 0, "board": ")" + files.board +
                      R"(", "fixtures": "", "neighbours_mm": 2.6, "all_pairs": false, "nets": [],
          "near": "", "port": "", "simulate": true, "defects": "", "channels": 0, "quick": false,
          "ask": null, "keys": false, "leave_out": [], "power_limit_volt": 0.015})",
                  "another text");
  }
  const test::Outcome outcome = test::padwalk({"resume", files.job});
  CHECK(outcome.status == 2);
  CHECK(outcome.err == "padwalk: " + files.board +
                           " has changed since the sweep was cut off: what was measured may not "
                           "fit it; sweep anew\n");
}

TEST_CASE("what is no job, or cannot be written, is said in one sentence", "[tools][job]") {
  const Files files;
  const auto sentence = [&](const std::string& job) {
    const test::Outcome outcome = test::run(files.sweep({"--job", job}));
    CHECK(outcome.status == 2);
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
    return outcome.err;
  };
  CHECK(sentence(files.board) ==
        "padwalk: " + files.board + ": this is no padwalk job; give another name\n");
  CHECK(test::read_text(files.board) == kJobBoard);
  const std::string nowhere = files.folder.path("none/pump.job");
  CHECK(sentence(nowhere) == "padwalk: " + nowhere +
                                 ": the job cannot be opened; check the name, and that you may "
                                 "write in its folder\n");
  const std::string later = files.folder.path("later.job");
  {
    sqlite3* base = nullptr;
    REQUIRE(sqlite3_open(later.c_str(), &base) == SQLITE_OK);
    sqlite3_exec(base,
                 "PRAGMA application_id = 1885632363; PRAGMA user_version = 2; "
                 "CREATE TABLE run(id INTEGER)",
                 nullptr, nullptr, nullptr);
    sqlite3_close(base);
  }
  CHECK(sentence(later).find("was written by a later padwalk (layout 2, this one knows 1)") !=
        std::string::npos);
  CHECK(test::padwalk({"job", files.folder.path("absent.job")}).status == 2);
}

TEST_CASE("in a folder that may not be written a sweep with a job does not begin", "[tools][job]") {
  const Files files;
  std::vector<std::string> command = {"setpriv", "--reuid", "65534", "--clear-groups"};
  const std::vector<std::string> sweep = files.sweep({"--job", files.job});
  command.insert(command.end(), sweep.begin(), sweep.end());
  if (geteuid() == 0) {
    REQUIRE(test::run({"chmod", "-R", "a+rX", files.folder.path("")}).status == 0);
  } else {
    command = sweep;
    REQUIRE(test::run({"chmod", "a-w", files.folder.path("")}).status == 0);
  }
  const test::Outcome outcome = test::run(command);
  CHECK(outcome.status == 2);
  CHECK(outcome.err.find("check the name, and that you may write in its folder") !=
        std::string::npos);
  test::run({"chmod", "u+w", files.folder.path("")});
}

// ---- a disk that is full

namespace {

/// Writes that are still let through; a negative number: all are.
long writes_left = -1;
sqlite3_vfs* real_vfs = nullptr;

/// SQLite has several tables of methods, by what a file is: each has a twin whose writes may fail.
struct Methods {
  const sqlite3_io_methods* real = nullptr;
  sqlite3_io_methods shim{};
};
std::array<Methods, 8> all_methods;

int shim_write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 at) {
  if (writes_left == 0) {
    return SQLITE_FULL;
  }
  writes_left -= writes_left > 0 ? 1 : 0;
  const auto own = std::find_if(all_methods.begin(), all_methods.end(),
                                [&](const Methods& one) { return file->pMethods == &one.shim; });
  return own->real->xWrite(file, bytes, count, at);
}

int shim_open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out_flags) {
  const int code = real_vfs->xOpen(real_vfs, name, file, flags, out_flags);
  if (code == SQLITE_OK && file->pMethods != nullptr) {
    const auto own = std::find_if(all_methods.begin(), all_methods.end(), [&](const Methods& one) {
      return one.real == nullptr || one.real == file->pMethods;
    });
    if (own != all_methods.end()) {
      own->real = file->pMethods;
      own->shim = *file->pMethods;
      own->shim.xWrite = shim_write;
      file->pMethods = &own->shim;
    }
  }
  return code;
}

/// While it lives every file of SQLite in this process may meet a full disk.
class FullDisk {
 public:
  FullDisk() {
    real_vfs = sqlite3_vfs_find(nullptr);
    shim_ = *real_vfs;
    shim_.zName = "shim";
    shim_.xOpen = shim_open;
    sqlite3_vfs_register(&shim_, 1);
  }
  ~FullDisk() {
    writes_left = -1;
    sqlite3_vfs_unregister(&shim_);
    sqlite3_vfs_register(real_vfs, 1);
  }
  FullDisk(const FullDisk&) = delete;
  FullDisk& operator=(const FullDisk&) = delete;

 private:
  sqlite3_vfs shim_;
};

/// What is printed meanwhile goes nowhere.
class Hush {
 public:
  Hush() : before_(std::cout.rdbuf(nothing_.rdbuf())) {}
  ~Hush() { std::cout.rdbuf(before_); }
  std::string text() const { return nothing_.str(); }

 private:
  std::ostringstream nothing_;
  std::streambuf* before_;
};

}  // namespace

TEST_CASE("on a full disk nothing that was kept is lost", "[tools][job]") {
  const FullDisk disk;
  const Files files;
  for (long writes = 0; writes < 120; writes += 3) {
    CAPTURE(writes);
    const std::string path = files.folder.path(std::to_string(writes) + ".job");
    std::size_t kept = 0;
    std::int64_t run = 0;
    {
      Job job(path, Job::Open::make_or_go_on);
      run = job.begin_run("sweep", "{}", kJobBoard);
      writes_left = writes;
      std::string why;
      try {
        for (int i = 0; i < 1000; ++i) {
          job.add_readings(run,
                           std::vector<tools::JobReading>(40, {"U1.1", "U2.1", 0.1, 0.05, 0.2}));
          kept += 40;
        }
      } catch (const tools::RecordError& error) {
        why = error.what();
      }
      CHECK(why == path +
                       ": the disk is full; make room and 'padwalk resume': all that was kept "
                       "until now is there");
    }
    writes_left = -1;
    Job job(path, Job::Open::existing);
    CHECK(job.readings(run) == kept);
    job.add_readings(run, {{"U1.1", "U2.1", 0.1, 0.05, 0.2}});
    CHECK(job.readings(run) == kept + 1);
  }
}

TEST_CASE("a sweep that meets a full disk says so, and goes on when there is room",
          "[tools][job][slow]") {
  const FullDisk disk;
  const Files files;
  const auto sweep = [&](const std::string& job, const std::string& json) {
    const Hush hush;
    tools::SweepOptions options;
    options.board = files.board;
    options.plan.fixtures = files.bench;
    options.simulate = true;
    options.defects = files.defects;
    options.job = job;
    options.json = files.folder.path(json);
    const tools::ExitStatus status = tools::sweep_board(options);
    return std::pair(status, hush.text());
  };
  REQUIRE(sweep(files.job, "whole.json").first == tools::ExitStatus::findings);
  for (const long writes : {40, 80, 160}) {
    CAPTURE(writes);
    const std::string job = files.folder.path(std::to_string(writes) + ".job");
    { const Job made(job, Job::Open::make_or_go_on); }
    writes_left = writes;
    const auto [status, text] = sweep(job, "full.json");
    writes_left = -1;
    CHECK(status == tools::ExitStatus::failed);
    CHECK(text.find(job + ": the disk is full") != std::string::npos);
    const Hush hush;
    CHECK(tools::resume_sweep({job, "", files.folder.path("resumed.json")}) ==
          tools::ExitStatus::findings);
    CHECK(all_copper_of(files.read("resumed.json")) == all_copper_of(files.read("whole.json")));
  }
}
