// SPDX-License-Identifier: MIT
//
// One quick look at everything that is clipped: who lost whom, who conducts to whom. Coarse, for a
// watch that is to see what comes and goes; nothing is read twice.
#include <algorithm>
#include <stdexcept>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// So many points at a time stand well out of the noise.
constexpr std::size_t kMostAtOnce = 12;

}  // namespace

/// Each of `others` against the source, by one sample, without waiting.
Sensing Session::State::watch_sensing(Channel source, std::span<const Channel> others) const {
  Sensing sensing{head(ranges.low(0)), {source}, {others.begin(), others.end()}, {}, {}};
  sensing.head.difference = 0;
  sensing.head.gain = watch_gain();
  sensing.head.samples_log2 = 0;
  sensing.head.settle_limit_ticks = 0;
  sensing.head.spread_ticks = 0;
  for (const Channel other : others) {
    sensing.pairs.push_back({other, source});
  }
  return sensing;
}

Glance Session::State::glance(std::span<const GlancedNet> nets) {
  std::vector<Sensing> sensings;
  std::vector<double> thresholds;  // of the pairs of each
  std::vector<Channel> firsts;
  const std::size_t most = std::min<std::size_t>(kMostAtOnce, ability.max_sink);
  for (const GlancedNet& net : nets) {
    firsts.push_back(net.channels.front());
    const std::span<const Channel> others = std::span(net.channels).subspan(1);
    for (std::size_t at = 0; at < others.size(); at += most) {
      const std::size_t count = std::min(most, others.size() - at);
      sensings.push_back(watch_sensing(firsts.back(), others.subspan(at, count)));
      thresholds.push_back(sight(count, 0).threshold);
    }
  }
  const std::size_t inside = sensings.size();
  const wire::StepHead near = quick_head(ranges.low(0));
  std::vector<std::size_t> driven;
  for (std::size_t net = 0; net < nets.size() && nets.size() > 1; ++net) {
    std::vector<Channel> rest;
    std::copy_if(firsts.begin(), firsts.end(), std::back_inserter(rest),
                 [&](Channel first) { return first != firsts[net]; });
    for (std::size_t at = 0; nets[net].against_rest && at < rest.size(); at += ability.max_sink) {
      const std::size_t count = std::min<std::size_t>(ability.max_sink, rest.size() - at);
      const auto begin = rest.begin() + static_cast<std::ptrdiff_t>(at);
      const std::vector<Channel> sink(begin, begin + static_cast<std::ptrdiff_t>(count));
      sensings.push_back({near, {firsts[net]}, sink, {}, {{firsts[net], sink.front()}}});
      driven.push_back(net);
    }
  }
  for (const Sensing& sensing : sensings) {
    Request request;
    request.source = sensing.source;
    request.sink = sensing.sink;
    refuse_impossible({&request, 1});
  }
  if (switches_opened()) {
    check_again();
  }
  ++link.counters().rounds;
  std::vector<wire::Result> results;
  execute(sensings, results);
  Glance glance;
  std::size_t at = 0;
  std::size_t sensed = 0;
  for (const GlancedNet& net : nets) {
    std::vector<bool>& open = glance.open.emplace_back();
    while (open.size() + 1 < net.channels.size()) {
      const double threshold = thresholds[sensed];
      for (std::size_t pair = sensings[sensed].pairs.size(); pair > 0; --pair) {
        const double volt = ranges.sense_volt(results[at++], sensings[sensed].head);
        open.push_back(std::abs(volt) > threshold);
      }
      ++sensed;
    }
  }
  glance.joined.resize(nets.size());
  for (std::size_t i = inside; i < sensings.size(); ++i) {
    const wire::Result& result = results[at++];
    const bool settled = (result.flags & wire::kNotSettled) == 0;
    glance.joined[driven[i - inside]] =
        glance.joined[driven[i - inside]] || (settled && conducts_well(result, near));
  }
  return glance;
}

Glance Session::glance(std::span<const GlancedNet> nets) {
  return state_->healed([&] { return state_->glance(nets); });
}

}  // namespace padwalk::session
