// SPDX-License-Identifier: MIT
#include "tools/tester_connection.hpp"

#include <fmt/format.h>

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
    bench_.emplace(board, choice.defects, hookup, channels);
  }
  const std::string port = bench_ ? bench_->port_name() : choice.port;
  stream_ = transport::open_port(port);
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

}  // namespace padwalk::tools
