// SPDX-License-Identifier: MIT
//
// A tester at the other end of no line at all: the core on a simulated bench as a byte stream, with
// a hand in every frame that passes and on the tester's clock. For tests of the session.
#pragma once

#include <algorithm>
#include <deque>
#include <functional>
#include <memory>
#include <thread>
#include <utility>
#include <vector>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/session/session.hpp"
#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/wire/codec.hpp"

namespace padwalk::tests {

using Bytes = std::vector<std::uint8_t>;

/// What becomes of one frame: the frames that arrive in its place.
using Meddle = std::function<std::vector<Bytes>(std::size_t index, const Bytes& frame)>;

/// The bench with a clock of the link that a test moves, and as poor as a test wants it.
class HandClockHal final : public simulated::BenchHal {
 public:
  using BenchHal::BenchHal;
  std::uint16_t window_bytes = 2048;
  std::uint16_t max_source = 0xFFFF;
  std::uint8_t converter_bits = simulated::kConverterBits;
  void describe(wire::Ability& ability) const override {
    BenchHal::describe(ability);
    ability.window_bytes = window_bytes;
    ability.max_source = std::min(ability.max_source, max_source);
    ability.converter_bits = converter_bits;
  }
  int16_t read_sense(wire::Gain gain) override { return held(BenchHal::read_sense(gain)); }
  int16_t read_current(wire::Gain gain) override { return held(BenchHal::read_current(gain)); }
  uint32_t link_ms() override { return link_ms_; }
  void pass(std::uint32_t milliseconds) { link_ms_ += milliseconds; }

 private:
  int16_t held(int16_t code) const {
    const int top = (1 << (converter_bits - 1)) - 1;
    return static_cast<int16_t>(std::clamp<int>(code, -top - 1, top));
  }

  std::uint32_t link_ms_ = 0;
};

class InMemoryTester final : public transport::ByteStream {
 public:
  /// `limit` makes the tester poorer before it is switched on.
  InMemoryTester(simulated::Circuit circuit, const std::function<void(HandClockHal&)>& limit)
      : hal_(std::move(circuit), "in memory",
             [this](std::span<const std::uint8_t> frame) {
               for (Bytes& arrived : pass(on_reply, replies_++, {frame.begin(), frame.end()})) {
                 to_host_.push_back(std::move(arrived));
               }
             }),
        core_((limit(hal_), std::make_unique<core::TesterCore>(hal_))) {}

  explicit InMemoryTester(simulated::Circuit circuit, std::uint16_t window_bytes = 2048)
      : InMemoryTester(std::move(circuit),
                       [&](HandClockHal& hal) { hal.window_bytes = window_bytes; }) {}

  /// May be empty: everything arrives.
  Meddle on_request;
  Meddle on_reply;
  std::function<void()> on_read;
  /// Frames that come only when the host has waited in vain.
  std::deque<Bytes> late;

  simulated::BenchHal& hal() { return hal_; }
  std::size_t requests() const { return requests_; }
  std::size_t replies() const { return replies_; }

  /// The tester hears nothing for so long, by its own clock.
  void be_silent(std::uint32_t milliseconds) {
    hal_.pass(milliseconds);
    core_->poll();
  }

  bool write(std::span<const std::uint8_t> bytes) override {
    for (const Bytes& arrived : pass(on_request, requests_++, {bytes.begin(), bytes.end()})) {
      core_->receive(arrived.data(), arrived.size());
    }
    return true;
  }

  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    // While a setting is held, measuring time passes by looks, as fast as they can be made.
    constexpr unsigned kLooksAtOnce = 256;
    for (unsigned looks = 1; to_host_.empty(); ++looks) {
      const bool more = core_->poll();
      const bool in_time = looks % kLooksAtOnce != 0 || std::chrono::steady_clock::now() < deadline;
      if (!more && !(core_->holding() && in_time)) {
        break;
      }
    }
    if (to_host_.empty()) {
      std::this_thread::sleep_until(deadline);  // in place of a line on which nothing comes
      to_host_.swap(late);
      return {};
    }
    if (on_read) {
      on_read();
    }
    const Bytes frame = std::move(to_host_.front());
    to_host_.pop_front();
    std::copy(frame.begin(), frame.end(), buffer.begin());
    return {transport::ReadOutcome::bytes, frame.size()};
  }

  std::string name() const override { return "memory"; }

 private:
  static std::vector<Bytes> pass(const Meddle& meddle, std::size_t index, const Bytes& frame) {
    return meddle ? meddle(index, frame) : std::vector<Bytes>{frame};
  }

  HandClockHal hal_;
  std::unique_ptr<core::TesterCore> core_;
  std::deque<Bytes> to_host_;
  std::size_t requests_ = 0;
  std::size_t replies_ = 0;
};

/// The frame with its message decoded, changed and encoded again; as it was if it holds another.
template <class Message, class Change>
Bytes changed(const Bytes& frame, Change change) {
  wire::FrameParser parser;
  for (const std::uint8_t byte : frame) {
    Message message;
    if (parser.push(byte) != wire::FrameParser::Answer::frame ||
        !wire::decode(parser.frame().message, parser.frame().message_size, &message)) {
      continue;
    }
    change(message);
    Bytes encoded(wire::kMessageBytes);
    Bytes out(wire::kFrameBytes);
    const std::size_t size = wire::encode(message, encoded.data());
    out.resize(wire::encode_frame(parser.frame().session, parser.frame().sequence, encoded.data(),
                                  size, out.data()));
    return out;
  }
  return frame;
}

}  // namespace padwalk::tests
