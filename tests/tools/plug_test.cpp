// SPDX-License-Identifier: MIT
//
// The tester's plug pulled in the middle of a sweep and put back, by real processes: the port's
// name is a link that a test points elsewhere, as the name of a plugged adapter stays the same.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <thread>

#include "tests/support/program.hpp"
#include "tools/job.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

const std::string kBareBoard = test::source("boards/tide-gauge/board-bare.yaml");
const std::string kCorroded = test::source("boards/tide-gauge/corroded.yaml");

/// A tester of its own process.
struct Tester {
  test::Running running{{PADWALK_PROGRAM, "simulate", kBareBoard, kCorroded}};
  std::string port = running.read_line();
};

/// All readings as the job has them, in order.
std::size_t kept(const std::string& job) {
  const tools::Job record(job, tools::Job::Open::existing);
  const std::vector<tools::JobRun> runs = record.runs();
  return runs.empty() ? 0 : record.readings(runs.back().id);
}

}  // namespace

TEST_CASE("a sweep goes on where the tester's plug was pulled and put back", "[tools][plug]") {
  const test::TemporaryFolder folder;
  const std::string port = folder.path("tester");
  const auto sweep = [&](const std::string& name) {
    return std::vector<std::string>{PADWALK_PROGRAM,
                                    "sweep",
                                    kBareBoard,
                                    "--port",
                                    port,
                                    "--job",
                                    folder.path(name + ".job"),
                                    "--json",
                                    folder.path(name + ".json"),
                                    "--ask",
                                    "no",
                                    "--plug-wait",
                                    "20"};
  };
  auto first = std::make_unique<Tester>();
  REQUIRE(symlink(first->port.c_str(), port.c_str()) == 0);
  const test::Outcome whole = test::run(sweep("whole"));
  CAPTURE(whole.out, whole.err);
  REQUIRE(whole.status == 1);

  test::Running pulled(sweep("pulled"));
  // In the middle: rounds were kept, and more will come.
  for (std::size_t readings = 0; readings == 0;) {
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
    if (std::filesystem::exists(folder.path("pulled.job"))) {
      try {
        readings = kept(folder.path("pulled.job"));
      } catch (const tools::RecordError&) {  // it is just being made
      }
    }
  }
  first->running.signal(SIGKILL);
  const auto second = std::make_unique<Tester>();
  unlink(port.c_str());
  REQUIRE(symlink(second->port.c_str(), port.c_str()) == 0);
  const test::Outcome outcome = pulled.finish();
  CAPTURE(outcome.out, outcome.err);
  CHECK(outcome.status == whole.status);
  CHECK(outcome.out.find("is gone: ") != std::string::npos);
  CHECK(outcome.out.find("What was read stays; put the plug right, and it goes on by itself.") !=
        std::string::npos);
  const json right = json::parse(test::read_text(folder.path("whole.json")));
  const json found = json::parse(test::read_text(folder.path("pulled.json")));
  CHECK(found.at("findings") == right.at("findings"));
  CHECK(found.at("readings").at("scan") == right.at("readings").at("scan"));
  // Nothing twice, nothing lost.
  CHECK(kept(folder.path("pulled.job")) == kept(folder.path("whole.job")));
}
