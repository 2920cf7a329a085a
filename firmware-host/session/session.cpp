// SPDX-License-Identifier: MIT
#include "firmware-host/session/session.hpp"

#include <fmt/format.h>

#include <utility>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

/// The switches are taken for open a little before the tester opens them.
constexpr std::chrono::milliseconds kSilence{wire::kSilenceMs - 100};

template <class Text>
std::string text_of(const Text& text) {
  return {text.data, text.data + text.size};
}

}  // namespace

Session::State::State(transport::ByteStream& stream, const Options& with)
    : options(with),
      link(stream, with.silence_limit),
      ability(meet()),
      runner(link, ability),
      ranges(ability, with.bare_board && high()) {
  if (!(with.power_limit_volt > 0 && with.power_limit_volt <= kMostPowerLimitVolt)) {
    throw std::logic_error("the power check has a limit above 0 and up to 0.15 V");
  }
  const auto identity = link.exchange<wire::Identity>(wire::AskIdentity());
  capabilities.unit = text_of(identity.unit);
  capabilities.firmware.assign(identity.firmware.data, identity.firmware.size);
  capabilities.channels = ability.channels;
  capabilities.max_source = ability.max_source;
  capabilities.max_sink = ability.max_sink;
  capabilities.program_bytes = ability.program_bytes;
  capabilities.five_volt = high();
  capabilities.button = (ability.features & wire::kButton) != 0;
  capabilities.edge_latch = (ability.features & wire::kEdgeLatch) != 0;
  presses = count_presses();
}

std::uint8_t Session::State::count_presses() {
  wire::Ask request;
  request.first = wire::kNoResults;
  return capabilities.button ? link.exchange<wire::ProgramState>(request).presses : 0;
}

wire::Ability Session::State::meet() {
  link.meet();
  const auto answer = link.exchange<wire::Ability>(wire::AskAbility());
  const bool low_range = (answer.ranges & 0xF) != 0 && (answer.levels & 3) == 3;
  const bool loads = (answer.loads & 6) == 6;
  if ((answer.features & wire::kDifferential) == 0 || !low_range || !loads) {
    throw TesterError(fmt::format(
        "{} lacks what padwalk measures with: differential sense, a 0.2 V range, loads of 1 Mohm "
        "and 47 kohm",
        link.tester()));
  }
  return answer;
}

bool Session::State::switches_opened() const {
  return reopened || runner.silences() != checked_silences ||
         Clock::now() - link.heard() >= kSilence;
}

bool Session::State::heal(std::string why) {
  for (bool again = false; reopen && reopen(why, again); again = true) {
    try {
      link.meet_again();
      const auto now = link.exchange<wire::Ability>(wire::AskAbility());
      const std::string unit = text_of(link.exchange<wire::Identity>(wire::AskIdentity()).unit);
      if (unit == capabilities.unit && now.channels == ability.channels) {
        runner.begin_again(now.silences);
        reopened = true;
        return true;
      }
      why = fmt::format("{} is another one now, {}; put {} back", link.tester(), unit,
                        capabilities.unit);
    } catch (const TesterError& error) {
      why = error.what();
    }
  }
  return false;
}

void Session::State::give_up_opening() const {
  throw TesterError(fmt::format(
      "{} opens its switches again and again, since too little of what is said arrives; "
      "check the cable",
      link.tester()));
}

Session::Session(transport::ByteStream& stream, Options options)
    : state_(std::make_unique<State>(stream, options)) {}

Session::~Session() = default;

const Capabilities& Session::capabilities() const {
  return state_->capabilities;
}

void Session::set_zero(const Zero& zero) {
  state_->options.zero = zero;
}

void Session::when_lost(std::function<bool(const std::string& why, bool again)> reopen) {
  state_->reopen = std::move(reopen);
}

PowerCheck Session::power_check(std::span<const Channel> channels) {
  return state_->healed([&] { return state_->power_check(channels); });
}

PowerCheck Session::power_check_more(std::span<const Channel> channels) {
  return state_->healed([&] { return state_->power_check_more(channels); });
}

std::vector<Measurement> Session::measure(std::span<const Request> requests) {
  state_->healed([&] { state_->measure(requests); });
  return std::move(state_->measured);
}

bool Session::touches(Channel tip, const Held& held) {
  return state_->healed([&] { return state_->touches(tip, held); });
}

Heard Session::name(Channel tip, const Held& held) {
  return state_->healed([&] { return state_->name(tip, held); });
}

std::size_t Session::presses() {
  const std::uint8_t before =
      std::exchange(state_->presses, state_->healed([&] { return state_->count_presses(); }));
  return static_cast<std::uint8_t>(state_->presses - before);
}

Idle Session::measure_idle(std::span<const Channel> channels) {
  return state_->measure_idle(channels);
}

const std::vector<Measurement>& Session::partial_results() const {
  return state_->measured;
}

bool Session::needs_power_check() const {
  return !state_->passed || state_->moved || state_->switches_opened();
}

void Session::leads_moved() {
  state_->moved = true;
}

Counters Session::counters() const {
  return state_->link.counters();
}

}  // namespace padwalk::session
