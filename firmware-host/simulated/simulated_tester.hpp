// SPDX-License-Identifier: MIT
//
// A tester without hardware: the portable core behind a pseudo-terminal, on a simulated bench. A
// host opens port_name() like any port, so every byte takes the real way.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "firmware-host/simulated/circuit.hpp"

namespace padwalk::simulated {

/// What the line does to bytes. Fractions of bytes, both directions; the same seed gives the same
/// faults.
struct LineFaults {
  double drop = 0;
  double corrupt = 0;
  double duplicate_frame = 0;  ///< a reply frame comes twice
  double delay_ms = 0;         ///< added to every reply
  std::uint64_t vanish_after_bytes =
      0;                 ///< replies sent before the tester closes the terminal; 0: never
  bool garbage = false;  ///< answers random bytes for ever
  bool silent = false;   ///< answers nothing
  std::uint32_t random = 1;
};

struct SimulatedTesterOptions {
  std::string unit = "simulated";
  LineFaults faults;
  std::uint16_t protocol_version = 0;  ///< 0: the real one; else what hello claims
};

class SimulatedTester {
 public:
  /// Opens a pseudo-terminal and answers on it from a thread of its own until destroyed.
  SimulatedTester(Circuit circuit, SimulatedTesterOptions options);
  ~SimulatedTester();

  /// "/dev/pts/7".
  std::string port_name() const;

  /// Swaps the circuit between two settings: leads were re-seated, a switch was pressed.
  /// Thread-safe.
  void set_circuit(Circuit circuit);

  /// Somebody presses the tester's button. Thread-safe.
  void press_button();

  /// Bytes that passed the terminal's master side, both ways; counted beside the session's own
  /// count.
  struct ByteCount {
    std::uint64_t to_tester = 0;
    std::uint64_t to_host = 0;
  };
  ByteCount bytes() const;

  /// Settings applied since the start, for tests that nothing was driven before a refusal.
  std::uint64_t driven_settings() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace padwalk::simulated
