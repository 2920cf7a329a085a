// SPDX-License-Identifier: MIT
//
// Frames to and from one tester: session and sequence numbers, repetition until the answer comes,
// and giving up. It knows requests and answers, and nothing of programs, channels or ohms.
#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/wire/codec.hpp"

namespace padwalk::session {

using Clock = std::chrono::steady_clock;

/// A frame of this session that the tester sent.
struct Incoming {
  std::uint8_t sequence = 0;
  std::vector<std::uint8_t> message;

  wire::MessageId id() const { return static_cast<wire::MessageId>(message.front()); }
  template <class Message>
  std::optional<Message> as() const {
    Message decoded;
    return wire::decode(message.data(), message.size(), &decoded) ? std::optional(decoded)
                                                                  : std::nullopt;
  }
};

/// What a status of the tester means, in words.
const char* words(wire::Status status);

class Link {
 public:
  /// Chooses a session number; says nothing yet.
  Link(transport::ByteStream& stream, std::chrono::milliseconds silence_limit);

  /// Hello, until the tester answers with our version and signature. Errors: TesterError.
  void meet();

  /// The same on a stream that was opened again, under a new session number; what was said before
  /// is not believed. Errors: TesterError.
  void meet_again();

  /// Begins a task: the tester may have been silent for any time before it.
  void begin_task() { heard_ = progress_ = Clock::now(); }

  /// Something came about; without it for ten silence limits the tester is given up too, although
  /// it answers.
  void progress() { progress_ = Clock::now(); }

  /// Sends `request` with a new sequence number, which it returns. Errors: TesterError.
  template <class Request>
  std::uint8_t send(const Request& request) {
    sequence_ = sequence_ == 255 ? 1 : static_cast<std::uint8_t>(sequence_ + 1);
    send_again(request);
    return sequence_;
  }

  /// The next frame, or nothing until then. Errors: TesterError when the tester is gone.
  std::optional<Incoming> receive(Clock::time_point until);

  /// Sends `request` until its answer comes. Errors: TesterError.
  template <class Answer, class Request>
  Answer exchange(const Request& request) {
    begin_task();
    const std::uint8_t sequence = send(request);
    for (Clock::duration wait = patience_;; wait = std::min(2 * wait, most_patience_)) {
      for (const Clock::time_point until = Clock::now() + wait;;) {
        const std::optional<Incoming> incoming = receive(until);
        if (!incoming) {
          break;
        }
        const std::optional<Answer> answer = incoming->template as<Answer>();
        if (answer && incoming->sequence == sequence) {
          learn_patience(Clock::now() - sent_);
          return *answer;
        }
      }
      ++counters_.retries;
      send_again(request);
    }
  }

  /// How long an answer may take before it is asked for again.
  Clock::duration patience() const { return patience_; }
  Clock::duration most_patience() const { return most_patience_; }

  Clock::time_point heard() const { return heard_; }
  Clock::time_point sent() const { return sent_; }

  /// "the tester on /dev/ttyUSB0".
  std::string tester() const;

  Counters& counters() { return counters_; }
  const Counters& counters() const { return counters_; }

 private:
  template <class Request>
  void send_again(const Request& request) {
    std::array<std::uint8_t, wire::kMessageBytes> message{};
    send_frame(message.data(), wire::encode(request, message.data()));
  }
  void choose_session();
  void send_frame(const std::uint8_t* message, std::size_t size);
  std::optional<Incoming> take_frame();
  void refuse_error(const Incoming& incoming) const;
  void learn_patience(Clock::duration round_trip);
  [[noreturn]] void give_up() const;

  transport::ByteStream& stream_;
  const Clock::duration silence_limit_;
  std::uint16_t session_ = 0;
  std::uint8_t sequence_ = 0;
  bool met_ = false;
  bool overdue_ = false;
  wire::FrameParser parser_;
  std::array<std::uint8_t, 4096> buffer_{};
  std::size_t buffered_ = 0;
  std::size_t taken_ = 0;
  Clock::duration patience_;
  Clock::duration most_patience_;
  Clock::duration round_trip_{};
  Clock::time_point heard_;
  Clock::time_point progress_;
  Clock::time_point sent_;
  Counters counters_;
};

}  // namespace padwalk::session
