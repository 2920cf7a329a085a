// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/simulated_tester.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <deque>
#include <thread>

#include "firmware-host/core/tester_core.hpp"
#include "firmware-host/simulated/bench_hal.hpp"
#include "firmware-host/simulated/faulty_line.hpp"
#include "firmware-host/transport/byte_stream.hpp"

namespace padwalk::simulated {

namespace {

using Clock = std::chrono::steady_clock;

/// How often a terminal that no host has open is looked at.
constexpr std::chrono::milliseconds kIdle{5};
/// The core watches for silence, so it is called at least so often.
constexpr std::chrono::milliseconds kTick{20};
/// Pieces of the core's work between two looks at the line.
constexpr int kWorkAtOnce = 64;
/// So many frames may wait while a setting is held.
constexpr std::size_t kMostHeldBack = 64;
/// A host that does not read loses what goes beyond this, as on a line without flow control.
constexpr std::size_t kMostWaiting = 1 << 20;

[[noreturn]] void fail(const char* what) {
  throw transport::PortError(
      fmt::format("cannot open a pseudo-terminal for the simulated tester: {}: {}", what,
                  std::strerror(errno)));
}

/// A file descriptor that is closed with it.
class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {}
  ~Descriptor() { close(); }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return number_; }
  void close() {
    if (number_ >= 0) {
      ::close(number_);
      number_ = -1;
    }
  }

 private:
  int number_;
};

/// The frame with another version in it, if it is the answer to hello.
std::vector<std::uint8_t> claim_version(std::span<const std::uint8_t> frame,
                                        std::uint16_t version) {
  wire::FrameParser parser;
  for (const std::uint8_t byte : frame) {
    wire::HelloReply answer;
    if (parser.push(byte) != wire::FrameParser::Answer::frame ||
        !wire::decode(parser.frame().message, parser.frame().message_size, &answer)) {
      continue;
    }
    answer.version = static_cast<std::uint8_t>(version);
    std::array<std::uint8_t, wire::kMessageBytes> message{};
    std::array<std::uint8_t, wire::kFrameBytes> changed{};
    const std::size_t size = wire::encode(answer, message.data());
    const std::size_t count = wire::encode_frame(parser.frame().session, parser.frame().sequence,
                                                 message.data(), size, changed.data());
    return {changed.begin(), changed.begin() + static_cast<std::ptrdiff_t>(count)};
  }
  return {frame.begin(), frame.end()};
}

}  // namespace

struct SimulatedTester::State {
  State(Circuit circuit, SimulatedTesterOptions with)
      : options(std::move(with)),
        line(options.faults),
        master(posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK)),
        wake(eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)),
        hal(std::move(circuit), options.unit,
            [this](std::span<const std::uint8_t> frame) { say(frame); }),
        core(std::make_unique<core::TesterCore>(hal)) {
    if (master.get() < 0 || wake.get() < 0 || grantpt(master.get()) != 0 ||
        unlockpt(master.get()) != 0) {
      fail("posix_openpt");
    }
    std::array<char, 128> name{};
    if (ptsname_r(master.get(), name.data(), name.size()) != 0) {
      fail("ptsname");
    }
    port_name = name.data();
    // Set from this side: the other one is not held open here, so that a host's leaving shows.
    termios raw{};
    if (tcgetattr(master.get(), &raw) != 0) {
      fail("tcgetattr");
    }
    cfmakeraw(&raw);
    if (tcsetattr(master.get(), TCSANOW, &raw) != 0) {
      fail("tcsetattr");
    }
    thread = std::thread([this] { run(); });
  }

  ~State() {
    stop = true;
    const std::uint64_t one = 1;
    [[maybe_unused]] const ssize_t written = write(wake.get(), &one, sizeof(one));
    thread.join();
  }

  void run() {
    while (!stop && master.get() >= 0) {
      const bool heard = listen();
      bool busy = heard;
      for (int piece = 0; piece < kWorkAtOnce && !options.faults.garbage; ++piece) {
        // Looks wait for the line, as on hardware, or a slow host would lose what they see.
        if ((core->holding() && waiting.size() > kMostHeldBack) ||
            (!core->poll() && !core->holding())) {
          break;
        }
        busy = true;
      }
      if (options.faults.garbage && waiting.empty()) {
        waiting.push_back({Clock::now() + kIdle, line.garbage(64)});
      }
      send_waiting();
      if (!busy) {
        rest();
      }
    }
  }

  /// Takes what has come in; false if there was nothing.
  bool listen() {
    std::array<std::uint8_t, 4096> buffer{};
    const ssize_t count = read(master.get(), buffer.data(), buffer.size());
    host_there = count >= 0 || errno != EIO;
    if (count <= 0) {
      if (!host_there) {
        waiting.clear();
      }
      return false;
    }
    to_tester += static_cast<std::uint64_t>(count);
    const std::span<const std::uint8_t> bytes(buffer.data(), static_cast<std::size_t>(count));
    if (!options.faults.silent && !options.faults.garbage) {
      const std::vector<std::uint8_t> arrived = line.carry(bytes);
      core->receive(arrived.data(), arrived.size());
    }
    return true;
  }

  /// What the core says, on its way.
  void say(std::span<const std::uint8_t> frame) {
    const auto delay = std::chrono::duration_cast<Clock::duration>(
        std::chrono::duration<double, std::milli>(options.faults.delay_ms));
    std::vector<std::uint8_t> bytes = line.carry_reply(
        options.protocol_version == 0 ? std::vector<std::uint8_t>(frame.begin(), frame.end())
                                      : claim_version(frame, options.protocol_version));
    if (!bytes.empty() && waiting.size() * wire::kFrameBytes < kMostWaiting) {
      waiting.push_back({Clock::now() + delay, std::move(bytes)});
    }
  }

  void send_waiting() {
    while (!waiting.empty() && host_there && waiting.front().due <= Clock::now()) {
      std::vector<std::uint8_t>& bytes = waiting.front().bytes;
      std::size_t size = bytes.size();
      const std::uint64_t vanish = options.faults.vanish_after_bytes;
      if (vanish > 0) {
        size = std::min<std::size_t>(size, vanish - to_host);
      }
      const ssize_t count = write(master.get(), bytes.data(), size);
      if (count < 0) {
        return;  // no room, or nobody there any more
      }
      to_host += static_cast<std::uint64_t>(count);
      if (vanish > 0 && to_host >= vanish) {
        master.close();
        return;
      }
      bytes.erase(bytes.begin(), bytes.begin() + count);
      if (bytes.empty()) {
        waiting.pop_front();
      }
    }
  }

  /// Waits until there is something to do.
  void rest() {
    auto until = Clock::now() + kTick;
    short events = POLLIN;
    if (!waiting.empty()) {
      if (waiting.front().due > Clock::now()) {
        until = std::min(until, waiting.front().due);
      } else {
        events |= POLLOUT;
      }
    }
    std::array<pollfd, 2> entries = {pollfd{wake.get(), POLLIN, 0},
                                     pollfd{master.get(), events, 0}};
    // Without a host the terminal is for ever 'hung up', which would end every wait at once.
    const std::size_t count = host_there ? entries.size() : 1;
    if (!host_there) {
      until = std::min(until, Clock::now() + kIdle);
    }
    const auto left = std::chrono::ceil<std::chrono::milliseconds>(until - Clock::now());
    poll(entries.data(), count, static_cast<int>(std::max<std::int64_t>(left.count(), 0)));
  }

  struct Waiting {
    Clock::time_point due;
    std::vector<std::uint8_t> bytes;
  };

  const SimulatedTesterOptions options;
  FaultyLine line;
  Descriptor master;
  Descriptor wake;
  std::string port_name;
  std::deque<Waiting> waiting;
  bool host_there = true;
  BenchHal hal;
  std::unique_ptr<core::TesterCore> core;
  std::atomic<bool> stop = false;
  std::atomic<std::uint64_t> to_tester = 0;
  std::atomic<std::uint64_t> to_host = 0;
  std::thread thread;
};

SimulatedTester::SimulatedTester(Circuit circuit, SimulatedTesterOptions options)
    : state_(std::make_unique<State>(std::move(circuit), std::move(options))) {}

SimulatedTester::~SimulatedTester() = default;

std::string SimulatedTester::port_name() const {
  return state_->port_name;
}

void SimulatedTester::set_circuit(Circuit circuit) {
  state_->hal.set_circuit(std::move(circuit));
}

SimulatedTester::ByteCount SimulatedTester::bytes() const {
  return {state_->to_tester, state_->to_host};
}

void SimulatedTester::press_button() {
  state_->hal.press_button();
}

std::uint64_t SimulatedTester::driven_settings() const {
  return state_->hal.driven_settings();
}

}  // namespace padwalk::simulated
