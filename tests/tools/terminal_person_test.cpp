// SPDX-License-Identifier: MIT
//
// A touch that is heard by itself, on a simulated tester whose tip the test moves while the person
// at the terminal is waited for.
#include "tools/terminal_person.hpp"

#include <catch2/catch.hpp>
#include <functional>
#include <sstream>

#include "tests/support/small_board.hpp"
#include "tools/simulated_bench.hpp"

namespace {

using namespace padwalk;

/// What happens each time the terminal is looked at; a line, or none.
class Script : public tools::Lines {
 public:
  using Step = std::function<std::optional<std::string>()>;
  void then(Step step) { steps_.push_back(std::move(step)); }
  void wait_a_little() {
    for (int i = 0; i < 5; ++i) {
      then([] { return std::nullopt; });
    }
  }
  std::optional<std::string> next(bool& ended) override {
    ended = at_ >= steps_.size() + 100;
    return at_++ < steps_.size() ? steps_[at_ - 1]() : std::nullopt;
  }
  std::optional<std::string> wait() override {
    bool ended = false;
    return next(ended);
  }
  bool done() const { return at_ >= steps_.size(); }

 private:
  std::vector<Step> steps_;
  std::size_t at_ = 0;
};

struct Rig {
  Rig()
      : board(test::small_board("points:\n  a1: {}\n  a2: {}\n  b1: {}\n  b2: {}\n  c1: {}\n"
                                "nets:\n  A: [a1, a2]\n  B: [b1, b2]\n  C: [c1]\n")),
        held{{{1, point("a1")}, {2, point("b1")}}},
        bench(board, "", held, 3),
        stream(transport::open_port(bench.port_name())),
        session(*stream, {}),
        sound(out, false),
        person(out, board, fixtures, stop, lines) {
    const std::vector<session::Channel> channels = {1, 2};
    REQUIRE(session.power_check(channels).passed);
    person.listen(session, sound);
  }
  graph::PointId point(const std::string& name) const { return *board.find_point(name); }
  graph::Hookup with_tip(const std::string& name) const {
    graph::Hookup now = held;
    now.leads.push_back({3, point(name)});
    return now;
  }
  Script::Step moves_tip_to(const std::string& name) {
    return [this, name]() -> std::optional<std::string> {
      bench.touch(name.empty() ? held : with_tip(name));
      return std::nullopt;
    };
  }

  graph::Board board;
  graph::Hookup held;
  graph::Fixtures fixtures;
  tools::SimulatedBench bench;
  std::unique_ptr<transport::ByteStream> stream;
  session::Session session;
  std::ostringstream out;
  tools::Sound sound;
  std::atomic<bool> stop{false};
  Script lines;
  tools::TerminalPerson person;
};

}  // namespace

TEST_CASE("a touch is heard without a key, and the next one only after the tip was lifted",
          "[tools][terminal]") {
  Rig rig;
  rig.lines.wait_a_little();
  rig.lines.then(rig.moves_tip_to("a2"));
  CHECK(rig.person.touch(rig.with_tip("a2")));
  CHECK(rig.lines.done());
  // Still on a2: that is not the next touch.
  rig.lines.wait_a_little();
  rig.lines.then(rig.moves_tip_to(""));
  rig.lines.wait_a_little();
  rig.lines.then(rig.moves_tip_to("b2"));
  CHECK(rig.person.touch(rig.with_tip("b2")));
  CHECK(rig.lines.done());
  CHECK(rig.out.str() ==
        "      touch a2, hold it (Enter if it is not heard, l: later, n: cannot reach it): heard\n"
        "      touch b2: heard\n");
}

TEST_CASE("what conducts to nothing is told by Enter, and n says that it cannot be reached",
          "[tools][terminal]") {
  Rig rig;
  rig.lines.then(rig.moves_tip_to("c1"));
  rig.lines.wait_a_little();
  rig.lines.then([] { return std::string(); });
  CHECK(rig.person.touch(rig.with_tip("c1")));
  CHECK(rig.lines.done());
  rig.lines.then([] { return std::string("n"); });
  CHECK_FALSE(rig.person.touch(rig.with_tip("c1")));
  CHECK_FALSE(rig.stop);
  // A terminal that is closed stops.
  CHECK(rig.person.touch(rig.with_tip("c1")));
  CHECK(rig.stop);
}
