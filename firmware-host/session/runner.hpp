// SPDX-License-Identifier: MIT
//
// Has the tester run programs, one after the other without a pause: the next one's bytes go out
// while results of the one before come in. Whatever is lost on the way is sent or asked for again.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <span>
#include <vector>

#include "firmware-host/session/link.hpp"
#include "firmware-host/session/programs.hpp"

namespace padwalk::session {

class Runner {
 public:
  /// `ability`: what the tester said; must outlive the runner, as must `link`.
  Runner(Link& link, const wire::Ability& ability);

  /// Runs `programs` in order and appends their results. Returns how many programs are done: fewer
  /// than all only where the tester opened its switches since `checked_silences`, so that the power
  /// must be checked again; the results are those of whole programs then.
  /// Errors: TesterError; `results` then holds all that came before.
  std::size_t run(std::span<const Program> programs, std::uint8_t permit,
                  std::uint8_t checked_silences, std::vector<wire::Result>& results);

  /// After a new hello: the tester has forgotten all programs.
  void begin_again(std::uint8_t silences) {
    flights_.clear();
    silences_ = silences;
  }

  /// Runs one program of one setting and has the tester hold it, `how` saying how; its results are
  /// appended. Returns its number, for whoever listens to its changes; nothing where the tester
  /// opened its switches. Errors: TesterError.
  std::optional<std::uint16_t> hold(const Program& program, const wire::Monitor& how,
                                    std::uint8_t checked_silences,
                                    std::vector<wire::Result>& results);

  /// Somebody else heard the tester's count of silences.
  void heard(std::uint8_t silences) { silences_ = silences; }

  /// The tester's count of silences, as last heard.
  std::uint8_t silences() const { return silences_; }

 private:
  /// A program on its way.
  struct Flight {
    std::uint16_t id = 0;
    const Program* program = nullptr;
    std::size_t kept = 0;  // bytes that the tester has
    std::size_t sent = 0;  // bytes that are under way
    std::size_t tries = 0;
    bool run_sent = false;
    bool accepted = false;
    bool asked = false;  // for results that are missing
    std::vector<wire::Result> results;
    std::optional<wire::Status> failed;

    bool complete() const { return results.size() == program->results; }
  };

  /// What the answer to a part is compared with.
  struct SentPart {
    std::uint16_t program = 0;
    std::size_t tries = 0;
    std::size_t end = 0;
  };

  std::size_t fly(std::span<const Program> programs, std::vector<wire::Result>& results);
  bool wants_another() const;
  void listen();
  void pump(Flight& flight);
  void send_run(Flight& flight);
  void nudge();
  void handle(const Incoming& incoming);
  void handle(const wire::ProgramState& state, std::uint8_t sequence);
  void handle(const wire::Results& message);
  void ask(const Flight& flight, std::uint16_t first);
  void ask_missing(const Flight& flight);
  void go_back(Flight& flight);
  void note_progress();
  Flight* find(std::uint16_t id);

  Link& link_;
  const wire::Ability& ability_;
  std::deque<Flight> flights_;
  std::array<SentPart, 256> sent_parts_{};  // by sequence number
  std::uint16_t next_id_ = 1;
  std::uint8_t permit_ = 0;
  std::optional<wire::Monitor> how_;  // the program is to be held
  std::uint8_t silences_;
  std::uint8_t checked_silences_ = 0;
  Clock::duration patience_{};
  Clock::time_point quiet_since_;
};

}  // namespace padwalk::session
