// SPDX-License-Identifier: MIT
//
// Opens the tester that a command was given, a real one or a simulated one on the same board, and
// says hello. Shared by every verb that measures; measures nothing itself.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "firmware-host/session/session.hpp"
#include "firmware-host/transport/byte_stream.hpp"
#include "graph/board.hpp"
#include "graph/hookup.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::tools {

/// What the command line says of the tester.
struct TesterChoice {
  std::string port;
  bool simulate = false;
  std::string defects;         ///< with simulate; empty: a healthy board
  std::uint16_t channels = 0;  ///< of the simulated tester; 0: as many as the hookup needs
  double power_limit_volt = 0.015;
  bool passive = false;  ///< 5 V is allowed on an assembled board too
};

class TesterConnection {
 public:
  /// `board` must outlive this. Errors: UsageError where the tester has too few channels for the
  /// hookup; session::TesterError, transport's PortError; graph::BadFile for the defects.
  TesterConnection(const graph::Board& board, const graph::Hookup& hookup,
                   const TesterChoice& choice);

  session::Session& session() { return *session_; }
  /// The simulated bench and the person beside it; null with a real tester.
  SimulatedBench* bench() { return bench_ ? &*bench_ : nullptr; }
  /// What the tester was zeroed with, if ever.
  const session::Zero& zero() const { return zero_; }
  /// For a report: the port, or "simulated".
  const std::string& label() const { return label_; }

 private:
  std::optional<SimulatedBench> bench_;
  std::unique_ptr<transport::ByteStream> stream_;
  std::optional<session::Session> session_;
  session::Zero zero_;
  std::string label_;
};

}  // namespace padwalk::tools
