// SPDX-License-Identifier: MIT
#include "tools/tester_connection.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <thread>

#include "tools/options.hpp"
#include "tools/zero_file.hpp"

namespace padwalk::tools {

namespace {

void refuse_too_few_channels(std::size_t needed, std::size_t channels, const std::string& port) {
  if (needed > channels) {
    throw UsageError(fmt::format(
        "the board has {} points to attach and the tester on {} has {} channels; a tester with {} "
        "channels is needed, or fewer points with access: clip",
        needed, port, channels, needed));
  }
}

}  // namespace

TesterConnection::TesterConnection(const graph::Board& board, const graph::Hookup& hookup,
                                   const TesterChoice& choice) {
  if (choice.simulate) {
    const auto channels = simulated_channels(hookup, choice.channels);
    refuse_too_few_channels(hookup.leads.size(), channels, "the simulated bench");
    bench_.emplace(board, choice.defects, hookup, channels, choice.then);
  }
  const std::string port = bench_ ? bench_->port_name() : choice.port;
  stream_ = std::make_unique<PluggedPort>(port);
  session::Options options;
  options.bare_board = !board.assembled() || choice.passive;
  options.power_limit_volt = choice.power_limit_volt;
  session_.emplace(*stream_, options);
  if (const auto zero = load_zero(session_->capabilities().unit)) {
    zero_ = *zero;
    session_->set_zero(zero_);
  }
  label_ = bench_ ? "simulated" : port;
  refuse_too_few_channels(hookup.leads.size(), session_->capabilities().channels, port);
}

PluggedPort::PluggedPort(std::string name)
    : name_(std::move(name)), port_(transport::open_port(name_)) {}

void PluggedPort::open_again() {
  port_.reset();  // it is ours alone
  port_ = transport::open_port(name_);
}

bool PluggedPort::write(std::span<const std::uint8_t> bytes) {
  return port_ && port_->write(bytes);
}

transport::ReadResult PluggedPort::read(std::span<std::uint8_t> buffer,
                                        std::chrono::steady_clock::time_point deadline) {
  return port_ ? port_->read(buffer, deadline)
               : transport::ReadResult{transport::ReadOutcome::closed, 0};
}

void TesterConnection::wait_for_plug(std::ostream& out, const std::atomic<bool>& stop,
                                     double most_s) {
  if (bench_ || most_s <= 0) {
    return;
  }
  using Clock = std::chrono::steady_clock;
  static constexpr std::chrono::milliseconds kLook{300};
  session_->when_lost([this, &out, &stop, most_s, told = std::string(),
                       until = Clock::time_point()](const std::string& why, bool again) mutable {
    if (!again) {
      until = Clock::now() +
              std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(most_s));
    }
    if (!again || why != told) {
      fmt::print(out, "\n{}.\nWhat was read stays; put the plug right, and it goes on by itself.\n",
                 why);
      out.flush();
      told = why;
    }
    while (!stop && Clock::now() < until) {
      std::this_thread::sleep_for(kLook);
      try {
        stream_->open_again();
        return true;
      } catch (const transport::PortError&) {  // not yet
      }
    }
    return false;
  });
}

}  // namespace padwalk::tools
