// SPDX-License-Identifier: MIT
//
// The session where the plug is pulled behind any frame and put back: the same results, and another
// tester is not taken for the one that was there.
#include <catch2/catch.hpp>
#include <memory>

#include "tests/firmware-host/visiting.hpp"

using namespace padwalk;
using simulated::Circuit;
using tests::faulty_board;
using tests::impatient;
using tests::InMemoryTester;
using tests::right_outcome;
using tests::sentence;
using tests::visit;

namespace {

/// A plug that is pulled once, behind so many frames to the tester.
class PulledPlug final : public transport::ByteStream {
 public:
  PulledPlug(std::size_t frames, Circuit circuit)
      : left_(frames), tester_(std::make_unique<InMemoryTester>(std::move(circuit))) {}

  bool write(std::span<const std::uint8_t> bytes) override {
    pulled_ = pulled_ || left_ == 0;
    --left_;
    ++sent;
    return !pulled_ && tester_->write(bytes);
  }
  transport::ReadResult read(std::span<std::uint8_t> buffer,
                             std::chrono::steady_clock::time_point deadline) override {
    return pulled_ ? transport::ReadResult{transport::ReadOutcome::closed, 0}
                   : tester_->read(buffer, deadline);
  }
  std::string name() const override { return "memory"; }

  /// The same tester, or one that was switched off meanwhile or is another.
  void put_back() { pulled_ = false; }
  void put_back(Circuit circuit) {
    tester_ = std::make_unique<InMemoryTester>(std::move(circuit));
    pulled_ = false;
  }
  std::size_t sent = 0;

 private:
  std::size_t left_;
  bool pulled_ = false;
  std::unique_ptr<InMemoryTester> tester_;
};

}  // namespace

TEST_CASE("a plug that is pulled at any frame and put back changes no result",
          "[session][faults]") {
  const std::size_t all = [] {
    PulledPlug plug(SIZE_MAX, faulty_board());
    CHECK(visit(plug) == right_outcome());
    return plug.sent;
  }();
  REQUIRE(all > 30);
  for (const bool switched_off : {false, true}) {
    for (std::size_t frames = 4; frames < all; ++frames) {  // 4: hello and its three questions
      INFO("frame " << frames << " of " << all << (switched_off ? ", switched off" : ""));
      PulledPlug plug(frames, faulty_board());
      session::Session session(plug, impatient());
      std::vector<std::string> told;
      session.when_lost([&](const std::string& why, bool again) {
        CHECK_FALSE(again);
        told.push_back(why);
        switched_off ? plug.put_back(faulty_board()) : plug.put_back();
        return true;
      });
      CHECK(visit(session) == right_outcome());
      CHECK(told == std::vector<std::string>{"the tester on memory is gone: the port takes no more "
                                             "bytes; check cable and supply"});
    }
  }
}

TEST_CASE("another tester on the plug is not taken for the one that was there",
          "[session][faults]") {
  PulledPlug plug(20, faulty_board());
  session::Session session(plug, impatient());
  int calls = 0;
  session.when_lost([&](const std::string& why, bool again) {
    if (++calls == 1) {
      Circuit other = faulty_board();
      other.leads.resize(16);
      plug.put_back(std::move(other));
      return true;
    }
    CHECK(again);
    CHECK(why == "the tester on memory is another one now, in memory; put in memory back");
    return false;
  });
  CHECK(sentence([&] { visit(session); }).find("is gone") != std::string::npos);
  CHECK(calls == 2);
}
