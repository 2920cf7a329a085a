// SPDX-License-Identifier: MIT
//
// Opens the tester that a command was given, a real one or a simulated one on the same board, and
// says hello. Shared by every verb that measures; measures nothing itself.
#pragma once

#include <atomic>
#include <cstdint>
#include <memory>
#include <optional>
#include <ostream>
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
  bool passive = false;               ///< 5 V is allowed on an assembled board too
  BoardThen then = BoardThen::found;  ///< with simulate
};

/// A port that can be opened again after its plug was pulled.
class PluggedPort : public transport::ByteStream {
 public:
  /// Errors: transport::PortError.
  explicit PluggedPort(std::string name);
  /// Errors: the same; the port is closed then.
  void open_again();
  bool write(std::span<const std::uint8_t> bytes) override;
  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override;
  std::string name() const override { return name_; }

 private:
  std::string name_;
  std::unique_ptr<transport::ByteStream> port_;  ///< null: closed
};

/// How long a person at a terminal has to put a plug back. Units: s.
inline constexpr double kPlugWaitS = 600;

class TesterConnection {
 public:
  /// `board` must outlive this. Errors: UsageError where the tester has too few channels for the
  /// hookup; session::TesterError, transport's PortError; graph::BadFile for the defects.
  TesterConnection(const graph::Board& board, const graph::Hookup& hookup,
                   const TesterChoice& choice);

  session::Session& session() { return *session_; }
  /// Where the tester's plug is pulled, the person is told on `out`, and it is waited for, up to
  /// `most_s` seconds or until `stop`; then it goes on. Both outlive this.
  void wait_for_plug(std::ostream& out, const std::atomic<bool>& stop, double most_s);

  /// The simulated bench and the person beside it; null with a real tester.
  SimulatedBench* bench() { return bench_ ? &*bench_ : nullptr; }
  /// What the tester was zeroed with, if ever.
  const session::Zero& zero() const { return zero_; }
  /// For a report: the port, or "simulated".
  const std::string& label() const { return label_; }

 private:
  std::optional<SimulatedBench> bench_;
  std::unique_ptr<PluggedPort> stream_;
  std::optional<session::Session> session_;
  session::Zero zero_;
  std::string label_;
};

}  // namespace padwalk::tools
