// SPDX-License-Identifier: MIT
#include "firmware-host/core/tester_core.hpp"

#include <string.h>

namespace padwalk {
namespace core {

using wire::Phase;
using wire::Status;

namespace {

/// Numbers of programs wrap, so only their distance says which is older.
bool older(uint16_t a, uint16_t b) {
  return static_cast<int16_t>(a - b) < 0;
}

bool occupies(Phase phase) {
  return phase == Phase::queued || phase == Phase::running || phase == Phase::holding;
}

bool over(Phase phase) {
  return phase == Phase::done || phase == Phase::holding || phase == Phase::failed;
}

}  // namespace

void ChannelBits::clear() {
  memset(bytes_, 0, sizeof(bytes_));
}

TesterCore::TesterCore(Hal& hal) : hal_(hal) {
  hal_.open_all();
  hal_.describe(ability_);
  if (ability_.channels > kMaxChannels) {
    ability_.channels = kMaxChannels;
  }
  ability_.program_bytes = kProgramBytes;
  ability_.program_results = kProgramResults;
}

void TesterCore::receive(const uint8_t* bytes, size_t count) {
  for (size_t i = 0; i < count; ++i) {
    if (parser_.push(bytes[i]) == wire::FrameParser::Answer::frame) {
      handle(parser_.frame());
    }
  }
}

bool TesterCore::poll() {
  watch_silence();
  for (Slot& slot : slots_) {
    if (send_results(slot)) {
      return true;
    }
  }
  const bool sent = send_change();
  if (running_ == nullptr) {
    running_ = next_to_run();
    if (running_ == nullptr) {
      return sent;
    }
    begin(*running_);
  }
  measure(*running_);
  return running_ == nullptr || running_->phase != Phase::holding || !running_->last_sent;
}

template <class Message>
void TesterCore::send(uint16_t session, uint8_t sequence, const Message& message) {
  uint8_t bytes[wire::kMessageBytes];
  uint8_t frame[wire::kFrameBytes];
  const size_t size = wire::encode(message, bytes);
  hal_.emit(frame, wire::encode_frame(session, sequence, bytes, size, frame));
}

void TesterCore::handle(const wire::Frame& frame) {
  const uint8_t* bytes = frame.message;
  const size_t size = frame.message_size;
  const uint8_t id = bytes[0];
  if (id == static_cast<uint8_t>(wire::MessageId::hello)) {
    hello(frame);
    return;
  }
  // Our own frames, echoed by a terminal or a looped plug: no host, no sign of life, no answer.
  if (id > wire::kLastRequestId) {
    return;
  }
  wire::Error error;
  error.request = id;
  if (!in_session_ || frame.session != session_) {
    error.status = Status::no_session;
    send(frame.session, frame.sequence, error);
    return;
  }
  heard_ms_ = hal_.link_ms();
  silent_ = false;
  sequence_ = frame.sequence;
  error.status = Status::bad_message;
  switch (static_cast<wire::MessageId>(id)) {
    case wire::MessageId::ask_ability: {
      wire::AskAbility request;
      if (wire::decode(bytes, size, &request)) {
        ability_.silences = silences_;
        return send(session_, sequence_, ability_);
      }
      break;
    }
    case wire::MessageId::ask_identity: {
      wire::AskIdentity request;
      if (wire::decode(bytes, size, &request)) {
        wire::Identity identity;
        hal_.identify(identity);
        return send(session_, sequence_, identity);
      }
      break;
    }
    case wire::MessageId::part: {
      wire::Part request;
      if (wire::decode(bytes, size, &request)) {
        return part(request);
      }
      break;
    }
    case wire::MessageId::run: {
      wire::Run request;
      if (wire::decode(bytes, size, &request)) {
        return run(request, nullptr);
      }
      break;
    }
    case wire::MessageId::monitor: {
      wire::Monitor request;
      if (wire::decode(bytes, size, &request)) {
        return run(request.run, &request);
      }
      break;
    }
    case wire::MessageId::ask: {
      wire::Ask request;
      if (wire::decode(bytes, size, &request)) {
        return ask(request);
      }
      break;
    }
    case wire::MessageId::abort: {
      wire::Abort request;
      if (wire::decode(bytes, size, &request)) {
        return abort(request);
      }
      break;
    }
    default:
      error.status = Status::unknown_message;
  }
  send(session_, sequence_, error);
}

void TesterCore::hello(const wire::Frame& frame) {
  wire::Hello request;
  if (!wire::decode(frame.message, frame.message_size, &request)) {
    return;
  }
  const bool understood =
      request.version == wire::kVersion && request.signature == wire::kSignature;
  // The same hello once more is a repeat, not a new host.
  if (!understood || !in_session_ || frame.session != session_) {
    hal_.open_all();
    running_ = nullptr;
    held_ = nullptr;
    for (Slot& slot : slots_) {
      slot.phase = Phase::none;
    }
    any_aborted_ = false;
    silences_ = 0;
    session_ = frame.session;
    in_session_ = understood;
  }
  heard_ms_ = hal_.link_ms();
  silent_ = false;
  wire::HelloReply answer;
  answer.signature = wire::kSignature;
  send(frame.session, frame.sequence, answer);
}

void TesterCore::part(const wire::Part& request) {
  Slot& slot = slot_of(request.program);
  if (is_aborted(request.program)) {
    return state(request.program, Status::aborted, sequence_);
  }
  if (slot.phase == Phase::none || slot.program != request.program) {
    if (slot.phase != Phase::none && older(request.program, slot.program)) {
      return state(request.program, Status::stale_program, sequence_);
    }
    if (occupies(slot.phase)) {
      return state(request.program, Status::busy, sequence_);
    }
    slot.program = request.program;
    slot.phase = Phase::receiving;
    slot.status = Status::ok;
    slot.received = slot.at = slot.results = slot.sent = slot.changes = 0;
    slot.last_sent = false;
    if (held_ == &slot) {
      held_ = nullptr;
    }
  }
  if (slot.phase == Phase::receiving && request.offset == slot.received) {
    if (request.bytes.size > kProgramBytes - slot.received) {
      return state(request.program, Status::program_too_long, sequence_);
    }
    memcpy(slot.bytes + slot.received, request.bytes.data, request.bytes.size);
    slot.received = static_cast<uint16_t>(slot.received + request.bytes.size);
  }
  state(request.program, Status::ok, sequence_);
}

/// `how`: what is to be held when it has run; null: nothing.
void TesterCore::run(const wire::Run& request, const wire::Monitor* how) {
  Slot& slot = slot_of(request.program);
  if (is_aborted(request.program)) {
    return state(request.program, Status::aborted, sequence_);
  }
  if (slot.phase == Phase::none || slot.program != request.program) {
    const bool gone = slot.phase != Phase::none && older(request.program, slot.program);
    return state(request.program, gone ? Status::stale_program : Status::program_incomplete,
                 sequence_);
  }
  if (slot.phase != Phase::receiving) {  // a repeat: nothing is done twice
    return state(request.program, Status::ok, sequence_);
  }
  if (slot.received < request.length) {
    return state(request.program, Status::program_incomplete, sequence_);
  }
  Verdict verdict;
  slot.monitored = how != nullptr;
  slot.threshold = how != nullptr ? how->threshold : 0;
  slot.hold_us = how != nullptr ? how->hold_us : 0;
  if (slot.received > request.length ||
      request.checksum != wire::crc32c(slot.bytes, slot.received)) {
    verdict.status = Status::bad_checksum;
  } else {
    verdict = check(slot, (request.permit & wire::kPermitHighLevel) != 0);
  }
  if (verdict.status == Status::ok && verdict.drives && request.silences != silences_) {
    verdict.status = Status::power_check_stale;
  }
  if (verdict.status == Status::ok) {
    slot.phase = Phase::queued;
  } else {
    fail(slot, verdict.status, verdict.at);
  }
  state(request.program, Status::ok, sequence_);
}

void TesterCore::ask(const wire::Ask& request) {
  Slot& slot = slot_of(request.program);
  const bool known = slot.phase != Phase::none && slot.program == request.program;
  if (known && request.first < slot.sent) {
    slot.sent = request.first;
  }
  if (known && request.first != wire::kNoResults) {
    slot.last_sent = false;
  }
  if (known && held_ == &slot) {
    const uint16_t lacking = static_cast<uint16_t>(slot.changes - request.change);
    const uint16_t back = lacking < kept_count_ ? lacking : kept_count_;
    if (lacking <= 0x7FFF && back > static_cast<uint16_t>(slot.changes - changes_sent_)) {
      changes_sent_ = static_cast<uint16_t>(slot.changes - back);
    }
  }
  state(request.program,
        known || slot.phase == Phase::none || !older(request.program, slot.program)
            ? Status::ok
            : Status::stale_program,
        sequence_);
}

void TesterCore::abort(const wire::Abort& request) {
  // A late, repeated abort must not take the mark back.
  if (!any_aborted_ || older(aborted_through_, request.program)) {
    any_aborted_ = true;
    aborted_through_ = request.program;
  }
  for (Slot& slot : slots_) {
    if (slot.phase == Phase::receiving || occupies(slot.phase)) {
      if (is_aborted(slot.program)) {
        fail(slot, Status::aborted, 0);
        slot.last_sent = true;  // the host has had enough of it
      }
    }
  }
  state(request.program, Status::ok, sequence_);
}

bool TesterCore::is_aborted(uint16_t program) const {
  return any_aborted_ && !older(aborted_through_, program);
}

void TesterCore::fail(Slot& slot, Status status, uint16_t at) {
  slot.phase = Phase::failed;
  slot.status = status;
  slot.at = at;
  if (running_ == &slot) {
    hal_.open_all();
    running_ = nullptr;
  }
}

void TesterCore::watch_silence() {
  if (!in_session_ || silent_ || hal_.link_ms() - heard_ms_ <= wire::kSilenceMs) {
    return;
  }
  silent_ = true;
  ++silences_;
  hal_.open_all();
  running_ = nullptr;
  for (Slot& slot : slots_) {
    if (occupies(slot.phase)) {
      fail(slot, Status::silence, 0);
    }
  }
}

/// `sequence`: of the request that it answers; 0 where it comes unasked.
void TesterCore::state(uint16_t program, Status status, uint8_t sequence) {
  const Slot& slot = slot_of(program);
  wire::ProgramState answer;
  answer.program = program;
  answer.status = status;
  answer.silences = silences_;
  answer.presses = hal_.presses();
  answer.clock_us = hal_.now_us();
  if (slot.phase != Phase::none && slot.program == program) {
    answer.phase = slot.phase;
    answer.received = slot.received;
    answer.at = slot.at;
    answer.results = slot.results;
    answer.changes = slot.changes;
    if (held_ == &slot) {
      answer.oldest = static_cast<uint16_t>(slot.changes - kept_count_);
      answer.held_us = held_us_;
      answer.gap_us = gap_us_;
      answer.edges = edges_;
    }
    if (slot.phase == Phase::failed) {
      answer.status = slot.status;
    }
  }
  send(session_, sequence, answer);
}

bool TesterCore::send_results(Slot& slot) {
  if (slot.phase != Phase::running && !over(slot.phase)) {
    return false;
  }
  const uint16_t waiting = static_cast<uint16_t>(slot.results - slot.sent);
  const bool all = over(slot.phase);
  if (waiting < wire::kResultsPerFrame && (!all || (waiting == 0 && slot.last_sent))) {
    return false;
  }
  const uint8_t count =
      static_cast<uint8_t>(waiting < wire::kResultsPerFrame ? waiting : wire::kResultsPerFrame);
  wire::Results message;
  message.program = slot.program;
  message.first = slot.sent;
  message.silences = silences_;
  message.last = all && count == waiting ? 1 : 0;
  message.packed.size = static_cast<uint8_t>(count * wire::kResultBytes);
  memcpy(message.packed.data, slot.packed + slot.sent * wire::kResultBytes, message.packed.size);
  slot.sent = static_cast<uint16_t>(slot.sent + count);
  slot.last_sent = message.last != 0;
  send(session_, 0, message);
  return true;
}

/// The next one that did not go out; of too many the oldest are lost.
bool TesterCore::send_change() {
  if (held_ == nullptr || changes_sent_ == held_->changes) {
    return false;
  }
  if (static_cast<uint16_t>(held_->changes - changes_sent_) > kept_count_) {
    changes_sent_ = static_cast<uint16_t>(held_->changes - kept_count_);
  }
  send(session_, 0, kept_[changes_sent_++ % kKeptChanges]);
  return true;
}

TesterCore::Slot* TesterCore::next_to_run() {
  Slot* next = nullptr;
  for (Slot& slot : slots_) {
    if (slot.phase == Phase::queued && (next == nullptr || older(slot.program, next->program))) {
      next = &slot;
    }
  }
  return next;
}

}  // namespace core
}  // namespace padwalk
