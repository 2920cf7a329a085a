// SPDX-License-Identifier: MIT
//
// `padwalk zero`: a few leads on one bare wire, three times anew, then all leads in the air. What
// leads and contacts add, how much a re-clip changes that, and what leaks.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <numeric>
#include <random>

#include "firmware-host/session/uncertainty.hpp"
#include "firmware-host/simulated/simulated_tester.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "tools/job_record.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/zero_file.hpp"

namespace padwalk::tools {

namespace {

using Json = nlohmann::ordered_json;
using session::Channel;
using simulated::Circuit;

constexpr int kClips = 3;
/// The converter scatters by as much as the contacts do; averages of so many readings do not.
constexpr int kRepeats = 16;
/// Three clips may agree by chance: no contact is taken to be better than this.
constexpr double kLeastSpreadOhm = 0.010;
constexpr std::size_t kMostLeads = 16;
/// A reading is never below zero, which would spoil a mean: this is added to each and taken off.
constexpr double kLiftOhm = 1;

/// Which leads: "1-4".
struct Leads {
  Channel first = 1;
  Channel last = 4;

  std::vector<Channel> channels() const {
    std::vector<Channel> all(last - first + std::size_t{1});
    std::iota(all.begin(), all.end(), first);
    return all;
  }
  std::string words() const { return fmt::format("leads {} to {}", first, last); }
};

Leads parse_leads(const std::string& text) {
  Leads leads;
  unsigned first = 0;
  unsigned last = 0;
  char rest = 0;
  const int found = std::sscanf(text.c_str(), "%5u-%5u%c", &first, &last, &rest);
  if (found != 2 || first < 1 || last <= first || last - first >= kMostLeads || last > 0xFFFE) {
    throw UsageError(
        fmt::format("--leads {} is no choice of leads; give 2 to {} neighbours, such as 1-4", text,
                    kMostLeads));
  }
  leads.first = static_cast<Channel>(first);
  leads.last = static_cast<Channel>(last);
  return leads;
}

/// Why nothing was stored, and the exit status that goes with it.
struct NotZeroed {
  std::string why;
  ExitStatus status = ExitStatus::incomplete;
};

/// Does what the prompts say.
class Clipper {
 public:
  virtual ~Clipper() = default;
  virtual void clip_anew() = 0;
  virtual void take_off() = 0;
};

class TerminalClipper : public Clipper {
 public:
  void clip_anew() override { wait(); }
  void take_off() override { wait(); }

 private:
  static void wait() {
    std::string line;
    if (!std::getline(std::cin, line)) {
      throw NotZeroed{"nobody answered: zeroing needs a person who clips leads and presses Enter"};
    }
  }
};

/// A tester with leads of the usual kind and switches as specified, and who clips them.
class SimulatedClipper : public Clipper {
 public:
  SimulatedClipper(Leads leads, std::uint16_t channels) : leads_(leads), channels_(channels) {
    tester_ = std::make_unique<simulated::SimulatedTester>(in_the_air(),
                                                           simulated::SimulatedTesterOptions{});
  }
  std::string port_name() const { return tester_->port_name(); }
  void clip_anew() override {
    Circuit circuit = in_the_air();
    circuit.nodes = 1;
    std::normal_distribution<double> contact(kContactOhm, kContactOhm);
    for (const Channel channel : leads_.channels()) {
      circuit.leads.at(channel - 1u) = {0, std::max(contact(random_), 1e-3)};
    }
    tester_->set_circuit(std::move(circuit));
  }
  void take_off() override { tester_->set_circuit(in_the_air()); }

 private:
  static constexpr double kContactOhm = 0.025;

  Circuit in_the_air() {
    Circuit circuit;
    circuit.leads.resize(std::max<std::size_t>(channels_, leads_.last));
    circuit.electronics.noise_volt = session::kNoiseVolt;
    circuit.electronics.offset_volt = 0.4e-3;
    circuit.electronics.leak_ampere = 0.2e-9;
    circuit.random = random_();
    return circuit;
  }

  Leads leads_;
  std::uint16_t channels_;
  std::mt19937 random_{4};
  std::unique_ptr<simulated::SimulatedTester> tester_;
};

void check_power(session::Session& session, const std::vector<Channel>& channels) {
  session.leads_moved();
  const session::PowerCheck check = session.power_check(channels);
  if (check.tied_ohm) {
    throw NotZeroed{
        "the leads are connected to the computer or to earth: clip them on nothing else",
        ExitStatus::refused};
  }
  if (!check.passed) {
    const session::LiveChannel& live = check.live.front();
    throw NotZeroed{fmt::format("lead {} has {:.3f} V: nothing live may be on the leads",
                                live.channel, std::max(std::abs(live.volt), live.rms_volt)),
                    ExitStatus::refused};
  }
}

/// What each pair of leads read in each clip. Units: ohm, volt.
struct Clips {
  std::map<std::pair<Channel, Channel>, std::vector<double>> ohms;
  double offset_sum = 0;
  int count = 0;
};

void read_clip(session::Session& session, const Leads& leads, Clips& clips) {
  const std::vector<Channel> channels = leads.channels();
  std::vector<session::Request> requests;
  for (const Channel a : channels) {
    for (const Channel b : channels) {
      for (int k = 0; a < b && k < kRepeats; ++k) {
        requests.push_back({{a}, {b}});
      }
    }
  }
  const std::vector<session::Measurement> measured = session.measure(requests);
  for (std::size_t i = 0; i < measured.size(); i += kRepeats) {
    const Channel a = requests[i].source.front();
    const Channel b = requests[i].sink.front();
    double sum = 0;
    for (std::size_t k = i; k < i + kRepeats; ++k) {
      if (!std::isfinite(measured[k].ohm) || measured[k].ohm > 100) {
        throw NotZeroed{
            fmt::format("leads {} and {} do not conduct to each other: clip {} on one bare wire", a,
                        b, leads.words())};
      }
      sum += measured[k].ohm - kLiftOhm;
      clips.offset_sum += measured[k].emf_volt;
      ++clips.count;
    }
    clips.ohms[{a, b}].push_back(sum / kRepeats);
  }
}

/// The mean of all pairs, and from the scatter of each pair about its own mean that of one contact.
void evaluate(const Clips& clips, session::Zero& zero) {
  double sum = 0;
  double squares = 0;
  for (const auto& [pair, ohms] : clips.ohms) {
    const double mean = std::accumulate(ohms.begin(), ohms.end(), 0.0) / kClips;
    sum += mean;
    for (const double ohm : ohms) {
      squares += (ohm - mean) * (ohm - mean);
    }
  }
  const double pairs = static_cast<double>(clips.ohms.size());
  zero.lead_ohm = sum / pairs;
  const double pair_variance = squares / (pairs * (kClips - 1));
  zero.contact_ohm = std::max(std::sqrt(pair_variance / 2), kLeastSpreadOhm);
  zero.offset_volt = clips.offset_sum / clips.count;
}

void measure_idle(session::Session& session, const std::vector<Channel>& all, double most_leak,
                  session::Zero& zero) {
  const session::Idle idle = session.measure_idle(all);
  if (idle.touching) {
    throw NotZeroed{"leads touch each other or something: take all of them off, and begin again"};
  }
  zero.leak_ampere = idle.leak_ampere;
  zero.noise_volt = idle.noise_volt;
  const std::string why = implausible(zero, most_leak);
  if (!why.empty()) {
    throw NotZeroed{why + "; nothing is stored: clean the clips, and zero again"};
  }
}

Json to_json(const session::Zero& zero, const Clips& clips, const std::string& why,
             const std::string& file) {
  Json json = {
      {"padwalk", "zero/1"}, {"verdict", why.empty() ? "stored" : "refused"}, {"unit", zero.unit}};
  if (!why.empty()) {
    json["why"] = why;
    return json;
  }
  json["file"] = file;
  json["date"] = zero.date;
  json["lead_ohm"] = zero.lead_ohm;
  json["contact_ohm"] = zero.contact_ohm;
  json["leak_ampere"] = zero.leak_ampere;
  json["noise_volt"] = zero.noise_volt;
  json["offset_volt"] = zero.offset_volt;
  json["clips"] = Json::array();
  for (const auto& [pair, ohms] : clips.ohms) {
    json["clips"].push_back({{"between", Json::array({pair.first, pair.second})}, {"ohm", ohms}});
  }
  return json;
}

}  // namespace

ExitStatus zero_tester(const ZeroOptions& options) {
  const Leads leads = parse_leads(options.leads);
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();

  std::unique_ptr<SimulatedClipper> simulated;
  if (options.simulate) {
    simulated = std::make_unique<SimulatedClipper>(leads, options.channels);
  }
  const std::string port = simulated ? simulated->port_name() : options.port;
  const auto stream = transport::open_port(port);
  session::Options session_options;
  session_options.zero.lead_ohm = -kLiftOhm;
  session::Session session(*stream, session_options);
  const session::Capabilities& can = session.capabilities();
  KeptRun kept(options.job, "zero", "{}", nullptr);
  kept.met_tester(can, simulated ? "simulated" : port);
  if (leads.last > can.channels) {
    throw UsageError(fmt::format("the tester on {} has {} channels; choose other leads than {}-{}",
                                 port, can.channels, leads.first, leads.last));
  }
  TerminalClipper at_terminal;
  Clipper& person = simulated ? static_cast<Clipper&>(*simulated) : at_terminal;

  session::Zero zero;
  zero.unit = can.unit;
  Clips clips;
  std::string file;
  NotZeroed problem;
  try {
    for (int clip = 1; clip <= kClips; ++clip) {
      text << fmt::format("{} {} on one bare wire, then press Enter ({} of {}).\n",
                          clip == 1 ? "Clip" : "Take them off, and clip", leads.words(), clip,
                          kClips)
           << std::flush;
      person.clip_anew();
      check_power(session, leads.channels());
      read_clip(session, leads, clips);
    }
    evaluate(clips, zero);
    text << "Take all leads off; let none touch anything. Then press Enter.\n" << std::flush;
    person.take_off();
    std::vector<Channel> all(can.channels);
    std::iota(all.begin(), all.end(), Channel{1});
    check_power(session, all);
    measure_idle(session, all, session::leak_of(can.channels), zero);
    zero.date = utc_date(std::chrono::system_clock::now());
    file = store_zero(zero);
    text << fmt::format(
        "A pair of leads adds {:.3f} ohm; each contact varies by {:.3f} ohm from clip to clip.\n"
        "Leakage is below {:.1f} nA, noise {:.0f} uV. Kept in {}; zero again within half an hour "
        "where megohms count.\n",
        zero.lead_ohm, zero.contact_ohm, zero.leak_ampere * 1e9, zero.noise_volt * 1e6, file);
  } catch (const NotZeroed& why) {
    problem = why;
    fmt::print(stderr, "padwalk: {}\n", problem.why);
  }
  const std::string json = to_json(zero, clips, problem.why, file).dump(2) + "\n";
  kept.end(problem.why.empty() ? "stored" : "refused", json);
  if (json_output.wanted()) {
    json_output.write(json);
  }
  return problem.why.empty() ? ExitStatus::good : problem.status;
}

}  // namespace padwalk::tools
