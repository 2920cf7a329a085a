// SPDX-License-Identifier: MIT
//
// Whether a board is at rest: every lead loaded to 0 V at once, all read in 16 rounds, hum told
// from sources by a second, heavier load. Nothing is driven here; earth_check.cpp does that
// afterwards.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// How many channels are read in a round that lasts so long. A round is k times 6.25 ms, so that 16
/// of them hold whole periods of 50 and of 60 Hz and the mean of both is nothing. From round to
/// round their phases move on by 5 k / 16 and 6 k / 16 of a period: were k a multiple of 8, 60 Hz
/// would be met at one phase 16 times, and hum would pass for a source. Were it a multiple of 4,
/// two opposite phases alone would be met, perhaps the zeros, and 9 V AC would pass for rest. It is
/// even since ticks are 100 us. More than 1.4 s in all would show that no mains is quite 50 or 60
/// Hz.
struct Pace {
  std::size_t channels;
  std::uint16_t period_ticks;
};
/// 1.2 ms a channel: five results fill a frame, 5.6 ms at 115200 baud.
constexpr std::array<Pace, 3> kPaces = {{{10, 125}, {31, 375}, {72, 875}}};  // k = 2, 6, 14

constexpr std::uint8_t kLookSamplesLog2 = 2;
/// Before the first round, for the loads to take away what the switches put on the leads.
constexpr std::uint16_t kRestTicks = 100;
/// The scatter of so many channels, the quietest, tells the noise.
constexpr std::size_t kNoiseChannels = 10;
/// Hum comes through a few picofarads and falls 21 times from 1 Mohm to 47 kohm. What falls less
/// than so many times comes through less than about 0.5 Mohm over the number of loads.
constexpr double kFalls = 8;
/// Two metals in an electrolyte have less than 1.2 V, and the load of a weak one leaves less of it.
constexpr double kCellVolt = 0.8;
/// More than 1 uA through 47 kohm is not picked up from the air.
constexpr double kMostHumVolt = 0.050;
constexpr double kLoadRatio = 1e6 / 47e3;
/// A capacitor that 47 kohm drain by so much in 12 of 16 rounds is waited for, so many times over;
/// 100 uF that a measurement left at 0.2 V are among them.
constexpr double kDrains = 0.02;
constexpr int kMostLooks = 60;

bool has(const wire::Ability& ability, wire::Gain gain) {
  return (ability.gains & (1u << static_cast<unsigned>(gain))) != 0;
}

/// Fixed, so that a round takes the same time whatever hum does.
wire::Gain widest(const wire::Ability& ability) {
  return has(ability, wire::Gain::x1) ? wire::Gain::x1 : wire::Gain::automatic;
}

wire::Gain finest(const wire::Ability& ability) {
  for (const wire::Gain gain : {wire::Gain::x50, wire::Gain::x5}) {
    if (has(ability, gain)) {
      return gain;
    }
  }
  return widest(ability);
}

std::uint16_t period_ticks(std::size_t channels) {
  for (const Pace& pace : kPaces) {
    if (channels <= pace.channels) {
      return pace.period_ticks;
    }
  }
  return kPaces.back().period_ticks;
}

/// Which channels have a steady voltage above `limit` against 0 V or another one. Where the highest
/// and the lowest are apart, those are meant that are not near the middle.
std::vector<bool> steady(std::span<const Rounds> seen, double limit) {
  double low = 0;
  double high = 0;
  for (const Rounds& rounds : seen) {
    low = std::min(low, rounds.mean());
    high = std::max(high, rounds.mean());
  }
  const double most = high - low > limit ? limit / 2 : limit;
  std::vector<bool> found;
  for (const Rounds& rounds : seen) {
    found.push_back(std::abs(rounds.mean()) > most);
  }
  return found;
}

/// Falls in the course of the rounds, as a source does not.
bool drains(const Rounds& rounds) {
  double first = 0;
  double last = 0;
  for (std::size_t i = 0; i < kPowerRounds / 4; ++i) {
    first += rounds.volts[i];
    last += rounds.volts[kPowerRounds - 1 - i];
  }
  return !rounds.clipped && last / first < 1 - kDrains;
}

/// What a channel is that showed `light` with 1 Mohm and `heavy` with 47 kohm; nothing if hum is
/// all. What is over range on both sides still has a mean that tells one from the other.
std::optional<LiveKind> kind_of(const Rounds& light, bool light_steady, const Rounds& heavy,
                                bool heavy_steady, double limit) {
  const bool hum_falls = heavy.rms() * kFalls <= light.rms();
  const bool direct = hum_falls || std::abs(heavy.mean()) >= heavy.rms();
  const bool stays = std::abs(heavy.mean()) * kFalls >= std::abs(light.mean());
  if (heavy.clipped || ((light_steady || heavy_steady) && stays)) {
    return direct ? LiveKind::source : LiveKind::alternating;
  }
  const bool alternates = light.clipped || light.rms() > limit;
  if (heavy.rms() > kMostHumVolt || (alternates && !hum_falls)) {
    return LiveKind::alternating;
  }
  if (!light_steady) {
    return std::nullopt;
  }
  const bool cell = !light.clipped && std::abs(light.mean()) < kCellVolt;
  return cell ? LiveKind::weak_source : LiveKind::source;
}

bool is_weak(const LiveChannel& live) {
  return live.kind == LiveKind::weak_source;
}

/// Strongest first. Beside a real source a weak one is that same source seen through a part.
void order(std::vector<LiveChannel>& live) {
  if (!std::all_of(live.begin(), live.end(), is_weak)) {
    for (LiveChannel& each : live) {
      each.kind = is_weak(each) ? LiveKind::source : each.kind;
    }
  }
  const auto strength = [](const LiveChannel& each) {
    return each.kind == LiveKind::alternating ? each.rms_volt : std::abs(each.volt);
  };
  std::stable_sort(live.begin(), live.end(), [&](const LiveChannel& a, const LiveChannel& b) {
    return strength(a) > strength(b);
  });
}

std::string words(const PowerCheck& check) {
  if (check.live.empty()) {
    return "the board is connected to the computer or to earth: unplug it, and begin again";
  }
  const LiveChannel& live = check.live.front();
  const bool alternating = live.kind == LiveKind::alternating;
  return fmt::format(
      "the board is not at rest any more: channel {} has {:.{}f} V{}; switch it off, let it "
      "discharge, and begin again",
      live.channel, alternating ? live.rms_volt : live.volt,
      live.kind == LiveKind::weak_source ? 3 : 2, alternating ? " AC" : "");
}

}  // namespace

double Rounds::mean() const {
  double sum = 0;
  for (const double volt : volts) {
    sum += volt;
  }
  return sum / kPowerRounds;
}

double Rounds::rms() const {
  const double middle = mean();
  double squares = 0;
  for (const double volt : volts) {
    squares += (volt - middle) * (volt - middle);
  }
  return std::sqrt(squares / kPowerRounds);
}

PowerCheck Session::State::power_check(std::span<const Channel> channels) {
  for (const Channel channel : channels) {
    if (channel < 1 || channel > ability.channels) {
      throw std::logic_error(fmt::format("the tester has no channel {}", channel));
    }
  }
  passed = false;
  for (int attempt = 0; attempt < kAttempts; ++attempt) {
    PowerCheck check;
    check.limit_volt = options.power_limit_volt;
    check.readings = channels.size();
    if (check_power(channels, check)) {
      return check;
    }
  }
  give_up_opening();
}

bool Session::State::check_power(std::span<const Channel> channels, PowerCheck& check) {
  double before = 0;
  bool was_charge = false;
  for (int looks = 1;; ++looks) {
    bool charge = false;
    if (!judge(channels, check, charge)) {
      return false;
    }
    if (check.live.empty()) {
      break;
    }
    // Near the limit a step of the converter hides how a charge falls.
    double strongest = 0;
    for (const LiveChannel& live : check.live) {
      strongest = std::max(strongest, std::abs(live.volt));
    }
    charge = charge || (was_charge && strongest <= before);
    was_charge = charge;
    before = strongest;
    // A small capacitor is empty by now, and was no weak source.
    const bool weak = std::all_of(check.live.begin(), check.live.end(), is_weak);
    if (!(charge && looks < kMostLooks) && !(weak && looks == 1)) {
      return true;
    }
  }
  const std::uint8_t silences = runner.silences();
  if (!find_tie(channels, silences, check.tied_ohm)) {
    return false;
  }
  check.passed = !check.tied_ohm;
  if (check.passed) {
    remember_pass(channels, silences);
    hum_volt = check.hum_volt;
  }
  return true;
}

/// Fills in what is live, whether all of that is a charge that drains, and hum; measures the noise
/// where nothing is live.
bool Session::State::judge(std::span<const Channel> channels, PowerCheck& check, bool& charge) {
  const double limit = options.power_limit_volt;
  std::vector<Rounds> light;
  if (!look(channels, wire::Load::ohm_1m, widest(ability), light)) {
    return false;
  }
  check.live.clear();
  const std::vector<bool> light_steady = steady(light, limit);
  const auto at_rest = [&](std::size_t i) {
    return !light[i].clipped && !light_steady[i] && light[i].rms() <= limit;
  };
  bool all_at_rest = true;
  charge = true;
  check.hum_volt = 0;
  for (std::size_t i = 0; i < light.size(); ++i) {
    all_at_rest = all_at_rest && at_rest(i);
    check.hum_volt = std::max(check.hum_volt, light[i].clipped ? 0 : light[i].rms());
  }
  if (!all_at_rest) {
    std::vector<Rounds> heavy;
    if (!look(channels, wire::Load::ohm_47k, widest(ability), heavy)) {
      return false;
    }
    const std::vector<bool> heavy_steady = steady(heavy, limit);
    for (std::size_t i = 0; i < light.size(); ++i) {
      const auto kind = kind_of(light[i], light_steady[i], heavy[i], heavy_steady[i], limit);
      const Rounds& told = light[i].clipped && !heavy[i].clipped ? heavy[i] : light[i];
      if (kind) {
        charge = charge && kind != LiveKind::alternating && drains(heavy[i]);
        check.live.push_back({channels[i], told.mean(), told.rms(), *kind});
      } else if (light[i].clipped) {
        check.hum_volt = std::max(check.hum_volt, heavy[i].rms() * kLoadRatio);
      }
    }
    order(check.live);
  }
  return !check.live.empty() || measure_noise(channels, light);
}

/// Reads `channels` in 16 rounds, each evenly spaced, all of them loaded. Where they are many,
/// block by block: a block's rounds must be one program, since the loads open between two.
bool Session::State::look(std::span<const Channel> channels, wire::Load load, wire::Gain gain,
                          std::vector<Rounds>& seen) {
  std::size_t block = std::clamp<std::size_t>((ability.program_results - 1u) / kPowerRounds, 1,
                                              kPaces.back().channels);
  std::vector<Program> programs;
  std::vector<std::size_t> blocks;
  // A source between two nets shows only where both are loaded.
  std::vector<Channel> loaded(channels.begin(), channels.end());
  loaded.insert(loaded.end(), beside.begin(), beside.end());
  for (std::size_t at = 0; at < channels.size();) {
    const std::size_t count = std::min(block, channels.size() - at);
    std::vector<Program> packed =
        pack(rounds_of(channels.subspan(at, count), loaded, load, gain), ability, link.tester());
    if (packed.size() > 1 && count > 1) {
      block = count / 2;
      continue;
    }
    std::move(packed.begin(), packed.end(), std::back_inserter(programs));
    blocks.push_back(count);
    at += count;
  }
  std::vector<wire::Result> results;
  if (runner.run(programs, 0, runner.silences(), results) != programs.size()) {
    return false;
  }
  wire::StepHead head;
  head.level = wire::Level::off;
  head.samples_log2 = kLookSamplesLog2;
  seen.assign(channels.size(), {});
  auto result = results.begin();
  std::size_t first = 0;
  for (const std::size_t count : blocks) {
    ++result;  // of the rest before the rounds
    for (std::size_t round = 0; round < kPowerRounds; ++round) {
      for (std::size_t i = first; i < first + count; ++i, ++result) {
        seen[i].volts[round] = ranges.sense_volt(*result, head);
        seen[i].clipped |= (result->flags & (wire::kSenseOver | wire::kSenseUnder)) != 0;
      }
    }
    first += count;
  }
  return true;
}

std::vector<Sensing> Session::State::rounds_of(std::span<const Channel> block,
                                               std::span<const Channel> loaded, wire::Load load,
                                               wire::Gain gain) const {
  Sensing round;
  round.head.level = wire::Level::off;
  round.head.range = listening_range();
  round.head.load = load;
  round.head.gain = gain;
  round.head.samples_log2 = kLookSamplesLog2;
  round.head.settle_limit_ticks = 0;  // hum does not rest
  round.head.period_ticks = period_ticks(block.size());
  round.loaded.assign(loaded.begin(), loaded.end());
  for (const Channel channel : block) {
    round.pairs.push_back({channel, wire::kInstrumentZero});
  }
  std::vector<Sensing> rounds(1 + kPowerRounds, round);
  rounds.front().head.period_ticks = kRestTicks;
  rounds.front().pairs.resize(1);
  return rounds;
}

/// One sigma of a conversion, from the scatter that neither 50 nor 60 Hz explains.
bool Session::State::measure_noise(std::span<const Channel> channels,
                                   std::span<const Rounds> seen) {
  std::vector<std::size_t> by_calm(channels.size());
  for (std::size_t i = 0; i < by_calm.size(); ++i) {
    by_calm[i] = i;
  }
  std::stable_sort(by_calm.begin(), by_calm.end(), [&](std::size_t a, std::size_t b) {
    return seen[a].rms() + std::abs(seen[a].mean()) < seen[b].rms() + std::abs(seen[b].mean());
  });
  by_calm.resize(std::min(by_calm.size(), kNoiseChannels));
  std::vector<Channel> quiet;
  for (const std::size_t i : by_calm) {
    quiet.push_back(channels[i]);
  }
  std::vector<Rounds> fine;
  if (!look(quiet, wire::Load::ohm_47k, finest(ability), fine)) {
    return false;
  }
  std::vector<double> variances;
  for (const Rounds& rounds : fine) {
    if (rounds.clipped) {
      continue;
    }
    // 12.5 ms apart, 50 Hz moves on by 10 / 16 of a period and 60 Hz by 12 / 16. Five numbers are
    // taken off: the mean, and sine and cosine of each.
    double squares = kPowerRounds * rounds.rms() * rounds.rms();
    for (const int sixteenths : {10, 12}) {
      double cosine = 0;
      double sine = 0;
      for (std::size_t n = 0; n < kPowerRounds; ++n) {
        const double phase =
            2 * std::numbers::pi * sixteenths * static_cast<double>(n) / kPowerRounds;
        cosine += rounds.volts[n] * std::cos(phase);
        sine += rounds.volts[n] * std::sin(phase);
      }
      squares -= (cosine * cosine + sine * sine) * 2 / kPowerRounds;
    }
    variances.push_back(std::max(squares, 0.0) / (kPowerRounds - 5));
  }
  if (!variances.empty()) {
    // The middle one: a channel that drifts says nothing.
    const auto middle = variances.begin() + static_cast<std::ptrdiff_t>(variances.size() / 2);
    std::nth_element(variances.begin(), middle, variances.end());
    noise_volt = std::sqrt(std::ldexp(*middle, kLookSamplesLog2));
  }
  return true;
}

void Session::State::remember_pass(std::span<const Channel> channels, std::uint8_t silences) {
  passed = true;
  moved = false;
  reopened = false;
  checked.assign(channels.begin(), channels.end());
  checked_channels.assign(ability.channels + std::size_t{1}, false);
  for (const Channel channel : channels) {
    checked_channels[channel] = true;
  }
  checked_silences = silences;
}

PowerCheck Session::State::power_check_more(std::span<const Channel> channels) {
  std::vector<Channel> all = checked;
  for (const Channel channel : channels) {
    if (std::find(all.begin(), all.end(), channel) == all.end()) {
      all.push_back(channel);
    }
  }
  if (!passed || moved || switches_opened()) {
    return power_check(all);
  }
  // Of many leads one knows noise and hum better than of one.
  const double noise = noise_volt;
  const double hum = hum_volt;
  std::copy_if(all.begin(), all.end(), std::back_inserter(beside), [&](Channel channel) {
    return std::find(channels.begin(), channels.end(), channel) == channels.end();
  });
  PowerCheck check;
  try {
    check = power_check(channels);
  } catch (...) {
    beside.clear();
    throw;
  }
  beside.clear();
  if (check.passed) {
    remember_pass(all, checked_silences);
    noise_volt = noise;
    hum_volt = std::max(hum, hum_volt);
  }
  return check;
}

void Session::State::check_again() {
  const std::vector<Channel> channels = checked;
  const double noise = noise_volt;
  const PowerCheck check = power_check(channels);
  noise_volt = noise;  // as many samples as before, in what is measured just now
  if (!check.passed) {
    throw NotAtRest(words(check), check);
  }
}

}  // namespace padwalk::session
