// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include <array>
#include <cstdio>

#include "graph/hookup.hpp"
#include "tools/board_file.hpp"
#include "tools/options.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::tools {

ExitStatus simulate_tester(const SimulateOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const graph::Hookup hookup = graph::default_hookup(loaded.board);
  const std::uint16_t channels = simulated_channels(hookup, options.channels);
  if (hookup.leads.size() > channels) {
    throw UsageError(fmt::format("the board has {} points to attach; --channels {} is too few",
                                 hookup.leads.size(), channels));
  }
  // Signals are taken from a descriptor, so that the simulated tester's thread never sees them.
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGINT);
  sigaddset(&signals, SIGTERM);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  const int stop = signalfd(-1, &signals, SFD_CLOEXEC);
  SimulatedBench bench(loaded.board, options.defects, hookup, channels);
  fmt::print("{}\n", bench.port_name());
  fmt::print(stderr,
             "A simulated tester with {} channels answers there until Ctrl-C; Enter re-seats its "
             "leads.\nNext: padwalk sweep {} --port {}\n",
             channels, options.board, bench.port_name());
  std::fflush(stdout);
  std::array<pollfd, 2> waiting = {pollfd{stop, POLLIN, 0}, pollfd{STDIN_FILENO, POLLIN, 0}};
  while (poll(waiting.data(), waiting.size(), -1) < 0 || waiting[0].revents == 0) {
    if (waiting[1].revents != 0) {
      std::array<char, 256> line{};
      if (read(STDIN_FILENO, line.data(), line.size()) > 0) {
        bench.reseat_all();
      } else {
        waiting[1].fd = -1;  // no keyboard: go on until stopped
      }
    }
  }
  close(stop);
  return ExitStatus::good;
}

}  // namespace padwalk::tools
