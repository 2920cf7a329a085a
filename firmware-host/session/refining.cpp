// SPDX-License-Identifier: MIT
//
// Reads again what the first reading did not resolve: in a better range, where between two sets the
// current flows, and close to a limit averaged over whole periods of the mains.
#include <algorithm>
#include <cmath>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// Below this the force path of a set matters, and where the current flows is looked for.
constexpr double kLocateUpToOhm = 50e3;
constexpr std::size_t kLocateChannels = 256;
/// Weak currents close to a limit are averaged.
constexpr double kLittleAmpere = 100e-6;
constexpr double kClose = 3;

bool is_pair(const Request& request) {
  return request.source.size() == 1 && request.sink.size() == 1;
}

}  // namespace

/// Between sets that conduct, it is looked for where the current leaves and enters them, and sensed
/// there.
void Session::State::refine(std::span<const Request> requests) {
  std::vector<Sensing> sensings;
  std::vector<std::size_t> which;
  for (std::size_t i = 0; i < requests.size(); ++i) {
    if (std::optional<Sensing> sensing = refined(requests[i], i)) {
      sensings.push_back(*std::move(sensing));
      which.push_back(i);
    }
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  const std::vector<OffOn> seen = paired(results);
  std::vector<Sensing> located_sensings;
  std::vector<std::size_t> located_which;
  std::span<const OffOn> left = seen;
  for (std::size_t k = 0; k < sensings.size(); ++k) {
    Sensing& sensing = sensings[k];
    const std::span<const OffOn> own = left.first(sensing.pairs.size());
    left = left.subspan(own.size());
    if (own.size() == 1) {
      replace(which[k], sensing, own[0]);
    } else {
      sensing.pairs = {located(sensing, own)};
      located_sensings.push_back(std::move(sensing));
      located_which.push_back(which[k]);
    }
  }
  results.clear();
  execute(located_sensings, results);
  const std::vector<OffOn> at_last = paired(results);
  for (std::size_t k = 0; k < located_sensings.size(); ++k) {
    replace(located_which[k], located_sensings[k], at_last[k]);
  }
}

/// What to sense in place of a first reading, if that helps: a pair in a better range, or every
/// channel of two sets.
std::optional<Sensing> Session::State::refined(const Request& request, std::size_t index) const {
  const Measurement& first = measured[index];
  if (request.purpose == Purpose::follow || first.clipped || first.emf) {
    return std::nullopt;
  }
  if (is_pair(request)) {
    const auto range = ranges.better(books[index].range, first.ohm);
    if (!range) {
      return std::nullopt;
    }
    return sensing_of(request, head(*range), books[index].pair);
  }
  return every_channel(request, first.ohm);
}

/// Every channel of two sets, where its force path matters.
std::optional<Sensing> Session::State::every_channel(const Request& request, double ohm) const {
  if (ohm > kLocateUpToOhm || request.source.size() + request.sink.size() > kLocateChannels) {
    return std::nullopt;
  }
  Sensing sensing{head(ranges.low(ohm)), request.source, request.sink, {}, {}};
  for (const std::vector<Channel>* set : {&request.source, &request.sink}) {
    for (const Channel channel : *set) {
      sensing.pairs.push_back({channel, wire::kInstrumentZero});
    }
  }
  return sensing;
}

/// Current lowers the source channel that it leaves by, and lifts the sink channel that it comes
/// to.
wire::Pair Session::State::located(const Sensing& sensing, std::span<const OffOn> seen) const {
  wire::StepHead off_head = sensing.head;
  off_head.level = wire::Level::off;
  const auto volt = [&](const OffOn& results) {
    return ranges.sense_volt(results.on, sensing.head) - ranges.sense_volt(results.off, off_head);
  };
  const auto by_volt = [&](const OffOn& a, const OffOn& b) { return volt(a) < volt(b); };
  const std::span<const OffOn> sources = seen.first(sensing.source.size());
  const std::span<const OffOn> sinks = seen.subspan(sensing.source.size());
  const auto lowest = std::min_element(sources.begin(), sources.end(), by_volt);
  const auto highest = std::max_element(sinks.begin(), sinks.end(), by_volt);
  return {sensing.source[static_cast<std::size_t>(lowest - sources.begin())],
          sensing.sink[static_cast<std::size_t>(highest - sinks.begin())]};
}

/// Senses what is at rest by now where the current flows. Returns false where there is no need.
bool Session::State::locate(const Request& request, std::size_t index) {
  Book& book = books[index];
  const Measurement& now = measured[index];
  const auto sensing = book.force_ohm > 0 && now.settled && !now.clipped
                           ? every_channel(request, now.ohm)
                           : std::nullopt;
  if (!sensing) {
    return false;
  }
  std::vector<wire::Result> results;
  execute({&*sensing, 1}, results);
  book.pair = located(*sensing, paired(results));
  book.force_ohm = 0;
  return true;
}

/// A better reading takes the place of the first, unless it has no number; nor may 0.2 V hide what
/// 5 V found.
void Session::State::replace(std::size_t index, const Sensing& sensing, const OffOn& results) {
  const Measurement first = measured[index];
  const Book first_book = books[index];
  books[index].pair = sensing.pairs.front();
  books[index].force_ohm = 0;
  judge(index, results, sensing.head);
  const Measurement& better = measured[index];
  const bool hides = std::isinf(better.ohm) && !better.emf && first.volt > better.volt;
  if (better.clipped || hides) {
    measured[index] = first;
    books[index] = first_book;
  }
}

void Session::State::average(std::span<const Request> requests) {
  std::vector<std::size_t> which;
  for (std::size_t i = 0; i < requests.size(); ++i) {
    if (wants_average(requests[i], i)) {
      which.push_back(i);
    }
  }
  // One clipped sample voids an average, which is then taken once more.
  for (int attempt = 0; attempt < 2 && !which.empty(); ++attempt) {
    std::vector<Sensing> sensings;
    for (const std::size_t i : which) {
      sensings.push_back(sensing_of(requests[i], averaging(head(books[i].range)), books[i].pair));
      if (Ranges::level(books[i].range) == wire::Level::high) {
        sensings.push_back(discharging(requests[i], books[i].pair));
      }
    }
    std::vector<wire::Result> results;
    execute(sensings, results);
    std::span<const wire::Result> left = results;
    std::vector<std::size_t> void_ones;
    for (const std::size_t i : which) {
      const bool high_level = Ranges::level(books[i].range) == wire::Level::high;
      books[i].averaged = true;
      judge(i, {left[0], left[1]}, head(books[i].range));
      measured[i].settled = true;  // it was before; hum is no reason to doubt it
      left = left.subspan(high_level ? 3 : 2);
      if (measured[i].clipped) {
        void_ones.push_back(i);
      }
    }
    which = void_ones;
  }
}

wire::StepHead Session::State::averaging(wire::StepHead head) const {
  head.spread_ticks = kMainsTicks;
  return head;
}

bool Session::State::wants_average(const Request& request, std::size_t index) const {
  const Measurement& now = measured[index];
  const double limit = request.limit_ohm;
  return request.purpose != Purpose::follow && limit > 0 && !books[index].averaged && now.settled &&
         !now.clipped && !now.emf && std::isfinite(now.ohm) &&
         books[index].electrical.ampere < kLittleAmpere && now.ohm > limit / kClose &&
         now.ohm < limit * kClose;
}

}  // namespace padwalk::session
