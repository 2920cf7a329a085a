// SPDX-License-Identifier: MIT
//
// What the tester shows with its leads in the air: leakage of open switches, and noise.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

constexpr std::uint16_t kAverageTicks = 1000;  // 100 ms
/// What flows beyond this is no leakage of switches: 0.2 V over 200 kohm.
constexpr double kTouchingAmpere = 1e-6;
/// Leakages have either sign, and all of them together may cancel by chance where some of them do
/// not: no bound goes below two sigma of so many, about a quarter of the tester's own.
constexpr double kLeastShare = 0.25;

}  // namespace

Idle Session::State::measure_idle(std::span<const Channel> channels) {
  std::vector<Request> requests;
  for (std::size_t bit = 1; bit < channels.size(); bit *= 2) {
    Request request;
    for (std::size_t i = 0; i < channels.size(); ++i) {
      const bool one = (i & bit) != 0;
      std::vector<Channel>& set = one ? request.sink : request.source;
      if (set.size() < (one ? ability.max_sink : ability.max_source)) {
        set.push_back(channels[i]);
      }
    }
    requests.push_back(request);
    if (request.sink.size() <= ability.max_source && request.source.size() <= ability.max_sink) {
      std::swap(request.source, request.sink);
      requests.push_back(request);
    }
  }
  refuse_impossible(requests);
  if (switches_opened()) {
    check_again();
  }
  std::vector<Sensing> sensings;
  for (const Request& request : requests) {
    wire::StepHead average = head(listening_range());
    average.spread_ticks = kAverageTicks;
    sensings.push_back(
        sensing_of(request, average, {request.source.front(), request.sink.front()}));
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  Conditions now = conditions(true);
  now.leak_ampere = 0;
  Idle idle;
  idle.noise_volt = noise_volt;
  idle.leak_ampere = kLeastShare * leak_of(ability.channels);
  for (const OffOn& each : paired(results)) {
    const Electrical read = ranges.electrical(each, head(listening_range()), now);
    idle.touching |= read.clipped || read.ampere > kTouchingAmpere;
    idle.leak_ampere = std::max(idle.leak_ampere, std::abs(read.ampere) + read.ampere_error);
  }
  return idle;
}

}  // namespace padwalk::session
