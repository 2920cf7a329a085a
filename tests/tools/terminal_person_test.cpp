// SPDX-License-Identifier: MIT
//
// A touch that is heard by itself, on a simulated tester whose tip the test moves while the person
// at the terminal is waited for.
#include "tools/terminal_person.hpp"

#include <catch2/catch.hpp>
#include <functional>
#include <sstream>

#include "tests/support/small_board.hpp"
#include "tools/button_lines.hpp"
#include "tools/simulated_bench.hpp"
#include "tools/slide.hpp"

namespace {

using namespace padwalk;
using tools::Reached;

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
  CHECK(rig.person.touch(rig.with_tip("a2")) == Reached::yes);
  CHECK(rig.lines.done());
  // Still on a2: that is not the next touch.
  rig.lines.wait_a_little();
  rig.lines.then(rig.moves_tip_to(""));
  rig.lines.wait_a_little();
  rig.lines.then(rig.moves_tip_to("b2"));
  CHECK(rig.person.touch(rig.with_tip("b2")) == Reached::yes);
  CHECK(rig.lines.done());
  CHECK(rig.out.str() ==
        "      touch a2, hold it (Enter if it is not heard, l: later, n: cannot reach it): heard\n"
        "      touch b2: heard\n");
}

TEST_CASE("the tester's button types: once Enter, twice later, three times cannot reach",
          "[tools][terminal]") {
  Rig rig;
  CHECK(rig.session.capabilities().button);
  tools::ButtonLines lines(rig.lines, rig.session);
  for (const auto& [presses, line] :
       std::vector<std::pair<int, std::string>>{{1, ""}, {2, "l"}, {3, "n"}}) {
    CAPTURE(presses);
    for (int i = 0; i < presses; ++i) {
      rig.bench.press_button();
    }
    CHECK(lines.wait() == line);
  }
  Script typed;
  typed.wait_a_little();
  typed.then([] { return std::string("typed"); });
  tools::ButtonLines both(typed, rig.session);
  CHECK(both.wait() == "typed");
  CHECK(both.wait() == std::nullopt);  // nothing is pressed, and the terminal ends
}

TEST_CASE("while the tip slides each side of the break has its tone, and vias are noted",
          "[tools][terminal]") {
  Rig rig;
  const auto types = [&](const std::string& line) {
    return [line]() -> std::optional<std::string> { return line; };
  };
  // The leads are on two nets that stand for the pieces of one.
  tools::Slide slide(rig.session, rig.board, rig.held, 3, &rig.bench, rig.lines, rig.sound,
                     rig.out);
  rig.lines.then(types("V1"));  // on nothing yet
  rig.lines.then(types("a2"));
  rig.lines.wait_a_little();
  rig.lines.then(types("V1 12.5 40.1"));
  rig.lines.then(types("c1"));  // lifted, as it were
  rig.lines.wait_a_little();
  rig.lines.then(types("b2"));
  rig.lines.wait_a_little();
  rig.lines.then(types("V2"));
  rig.lines.then(types("V2"));
  rig.lines.then(types("V3 at the edge"));
  rig.lines.then(types("q"));
  CHECK(slide.run());
  CHECK(rig.lines.done());
  CHECK(slide.crossed());
  REQUIRE(slide.vias().size() == 2);
  CHECK(slide.vias()[0].name == "V1");
  CHECK(slide.vias()[0].xy == graph::Xy{12.5, 40.1});
  CHECK(slide.vias()[0].piece == 0);
  CHECK(slide.vias()[1].name == "V2");
  CHECK(!slide.vias()[1].xy);
  CHECK(slide.vias()[1].piece == 1);
  CHECK(
      rig.out.str() ==
      "      slide the tip along the copper, from a1 on: high tone, its side; low tone, the other "
      "side\n"
      "      a name and Enter: a new via is under the tip (V7, or V7 12.5 40.1 in mm); q and "
      "Enter: done\n"
      "      V1 is not noted: the tip hears nothing there\n"
      "      high: a1's side\n"
      "      V1 noted, a1's side\n"
      "      low: b1's side\n"
      "      the break is between here and where the tip was before\n"
      "      V2 noted, b1's side\n"
      "      there is a V2 already; give this one another name\n"
      "      expected a via's name, such as V7, or V7 12.5 40.1\n");
}

TEST_CASE("what conducts to nothing is told by Enter, and n says that it cannot be reached",
          "[tools][terminal]") {
  Rig rig;
  rig.lines.then(rig.moves_tip_to("c1"));
  rig.lines.wait_a_little();
  rig.lines.then([] { return std::string(); });
  CHECK(rig.person.touch(rig.with_tip("c1")) == Reached::yes);
  CHECK(rig.lines.done());
  rig.lines.then([] { return std::string("n"); });
  CHECK(rig.person.touch(rig.with_tip("c1")) == Reached::no);
  rig.lines.then([] { return std::string("l"); });
  CHECK(rig.person.touch(rig.with_tip("c1")) == Reached::later);
  CHECK_FALSE(rig.stop);
  // A terminal that is closed stops.
  CHECK(rig.person.touch(rig.with_tip("c1")) == Reached::yes);
  CHECK(rig.stop);
}
