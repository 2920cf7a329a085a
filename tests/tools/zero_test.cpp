// SPDX-License-Identifier: MIT
//
// `padwalk zero`: what it measures, what it keeps and where, and what it refuses to keep.
#include "tools/zero_file.hpp"

#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "firmware-host/session/uncertainty.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using simulated::Circuit;
using test::Outcome;

/// A state folder of the test's own.
struct State {
  test::TemporaryFolder folder;
  std::string file = folder.path("padwalk/zero/simulated.json");
  State() { setenv("XDG_STATE_HOME", folder.path("").c_str(), 1); }
  ~State() { unsetenv("XDG_STATE_HOME"); }
  std::string write(const std::string& text, const std::string& unit = "simulated") const {
    std::filesystem::create_directories(folder.path("padwalk/zero"));
    return folder.write("padwalk/zero/" + unit + ".json", text);
  }
};

const std::string kGood =
    R"({"padwalk": "zero/1", "unit": "simulated", "date": "2026-05-04T09:30:00Z", )"
    R"("lead_ohm": 0.06, "contact_ohm": 0.02, "leak_ampere": 2e-8, "noise_volt": 4e-5, )"
    R"("offset_volt": 0.001})";

/// What load_zero() says on standard error; there must be no zero then.
std::string zero_complaint(const std::string& unit = "simulated") {
  char name[] = "/tmp/padwalk-err-XXXXXX";
  const int file = mkstemp(name);
  std::fflush(stderr);
  const int kept = dup(STDERR_FILENO);
  dup2(file, STDERR_FILENO);
  const auto zero = tools::load_zero(unit);
  std::fflush(stderr);
  dup2(kept, STDERR_FILENO);
  close(kept);
  close(file);
  const std::string said = test::read_text(name);
  unlink(name);
  CHECK((said.empty() || !zero));
  return said;
}

/// A wire of so many ohms a lead under the first four of 16 leads, each clip the same, and never in
/// the air.
struct ZeroBench {
  explicit ZeroBench(const std::vector<double>& contact_ohms,
                     const std::string& unit = "simulated") {
    Circuit circuit;
    circuit.nodes = 1;
    circuit.leads.resize(16);
    for (std::size_t i = 0; i < contact_ohms.size(); ++i) {
      circuit.leads[i] = {0, contact_ohms[i]};
    }
    simulated::SimulatedTesterOptions options;
    options.unit = unit;
    tester.emplace(circuit, options);
  }

  /// Answers the prompts: `clips` are what the leads touch then; the rest as before.
  Outcome zero(const std::vector<std::optional<Circuit>>& clips,
               const std::vector<std::string>& more = {}) {
    std::vector<std::string> command = {PADWALK_PROGRAM, "zero", "--port", tester->port_name()};
    command.insert(command.end(), more.begin(), more.end());
    test::Running run(command);
    for (const std::optional<Circuit>& clip : clips) {
      if (run.read_line().empty()) {
        break;  // it ended
      }
      if (clip) {
        tester->set_circuit(*clip);
      }
      run.send("\n");
    }
    return run.finish();
  }

  std::optional<simulated::SimulatedTester> tester;
};

Circuit air() {
  Circuit circuit;
  circuit.leads.resize(16);
  return circuit;
}

Circuit wire(std::array<double, 4> ohms) {
  Circuit circuit = air();
  circuit.nodes = 1;
  for (std::size_t i = 0; i < ohms.size(); ++i) {
    circuit.leads[i] = {0, ohms[i]};
  }
  return circuit;
}

void refused(const Outcome& outcome, int status, const std::string& sentence, const State& state) {
  CHECK(outcome.err == "padwalk: " + sentence + "\n");
  CHECK(outcome.status == status);
  CHECK(!std::filesystem::exists(state.file));
}

}  // namespace

TEST_CASE("zero on the simulated bench finds the leads that it was given", "[tools][zero]") {
  const State state;
  const Outcome outcome = test::padwalk({"zero", "--simulate", "--json", state.folder.path("j")});
  CHECK(outcome.status == 0);
  CHECK(outcome.err.empty());
  CHECK(outcome.out.find("Clip leads 1 to 4 on one bare wire, then press Enter (1 of 3).\n"
                         "Take them off, and clip leads 1 to 4 on one bare wire, then press Enter "
                         "(2 of 3).\n"
                         "Take them off, and clip leads 1 to 4 on one bare wire, then press Enter "
                         "(3 of 3).\n"
                         "Take all leads off; let none touch anything. Then press Enter.\n"
                         "A pair of leads adds 0.0") == 0);
  CHECK(outcome.out.find("Kept in " + state.file) != std::string::npos);
  const auto json = nlohmann::json::parse(test::read_text(state.folder.path("j")));
  CHECK(json["padwalk"] == "zero/1");
  CHECK(json["verdict"] == "stored");
  CHECK(json["file"] == state.file);
  CHECK(json["clips"].size() == 6);
  CHECK(json["clips"][0]["ohm"].size() == 3);
  // Contacts of 25 mohm with 25 mohm of spread, and what a dozen of them tell of that.
  const auto zero = tools::load_zero("simulated");
  REQUIRE(zero);
  CHECK(zero->lead_ohm == Approx(0.05).margin(0.03));
  CHECK(zero->contact_ohm == Approx(0.025).margin(0.015));
  CHECK(zero->noise_volt == Approx(40e-6).epsilon(0.3));
  CHECK(zero->leak_ampere < session::kLeakAmpere);
  CHECK(zero->age_hours < 0.1);
  CHECK(zero->unit == "simulated");
  CHECK(json["lead_ohm"] == zero->lead_ohm);
  CHECK(json["date"] == zero->date);
}

TEST_CASE("zero takes the mean of the leads and their spread from clip to clip", "[tools][zero]") {
  const State state;
  ZeroBench bench({});
  // Every lead varies by the same 40 mohm up and down: a pair by 80, a contact by 80 over root 2.
  const Outcome outcome =
      bench.zero({wire({0.16, 0.16, 0.16, 0.16}), wire({0.20, 0.20, 0.20, 0.20}),
                  wire({0.24, 0.24, 0.24, 0.24}), air()});
  CHECK(outcome.err.empty());
  CHECK(outcome.status == 0);
  const auto zero = tools::load_zero("simulated");
  REQUIRE(zero);
  CHECK(zero->lead_ohm == Approx(0.40).margin(0.06));  // half a code, without noise to average
  CHECK(zero->contact_ohm == Approx(0.08 / std::sqrt(2)).margin(0.03));
}

TEST_CASE("leads that cannot be right are refused, and nothing is kept", "[tools][zero]") {
  const State state;
  ZeroBench bench({});
  SECTION("no wire") {
    refused(bench.zero({air()}), 5,
            "leads 1 and 2 do not conduct to each other: clip leads 1 to 4 on one bare wire",
            state);
  }
  SECTION("one lead off") {
    refused(bench.zero({wire({0.02, 0.02, 0.02, 0.02}),
                        wire({0.02, 0.02, simulated::kNoContactOhm, 0.02})}),
            5, "leads 1 and 3 do not conduct to each other: clip leads 1 to 4 on one bare wire",
            state);
  }
  SECTION("other leads are asked for") {
    refused(bench.zero({wire({0.02, 0.02, 0.02, 0.02})}, {"--leads", "3-6"}), 5,
            "leads 3 and 5 do not conduct to each other: clip leads 3 to 6 on one bare wire",
            state);
  }
  SECTION("dirty clips") {
    const Outcome outcome = bench.zero(
        {wire({0.02, 0.02, 0.02, 0.02}), wire({1, 1, 1, 1}), wire({0.1, 0.1, 0.1, 0.1}), air()});
    const std::string begin = "padwalk: the contacts scatter by 0.7";
    CHECK(outcome.err.substr(0, begin.size()) == begin);
    CHECK(outcome.err.find(" ohm from clip to clip, 0.3 are the most; nothing is stored: clean the "
                           "clips, and zero again\n") != std::string::npos);
    CHECK(outcome.status == 5);
    CHECK(!std::filesystem::exists(state.file));
  }
  SECTION("leads of far too many ohms") {
    const Circuit far = wire({1.5, 1.5, 1.5, 1.5});
    const Outcome outcome = bench.zero({far, far, far, air()});
    const std::string begin = "padwalk: a pair of leads has ";
    CHECK(outcome.err.substr(0, begin.size()) == begin);
    CHECK(outcome.err.find(" ohm, 2 are the most; nothing is stored: clean the clips, and zero "
                           "again\n") != std::string::npos);
    CHECK(outcome.status == 5);
    CHECK(!std::filesystem::exists(state.file));
  }
  SECTION("still on the wire at the end") {
    const Circuit good = wire({0.02, 0.02, 0.02, 0.02});
    refused(bench.zero({good, good, good, good}), 5,
            "leads touch each other or something: take all of them off, and begin again", state);
  }
  SECTION("a noisy tester") {
    Circuit good = wire({0.02, 0.02, 0.02, 0.02});
    Circuit noisy = air();
    noisy.electronics.noise_volt = 1e-3;
    const Outcome outcome = bench.zero({good, good, good, noisy});
    const std::string begin = "padwalk: the noise is ";
    CHECK(outcome.err.substr(0, begin.size()) == begin);
    CHECK(outcome.status == 5);
    CHECK(!std::filesystem::exists(state.file));
  }
  SECTION("something live") {
    Circuit live = wire({0.02, 0.02, 0.02, 0.02});
    live.sources.push_back({0, simulated::kNoNode, 1.5, 1e3});
    const Outcome outcome = bench.zero({live});
    CHECK(outcome.err.find("padwalk: lead ") == 0);
    CHECK(outcome.err.find(" V: nothing live may be on the leads\n") != std::string::npos);
    CHECK(outcome.status == 4);
    CHECK(!std::filesystem::exists(state.file));
  }
  SECTION("nobody there") {
    refused(bench.zero({}), 5,
            "nobody answered: zeroing needs a person who clips leads and presses Enter", state);
  }
}

TEST_CASE("a refused zero leaves the one before as it was, and JSON says why", "[tools][zero]") {
  const State state;
  state.write(kGood);
  ZeroBench bench({});
  const std::string json_file = state.folder.path("j");
  CHECK(bench.zero({air()}, {"--json", json_file}).status == 5);
  CHECK(test::read_text(state.file) == kGood);
  const auto json = nlohmann::json::parse(test::read_text(json_file));
  CHECK(json["verdict"] == "refused");
  CHECK(json["why"] ==
        "leads 1 and 2 do not conduct to each other: clip leads 1 to 4 on one bare wire");
}

TEST_CASE("what is no choice of leads", "[tools][zero]") {
  const State state;
  const auto expect = [](const std::vector<std::string>& words, const std::string& sentence) {
    std::vector<std::string> command = {"zero", "--simulate", "--leads"};
    command.insert(command.end(), words.begin(), words.end());
    const Outcome outcome = test::padwalk(command);
    CHECK(outcome.err == "padwalk: " + sentence + "\n");
    CHECK(outcome.status == 2);
  };
  for (const std::string leads : {"4-1", "3", "0-4", "1-1", "1-17", "1-4x", "a-b"}) {
    expect({leads},
           "--leads " + leads + " is no choice of leads; give 2 to 16 neighbours, such as 1-4");
  }
  const Outcome none = test::padwalk({"zero"});
  CHECK(none.err ==
        "padwalk: zero needs a tester: --port NAME, or --simulate to try without one\n");
  CHECK(none.status == 2);
  ZeroBench bench({});
  CHECK(bench.zero({}, {"--leads", "15-18"}).err ==
        "padwalk: the tester on " + bench.tester->port_name() +
            " has 16 channels; choose other leads than 15-18\n");
}

TEST_CASE("a kept zero is of its unit, and has an age", "[tools][zero]") {
  const State state;
  CHECK_FALSE(tools::load_zero("simulated"));
  CHECK(zero_complaint("bench 7/a") == "");  // none there, nothing said
  session::Zero zero;
  zero.unit = "bench 7/a";
  zero.lead_ohm = 0.1;
  zero.date = tools::utc_date(std::chrono::system_clock::now() - std::chrono::hours(5));
  zero.leak_ampere = 20e-9;
  CHECK(tools::store_zero(zero) == state.folder.path("padwalk/zero/bench%207%2Fa.json"));
  const auto loaded = tools::load_zero("bench 7/a");
  REQUIRE(loaded);
  CHECK(loaded->lead_ohm == 0.1);
  CHECK(loaded->leak_ampere == 20e-9);
  CHECK(loaded->age_hours == Approx(5).margin(0.01));
  CHECK_FALSE(tools::load_zero("bench 8"));
  // From the future: the clock was wrong once, and the age is not known.
  zero.date = tools::utc_date(std::chrono::system_clock::now() + std::chrono::hours(5));
  tools::store_zero(zero);
  CHECK(tools::load_zero("bench 7/a")->age_hours > 100);
}

TEST_CASE("a zero that cannot be read is said to be so, and is gone without", "[tools][zero]") {
  const State state;
  const auto said = [&](const std::string& why) {
    return "padwalk: " + state.file + ": cannot use this zero: " + why +
           "; going on without one, 'padwalk zero' makes it anew\n";
  };
  const auto with = [](const std::string& from, const std::string& to) {
    std::string text = kGood;
    return text.replace(text.find(from), from.size(), to);
  };
  state.write(kGood);
  CHECK(tools::load_zero("simulated"));
  CHECK(zero_complaint() == "");
  state.write("");
  CHECK(zero_complaint() == said("it is not JSON"));
  state.write(kGood.substr(0, 40));
  CHECK(zero_complaint() == said("it is not JSON"));
  state.write("[1]");
  CHECK(zero_complaint() == said("it is not JSON"));
  state.write(with("zero/1", "zero/2"));
  CHECK(zero_complaint() == said("it is not zero/1"));
  state.write(with("\"simulated\"", "\"other\""));
  CHECK(zero_complaint() == said("it is of the tester \"other\""));
  state.write(with("0.06", "\"much\""));
  CHECK(zero_complaint() == said("\"lead_ohm\" is no number"));
  state.write(with("0.06", "7"));
  CHECK(zero_complaint() == said("a pair of leads has 7.00 ohm, 2 are the most"));
  state.write(with("2e-8", "-1"));
  CHECK(zero_complaint() == said("-1000000000 nA leak through open switches, 1000 are the most"));
  state.write(with("2026-05-04T09:30:00Z", "yesterday"));
  CHECK(zero_complaint() == said("\"date\" is \"yesterday\""));
  state.write(std::string(200'000, ' '));
  CHECK(zero_complaint() == said("it is far too large"));
  std::filesystem::remove(state.file);
  std::filesystem::create_directory(state.file);
  CHECK(zero_complaint() == said("it is no file"));
}

TEST_CASE("a state folder that cannot be made", "[tools][zero]") {
  const test::TemporaryFolder folder;
  folder.write("flat", "");
  setenv("XDG_STATE_HOME", folder.path("flat").c_str(), 1);
  const Outcome outcome = test::padwalk({"zero", "--simulate"});
  unsetenv("XDG_STATE_HOME");
  CHECK(outcome.status == 2);
  CHECK(outcome.err == "padwalk: cannot make the folder " + folder.path("flat") +
                           "/padwalk/zero: Not a directory; set XDG_STATE_HOME\n");
}
