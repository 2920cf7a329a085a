// SPDX-License-Identifier: MIT
//
// A conductor that the session watches: interruptions of known lengths at known times, on a bench
// with noise; a good one; a line that loses frames; a tester that opens its switches.
#include <catch2/catch.hpp>
#include <cmath>
#include <optional>
#include <random>

#include "firmware-host/session/watching.hpp"
#include "tests/firmware-host/in_memory_tester.hpp"
#include "tests/support/small_circuit.hpp"

using namespace padwalk;
using session::Channel;
using session::Watch;
using session::WatchChange;
using session::WatchEnd;
using session::WatchNews;
using simulated::Circuit;

namespace {

constexpr double kNoiseVolt = 200e-6;  // of an ordinary bench
constexpr double kHumVolt = 0.1;

/// A chain of points, a lead on each; one of its links opens and closes, if any.
Circuit chain(int points, int broken, double open_s, double every_s) {
  std::vector<Circuit::Resistor> links;
  for (int i = 0; i + 1 < points; ++i) {
    links.push_back({i, i + 1, 0.02});
    if (i == broken) {
      links.back().open_s = open_s;
      links.back().every_s = every_s;
    }
  }
  Circuit circuit = test::network(points, std::move(links));
  circuit.electronics.noise_volt = kNoiseVolt;
  circuit.electronics.hum_volt = kHumVolt;
  return circuit;
}

struct Interruption {
  double open_s = 0;  ///< on the tester's clock
  double seconds = 0;
  std::size_t points = 0;  ///< that went, at the most
};

/// Watches all of a chain from its first point, and makes interruptions of the changes.
struct Watcher {
  explicit Watcher(const Circuit& with, double farad = 0)
      : tester(with), session(tester, session::Options()) {
    for (std::size_t channel = 1; channel <= with.leads.size(); ++channel) {
      channels.push_back(static_cast<Channel>(channel));
    }
    REQUIRE(session.power_check(channels).passed);
    watch.source = channels.front();
    watch.others.assign(channels.begin() + 1, channels.end());
    watch.farad = farad;
    open.resize(watch.others.size());
  }

  WatchEnd run(double seconds) {
    watch.seconds = seconds;
    return session.watch(watch, [&](const WatchNews& now) { return hear(now); });
  }
  bool hear(const WatchNews& now) {
    for (const WatchChange& change : now.changes) {
      REQUIRE(change.at_s >= last_s);  // in order
      last_s = change.at_s;
      REQUIRE(open[change.other] != change.open);
      open[change.other] = change.open;
      changes.push_back(change);
      const auto gone = static_cast<std::size_t>(std::count(open.begin(), open.end(), true));
      if (change.open && gone == 1) {
        found.push_back({now.began_s + change.at_s, 0, 1});
      } else if (gone > 0) {
        found.back().points = std::max(found.back().points, gone);
      } else {
        found.back().seconds = now.began_s + change.at_s - found.back().open_s;
      }
    }
    news = now;
    return !stop || !stop(now);
  }
  void begin_again() {
    stop = nullptr;
    last_s = 0;
    open.assign(open.size(), false);
  }
  double gap_s() const { return news.gap_s; }
  double shortest_s() const {
    return news.gap_s + session.sight(watch.others.size(), watch.farad).rise_s;
  }

  tests::InMemoryTester tester;
  session::Session session;
  std::vector<Channel> channels;
  Watch watch;
  std::vector<bool> open;
  std::vector<WatchChange> changes;
  std::vector<Interruption> found;
  WatchNews news;
  double last_s = 0;
  std::function<bool(const WatchNews&)> stop;
};

/// Holds what was found against what there was: openings at every whole `every_s`.
void check_all_found(const Watcher& watcher, double open_s, double every_s, std::size_t points) {
  const double began = watcher.news.began_s;
  const double end = began + watcher.news.held_s;
  const bool certain = open_s >= watcher.shortest_s();
  // One that had begun before is as long as what is left of it.
  std::size_t at =
      !watcher.found.empty() && watcher.found.front().open_s <= began + watcher.gap_s() ? 1 : 0;
  for (double opens = std::ceil(began / every_s) * every_s; opens + open_s < end;
       opens += every_s) {
    const bool seen = at < watcher.found.size() && watcher.found[at].open_s < opens + every_s / 2;
    CAPTURE(opens, began);
    if (certain) {
      REQUIRE(seen);
    }
    if (!seen) {
      continue;
    }
    const Interruption& found = watcher.found[at++];
    CHECK(found.open_s >= opens - 1e-6);
    CHECK(found.open_s <= opens + watcher.shortest_s() + 1e-6);
    if (certain) {
      CHECK(std::abs(found.seconds - open_s) <= watcher.gap_s() + 1e-6);
      CHECK(found.points == points);
    }
  }
  CHECK(watcher.found.size() - at <= 1);  // none is invented; one may have begun at the end
}

}  // namespace

TEST_CASE("interruptions from 50 us to 500 ms are told, with their lengths to one gap",
          "[session][watching]") {
  struct Case {
    int points;
    int broken;
  };
  for (const Case& one : {Case{2, 0}, Case{3, 1}, Case{6, 2}}) {
    for (const double open_s : {50e-6, 90e-6, 130e-6, 310e-6, 700e-6, 5e-3, 60e-3, 500e-3}) {
      const double every_s = 2.7 * open_s + 3.137e-3;
      CAPTURE(one.points, open_s);
      Watcher watcher(chain(one.points, one.broken, open_s, every_s));
      CHECK((watcher.run(std::max(0.05, 3 * every_s)) == WatchEnd::over));
      CHECK(watcher.news.lost == 0);
      check_all_found(watcher, open_s, every_s,
                      static_cast<std::size_t>(one.points - 1 - one.broken));
    }
  }
}

TEST_CASE("what a watch certainly sees is told by the gap between looks", "[session][watching]") {
  Watcher two(chain(2, -1, 0, 0));
  two.run(0.1);
  CHECK(two.gap_s() == Approx(100e-6));  // a conversion of 50 us, and the next
  Watcher six(chain(6, -1, 0, 0));
  six.run(0.1);
  CHECK(six.gap_s() == Approx(5 * 70e-6 + 50e-6));
  CHECK(six.found.empty());
}

namespace {

void check_quiet(int points, double seconds) {
  Watcher watcher(chain(points, -1, 0, 0));
  CHECK((watcher.run(seconds) == WatchEnd::over));
  CHECK(watcher.changes.empty());
  CHECK(watcher.news.held_s >= seconds);
  CHECK(watcher.news.held_s < seconds + 0.001);
  CHECK(watcher.news.edges == 0);
}

}  // namespace

TEST_CASE("nothing is invented in a while of a good net", "[session][watching]") {
  check_quiet(2, 10);
  check_quiet(5, 10);
}

TEST_CASE("nothing is invented in ten minutes of a good net", "[session][watching][slow]") {
  check_quiet(5, 600);
}

TEST_CASE("what hangs on a net hides short interruptions, and that is told",
          "[session][watching]") {
  for (const double farad : {100e-9, 10e-6}) {
    // On both sides of the break, where it hides them best.
    const auto with = [&](double open_s, double every_s) {
      Circuit circuit = chain(3, 0, open_s, every_s);
      circuit.capacitors = {{0, simulated::kNoNode, farad / 2}, {2, simulated::kNoNode, farad / 2}};
      return circuit;
    };
    Watcher quiet(with(1e-6, 1), farad);
    quiet.run(0.02);
    const double shortest_s = quiet.shortest_s();
    CAPTURE(farad, shortest_s);
    CHECK(shortest_s > quiet.gap_s() + 0.01 * farad * 575);
    const double every_s = 3 * shortest_s + 20e-3;
    Watcher watcher(with(1.02 * shortest_s, every_s), farad);
    watcher.run(5 * every_s);
    CHECK(watcher.found.size() >= 4);
    check_all_found(watcher, 1.02 * shortest_s, every_s, 2);
  }
}

TEST_CASE("an edge latch counts what no look can see", "[session][watching]") {
  Watcher watcher(chain(2, 0, 8e-6, 25.013e-3));
  watcher.run(2);
  CHECK(watcher.news.edges >= 79);
  CHECK(watcher.news.edges <= 80);
  CHECK(watcher.found.size() < 25);
  for (const Interruption& found : watcher.found) {
    CHECK(found.seconds <= watcher.gap_s() + 1e-6);
  }
}

TEST_CASE("what is open from the start is told first, and when it closes", "[session][watching]") {
  Circuit circuit = chain(4, -1, 0, 0);
  circuit.resistors[1].ohm = 1e9;
  Watcher watcher(circuit);
  watcher.run(0.1);
  REQUIRE(watcher.changes.size() == 2);
  CHECK(watcher.changes[0].other == 1);
  CHECK(watcher.changes[1].other == 2);
  CHECK(watcher.changes[1].at_s <= watcher.gap_s());

  circuit.resistors[1] = {1, 2, 60, 30e-3, 60e-3};  // half open is open, and so is wholly open
  Watcher weak(circuit);
  weak.run(0.2);
  CHECK(weak.changes.size() == 2);
}

TEST_CASE("a watch ends when it is told to, and what follows it is measured",
          "[session][watching]") {
  Watcher watcher(chain(3, 1, 3e-3, 10e-3));
  watcher.stop = [](const WatchNews& now) { return now.held_s > 0.05; };
  CHECK((watcher.run(0) == WatchEnd::stopped));
  CHECK(watcher.found.size() >= 4);
  CHECK(watcher.news.held_s > 0.05);
  session::Request request;
  request.source = {1};
  request.sink = {2};
  CHECK(watcher.session.measure({&request, 1}).front().ohm < 1);
  const double before_s = watcher.session.clock_s();
  watcher.begin_again();
  CHECK((watcher.run(0.05) == WatchEnd::over));
  CHECK(watcher.news.began_s >= before_s);
}

TEST_CASE("a lost change is told again, and what is lost for good is counted",
          "[session][watching]") {
  const auto is_change = [](const tests::Bytes& frame) {
    bool is = false;
    tests::changed<wire::Change>(frame, [&](const wire::Change&) { is = true; });
    return is;
  };
  std::mt19937 random(5);
  Watcher watcher(chain(3, 0, 1e-3, 10e-3));
  std::size_t dropped = 0;
  watcher.tester.on_reply = [&](std::size_t,
                                const tests::Bytes& frame) -> std::vector<tests::Bytes> {
    switch (random() % 6) {
      case 0:
        dropped += is_change(frame) ? 1 : 0;
        return {};
      case 1:
        return {frame, frame};
      case 2: {
        tests::Bytes broken = frame;
        broken[random() % broken.size()] ^= 0x10;
        return {broken};
      }
      default:
        return {frame};
    }
  };
  watcher.run(0.5);
  CHECK(dropped > 5);
  CHECK(watcher.news.lost == 0);
  CHECK(watcher.session.counters().retries > 0);
  check_all_found(watcher, 1e-3, 10e-3, 2);

  // A line that is dead for long: more changes than the tester can repeat.
  Watcher deaf(chain(2, 0, 0.5e-3, 1e-3));
  std::size_t heard = 0;
  deaf.tester.on_reply = [&](std::size_t, const tests::Bytes& frame) -> std::vector<tests::Bytes> {
    heard += is_change(frame) ? 1 : 0;
    return is_change(frame) && heard > 20 && heard < 300 ? std::vector<tests::Bytes>{}
                                                         : std::vector<tests::Bytes>{frame};
  };
  std::vector<WatchChange> told;
  Watch watch = deaf.watch;
  watch.seconds = 0.4;
  WatchNews last;
  deaf.session.watch(watch, [&](const WatchNews& now) {
    told.insert(told.end(), now.changes.begin(), now.changes.end());
    last = now;
    return true;
  });
  CHECK(last.lost > 0);
  CHECK(told.size() + last.lost >= 790);
  CHECK(told.size() + last.lost <= 801);
}

TEST_CASE("a tester that opened its switches ends the watch, and the power is checked anew",
          "[session][watching]") {
  Watcher watcher(chain(3, -1, 0, 0));
  bool silent = false;
  watcher.stop = [&](const WatchNews& now) {
    if (now.held_s > 0.01 && !silent) {
      silent = true;
      watcher.tester.be_silent(1500);
    }
    return false;
  };
  CHECK((watcher.run(1000) == WatchEnd::silent));
  CHECK(watcher.session.needs_power_check());
  REQUIRE(watcher.session.power_check(watcher.channels).passed);
  watcher.begin_again();
  CHECK((watcher.run(0.05) == WatchEnd::over));
}

TEST_CASE("so many points drown in noise, and that is told beforehand", "[session][watching]") {
  Watcher watcher(chain(2, -1, 0, 0));
  double before = 0;
  for (const std::size_t others : {1, 2, 4, 8, 16}) {
    const session::WatchSight sight = watcher.session.sight(others, 0);
    CAPTURE(others);
    CHECK(sight.volt == 0.2);
    CHECK(sight.least_ohm >= 10);
    CHECK(sight.least_ohm > before);
    before = sight.least_ohm;
  }
  CHECK(std::isinf(watcher.session.sight(60, 0).least_ohm));
}

TEST_CASE("nothing is watched without a power check of all of it", "[session][watching]") {
  Watcher watcher(chain(3, -1, 0, 0));
  watcher.session.leads_moved();
  CHECK_THROWS_AS(watcher.run(1), std::logic_error);
  const std::vector<Channel> two = {1, 2};
  REQUIRE(watcher.session.power_check(two).passed);
  CHECK_THROWS_AS(watcher.run(1), std::logic_error);
}

TEST_CASE("random frames while a conductor is watched do no harm", "[session][watching]") {
  std::mt19937 random(11);
  Watcher watcher(chain(3, 0, 1e-3, 10e-3));
  watcher.tester.on_reply = [&](std::size_t,
                                const tests::Bytes& frame) -> std::vector<tests::Bytes> {
    // A frame that is whole and says something else.
    return {tests::changed<wire::Change>(frame, [&](wire::Change& change) {
      if (random() % 2 == 0) {
        change.pair = static_cast<std::uint16_t>(random());
        change.index = static_cast<std::uint16_t>(random());
        change.at_us = static_cast<std::uint32_t>(random());
      }
    })};
  };
  std::size_t calls = 0;
  watcher.watch.seconds = 0.1;
  watcher.session.watch(watcher.watch, [&](const WatchNews& now) {
    for (const WatchChange& change : now.changes) {
      CHECK(change.other < 2);
      CHECK(change.at_s >= 0);
    }
    return ++calls < 200;
  });
}

TEST_CASE("one glance at everything tells who lost whom and who is joined", "[session][watching]") {
  // Nets 1 to 4 of two points each; 9 and 10 by themselves. A resistor and a capacitor are no
  // joint.
  std::vector<Circuit::Resistor> links;
  for (int net = 0; net < 4; ++net) {
    links.push_back({2 * net, 2 * net + 1, 0.05});
  }
  links.push_back({0, 2, 4.7e3});
  const auto circuit = [&](const std::vector<Circuit::Resistor>& more) {
    Circuit made = test::network(10, links);
    made.resistors.insert(made.resistors.end(), more.begin(), more.end());
    made.capacitors.push_back({2, 4, 100e-9});
    made.electronics.noise_volt = kNoiseVolt;
    return made;
  };
  std::vector<session::GlancedNet> nets;
  for (int net = 0; net < 4; ++net) {
    const auto first = static_cast<Channel>(2 * net + 1);
    nets.push_back({{first, static_cast<Channel>(first + 1)}, true});
  }
  nets.push_back({{9}, true});
  nets.push_back({{10}, true});
  const auto glance = [&](const Circuit& of) {
    Watcher watcher(of);
    const session::Glance seen = watcher.session.glance(nets);
    const session::Glance again = watcher.session.glance(nets);
    CHECK(seen.open == again.open);
    CHECK(seen.joined == again.joined);
    return seen;
  };
  const std::vector<bool> none(6, false);
  const session::Glance good = glance(circuit({}));
  CHECK(good.joined == none);
  CHECK(good.open == std::vector<std::vector<bool>>{{false}, {false}, {false}, {false}, {}, {}});

  links[2].ohm = 1e9;
  CHECK(glance(circuit({})).open ==
        std::vector<std::vector<bool>>{{false}, {false}, {true}, {false}, {}, {}});
  links[2].ohm = 0.05;
  CHECK(glance(circuit({{1, 6, 5}})).joined ==
        std::vector<bool>{true, false, false, true, false, false});
  CHECK(glance(circuit({{3, 8, 20}})).joined ==
        std::vector<bool>{false, true, false, false, true, false});
  nets[0].against_rest = false;
  CHECK(glance(circuit({{1, 6, 5}})).joined ==
        std::vector<bool>{false, false, false, true, false, false});

  Watcher unchecked(circuit({}));
  unchecked.session.leads_moved();
  CHECK_THROWS_AS(unchecked.session.glance(nets), std::logic_error);
}
