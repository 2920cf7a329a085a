// SPDX-License-Identifier: MIT
#include "firmware-host/session/programs.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace padwalk::session {

namespace {

wire::Channels view(std::span<const Channel> set) {
  return {set.data(), set.size()};
}

bool same(const wire::StepHead& a, const wire::StepHead& b) {
  return a.level == b.level && a.range == b.range && a.load == b.load && a.gain == b.gain &&
         a.samples_log2 == b.samples_log2 && a.settle_codes == b.settle_codes &&
         a.settle_limit_ticks == b.settle_limit_ticks && a.period_ticks == b.period_ticks &&
         a.spread_ticks == b.spread_ticks && a.difference == b.difference;
}

/// One channel against one other, sensed between the two.
bool walkable(const Sensing& sensing) {
  return sensing.source.size() == 1 && sensing.sink.size() == 1 && sensing.loaded.empty() &&
         sensing.pairs.size() == 1 && sensing.pairs[0].plus == sensing.source[0] &&
         sensing.pairs[0].minus == sensing.sink[0];
}

/// No result comes while all pairs of a difference are averaged with the source off; a host that
/// hears none for long believes the tester stuck.
constexpr std::size_t kLongestOffTicks = 50000;

class Packer {
 public:
  Packer(const wire::Ability& ability, const std::string& tester)
      : ability_(ability), tester_(tester) {}

  void add_walk(const wire::StepHead& head, Channel source, std::span<const Channel> sinks) {
    const std::size_t most = ability_.channels;  // as for any set, repetitions counted
    while (!sinks.empty()) {
      // Halved until they fit.
      std::size_t count = std::min({sinks.size(), room_for_pairs(head), most});
      while (count > 0 && !writer_.add_walk(head, source, view(sinks.first(count)), {})) {
        count /= 2;
      }
      if (count == 0) {
        begin_another();
        continue;
      }
      settings_ += count * wire::results_a_pair(head);
      sinks = sinks.subspan(count);
    }
  }

  void add_setting(const Sensing& sensing) {
    const std::size_t a_pair = wire::results_a_pair(sensing.head);
    std::size_t most = ability_.program_results / a_pair;
    if (sensing.head.difference != 0 && sensing.head.spread_ticks > 0) {
      most = std::min(most, std::max<std::size_t>(kLongestOffTicks / sensing.head.spread_ticks, 1));
    }
    for (std::span<const wire::Pair> pairs = sensing.pairs; !pairs.empty();) {
      const std::size_t count = std::min(pairs.size(), most);
      if (count > 0 && count <= room_for_pairs(sensing.head) &&
          write(sensing, pairs.first(count))) {
        settings_ += a_pair;  // off and on are two
        pairs = pairs.subspan(count);
      } else if (writer_.size() > 0 || count <= 1) {
        begin_another();
      } else {
        most = count / 2;
      }
    }
  }

  std::vector<Program> finish() {
    end();
    return std::move(programs_);
  }

 private:
  std::size_t room_for_pairs(const wire::StepHead& head) const {
    return (ability_.program_results - writer_.results()) / wire::results_a_pair(head);
  }

  bool write(const Sensing& sensing, std::span<const wire::Pair> pairs) {
    const wire::Channels source = view(sensing.source);
    const wire::Channels sink = view(sensing.sink);
    const wire::Channels loaded = view(sensing.loaded);
    const bool one_minus = std::all_of(pairs.begin(), pairs.end(), [&](const wire::Pair& pair) {
      return pair.minus == pairs.front().minus;
    });
    if (!one_minus || pairs.size() == 1) {
      return writer_.add_setting(sensing.head, source, sink, loaded, pairs.data(), pairs.size());
    }
    std::vector<Channel> plus;
    plus.reserve(pairs.size());
    for (const wire::Pair& pair : pairs) {
      plus.push_back(pair.plus);
    }
    return writer_.add_setting_each(sensing.head, source, sink, loaded, view(plus),
                                    pairs.front().minus);
  }

  void end() {
    if (writer_.size() > 0) {
      programs_.push_back(
          {{buffer_.begin(), buffer_.begin() + static_cast<std::ptrdiff_t>(writer_.size())},
           writer_.results(),
           settings_});
    }
    writer_ = wire::ProgramWriter(buffer_.data(), buffer_.size());
    settings_ = 0;
  }

  void begin_another() {
    if (writer_.size() == 0) {
      throw TesterError(
          fmt::format("{} has room for programs of {} bytes, which is not enough for one setting "
                      "of its own {} channels",
                      tester_, ability_.program_bytes, ability_.channels));
    }
    end();
  }

  const wire::Ability& ability_;
  const std::string& tester_;
  std::vector<Program> programs_;
  std::vector<std::uint8_t> buffer_ = std::vector<std::uint8_t>(ability_.program_bytes);
  wire::ProgramWriter writer_ = wire::ProgramWriter(buffer_.data(), buffer_.size());
  std::size_t settings_ = 0;
};

}  // namespace

std::vector<Program> pack(std::span<const Sensing> sensings, const wire::Ability& ability,
                          const std::string& tester) {
  Packer packer(ability, tester);
  for (std::size_t at = 0; at < sensings.size();) {
    const Sensing& first = sensings[at];
    if (!walkable(first)) {
      packer.add_setting(first);
      ++at;
      continue;
    }
    std::vector<Channel> sinks;
    for (; at < sensings.size() && walkable(sensings[at]) && same(sensings[at].head, first.head) &&
           sensings[at].source == first.source;
         ++at) {
      sinks.push_back(sensings[at].sink[0]);
    }
    packer.add_walk(first.head, first.source[0], sinks);
  }
  return packer.finish();
}

}  // namespace padwalk::session
